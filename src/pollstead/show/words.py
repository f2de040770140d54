"""One catalogue of words for pages, packets, scripts and the command line.

The message ids are US English. A language is a gettext ``.po`` file under ``show/locale``, checked
by a named human reader. Two pseudo-languages are made here: one longer and accented, one that runs
right to left, to find text that cannot be translated or does not fit.
"""

from __future__ import annotations

import contextvars
import functools
import importlib.resources
import re
import string
from collections.abc import Callable, Mapping
from typing import IO

from pollstead.election.words import Message
from pollstead.show.plural_words import TWINS

ENGLISH = "en-US"
PSEUDO = "en-XA"
PSEUDO_RTL = "ar-XB"

_spoken: contextvars.ContextVar[str] = contextvars.ContextVar("spoken language", default=ENGLISH)
_FIELD = re.compile(r"(\{\{|\}\}|\{[^{}]*\}|<[^<>]*>|&[a-z]+;|%\([a-z_]+\)s)")
_ACCENTS = str.maketrans(
    "aceinouyACEINOUYdlstDLST",
    "áçéîñöúýÁÇÉÎÑÖÚÝđłšţĐŁŠŢ",
)


def languages() -> tuple[str, ...]:
    """English first, then every language with a catalogue, then the two pseudo-languages."""
    folder = importlib.resources.files("pollstead.show").joinpath("locale")
    found = sorted(f.name[: -len(".po")] for f in folder.iterdir() if f.name.endswith(".po"))
    return (ENGLISH, *found, PSEUDO, PSEUDO_RTL)


def is_right_to_left(language: str) -> bool:
    """Whether the language's script runs from right to left."""
    return language.split("-", maxsplit=1)[0] in {"ar", "fa", "he", "ur", "yi"}


def _po(language: str) -> IO[bytes]:
    folder = importlib.resources.files("pollstead.show").joinpath("locale")
    return folder.joinpath(f"{language}.po").open("rb")


@functools.cache
def _catalogue(language: str) -> dict[str, str]:
    from babel.messages.pofile import read_po

    with _po(language) as stream:
        catalogue = read_po(stream)
    return {m.id: m.string for m in catalogue if isinstance(m.id, str) and m.id and isinstance(m.string, str)}


@functools.cache
def _form(language: str) -> Callable[[int], bool]:
    """Whether a number takes the form of one: by the catalogue's ``Plural-Forms``, else as in English."""
    if language in (ENGLISH, PSEUDO, PSEUDO_RTL):
        return lambda n: n == 1
    from gettext import c2py

    from babel.messages.pofile import read_po

    with _po(language) as stream:
        catalogue = read_po(stream)
    rule, forms = c2py(catalogue.plural_expr), catalogue.num_plurals
    return lambda n: forms > 1 and rule(n) == 0


def takes_one(n: int, language: str | None = None) -> bool:
    """Whether `n` things stand in the form of one in `language`; French says so of 0 too, Chinese of none."""
    return _form(language or _spoken.get())(n)


def numbered(template: str, params: Mapping[str, object], language: str | None = None) -> str:
    """The template, or its twin for one thing where the number in it asks for that form."""
    twin = TWINS.get(template)
    if twin is None:
        return template
    n = params.get(twin.decides)
    return twin.one if isinstance(n, int) and takes_one(n, language) else template


def _expansion(length: int) -> float:
    """How much longer a translation may be, by the length of the English (W3C, text size in translation)."""
    for longest, factor in ((10, 2.5), (20, 1.9), (30, 1.7), (50, 1.5), (70, 1.4)):
        if length <= longest:
            return factor
    return 1.3


def pseudo(text: str) -> str:
    """The accented, longer twin of `text`; ``{fields}`` and tags stay as they are."""
    if not text.strip():
        return text
    pieces = _FIELD.split(text)
    body = "".join(p if i % 2 else p.translate(_ACCENTS) for i, p in enumerate(pieces))
    letters = sum(len(p) for p in pieces[::2])
    missing = round(letters * (_expansion(letters) - 1)) - 2
    filler = " ".join(["ôñé", "ţŵô", "ţĥŕéé", "ƒôûŕ", "ƒîvé"] * (missing // 10 + 1))[
        : max(missing, 0)
    ].rstrip()
    return f"[{body} {filler}]" if filler else f"[{body}]"


def speak(language: str) -> None:
    """Choose the language of `text` and `fill` where a caller names none: the command line's option."""
    _spoken.set(language)


def spoken() -> str:
    """The language chosen by `speak`, else English."""
    return _spoken.get()


def text(english: str, language: str | None = None) -> str:
    """`english` in `language`; what has no translation yet stays English."""
    language = language or _spoken.get()
    if language == ENGLISH or not english:
        return english
    if language in (PSEUDO, PSEUDO_RTL):
        return pseudo(english)
    return _catalogue(language).get(english) or english


def fill(message: Message, language: str | None = None) -> str:
    """A message in `language`, filled in with its parameters as they are."""
    params = {p.name: p.value for p in message.params}
    return text(numbered(message.template, params, language), language).format_map(params)


def fields(template: str) -> tuple[str, ...]:
    """The names of the ``{fields}`` of a template, in order."""
    return tuple(name for _, name, _, _ in string.Formatter().parse(template) if name)
