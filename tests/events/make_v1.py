"""Write the frozen corpus of version 1: an invented record of Larkmoor with every kind of event.

    PYTHONPATH=src python tests/events/make_v1.py OUT

Keys, salts and clock are fixed, so that a second run gives the same bytes. The corpus in
``tests/events/v1`` is never written again: a test holds this script and the corpus equal while the
format is version 1, and every later commit must read it.
"""

from __future__ import annotations

import hashlib
import json
import sys
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from pollstead.record.event import Event, Means, Part, Person, Signed
from pollstead.record.fold import fold
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.keys import certify, public_hex, revoke
from pollstead.record.kinds import days, offices
from pollstead.record.kinds.body import Body, Private, Reason
from pollstead.record.kinds.registry import KINDS
from pollstead.record.write import MemoryJournal, Moment, Recorder, list_side, sign_event
from pollstead.store.desk import Desk, begin_desk
from pollstead.store.exchange import export_record

DAY = "2028-11-07"
SITE = "site/S01"
START = 1_857_200_000_000  # 7 November 2028, in the early morning of Larkmoor
SCANNER = "device/scanner/0012"
CLOSURE = "closure/scanner/0012/lid"


def fixed(words: str) -> bytes:
    """32 bytes that look random and are the same in each run."""
    return hashlib.sha256(f"Larkmoor corpus 1: {words}".encode()).digest()


def fixed_key(words: str) -> Ed25519PrivateKey:
    """A key that everybody knows: for this corpus only."""
    return Ed25519PrivateKey.from_private_bytes(fixed(words))


def digest(words: str) -> str:
    """A digest that stands for something which is not in the corpus."""
    return fixed(words).hex()


def people(*ids: str) -> tuple[Person, ...]:
    """An author and, for each further id, a second person who gave a code."""
    first = Person(person=f"person/{ids[0]}", means=Means.OWN_DEVICE, part=Part.AUTHOR)
    others = (Person(person=f"person/{i}", means=Means.CODE, part=Part.SECOND) for i in ids[1:])
    return (first, *others)


class Writer:
    """A recorder with the corpus's clock: each event two minutes after the one before."""

    clock = START

    def __init__(self, recorder: Recorder, who: tuple[Person, ...]) -> None:
        self.recorder = recorder
        self.who = who

    def __call__(
        self,
        body: Body,
        subject: str,
        *,
        site: str = "",
        private: Private | None = None,
        after: tuple[str, ...] = (),
        who: tuple[Person, ...] | None = None,
    ) -> Signed:
        """Record one event."""
        Writer.clock += 120_000
        return self.recorder.record(
            body,
            subject=subject,
            people=who or self.who,
            moment=Moment(utc_ms=Writer.clock, offset_min=-300, uncertainty_ms=2_000),
            site=site,
            day=DAY if site else "",
            after=after,
            private=private,
            salt=fixed(f"salt {Writer.clock}"),
        )


def office_events(desk: Desk, tablets: dict[str, Ed25519PrivateKey]) -> Writer:
    """What the office did before the day."""
    write = Writer(desk.recorder, people("P001"))
    office = fixed_key("office")
    for device, key in tablets.items():
        certificate = certify(
            desk.header,
            office,
            device=device,
            public_key=public_hex(key),
            scope=SITE,
            valid_from_utc_ms=START,
            valid_to_utc_ms=START + 2 * 86_400_000,
        )
        write(certificate, device)
    write(offices.SnapshotTaken(digest=digest("snapshot")), "facts")
    write(offices.MappingConfirmed(table="sites", digest=digest("mapping")), "facts")
    fixed_value = offices.ValueFixed(table="stations", row="S01 scanner", field="count", value=2)
    write(fixed_value, SITE, private=offices.FixedPrivate(reason="The hall has one outlet by the door."))
    unfixed = offices.ValueUnfixed(table="stations", row="S01 scanner", field="count")
    write(unfixed, SITE, private=Reason(reason="A second outlet was found."))
    personal = offices.ValueFixed(table="people", row="P012", field="phone", value=None)
    write(personal, "person/P012", private=offices.FixedPrivate(reason="New phone.", value="555 0142"))
    write(offices.RuleConfirmed(rule="opening.clock_lead", level="policy"), "rules")
    plan = digest("plan 1")
    write(offices.PlanComputed(digest=plan), "plan")
    write(offices.PlanApproved(digest=plan), "plan", who=people("P001", "P002"))
    issue_lists(write, plan)
    return write


