"""The frozen corpus of version 1: every later commit reads, checks and folds it as on the first day."""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path

import pytest

from pollstead.record.check import check_record
from pollstead.record.event import Side, read_signed
from pollstead.record.fold import fold
from pollstead.record.header import read_header
from pollstead.record.kinds.registry import KINDS, UnknownKind, Unreadable, body_of
from pollstead.record.standalone import verify
from pollstead.record.tree import read_head
from pollstead.store.exchange import read_rows

V1 = Path(__file__).parent / "v1"
FROZEN = json.loads((V1 / "frozen.json").read_bytes())


def sides() -> dict[str, Side | None]:
    """The private parts of the corpus; the redacted one is None."""
    here: dict[str, Side | None] = dict.fromkeys(FROZEN["redacted"])
    for path in (V1 / "side").iterdir():
        here[path.stem] = Side(digest=path.stem, data=path.read_bytes().rstrip(b"\n"))
    return here


def test_the_corpus_checks_with_its_frozen_head() -> None:
    """Every id, signature, certificate, chain and private part of the corpus still checks."""
    header = read_header((V1 / "header.json").read_bytes().rstrip(b"\n"))
    frozen_head = read_head((V1 / "frozen.json").read_bytes())
    report = check_record(header, read_rows(V1), sides(), (frozen_head,))
    assert report.troubles == ()
    assert report.head == frozen_head
    assert header.record_id == FROZEN["record"]


def test_the_corpus_folds_to_its_frozen_digest() -> None:
    """What the corpus says has not changed: facts, replacements, corrections and order."""
    signed = [read_signed(row.data, row.signature) for row in read_rows(V1)]
    assert fold(signed).digest() == FROZEN["fold"]


def test_the_corpus_holds_every_kind_of_version_1_and_one_of_a_later() -> None:
    """Each known kind is read as its own type; the unknown one is kept and shown."""
    bodies = [body_of(read_signed(row.data, row.signature).event) for row in read_rows(V1)]
    assert not [body for body in bodies if isinstance(body, Unreadable)]
    # A kind that is added later has no event in a corpus that is never written again.
    assert {type(body).kind for body in bodies if not isinstance(body, (UnknownKind, Unreadable))} <= set(
        KINDS
    )
    assert [body for body in bodies if isinstance(body, UnknownKind)] == [UnknownKind(kind="later.kind", v=2)]


@pytest.mark.parametrize("fits", [verify.ed25519_fits_pure, verify.ed25519_by_library()])
def test_the_stand_alone_verifier_accepts_the_corpus(fits: verify.Fits) -> None:
    """The one-file verifier accepts it, with plain Python and with a library."""
    run = verify.check(V1, fits, FROZEN)
    assert run.problems == []
    assert run.head["root"] == FROZEN["root"]


def test_the_script_gives_the_corpus_again(tmp_path: Path) -> None:
    """While the format is version 1, writing the same events gives the same bytes."""
    spec = importlib.util.spec_from_file_location("make_v1", V1.parent / "make_v1.py")
    assert spec is not None and spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    sys.modules["make_v1"] = script
    spec.loader.exec_module(script)
    script.build(tmp_path / "county", tmp_path / "out")
    for name in ("events.jsonl", "header.json", "head.json", "frozen.json"):
        assert (tmp_path / "out" / name).read_bytes() == (V1 / name).read_bytes(), name
