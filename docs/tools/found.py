"""Where the tools look, and what they find: a text that a user can see, and the part that shows it."""

from __future__ import annotations

import ast
import functools
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "src" / "pollstead"
DOCS = ROOT / "docs"
MAKE = "./run exec python docs/tools/make_all.py"


class Found(NamedTuple):
    """One text as a user sees it; `where` names the part of the house that shows it."""

    words: str
    where: str


class CannotExtract(Exception):
    """A text stands where no catalogue can reach it; the message says where and what to do."""


@functools.cache
def python_files() -> tuple[Path, ...]:
    """Every module of the package, in a fixed order."""
    return tuple(sorted(path for path in PACKAGE.rglob("*.py") if "__pycache__" not in path.parts))


def part_of(path: Path) -> str:
    """The part of the house a file belongs to: ``intake``, ``plan.lines``, ``show.web``."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    deep = 2 if parts[0] in ("plan", "show", "reconcile") and len(parts) > 2 else 1
    return ".".join(parts[:deep]) if len(parts) > 1 else parts[0]


@functools.cache
def parsed(path: Path) -> ast.Module:
    """The module's syntax tree."""
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def constant_text(node: ast.AST | None) -> str | None:
    """The text of a literal, or None for anything else."""
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def called(node: ast.Call) -> str:
    """The last name of what is called: ``message`` for ``message(…)`` and ``words.message(…)``."""
    if isinstance(node.func, ast.Name):
        return node.func.id
    return node.func.attr if isinstance(node.func, ast.Attribute) else ""


def gathered(found: Iterable[Found]) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Each text once, with every part that shows it, sorted by its letters and then exactly."""
    places: dict[str, set[str]] = {}
    for one in found:
        if one.words.strip():
            places.setdefault(one.words, set()).add(one.where)
    for words in sorted(places, key=lambda text: (text.casefold(), text)):
        yield words, tuple(sorted(places[words]))
