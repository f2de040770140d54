"""Export, import and the stand-alone verifier: what is carried, refused and named."""

from __future__ import annotations

import json
import random
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pollstead.cli.record import app
from pollstead.election.canonical import canonical_bytes
from pollstead.record.check import check_record
from pollstead.record.event import Side, Signed
from pollstead.record.header import read_header
from pollstead.record.keys import certify, public_hex, revoke
from pollstead.record.kinds.days import CountRead
from pollstead.record.kinds.offices import PlanApproved
from pollstead.record.problem import Problem
from pollstead.record.standalone import verify
from pollstead.record.tree import Head, read_head
from pollstead.record.write import MemoryJournal, Moment, Recorder
from pollstead.store.desk import Desk
from pollstead.store.exchange import check_store, export_record, import_record, read_rows
from pollstead.store.keyring import Keyring
from pollstead.store.opening import open_store

Count = Callable[[Desk, int], Signed]
CORPUS = Path(__file__).parents[1] / "events" / "v1"
LIBRARY = verify.ed25519_by_library() or verify.ed25519_fits_pure


def copied(desk: Desk, tmp_path: Path, name: str = "out", *, private: bool = True) -> Path:
    """An export of the desk's record."""
    export_record(desk.store, tmp_path / name, private=private)
    return tmp_path / name


def run_command(*arguments: object) -> int:
    """The exit code of ``pollstead record`` with these arguments."""
    with pytest.raises(SystemExit) as ended:
        app([str(argument) for argument in arguments])
    return int(ended.value.code or 0)


