"""``pollstead restore``: make a county folder from a copy. Thin: parse, restore, admit, print."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import cyclopts

from pollstead.cli.backup import tell_all, wall_time
from pollstead.election.words import N_, Message, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.store.restore import Restored

app = cyclopts.App(name="restore", help=text(N_("Make a county folder from a copy, on any computer.")))

By = Annotated[
    str, cyclopts.Parameter(name="--by", help=text(N_("Id of the person who admits this computer.")))
]
OfficeKey = Annotated[
    Path | None,
    cyclopts.Parameter(
        name="--office-key", help=text(N_("File with the private key of the office; it is not kept here."))
    ),
]


@app.default
def restore(source: Path, folder: Path, /, *, by: By = "", office_key: OfficeKey = None) -> int:
    """Make FOLDER, new or empty, from a copy or from the newest copy in SOURCE.

    Every file and the head are checked first; where one does not match it is named, nothing is made
    and 1 is returned. With --by, and the key of the office, this computer is admitted to write.
    """
    from pollstead.store.refusal import Refusal
    from pollstead.store.restore import restore_copy
    from pollstead.work.clock import now_ms

    if office_key is not None and not by:
        print(
            text(N_("--office-key needs --by: who admits the computer stands in the record.")),
            file=sys.stderr,
        )
        return 2
    try:
        made = restore_copy(source, folder, utc_ms=now_ms())
    except Refusal as error:
        return tell_all(error)
    except (ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    _say(made, folder)
    if made.facts.record and by and (made.office_key or office_key is not None):
        return admit(folder, by=by, office_key=office_key)
    if made.facts.record:
        _say_waiting(made, folder)
    return 0


@app.command
def admit(folder: Path, /, *, by: By, office_key: OfficeKey = None) -> int:
    """Admit this computer to write in a restored FOLDER, with the key of the office.

    Returns 1 where there is no such key, or it is of another office.
    """
    from pollstead.record.event import Means, Part, Person
    from pollstead.record.write import Moment
    from pollstead.store.certifying import certify_restored, read_office_key
    from pollstead.store.refusal import Refusal
    from pollstead.work.clock import now_ms

    offset = datetime.now().astimezone().utcoffset()
    person = by if by.startswith("person/") else f"person/{by}"
    try:
        signed = certify_restored(
            folder,
            people=(Person(person=person, means=Means.NAME_ONLY, part=Part.AUTHOR),),
            moment=Moment(
                utc_ms=now_ms(),
                offset_min=0 if offset is None else round(offset.total_seconds() / 60),
                uncertainty_ms=0,
            ),
            office_key=None if office_key is None else read_office_key(office_key),
        )
    except Refusal as error:
        return tell_all(error)
    except (ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    print(fill(message(N_("This computer is admitted and writes as {device}."), device=signed.event.device)))
    return 0


def _say(made: Restored, folder: Path) -> None:
    facts = made.facts
    said: list[Message] = [
        message(
            N_("{folder} was made from {copy}: {files} files match, {size} events, root {root}"),
            folder=str(folder),
            copy=made.copy_path,
            files=made.files,
            size=facts.head.size,
            root=facts.head.root,
        ),
        message(
            N_("The copy was made at {time}. What was entered or changed after that is not here."),
            time=wall_time(facts.made_utc_ms),
        ),
    ]
    said.extend(
        message(N_("{device}: its entries up to number {last} are here."), device=device, last=last)
        for device, last in made.devices
    )
    if made.devices:
        said.append(
            message(
                N_(
                    "Bring later entries by: pollstead record import {folder} EXPORT, or type them again "
                    "from paper."
                ),
                folder=str(folder),
            )
        )
    if not facts.packets:
        said.append(
            message(N_("Printed packets were not copied: pollstead print {folder}"), folder=str(folder))
        )
    said.extend(
        message(N_("{file} was being changed while it was copied: look at it."), file=name)
        for name in facts.unsteady
    )
    if made.troubles:
        said.append(
            message(
                N_("The record did not check when it was copied either, {count} problems: {first}"),
                count=len(made.troubles),
                first=made.troubles[0].english(),
            )
        )
    said.extend(made.signs)
    for one in said:
        print(fill(one))


def _say_waiting(made: Restored, folder: Path) -> None:
    key = "" if made.office_key else " --office-key FILE"
    said = (
        N_("The key of the office came along: whoever answers for it admits this computer by:")
        if made.office_key
        else N_(
            "The key of the office did not come along: whoever keeps it must admit this computer "
            "before it can write. Bring the key and run:"
        )
    )
    print(text(said))
    print(f"  pollstead restore admit {folder} --by PERSON{key}")
    print(text(N_("Until then everything can be read, planned, compared and printed here.")))
