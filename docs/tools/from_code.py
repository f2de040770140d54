"""Texts marked for the catalogue in Python: ``N_("…")``, ``message("…")``, ``_("…")``, ``text("…")``."""

from __future__ import annotations

import ast
from collections.abc import Iterator

from found import (
    PACKAGE,
    CannotExtract,
    Found,
    called,
    calls_and_classes,
    constant_text,
    parsed,
    part_of,
    python_files,
)

MARKS = frozenset({"N_", "_", "message", "text"})
"""Calls whose first argument is a text of the catalogue."""
SHOWN = frozenset({"wanted", "found", "unit", "owner", "who_decides"})
"""Arguments whose literal texts are shown as they are: what a notice wants, units of figures, roles."""
SHOWN_SENTENCES = frozenset({"field", "value"})
"""Arguments that hold codes or texts; only a text with a space in it is shown."""
MAKERS = frozenset({"words.py"})
"""Modules that define the marks; their own calls pass a variable on."""


def marked(tree: ast.Module, name: str) -> Iterator[str]:
    """The texts marked in one module; raises CannotExtract for one that is put together at run time."""
    for node in calls_and_classes(tree)[0]:
        if not node.args:
            continue
        mark = called(node)
        first = node.args[0]
        if mark not in MARKS or (mark == "text" and not isinstance(node.func, ast.Name)):
            continue
        if isinstance(first, ast.JoinedStr) or (mark == "N_" and constant_text(first) is None):
            raise CannotExtract(
                f"{name}:{node.lineno}: {mark}(…) needs one literal text; put values in as {{parameters}}"
            )
        words = constant_text(first)
        if words is not None:
            yield words


def shown(tree: ast.Module) -> Iterator[str]:
    """Literal texts given to arguments that readers see without a mark of their own."""
    for node in calls_and_classes(tree)[0]:
        for keyword in node.keywords:
            if keyword.arg not in SHOWN and keyword.arg not in SHOWN_SENTENCES:
                continue
            for words in _choices(keyword.value):
                if any(c.isalpha() for c in words) and (keyword.arg in SHOWN or " " in words):
                    yield words


def _choices(node: ast.expr) -> Iterator[str]:
    """The literal texts that an expression can be: ``a or "b"``, ``"a" if x else "b"``."""
    words = constant_text(node)
    if words is not None:
        yield words
    elif isinstance(node, ast.IfExp):
        yield from (*_choices(node.body), *_choices(node.orelse))
    elif isinstance(node, ast.BoolOp):
        for value in node.values:
            yield from _choices(value)


def code_texts() -> Iterator[Found]:
    """Every marked text of the package."""
    for path in python_files():
        if path.name in MAKERS and path.parent.name in ("election", "show"):
            continue
        name = path.relative_to(PACKAGE).as_posix()
        for words in (*marked(parsed(path), name), *shown(parsed(path))):
            yield Found(words, part_of(path))


def enum_texts() -> Iterator[Found]:
    """The words of every ``StrEnum``: states, kinds, moments, roles, acts."""
    for path in python_files():
        for words in enum_values(parsed(path)):
            yield Found(words, part_of(path))


def enum_values(tree: ast.Module) -> Iterator[str]:
    """The values of the text enumerations in one module."""
    for node in calls_and_classes(tree)[1]:
        if not any(isinstance(base, ast.Attribute) and base.attr == "StrEnum" for base in node.bases):
            continue
        for line in node.body:
            if isinstance(line, ast.Assign):
                words = constant_text(line.value)
                if words:
                    yield words


def catalogued_code() -> Iterator[tuple[str, str]]:
    """(text, dotted name of the module) of every marked text, for the catalogue."""
    for path in python_files():
        if path.name in MAKERS and path.parent.name in ("election", "show"):
            continue
        name = ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)
        for words in (*marked(parsed(path), name), *shown(parsed(path))):
            yield words, name
