"""Texts in templates: Jinja pages, Typst sheets, scripts; and bare text that no catalogue reaches."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import jinja2
from jinja2 import nodes

from found import PACKAGE, ROOT, CannotExtract, Found, part_of

CALLS = {"_": (0,), "plain": (0,), "say": (0,), "count": (1, 2)}
"""What templates call, and which of its arguments are texts of the catalogue."""
_CODE = re.compile(r"\{#.*?#\}|\{\{.*?\}\}|\{%.*?%\}", re.DOTALL)
_TAG = re.compile(r"<!--.*?-->|<[^<>]*>|&[a-zA-Z#0-9]+;", re.DOTALL)
_ATTRIBUTE = re.compile(r'[\w-]+="[^"]*"')
_LETTERS = re.compile(r"[^\W\d_]{2,}")
_TYPST_NOTE = re.compile(r"//[^\n]*|/\*.*?\*/", re.DOTALL)
_TYPST_TEXT = re.compile(r'"(?:\\.|[^"\\])*"')
_TYPST_CODE = re.compile(r"#(?:\{[^{}]*\}|[\w.-]+(?:\([^()]*\))*)")
_TYPST_CONTENT = re.compile(r"\[([^\[\]]*)\]")
_JS_CALL = re.compile(r"\b(?:_|words|say)\(\s*([\"'`])((?:\\.|(?!\1).)*)\1")


def jinja_files() -> tuple[Path, ...]:
    """The page templates."""
    return tuple(sorted(PACKAGE.rglob("templates/**/*.html")))


def jinja_texts(source: str) -> Iterator[str]:
    """Texts that one template hands to the catalogue, in order."""
    for call in jinja2.Environment(autoescape=True).parse(source).find_all(nodes.Call):
        if not isinstance(call.node, nodes.Name) or call.node.name not in CALLS:
            continue
        for place in CALLS[call.node.name]:
            if place < len(call.args):
                yield from _literals(call.args[place])


def _literals(node: nodes.Expr) -> Iterator[str]:
    if isinstance(node, nodes.Const) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, nodes.CondExpr):
        for side in (node.expr1, node.expr2):
            if side is not None:
                yield from _literals(side)


def bare_text(source: str) -> tuple[str, ...]:
    """Words of a template outside tags, comments and calls: nobody could translate them."""
    return tuple(_LETTERS.findall(_ATTRIBUTE.sub(" ", _TAG.sub(" ", _CODE.sub("", source)))))


def typst_files() -> tuple[Path, ...]:
    """The sheet templates."""
    return tuple(sorted(PACKAGE.rglob("*.typ")))


def typst_bare_text(source: str) -> tuple[str, ...]:
    """Content of a Typst template that holds words of its own; labels must come from Python."""
    code = _TYPST_TEXT.sub('""', _TYPST_NOTE.sub("", source))
    found: list[str] = []
    while content := _TYPST_CONTENT.search(code):
        own = _TYPST_CODE.sub(" ", content[1]).strip()
        if _LETTERS.search(own):
            found.append(own)
        code = code[: content.start()] + "()" + code[content.end() :]
    return tuple(found)


def script_files() -> tuple[Path, ...]:
    """Our own scripts, vendored ones left out."""
    return tuple(sorted(p for p in PACKAGE.rglob("*.js") if "vendor" not in p.parts))


def script_texts(source: str) -> Iterator[str]:
    """Texts that a script takes from the catalogue."""
    for _, words in _JS_CALL.findall(source):
        yield words


def catalogued_templates() -> Iterator[tuple[str, str]]:
    """(text, path from the checkout) of every text in templates and scripts."""
    for path in jinja_files():
        source = path.read_text(encoding="utf-8")
        name = path.relative_to(ROOT).as_posix()
        bare = bare_text(source)
        if bare:
            raise CannotExtract(
                f"{name}: {', '.join(bare[:5])!r} stands outside _(…); no language can reach it"
            )
        for words in jinja_texts(source):
            yield words, name
    for path in typst_files():
        bare = typst_bare_text(path.read_text(encoding="utf-8"))
        if bare:
            raise CannotExtract(
                f"{path.relative_to(ROOT).as_posix()}: {bare[0]!r} is bare text; hand it over by N_(…)"
            )
    for path in script_files():
        for words in script_texts(path.read_text(encoding="utf-8")):
            yield words, path.relative_to(ROOT).as_posix()


def template_texts() -> Iterator[Found]:
    """Every text of templates and scripts with the part that shows it."""
    for words, name in catalogued_templates():
        yield Found(words, part_of(ROOT / name))