def issue_lists(write: Writer, plan: str) -> None:
    """An expected list, then another in its place."""
    first = (FrozenObject({"subject": CLOSURE, "what": "seal", "value": "0048211"}),)
    second = (FrozenObject({"subject": CLOSURE, "what": "seal", "value": "0048219"}),)
    digests = []
    for lines in (first, second):
        # The recorder salts with the clock's next value.
        digests.append(list_side(lines, fixed(f"salt {Writer.clock + 120_000 * (1 + len(digests))}")).digest)
    issued = offices.ExpectedIssued(list_digest=digests[0], plan=plan, sheet_set=digest("sheets 1"))
    write(issued, SITE, site=SITE, private=offices.ExpectedList(lines=first))
    amended = offices.ExpectedAmended(list_digest=digests[1], replaces=digests[0], plan=plan)
    write(amended, SITE, site=SITE, private=offices.ExpectedList(lines=second))
    sheets = ("sheet/S01/opening/1", "sheet/S01/closing/1")
    write(offices.PacketPrinted(sheets=sheets, plan=plan, list_digest=digests[1]), SITE, site=SITE)


def opening_events(write: Writer, second: Writer) -> None:
    """What was seen on two tablets before the doors opened."""
    write(days.SerialSeen(serial="LM-V-0012"), "station/S01/scanner/1", site=SITE)
    seal = days.SealSeen(step="opening", state="intact")
    write(seal, CLOSURE, site=SITE, private=days.SealNumber(number="0048219"))
    misread = second(
        seal, CLOSURE, site=SITE, private=days.SealNumber(number="0048291", remark="Hard to read.")
    )
    right = days.EntryCorrected(
        corrects=misread.id, of_kind="seen.seal", value=FrozenObject({"step": "opening", "state": "intact"})
    )
    number = days.CorrectionPrivate(reason="Read again.", fields=FrozenObject({"number": "0048219"}))
    second(right, CLOSURE, site=SITE, private=number)
    clock = days.ClockSeen(date_shown=DAY, device_min=371, reference_min=366)
    write(clock, SCANNER, site=SITE, who=people("P012", "P013"))
    write(days.ReportSeen(report="zero", state="printed"), SCANNER, site=SITE)
    write(days.CountRead(term="public_counter_open", value=0, source="screen"), SCANNER, site=SITE)
    second(days.CountRead(term="public_counter_open", value=1, source="screen"), SCANNER, site=SITE)
    out = write(days.DeviceOutOfService(state="out", why="clock_wrong"), "device/bmd/0003", site=SITE)
    back = days.DeviceOutOfService(state="back", why="clock_set")
    second(back, "device/bmd/0003", site=SITE, after=(out.id,), private=Reason(reason="Set with the office."))
    write(days.SiteOpened(at_min=420), SITE, site=SITE)
    second(days.SiteOpened(at_min=420, sheet="sheet/S01/opening/1"), SITE, site=SITE)


