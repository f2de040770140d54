"""The frozen corpus of changes of facts: every later commit reads, checks and folds it as on that day."""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path

from pollstead.record.check import check_record
from pollstead.record.event import Side, read_side, read_signed
from pollstead.record.fold import fold
from pollstead.record.header import read_header
from pollstead.record.kinds.changes import FactsChanged, FactsChangedPrivate
from pollstead.record.kinds.registry import body_of, parse_private
from pollstead.record.tree import read_head
from pollstead.store.exchange import read_rows

CORPUS = Path(__file__).parent / "changes_v1"
FROZEN = json.loads((CORPUS / "frozen.json").read_bytes())


def sides() -> dict[str, Side | None]:
    """The private parts of the corpus."""
    return {
        path.stem: Side(digest=path.stem, data=path.read_bytes().rstrip(b"\n"))
        for path in (CORPUS / "side").iterdir()
    }


def test_the_corpus_checks_and_folds_as_frozen() -> None:
    """Ids, signatures, chain, private parts, head and fold are those of the first day."""
    header = read_header((CORPUS / "header.json").read_bytes().rstrip(b"\n"))
    head = read_head((CORPUS / "frozen.json").read_bytes())
    report = check_record(header, read_rows(CORPUS), sides(), (head,))
    assert report.troubles == ()
    signed = [read_signed(row.data, row.signature) for row in read_rows(CORPUS)]
    assert fold(signed).digest() == FROZEN["fold"]


def test_every_change_is_read_as_its_kind_with_its_cells() -> None:
    """The five acts come back as values, with what stood in each cell before and after."""
    events = [read_signed(row.data, row.signature).event for row in read_rows(CORPUS)]
    bodies = [(event, body_of(event)) for event in events if event.kind == FactsChanged.kind]
    acts = [body.act for _, body in bodies if isinstance(body, FactsChanged)]
    assert acts == ["import", "amend", "undo", "accept", "set_aside"]
    held = sides()
    first = held[bodies[0][0].private]
    assert first is not None
    private = parse_private(FactsChanged.kind, read_side(first))
    assert isinstance(private, FactsChangedPrivate)
    assert [(cell.before, cell.after) for cell in private.cells] == [
        ("Ansel Hall", "Salle café"),
        ("0555 0142", ""),
    ]


def test_the_script_gives_the_corpus_again(tmp_path: Path) -> None:
    """Writing the same events gives the same bytes."""
    spec = importlib.util.spec_from_file_location("make_changes_v1", CORPUS.parent / "make_changes_v1.py")
    assert spec is not None and spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    sys.modules["make_changes_v1"] = script
    spec.loader.exec_module(script)
    script.build(tmp_path / "county", tmp_path / "out")
    for name in ("events.jsonl", "header.json", "head.json", "frozen.json"):
        assert (tmp_path / "out" / name).read_bytes() == (CORPUS / name).read_bytes(), name
