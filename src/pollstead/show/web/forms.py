"""Read a posted form strictly: what does not fit is refused in words, never guessed at."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from types import MappingProxyType
from urllib.parse import parse_qsl

LARGEST_BODY_BYTES = 262_144
MOST_FIELDS = 4_000
LONGEST_FIELD = 2_000


class BadForm(ValueError):
    """A body that no form of ours sends; the message says what was found and what to do."""


class Form(Mapping[str, str]):
    """The fields of one form, each name once, text in Unicode normal form C, ends trimmed."""

    def __init__(self, fields: Mapping[str, str]) -> None:
        self._fields = MappingProxyType(dict(fields))

    def __getitem__(self, name: str) -> str:
        return self._fields[name]

    def __iter__(self):  # type: ignore[no-untyped-def]
        return iter(self._fields)

    def __len__(self) -> int:
        return len(self._fields)

    def text(self, name: str) -> str:
        """The field's text, or empty when the form has no such field."""
        return self._fields.get(name, "")


def read_form(content_type: str, body: bytes) -> Form:
    """Decode ``application/x-www-form-urlencoded`` bytes.

    Raises BadForm for another content type, bytes that are not UTF-8, a field sent twice, control
    characters, and anything longer than our forms can be.
    """
    kind = content_type.partition(";")[0].strip().lower()
    if kind != "application/x-www-form-urlencoded" and (body or kind):
        raise BadForm(f"a form must be sent as application/x-www-form-urlencoded, found {kind or 'nothing'}")
    if len(body) > LARGEST_BODY_BYTES:
        raise BadForm(f"a form must be at most {LARGEST_BODY_BYTES:,} bytes, found {len(body):,}")
    try:
        pairs = parse_qsl(
            body.decode("ascii"),
            keep_blank_values=True,
            strict_parsing=bool(body),
            encoding="utf-8",
            errors="strict",
            max_num_fields=MOST_FIELDS,
        )
    except UnicodeDecodeError as error:
        raise BadForm(f"a form must be UTF-8 text: {error.reason} at byte {error.start}") from error
    except ValueError as error:
        raise BadForm(f"the form's fields cannot be told apart: {error}") from error
    fields: dict[str, str] = {}
    for name, value in pairs:
        if name in fields:
            raise BadForm(f"each field must come once, found {name[:60]!r} twice")
        fields[name] = clean(name, value)
    return Form(fields)


def clean(name: str, value: str) -> str:
    """A field's text without blank ends, in normal form C; raises BadForm for what people cannot type."""
    text = unicodedata.normalize("NFC", value.replace("\r\n", "\n")).strip()
    if len(text) > LONGEST_FIELD:
        raise BadForm(f"{name[:60]} must be at most {LONGEST_FIELD:,} characters, found {len(text):,}")
    if any(unicodedata.category(c) in ("Cc", "Cs") and c not in "\n\t" for c in text):
        raise BadForm(f"{name[:60]} holds a control character; type the text again")
    return text