def closing_events(write: Writer, desk: Writer) -> None:
    """The close, a correction of it, a correction of that, an entry withdrawn, and the hand-over."""
    read = write(days.CountRead(term="public_counter_close", value=613, source="report"), SCANNER, site=SITE)
    right = FrozenObject({"term": "public_counter_close", "value": 631, "source": "report"})
    correction = days.EntryCorrected(corrects=read.id, of_kind="count.read", value=right)
    why = days.CorrectionPrivate(reason="Digits were swapped.")
    corrected = write(correction, SCANNER, site=SITE, private=why, after=(read.id,))
    again = FrozenObject({"term": "public_counter_close", "value": 632, "source": "report"})
    correction = days.EntryCorrected(corrects=corrected.id, of_kind="count.read", value=again)
    write(correction, SCANNER, site=SITE, private=days.CorrectionPrivate(reason="Read once more."))
    wrong = write(days.CountRead(term="ballots_spoiled", value=4, source="hand"), SCANNER, site=SITE)
    withdrawn = days.EntryCorrected(corrects=wrong.id, of_kind="count.read", value=FrozenObject())
    write(withdrawn, SCANNER, site=SITE, private=days.CorrectionPrivate(reason="That was the other device."))
    packed = days.MemoryDevicePacked(state="travels_inside", inside=SCANNER)
    write(packed, "device/memory/0012", site=SITE)
    write(days.SiteClosed(at_min=1210), SITE, site=SITE)
    hand_over = (
        Person(person="person/P003", means=Means.OWN_DEVICE, part=Part.AUTHOR),
        Person(person="person/P012", means=Means.CODE, part=Part.GIVER),
        Person(person="person/P014", means=Means.NAME_ONLY, part=Part.RECEIVER),
    )
    received = days.ThingReceived(place="site/R1", state="received")
    desk(received, SCANNER, site=SITE, who=hand_over, private=days.Remark(remark="Box wet from rain."))
    resolved = offices.NoticeResolved(
        notice_key=f"counts.i4|{SCANNER}|{DAY}", digest=digest("values"), resolution="explained"
    )
    desk(resolved, SCANNER, site=SITE, private=offices.Words(words="Copied from the wrong line first."))


def build(folder: Path, out: Path) -> None:
    """Make the record in the new folder `folder` and export it to `out`."""
    folder.mkdir(parents=True)
    Writer.clock = START
    desk = begin_desk(
        folder,
        county="Larkmoor (invented)",
        election="General Election 2028 (invented)",
        practice=False,
        people=people("P001"),
        moment=Moment(utc_ms=START, offset_min=-300, uncertainty_ms=2_000),
        office_key=fixed_key("office"),
        desk_key=fixed_key("desk"),
    )
    keys = {f"tablet/{name}": fixed_key(f"tablet {name}") for name in ("a", "b")}
    journals = {device: MemoryJournal() for device in keys}
    write_desk = office_events(desk, keys)
    first, second = (
        Writer(Recorder(desk.header, device, key, journals[device]), people(person))
        for (device, key), person in zip(keys.items(), ("P012", "P013"), strict=True)
    )
    opening_events(first, second)
    closing_events(first, write_desk)
    unknown = later_kind(desk, second, keys["tablet/b"], journals["tablet/b"])
    for journal in journals.values():
        desk.store.events.add(journal.events, journal.sides.values())
    desk.store.events.append(unknown)
    office = fixed_key("office")
    ended = revoke(desk.header, office, device="tablet/b", last_n=unknown.event.n)
    write_desk(ended, "tablet/b", private=Reason(reason="Left in the car."))
    note = next(s for s in desk.store.events.all() if s.event.kind == "value.unfixed").event.private
    redacted = offices.SideRedacted(digest=note)
    write_desk(redacted, SITE, private=Reason(reason="Named a private person."))
    desk.store.sides.redact(note, Writer.clock)
    export_record(desk.store, out)
    kinds = {signed.event.kind for signed in desk.store.events.all()}
    # A kind that came after this corpus has a corpus of its own.
    assert kinds - {"later.kind"} <= set(KINDS), kinds - set(KINDS)
    frozen = {
        "fold": fold(desk.store.events.all()).digest(),
        **json.loads((out / "head.json").read_bytes()),
    }
    (out / "frozen.json").write_text(json.dumps(frozen, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    (out / "verify.py").unlink()
    desk.close()


def later_kind(desk: Desk, write: Writer, key: Ed25519PrivateKey, journal: MemoryJournal) -> Signed:
    """An event of a kind that version 1 does not know, as a later program might write it."""
    last = journal.events[-1]
    event = Event(
        v=2,
        kind="later.kind",
        subject=SITE,
        site=SITE,
        day=DAY,
        body=FrozenObject({"of_later": [1, {"deep": True}], "text": "café", "nothing": None}),
        utc_ms=Writer.clock,
        offset_min=-300,
        uncertainty_ms=2_000,
        people=write.who,
        device="tablet/b",
        n=last.event.n + 1,
        prev=last.id,
        after=(),
        private="",
    )
    return sign_event(desk.header, key, event)


if __name__ == "__main__":
    import tempfile

    with tempfile.TemporaryDirectory() as scratch:
        build(Path(scratch) / "county", Path(sys.argv[1]))
