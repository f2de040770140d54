"""What is committed: locks, names, ids, versions, and the tests themselves."""

from __future__ import annotations

import ast
import csv
import importlib.metadata
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "src" / "pollstead"
LOCKS = ("requirements.lock", "requirements-dev.lock", "requirements-uv.lock")
NOT_OURS = frozenset(".git .venv .tools demo __pycache__ .mypy_cache .ruff_cache .pytest_cache".split())
# A letter of each stands in brackets, so that this file does not hold what it looks for.
REGISTRY_HOST = re.compile(rb"py[p]i\.org|python[h]osted\.org|npm[j]s\.org|\bdeb\.de[b]ian\.org")


def project() -> dict[str, Any]:
    """pyproject.toml as read."""
    with (ROOT / "pyproject.toml").open("rb") as stream:
        return tomllib.load(stream)


def repository_files() -> list[Path]:
    """Files of the repository: what git would commit, or without git all that is not a tool's folder."""
    if (ROOT / ".git").exists() and shutil.which("git"):
        listed = subprocess.run(
            ["git", "-C", str(ROOT), "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
            capture_output=True,
            check=True,
        )
        names = filter(None, listed.stdout.decode("utf-8").split("\0"))
        return [ROOT / name for name in names if (ROOT / name).is_file()]
    return [
        path
        for path in ROOT.rglob("*")
        if path.is_file() and not NOT_OURS & set(path.relative_to(ROOT).parts)
    ]


def pins(lock: str) -> dict[str, set[str]]:
    """The versions that a lock file pins, by canonical name; markers may give a name two versions."""
    found: dict[str, set[str]] = {}
    for name, version in re.findall(r"^([A-Za-z0-9._-]+)==(\S+)", (ROOT / lock).read_text("utf-8"), re.M):
        found.setdefault(canonicalize_name(name), set()).add(version)
    return found


@pytest.mark.parametrize("lock", LOCKS)
def test_lock_holds_hashes_and_no_address(lock: str) -> None:
    """Each pinned package has its hash, and the file names no index, host or path."""
    text = (ROOT / lock).read_text(encoding="utf-8")
    assert "://" not in text
    assert "--index" not in text and "--extra-index" not in text and "--find-links" not in text
    entries = re.split(r"^(?=[A-Za-z0-9])", re.sub(r"^\s*#.*\n", "", text, flags=re.M), flags=re.M)
    entries = [entry for entry in entries if entry.strip()]
    assert entries
    assert [entry.split()[0] for entry in entries if "--hash=sha256:" not in entry or "==" not in entry] == []


def test_lock_satisfies_what_the_project_asks() -> None:
    """No dependency was changed in pyproject.toml without remaking the lock files."""
    settings = project()
    groups = settings["dependency-groups"]
    runtime = [*settings["project"]["dependencies"], *groups["build"]]
    for lock, asked in (("requirements.lock", runtime), ("requirements-dev.lock", runtime + groups["dev"])):
        pinned = pins(lock)
        for text in asked:
            wanted = Requirement(text)
            versions = pinned.get(canonicalize_name(wanted.name), set())
            assert versions, f"{lock} lacks {wanted.name}: run ./run lock"
            assert all(wanted.specifier.contains(version) for version in versions), f"{lock}: {text}"


def test_what_is_tested_is_what_is_installed() -> None:
    """The development lock pins every runtime package at the very same version."""
    runtime, development = pins("requirements.lock"), pins("requirements-dev.lock")
    assert {name: development.get(name) for name in runtime} == runtime


def test_no_file_names_a_package_registry() -> None:
    """No committed file holds a registry's host, so that any mirror or folder of wheels will do."""
    assert REGISTRY_HOST.search(b"files." + b"python" + b"hosted.org/packages")
    faults = [
        f"{path.relative_to(ROOT)}: {found[0].decode()}"
        for path in repository_files()
        if (found := REGISTRY_HOST.search(path.read_bytes()))
    ]
    assert not faults, "\n".join(faults)


def test_changelog_begins_with_the_version_of_the_package() -> None:
    """The newest entry of CHANGELOG.md is the version in pyproject.toml and in the installed package."""
    text = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    newest = re.search(r"^## (\d+\.\d+\.\d+)", text, re.M)
    assert newest, "CHANGELOG.md has no heading like '## 0.1.0'"
    assert newest[1] == project()["project"]["version"]
    assert newest[1] == importlib.metadata.version("pollstead")


@pytest.mark.full
def test_every_test_says_what_it_claims() -> None:
    """Each test function has a docstring of one sentence."""
    faults = []
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        module = ast.parse(path.read_text(encoding="utf-8"))
        # Where tests are collected from: the module and its classes.
        classes = [node for node in module.body if isinstance(node, ast.ClassDef)]
        for node in (inner for held in (module, *classes) for inner in held.body):
            if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)) and node.name.startswith("test_"):
                told = ast.get_docstring(node)
                if not told or not told.strip().endswith((".", "?", "!")):
                    faults.append(
                        f"{path.relative_to(ROOT)}:{node.lineno}: {node.name} needs a sentence as docstring"
                    )
    assert not faults, "\n".join(faults)


