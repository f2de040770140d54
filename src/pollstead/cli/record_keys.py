"""``pollstead record key|admit|revoke|protect``: the computers that may write. Thin: parse, call, print."""

from __future__ import annotations

import re
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import cyclopts

from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.record.event import Person
    from pollstead.record.write import Moment

_PUBLIC_KEY = re.compile(r"[0-9a-f]{64}")

By = Annotated[str, cyclopts.Parameter(name="--by", help=text(N_("Id of the person who decides this.")))]


def key(folder: Path, /) -> int:
    """Print this computer's id and public key, for the office to admit it."""
    from pollstead.store.newcomers import this_computer

    try:
        found = this_computer(folder)
    except ValueError as error:
        return _cannot(error)
    print(fill(message(N_("This computer: {device}"), device=found.device)))
    print(fill(message(N_("Public key: {key}"), key=found.public_key)))
    if found.admitted:
        print(text(N_("It is admitted.")))
    else:
        print(text(N_("It is not admitted yet. Where the key of the office is, somebody runs:")))
        print(f"  pollstead record admit FOLDER {found.public_key} --by PERSON")
        print(text(N_("Then bring their record here: pollstead record export there, record import here.")))
    return 0


def admit(
    folder: Path,
    public_key: str,
    /,
    *,
    by: By,
    scope: Annotated[
        str, cyclopts.Parameter(help=text(N_("office, or the id of the one site it may write about.")))
    ] = "office",
    days: Annotated[int, cyclopts.Parameter(help=text(N_("How many days it may write.")))] = 400,
) -> int:
    """Admit a colleague's computer by the public key that it printed; read the key back to one another."""
    from pollstead.store.newcomers import admit_other

    if not _PUBLIC_KEY.fullmatch(public_key) or days < 1:
        print(
            text(N_("Give the 64 characters that pollstead record key printed there, and 1 day or more.")),
            file=sys.stderr,
        )
        return 2
    try:
        signed = admit_other(
            folder,
            public_key=public_key,
            people=_people(by),
            moment=_moment(),
            scope=_scope(scope),
            days=days,
        )
    except ValueError as error:
        return _cannot(error)
    print(fill(message(N_("{device} may write, for {days} days."), device=signed.event.subject, days=days)))
    print(text(N_("Bring it this record: pollstead record export here, record import there.")))
    return 0


def revoke(
    folder: Path,
    device: str,
    /,
    *,
    last_n: Annotated[
        int, cyclopts.Parameter(name="--last-n", help=text(N_("Number of its last entry that is accepted.")))
    ],
    by: By,
    reason: Annotated[str, cyclopts.Parameter(help=text(N_("Why; kept in the private part.")))] = "",
) -> int:
    """End the key of a computer that is lost or no longer the office's: later entries do not check."""
    from pollstead.store.newcomers import end_device

    if last_n < 0:
        print(text(N_("--last-n must be 0 or more; 0 accepts none of its entries.")), file=sys.stderr)
        return 2
    try:
        end_device(folder, device=device, last_n=last_n, reason=reason, people=_people(by), moment=_moment())
    except ValueError as error:
        return _cannot(error)
    print(
        fill(
            message(
                N_("{device} is ended: its entries after number {n} do not check and are not taken."),
                device=device,
                n=last_n,
            )
        )
    )
    print(text(N_("Bring the record to every other computer, so that they know it too.")))
    return 0


def protect(
    folder: Path,
    /,
    *,
    off: Annotated[
        bool, cyclopts.Parameter(name="--off", negative=(), help=text(N_("Take the passphrase away again.")))
    ] = False,
) -> int:
    """Protect this computer's keys by a passphrase that every start asks for; it is stored nowhere."""
    import getpass

    from pollstead.store.keyring import Keyring
    from pollstead.store.passphrase import PASSPHRASE

    if sys.stdin is None or not sys.stdin.isatty():
        print(text(N_("A passphrase is typed by a person at a terminal.")), file=sys.stderr)
        return 2
    try:
        new = None
        if not off:
            new = getpass.getpass(text(N_("New passphrase, 15 characters or more: ")))
            if getpass.getpass(text(N_("The same once more: "))) != new:
                print(text(N_("The two are not the same. Nothing was changed.")), file=sys.stderr)
                return 1
        names = Keyring(folder).protect(new)
    except (ValueError, EOFError) as error:
        return _cannot(error)
    PASSPHRASE.know(new)
    if not names:
        print(fill(message(N_("{folder} has no keys yet."), folder=str(folder))), file=sys.stderr)
        return 1
    print(fill(message(N_("Done for {names}."), names=", ".join(names))))
    if new is not None:
        print(
            text(
                N_(
                    "Nobody can bring a forgotten passphrase back. Then restore a copy into a new folder and "
                    "admit it with the office's key that was locked away; without that key nobody can be "
                    "admitted."
                )
            )
        )
        print(text(N_("Copies made before with --with-keys hold the office's key as it was then.")))
    return 0


def _people(by: str) -> tuple[Person, ...]:
    from pollstead.record.event import Means, Part, Person

    person = by if by.startswith("person/") else f"person/{by}"
    return (Person(person=person, means=Means.NAME_ONLY, part=Part.AUTHOR),)


def _moment() -> Moment:
    from pollstead.record.write import Moment
    from pollstead.work.clock import now_ms

    offset = datetime.now().astimezone().utcoffset()
    minutes = 0 if offset is None else round(offset.total_seconds() / 60)
    return Moment(utc_ms=now_ms(), offset_min=minutes, uncertainty_ms=0)


def _scope(scope: str) -> str:
    return scope if scope == "office" or scope.startswith("site/") else f"site/{scope}"


def _cannot(error: Exception) -> int:
    print(str(error), file=sys.stderr)
    return 1
