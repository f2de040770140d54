"""How `changes_v1/` was made: a record with changes of facts, an undo, and a change set aside.

It is not run again: the files it made are frozen. A test builds the record anew and compares bytes.
"""

from __future__ import annotations

import hashlib
import json
import sys
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from pollstead.record.event import Means, Part, Person, Signed
from pollstead.record.fold import fold
from pollstead.record.kinds.changes import ChangedCell, FactsChanged, FactsChangedPrivate, NamedCell
from pollstead.record.write import Moment
from pollstead.store.desk import begin_desk
from pollstead.store.exchange import export_record

START = 1_857_200_000_000  # 7 November 2028, in the early morning of Larkmoor


def fixed(words: str) -> bytes:
    """32 bytes that look random and are the same in each run."""
    return hashlib.sha256(f"Larkmoor changes 1: {words}".encode()).digest()


def fixed_key(words: str) -> Ed25519PrivateKey:
    """A key that everybody knows: for this corpus only."""
    return Ed25519PrivateKey.from_private_bytes(fixed(words))


def build(folder: Path, out: Path) -> None:
    """Make the record in the new folder `folder` and export it to `out`."""
    folder.mkdir(parents=True)
    who = (Person(person="person/P001", means=Means.NAME_ONLY, part=Part.AUTHOR),)
    clock = iter(range(START, START + 100 * 60_000, 60_000))
    desk = begin_desk(
        folder,
        county="Larkmoor (invented)",
        election="General Election 2028 (invented)",
        practice=False,
        people=who,
        moment=Moment(utc_ms=next(clock), offset_min=-300, uncertainty_ms=60_000),
        office_key=fixed_key("office"),
        desk_key=fixed_key("desk"),
    )

    def write(act: str, reason: str, *cells: ChangedCell, subject: str = "facts", **named: str) -> Signed:
        body = FactsChanged(
            act=act,
            tables=tuple(dict.fromkeys(cell.table for cell in cells)),
            cells=len(cells),
            before=fixed("facts before").hex(),
            after=fixed(f"facts after {reason}").hex(),
            **named,
        )
        now = next(clock)
        return desk.recorder.record(
            body,
            subject=subject,
            people=who,
            moment=Moment(utc_ms=now, offset_min=-300, uncertainty_ms=60_000),
            private=FactsChangedPrivate(reason=reason, cells=cells),
            salt=fixed(f"salt {now}"),
        )

    name = ChangedCell(table="sites", row="S01", column="name", before="Ansel Hall", after="Salle café")
    phone = ChangedCell(table="people", row="P012", column="phone", before="0555 0142", after="")
    first = write("import", "Corrected by the sites.", name, phone)
    row = (NamedCell("site", "S01"), NamedCell("kind", "tide"))
    write(
        "amend",
        "The route floods.",
        ChangedCell(table="site_times", row="S01 | tide", what="added", cells=row, follows="S00 | tide"),
        ChangedCell(table="parts", row="scanner | lid", what="removed", cells=(NamedCell("id", "lid"),)),
        ChangedCell(
            table="opening", row="scanner", what="order", order_before=("a", "b"), order_after=("b", "a")
        ),
        subject="site/S01",
    )
    back = ChangedCell(table="sites", row="S01", column="name", before="Salle café", after="Ansel Hall")
    write("undo", "That was the other hall.", back, undoes=first.id)
    write("accept", "Told by phone.", name, accepts=first.id)
    write("set_aside", "Not wanted here.", undoes=first.id)
    export_record(desk.store, out)
    frozen = {
        "fold": fold(desk.store.events.all()).digest(),
        **json.loads((out / "head.json").read_bytes()),
    }
    (out / "frozen.json").write_text(json.dumps(frozen, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    (out / "verify.py").unlink()
    desk.close()


if __name__ == "__main__":
    import tempfile

    with tempfile.TemporaryDirectory() as scratch:
        build(Path(scratch) / "county", Path(sys.argv[1]))
