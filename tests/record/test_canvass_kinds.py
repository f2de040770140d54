"""Kinds of adding up: totals by site, mode and quantity, uploads, counts by style, hours."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import Nature
from pollstead.record.kinds.registry import KINDS, parse_body


@pytest.mark.parametrize(
    ("kind", "fields", "says"),
    [
        ("canvass.total", {"mode": "early", "quantity": "check_ins", "source": "export"}, "neither"),
        (
            "receiving.total",
            {
                "mode": "early",
                "quantity": "check_ins",
                "source": "sheet",
                "styles": [{"style": "E07", "count": 1}, {"style": "E07", "count": 2}],
            },
            "once",
        ),
        (
            "canvass.total",
            {"mode": "early", "quantity": "check_ins", "source": "export", "total": -1},
            "canvass",
        ),
        ("memory.uploaded", {"count": 1, "state": "lost"}, "memory.uploaded"),
        ("count.by_style", {"term": "ballots_unused", "value": 1, "source": "hand", "style": ""}, "style"),
        (
            "hours.told",
            {"which": "paid", "post": "", "spans": [{"from_min": 60, "until_min": 60}]},
            "end after",
        ),
    ],
)
def test_a_body_that_says_nothing_or_twice_is_refused(kind: str, fields: dict[str, Any], says: str) -> None:
    """A total without a number, one style twice, a span without length: the error says which."""
    with pytest.raises(ValueError, match=says):
        parse_body(kind, FrozenObject(fields))


def test_a_second_upload_is_an_entry_of_its_own_and_a_second_typist_a_second_reading() -> None:
    """Nothing replaces an upload or a typed total but a correction that names it."""
    assert KINDS["memory.uploaded"].nature is Nature.ENTRY
    assert KINDS["canvass.total"].nature is KINDS["receiving.total"].nature is Nature.READING


def test_every_field_of_a_key_is_always_written() -> None:
    """A fact's key is read from the body as it stands, so no field of it may be left out at a default."""
    for kind, body in KINDS.items():
        for field in msgspec.structs.fields(body):
            assert field.required or field.name not in body.key, (kind, field.name)
