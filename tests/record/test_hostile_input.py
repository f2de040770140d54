"""Whatever bytes come in, readers answer with a sentence, never with another error."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pollstead.record.event import Side, read_event, read_side
from pollstead.record.header import read_header
from pollstead.record.standalone import verify
from pollstead.record.tree import read_head
from pollstead.store.exchange import read_rows

pytestmark = pytest.mark.full

CORPUS = Path(__file__).parents[1] / "events" / "v1"
LINES = (CORPUS / "events.jsonl").read_bytes().splitlines()
EVENTS = [json.loads(line)["event"].encode() for line in LINES]
PIECES = [
    b"{",
    b"}",
    b"[",
    b"]",
    b'"',
    b",",
    b":",
    b"null",
    b"1e9",
    b"-0",
    b"9" * 5000,
    b"\x00",
    b"\xff",
    b"\\u",
    b"1.5",
]
PLACES: list[Any] = [None, True, -1, 2**70, "x", "", [], {}, [[]], {"a": 1}]


def damaged(data: bytes, chance: random.Random) -> bytes:
    """The bytes with one to three pieces put in, cut out or turned over."""
    for _ in range(chance.randrange(1, 4)):
        at = chance.randrange(len(data) + 1)
        if chance.random() < 0.5:
            data = data[:at] + chance.choice(PIECES) + data[at:]
        else:
            data = data[:at] + data[at + chance.randrange(1, 30) :]
    return data


def misplaced(data: bytes, chance: random.Random) -> bytes:
    """The object with one value, at any depth, replaced by one of another sort."""
    content = json.loads(data)
    spot, key = content, chance.choice(sorted(content))
    while isinstance(spot[key], (dict, list)) and spot[key] and chance.random() < 0.7:
        spot = spot[key]
        key = chance.choice(sorted(spot)) if isinstance(spot, dict) else chance.randrange(len(spot))
    spot[key] = chance.choice(PLACES)
    return json.dumps(content, sort_keys=True, separators=(",", ":")).encode()


READERS: list[tuple[Callable[[bytes], Any], list[bytes]]] = [
    (read_event, EVENTS),
    (read_header, [(CORPUS / "header.json").read_bytes().rstrip()]),
    (read_head, [(CORPUS / "head.json").read_bytes().rstrip()]),
    (
        lambda data: read_side(Side(digest="0" * 64, data=data)),
        [path.read_bytes() for path in sorted((CORPUS / "side").iterdir())],
    ),
]


@pytest.mark.parametrize("how", [damaged, misplaced])
@pytest.mark.parametrize(("read", "samples"), READERS, ids=["event", "header", "head", "side"])
def test_readers_raise_only_value_errors(
    read: Callable[[bytes], Any], samples: list[bytes], how: Any, fault_random: random.Random
) -> None:
    """Damaged JSON and values of the wrong sort are refused with a ValueError, or read."""
    for _ in range(200):
        try:
            read(how(fault_random.choice(samples), fault_random))
        except ValueError:
            continue


def test_deep_nesting_is_refused_and_not_a_crash() -> None:
    """A hundred thousand brackets are refused by every reader."""
    deep = b"[" * 100_000
    for read, _ in READERS:
        with pytest.raises(ValueError, match=r"."):
            read(deep)


def test_damaged_records_end_in_problems_or_one_sentence(tmp_path: Path, fault_random: random.Random) -> None:
    """Verifier and line reader survive whatever stands in the files of an export."""
    for name in ("header.json", "head.json"):
        (tmp_path / name).write_bytes((CORPUS / name).read_bytes())
    for round_ in range(60):
        lines = list(LINES)
        at = fault_random.randrange(len(lines))
        line = json.loads(lines[at])
        if round_ % 2:
            line["event"] = misplaced(line["event"].encode(), fault_random).decode()
            lines[at] = verify.canonical(line)
        else:
            lines[at] = misplaced(lines[at], fault_random)
        (tmp_path / "events.jsonl").write_bytes(b"\n".join(lines) + b"\n")
        assert verify.main([str(tmp_path)]) in (0, 1)
        try:
            read_rows(tmp_path)
        except ValueError as error:
            assert f"line {at + 1}" in str(error)
    for name in ("header.json", "head.json"):
        good = (tmp_path / name).read_bytes()
        for _ in range(30):
            (tmp_path / name).write_bytes(misplaced(good, fault_random))
            assert verify.main([str(tmp_path)]) in (0, 1, 2)
        (tmp_path / name).write_bytes(good)