def shipped_ids() -> set[str]:
    """Ids of station types and sites in the data that ships and in the small county's tables.

    Ids of the parts of a station type (a lid, a stand) and of kinds of site are words that code may use for
    other things.
    """
    found: set[str] = set()
    for folder in (*PACKAGE.rglob("data"), ROOT / "small"):
        for path in folder.rglob("*.toml"):
            read = tomllib.loads(path.read_text(encoding="utf-8"))
            for table in ("station_type", "site"):
                found.update(row["id"] for row in read.get(table, []))
        for path in folder.rglob("sites.csv"):
            with path.open(encoding="utf-8-sig", newline="") as stream:
                for row in csv.DictReader(stream):
                    found.add(row.get("id") or row["site"])
    return found


def texts_in_code(source: str) -> Iterator[tuple[int, str]]:
    """Every text in code, docstrings left out, with its line."""
    tree = ast.parse(source)
    holders = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    told = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, holders) and node.body and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told:
            yield node.lineno, node.value


def ids_used(source: str, ids: set[str]) -> list[tuple[int, str]]:
    """Where a text in code is one of `ids`, or an id path such as ``site/S01`` with one of them in it."""
    return [
        (line, segment)
        for line, text in texts_in_code(source)
        if not any(character.isspace() for character in text)
        for segment in text.split("/")
        if segment in ids
    ]


@pytest.mark.full
def test_no_code_knows_a_station_type_or_a_site() -> None:
    """No station type and no site is hard-coded: their ids stand in data files and nowhere in code."""
    ids = shipped_ids()
    assert ids, "no station type ships; are the data files elsewhere?"
    faults = [
        f"{path.relative_to(ROOT)}:{line}: {found!r} is the id of a station type or site"
        for path in sorted((ROOT / "src").rglob("*.py"))
        for line, found in ids_used(path.read_text(encoding="utf-8"), ids)
    ]
    assert not faults, "\n".join(faults)


def test_a_hard_coded_id_is_noticed() -> None:
    """The check of ids sees an id alone and inside an id path, and leaves prose alone."""
    source = '"""About S01."""\nx = "site/S01"\ny = "S01"\nz = "such as site/S01"\n'
    assert ids_used(source, {"S01"}) == [(2, "S01"), (3, "S01")]


def test_run_needs_python_alone() -> None:
    """run.py imports the standard library only, and no module that one kind of system lacks."""
    posix_only = {"fcntl", "pwd", "grp", "resource", "termios", "pty", "tty", "curses", "readline", "syslog"}
    windows_only = {"msvcrt", "winreg", "winsound"}
    imported = set()
    for node in ast.walk(ast.parse((ROOT / "run.py").read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            imported |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            imported.add(node.module.split(".")[0])
    assert imported <= sys.stdlib_module_names
    assert not imported & (posix_only | windows_only)