def test_an_export_carries_its_own_verifier(desk: Desk, tmp_path: Path) -> None:
    """The script inside the export accepts it, run by itself without this package on the path."""
    out = copied(desk, tmp_path)
    done = subprocess.run(
        [sys.executable, "-I", str(out / "verify.py"), str(out), "--pure"],
        capture_output=True, text=True, check=False, cwd=tmp_path,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert desk.store.events.head().root in done.stdout
    assert {path.name for path in out.iterdir()} == {
        "README.txt", "events.jsonl", "head.json", "header.json", "side", "verify.py",
    }  # fmt: skip


def test_the_verifier_ends_with_1_for_a_problem_and_2_for_what_it_cannot_read(
    desk: Desk, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each problem is one line; a folder without a record is a usage matter."""
    out = copied(desk, tmp_path)
    lines = (out / "events.jsonl").read_bytes()
    (out / "events.jsonl").write_bytes(lines.replace(b'value\\":3', b'value\\":8'))
    assert verify.main([str(out)]) == 1
    printed = capsys.readouterr().out
    assert "on line 5 was changed" in printed and "problem" in printed
    assert verify.main([str(tmp_path)]) == 2
    assert verify.main([str(out), "--head", str(tmp_path / "none.json")]) == 2


def test_an_export_without_private_parts_checks_and_holds_no_number(desk: Desk, tmp_path: Path) -> None:
    """What may be given out: all proofs, no seal number."""
    out = copied(desk, tmp_path, private=False)
    assert verify.check(out, LIBRARY).problems == []
    assert not any(b"0048211" in path.read_bytes() for path in out.rglob("*") if path.is_file())


def test_a_folder_with_files_is_not_overwritten(desk: Desk, tmp_path: Path) -> None:
    """An export never mixes with what was there."""
    out = copied(desk, tmp_path)
    with pytest.raises(ValueError, match="new or empty folder"):
        export_record(desk.store, out)


def test_export_and_import_give_the_same_record(desk: Desk, tmp_path: Path) -> None:
    """Imported into an empty store, events, private parts and both roots are the same; again adds nothing."""
    out = copied(desk, tmp_path)
    (tmp_path / "other").mkdir()
    with open_store(tmp_path / "other") as store:
        done = import_record(store, out)
        assert (done.read, done.new, done.sides, done.refused) == (7, 7, 1, ())
        assert store.events.head() == desk.store.events.head()
        assert store.sides.all() == desk.store.sides.all()
        assert import_record(store, out / "events.jsonl").new == 0


def test_the_corpus_keeps_both_roots_and_its_redaction_when_imported(tmp_path: Path) -> None:
    """A record of several devices arrives in its own order; what an event says was redacted stays so."""
    with open_store(tmp_path) as store:
        import_record(store, CORPUS)
        assert store.events.head() == read_head((CORPUS / "head.json").read_bytes())
        words = [remark.english() for remark in check_store(store).remarks]
    assert any("was redacted, as event" in text for text in words)
    assert any("later.kind" in text for text in words)


def with_tablet(desk: Desk, tmp_path: Path) -> tuple[MemoryJournal, Recorder]:
    """Certify a tablet at the desk and give its journal and recorder."""
    office, tablet = Keyring(tmp_path / "county").load("office"), Keyring(tmp_path).create("tablet")
    assert office is not None
    body = certify(
        desk.header, office, device="tablet/a", public_key=public_hex(tablet), scope="site/S01",
        valid_from_utc_ms=0, valid_to_utc_ms=10**13,
    )  # fmt: skip
    people = desk.store.events.all()[0].event.people
    moment = Moment(utc_ms=desk.header.created_utc_ms, offset_min=-300, uncertainty_ms=0)
    desk.recorder.record(body, subject="tablet/a", people=people, moment=moment)
    journal = MemoryJournal()
    recorder = Recorder(desk.header, "tablet/a", tablet, journal)
    for value in range(4):
        recorder.record(
            CountRead(term="ballots_spoiled", value=value, source="hand"), subject="site/S01",
            site="site/S01", day="2028-11-07", people=people, moment=moment,
        )  # fmt: skip
    return journal, recorder


def test_copies_that_grew_apart_merge_to_one_root(desk: Desk, tmp_path: Path, count: Count) -> None:
    """Office and tablet each go on alone; merged both ways the set and its root are the same."""
    journal, _ = with_tablet(desk, tmp_path)
    (tmp_path / "other").mkdir()
    with open_store(tmp_path / "other") as store:
        import_record(store, copied(desk, tmp_path))
        store.events.add(journal.events)
        count(desk, 99)
        export_record(store, tmp_path / "from_tablet")
        import_record(desk.store, tmp_path / "from_tablet")
        import_record(store, copied(desk, tmp_path, "out2"))
        assert store.events.head().root == desk.store.events.head().root
        assert store.events.head().log_root != desk.store.events.head().log_root


def test_events_after_a_revocation_are_not_taken_and_are_named(desk: Desk, tmp_path: Path) -> None:
    """What a lost tablet wrote after its last accepted counter stays outside; the rest is taken."""
    journal, _ = with_tablet(desk, tmp_path)
    (tmp_path / "other").mkdir()
    with open_store(tmp_path / "other") as store:
        import_record(store, copied(desk, tmp_path))
        store.events.add(journal.events)
        export_record(store, tmp_path / "from_tablet")
    office = Keyring(tmp_path / "county").load("office")
    assert office is not None
    first = desk.store.events.all()[0].event
    moment = Moment(utc_ms=first.utc_ms, offset_min=-300, uncertainty_ms=0)
    ended = revoke(desk.header, office, device="tablet/a", last_n=3)
    desk.recorder.record(ended, subject="tablet/a", people=first.people, moment=moment)
    done = import_record(desk.store, tmp_path / "from_tablet")
    assert done.new == 3
    assert [(found.problem, found.n) for found in done.refused] == [(Problem.REVOKED, 4)]


def test_a_plan_approved_on_a_sites_tablet_is_not_taken(desk: Desk, tmp_path: Path) -> None:
    """A decision of the office signed by a site's device stays outside and is named; the rest is taken."""
    journal, recorder = with_tablet(desk, tmp_path)
    first = desk.store.events.all()[0].event
    moment = Moment(utc_ms=first.utc_ms, offset_min=-300, uncertainty_ms=0)
    recorder.record(
        PlanApproved(digest="a" * 64), subject="plan", site="site/S01", people=first.people, moment=moment
    )
    (tmp_path / "other").mkdir()
    with open_store(tmp_path / "other") as store:
        import_record(store, copied(desk, tmp_path))
        store.events.add(journal.events)
        export_record(store, tmp_path / "from_tablet")
    done = import_record(desk.store, tmp_path / "from_tablet")
    assert done.new == 4
    assert [(found.problem, found.n) for found in done.refused] == [(Problem.OFFICE_ONLY, 5)]


def test_a_practice_record_is_refused_by_the_real_one(
    desk: Desk, tmp_path: Path, make_desk: Callable[..., Desk]
) -> None:
    """And the reverse; nothing is taken."""
    practice = make_desk(tmp_path / "practice", practice=True)
    other = copied(practice, tmp_path, "practice_out")
    with pytest.raises(ValueError, match="never mix"):
        import_record(desk.store, other)
    with pytest.raises(ValueError, match="never mix"):
        import_record(practice.store, copied(desk, tmp_path))
    # Relabelled as real, its header has another digest and every signature stops fitting.
    header = read_header((other / "header.json").read_bytes().rstrip(b"\n"))
    content = {**json.loads((other / "header.json").read_bytes()), "practice": False}
    (other / "header.json").write_bytes(canonical_bytes(content) + b"\n")
    (tmp_path / "third").mkdir()
    with open_store(tmp_path / "third") as store, pytest.raises(ValueError, match="nothing was imported"):
        import_record(store, other)
    assert header.practice
    assert desk.store.events.count() == 7
    practice.close()


def test_nothing_is_taken_from_a_file_with_one_changed_event(desk: Desk, tmp_path: Path) -> None:
    """The error names the event; the store stays as it was."""
    out = copied(desk, tmp_path)
    lines = (out / "events.jsonl").read_bytes()
    (out / "events.jsonl").write_bytes(lines.replace(b'value\\":3', b'value\\":8'))
    (tmp_path / "other").mkdir()
    with open_store(tmp_path / "other") as store:
        with pytest.raises(ValueError, match=r"place 5 was changed"):
            import_record(store, out)
        assert store.events.count() == 0
        assert store.header() is None
    (out / "events.jsonl").write_bytes(b"{}\n")
    with pytest.raises(ValueError, match=r"line 1 must be a line"):
        import_record(desk.store, out)


# ---------------------------------------------------------------- two checkers, one opinion

Line = dict[str, Any]


def corpus_lines() -> list[Line]:
    """The lines of the frozen corpus."""
    return [json.loads(line) for line in (CORPUS / "events.jsonl").read_bytes().splitlines()]


def removed(lines: list[Line], at: int) -> list[Line]:
    """One line less."""
    return [*lines[:at], *lines[at + 1 :]]


def doubled(lines: list[Line], at: int) -> list[Line]:
    """One line twice."""
    return [*lines[: at + 1], *lines[at:]]


def reordered(lines: list[Line], at: int) -> list[Line]:
    """One line two places later, at most at the end."""
    rest = removed(lines, at)
    return [*rest[: at + 2], lines[at], *rest[at + 2 :]]


def renumbered(lines: list[Line], at: int) -> list[Line]:
    """Two lines changed places and were numbered anew."""
    other = (at + 1) % len(lines)
    changed = list(lines)
    changed[at], changed[other] = {**lines[other], "seq": at + 1}, {**lines[at], "seq": other + 1}
    return changed


def changed(lines: list[Line], at: int) -> list[Line]:
    """One event moved by a minute, without being signed again."""
    event = json.loads(lines[at]["event"])
    event["utc_ms"] += 60_000
    return [*lines[:at], {**lines[at], "event": canonical_bytes(event).decode()}, *lines[at + 1 :]]


def signed_by_another(lines: list[Line], at: int) -> list[Line]:
    """One event carries the signature of another."""
    return [*lines[:at], {**lines[at], "signature": lines[at - 1]["signature"]}, *lines[at + 1 :]]


@pytest.mark.parametrize("damage", [removed, doubled, reordered, renumbered, changed, signed_by_another])
def test_both_checkers_name_the_same_problems(
    damage: Callable[[list[Line], int], list[Line]], tmp_path: Path, fault_random: random.Random
) -> None:
    """Program and stand-alone verifier name the same sorts of problem and the same places."""
    lines = corpus_lines()
    at = fault_random.randrange(len(lines) - 1)
    folder = tmp_path / "record"
    shutil.copytree(CORPUS, folder)
    damaged = damage(lines, at)
    (folder / "events.jsonl").write_bytes(b"".join(canonical_bytes(line) + b"\n" for line in damaged))
    run = verify.check(folder, LIBRARY, json.loads((CORPUS / "frozen.json").read_bytes()))
    header = read_header((folder / "header.json").read_bytes().rstrip(b"\n"))
    report = check_record(
        header, read_rows(folder), corpus_sides(), (read_head((CORPUS / "frozen.json").read_bytes()),)
    )
    ours = {str(found.problem) for found in report.troubles}
    theirs = {code for _, code, _ in run.problems}
    assert ours and ours == theirs, (at, damage.__name__)
    named = {found.event[:12] for found in report.troubles if found.event}
    words = " ".join(words for _, _, words in run.problems)
    assert all(event in words for event in named), (at, damage.__name__)


def corpus_sides() -> dict[str, Side | None]:
    """The private parts of the corpus; None for those that its head says were redacted."""
    redacted = json.loads((CORPUS / "head.json").read_bytes())["redacted"]
    return dict.fromkeys(redacted) | {
        path.stem: Side(digest=path.stem, data=path.read_bytes().rstrip(b"\n"))
        for path in (CORPUS / "side").iterdir()
    }


@pytest.mark.full
def test_a_flipped_bit_anywhere_is_named(tmp_path: Path, fault_random: random.Random) -> None:
    """One bit of events, private parts, header or head: the line or file that holds it is named."""
    folder = tmp_path / "record"
    shutil.copytree(CORPUS, folder)
    files = ["events.jsonl"] * 40 + ["header.json"] * 5 + ["head.json"] * 5
    files += [f"side/{path.name}" for path in sorted((folder / "side").iterdir())]
    for name in files:
        path = folder / name
        good = path.read_bytes()
        place, bit = fault_random.randrange(len(good)), fault_random.randrange(8)
        bad = bytearray(good)
        bad[place] ^= 1 << bit
        path.write_bytes(bytes(bad))
        try:
            problems = verify.check(
                folder, LIBRARY, json.loads((CORPUS / "frozen.json").read_bytes())
            ).problems
            words = " ".join(f"{code} {text}" for _, code, text in problems)
            places = {seq for seq, _, _ in problems}
        except (ValueError, KeyError, AttributeError) as error:
            words, places = str(error), set()
            assert name in ("header.json", "head.json"), (name, place, bit, words)
        if name == "events.jsonl":
            assert good[:place].count(b"\n") + 1 in places, (place, bit, words)
        elif name.startswith("side/"):
            assert name in words or place == len(good) - 1, (name, place, bit, words)
        elif place < len(good) - 1:
            assert words, (name, place, bit)
        path.write_bytes(good)


# ---------------------------------------------------------------- the command line


def test_commands_check_print_heads_export_and_import(
    desk: Desk, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The record commands do what they say and end with 0."""
    folder, head = tmp_path / "county", desk.store.events.head()
    assert run_command("head", folder, "--json") == 0
    printed = capsys.readouterr().out
    assert read_head(printed.encode()) == head
    noted = tmp_path / "noted.json"
    noted.write_text(printed)
    assert run_command("verify", folder, "--json", "--head", noted) == 0
    report = json.loads(capsys.readouterr().out)
    assert report == {
        "checks": True,
        "head": {"size": 7, "root": head.root, "log_root": head.log_root},
        "notes": [],
        "problems": [],
    }
    assert run_command("export", folder, tmp_path / "out", "--no-private") == 0
    (tmp_path / "other").mkdir()
    assert run_command("import", tmp_path / "other", tmp_path / "out") == 0
    assert "7 events read, 7 were new; 0 private parts" in capsys.readouterr().out
    assert run_command("head", tmp_path / "other") == 0
    assert head.log_root in capsys.readouterr().out


def test_verify_ends_with_1_and_names_the_problem(
    desk: Desk, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An earlier head that counts more events than there are is named; nothing is written."""
    noted = tmp_path / "noted.json"
    head = Head(size=9, root="a" * 64, log_root="b" * 64)
    noted.write_text(json.dumps({"size": 9, "root": head.root, "log_root": head.log_root}))
    assert run_command("verify", tmp_path / "county", "--head", noted) == 1
    assert "the earlier head counts 9 events, only 7 are here" in capsys.readouterr().out
    assert run_command("verify", tmp_path / "county", "--head", noted, "--json") == 1
    (problem,) = json.loads(capsys.readouterr().out)["problems"]
    assert problem["problem"] == "head"


def test_commands_say_what_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No record, no folder, a file that is no head: one sentence and exit 1, no traceback."""
    for arguments in (
        ("verify", tmp_path),
        ("head", tmp_path / "typo"),
        ("export", tmp_path, tmp_path / "out"),
        ("import", tmp_path, tmp_path / "nothing"),
    ):
        assert run_command(*arguments) == 1
        captured = capsys.readouterr()
        assert captured.err and "Traceback" not in captured.err
