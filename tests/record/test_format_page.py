"""docs/formats/record.md says what the program does: kinds, fields, problems, the worked example."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import pytest

from pollstead.record.event import Event, read_signed, signed_bytes
from pollstead.record.header import read_header
from pollstead.record.keys import Trust, signature_fits
from pollstead.record.kinds.body import Body
from pollstead.record.kinds.registry import KINDS, PRIVATE_WORDS
from pollstead.record.problem import Problem
from pollstead.record.tree import next_arrival
from pollstead.store.exchange import read_rows

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "formats" / "record.md").read_text(encoding="utf-8")
CORPUS = ROOT / "tests" / "events" / "v1"


def row_of(kind: str) -> list[str]:
    """The cells of a kind's row: kind, nature, key, subject, body."""
    found = re.search(rf"^\| `{re.escape(kind)}` \|(.*)\|$", PAGE, re.MULTILINE)
    assert found, f"docs/formats/record.md has no row for {kind}"
    return [cell.strip() for cell in found[1].split("|")]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_has_its_row(kind: str) -> None:
    """Nature, shared fact, key and every field of each kind stand on the page."""
    body: type[Body] = KINDS[kind]
    nature, key, _, fields = row_of(kind)
    assert nature == str(body.nature) + (f", fact `{body.fact}`" if body.fact else "")
    assert key == ", ".join(body.key)
    for name in body.__struct_fields__:
        assert name in ("sheet", "line", "by_phone") or re.search(rf"\b{name}\b", fields), name
    assert ("(" in fields) == (body.private is not None)


def test_no_row_is_left_of_a_kind_that_is_gone() -> None:
    """Each row with a dotted kind is a known kind."""
    rows = set(re.findall(r"^\| `([a-z_]+\.[a-z_.]+)` \|", PAGE, re.MULTILINE))
    assert rows == set(KINDS)


def test_fields_problems_and_refused_keys_are_on_the_page() -> None:
    """Every field of an event, every problem and every refused key is listed."""
    for name in Event.__struct_fields__:
        assert f"| `{name}` |" in PAGE
    for name in [*(str(problem) for problem in Problem), *PRIVATE_WORDS]:
        assert f"`{name}`" in PAGE


def test_the_worked_example_is_an_event_of_the_corpus_and_recomputes() -> None:
    """Text, id, signature, signed length and arrival link of the page are those of the corpus."""
    text = re.search(r"```json\n(.*)\n```", PAGE)
    assert text is not None
    data = text[1].encode()
    (row,) = (row for row in read_rows(CORPUS) if row.data == data)
    header = read_header((CORPUS / "header.json").read_bytes().rstrip(b"\n"))
    assert len(data) == 370
    assert f"- id: `{hashlib.sha256(data).hexdigest()}`" in PAGE
    assert f"- record id: `{header.record_id}`" in PAGE
    assert f"- signature: `{row.signature.hex()}`" in PAGE
    signed = signed_bytes(header.record_id, data)
    assert len(signed) == 421 and "421 bytes" in PAGE
    before = re.search(r"SHA-256 of `([0-9a-f]{64})` and the id: `([0-9a-f]{64})`", PAGE)
    assert before is not None
    assert next_arrival(before[1], row.id) == before[2] == row.arrival
    trust = Trust(header, [read_signed(r.data, r.signature) for r in read_rows(CORPUS)])
    assert signature_fits(trust.certificates["tablet/a"][0].public_key, row.signature, signed)
