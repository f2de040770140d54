"""docs/commands.md is the command line as it is, and no document names a command that is not there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import from_commands
import list_commands
from found import MAKE

ROOT = Path(__file__).resolve().parents[2]
DOCUMENTS = sorted([*(ROOT / "docs").rglob("*.md"), ROOT / "README.md", ROOT / "CONTRIBUTING.md"])
CODE = re.compile(r"```.*?```|`[^`\n]+`|^    .+$", re.DOTALL | re.MULTILINE)
CALL = re.compile(r"\bpollstead((?:[ \t]+[\w./:=<>…-]+)+)")
PASSED_ON = {("bench",)}
"""Commands whose options are those of what they run."""


def known() -> dict[tuple[str, ...], set[str]]:
    """Every command with its options."""
    return {
        path: {name for name, _ in from_commands.options(command)} | {"--help"}
        for path, command in from_commands.commands(from_commands.app())
    }


def calls(text: str) -> list[list[str]]:
    """The words after ``pollstead`` in code of a document."""
    return [
        found[1].split()
        for code in CODE.findall(text)
        for found in CALL.finditer(code)
        if re.match(r"[a-z-]", found[1].split()[0])
    ]


def wrong(words: list[str], commands: dict[tuple[str, ...], set[str]]) -> str:
    """What is wrong with one call, or nothing."""
    if words[0].startswith("-"):
        return "" if words[0] in ("--help", "--version") else f"no option {words[0]}"
    path = tuple(words[:2]) if tuple(words[:2]) in commands else tuple(words[:1])
    if path not in commands:
        return f"no command {' '.join(path)}"
    if path in PASSED_ON:
        return ""
    for option in (word.split("=")[0] for word in words if word.startswith("--")):
        if option not in commands[path]:
            return f"{' '.join(path)} has no option {option}"
    return ""


def test_command_list_is_what_the_command_line_says() -> None:
    """The page is what the tool writes from the command line itself."""
    assert list_commands.PAGE.read_text(encoding="utf-8") == list_commands.page(), f"run: {MAKE}"


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_every_documented_command_exists(path: Path) -> None:
    """Each command and option that a document names is there."""
    commands = known()
    faults = {fault for words in calls(path.read_text(encoding="utf-8")) if (fault := wrong(words, commands))}
    assert not faults, f"{path.relative_to(ROOT)}: {sorted(faults)}"


def test_every_command_says_what_it_does() -> None:
    """No command stands without a line of help."""
    for path, command in from_commands.commands(from_commands.app()):
        assert command.help and command.help.strip(), " ".join(path)


def test_a_command_that_is_not_there_is_noticed() -> None:
    """The check of documents sees a command and an option that do not exist."""
    commands = {("plan",): {"--seed"}, ("record", "verify"): set()}
    assert wrong(["plan", "small", "--seed", "3"], commands) == ""
    assert wrong(["record", "verify", "small"], commands) == ""
    assert wrong(["forecast", "small"], commands) == "no command forecast"
    assert wrong(["plan", "small", "--speed"], commands) == "plan has no option --speed"
    assert calls("Run `pollstead plan small --seed 3`, then pollstead alone.") == [
        ["plan", "small", "--seed", "3"]
    ]
