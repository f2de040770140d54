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


@functools.cache
def calls_and_classes(tree: ast.Module) -> tuple[tuple[ast.Call, ...], tuple[ast.ClassDef, ...]]:
    """Every call and every class of a module, in the order of ``ast.walk``.

    Gone through once, by hand and kept: a million nodes are asked four times for the same two kinds.
    """
    calls: list[ast.Call] = []
    classes: list[ast.ClassDef] = []
    nodes: list[ast.AST] = [tree]
    for node in nodes:  # the list grows while it is read
        if isinstance(node, ast.Call):
            calls.append(node)
        elif isinstance(node, ast.ClassDef):
            classes.append(node)
        elif isinstance(node, (ast.Name, ast.Constant)):
            continue
        for value in vars(node).values():
            if isinstance(value, ast.AST):
                nodes.append(value)
            elif isinstance(value, list):
                nodes += [one for one in value if isinstance(one, ast.AST)]
    return tuple(calls), tuple(classes)


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
