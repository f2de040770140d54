"""The chapter of the office book about copies and keys: where they are, who may write."""

from __future__ import annotations

from pollstead.election.words import N_
from pollstead.record.keys import Trust
from pollstead.record.kinds.offices import DeviceCertified, DeviceRevoked
from pollstead.show.book.content import Block, Column, Lines, Said
from pollstead.show.book.telling import Telling
from pollstead.store.copy_status import copy_sentences, copy_status
from pollstead.store.desk import OFFICE_KEY
from pollstead.store.keyring import Keyring


def copies_and_keys(telling: Telling) -> tuple[Block, ...]:
    """Where copies go, the last good one, the record's head, the keys here, the computers that may write."""
    say, folder = telling.say, telling.folder
    status = copy_status(folder.store)
    head = folder.store.events.head()
    place = say(N_("no place is set")) if status.target is None else status.target.path
    keyring = Keyring(folder.path)
    key_here = keyring.path(OFFICE_KEY).exists()
    rows = (
        (say(N_("Copies go to")), place),
        (
            say(N_("State of the copies")),
            " ".join(say.message(s) for s in copy_sentences(status, telling.when)),
        ),
        (say(N_("Entries in the record")), str(head.size)),
        (say(N_("Root of the record")), _grouped(head.root)),
        (
            say(N_("Key of the office")),
            say(N_("on this computer, in the folder keys")) if key_here else say(N_("not on this computer")),
        ),
        (
            say(N_("Keys behind a passphrase")),
            say(N_("yes: whoever knows it must be there at each start"))
            if keyring.is_protected()
            else say(N_("no")),
        ),
        (say(N_("A second key of the office is kept by, at")), "________________________________"),
    )
    columns = (Column(title=say(N_("What")), width_mm=60), Column(title=say(N_("Is"))))
    return (
        Lines(columns=columns, rows=rows, none=""),
        Said(words=say(N_("Computers that may write")), strong=True),
        _devices(telling),
        Said(
            words=say(
                N_(
                    "If this computer dies: pollstead restore STICK NEW-FOLDER on another one; then "
                    "pollstead "
                    "restore admit NEW-FOLDER --by PERSON with the key of the office. The page Copies prints "
                    "the whole sheet."
                )
            )
        ),
    )


def _devices(telling: Telling) -> Lines:
    say, store = telling.say, telling.folder.store
    columns = (
        Column(title=say(N_("Computer"))),
        Column(title=say(N_("For")), width_mm=28),
        Column(title=say(N_("Until")), width_mm=42),
        Column(title=say(N_("Ended after entry")), width_mm=34),
    )
    none = say(N_("No record has begun, so none is admitted yet."))
    header = store.header()
    if header is None:
        return Lines(columns=columns, rows=(), none=none)
    trust = Trust(header, store.events.of_kinds(DeviceCertified.kind, DeviceRevoked.kind))
    rows = tuple(
        (
            device,
            ", ".join(dict.fromkeys(certificate.scope for certificate in held)),
            telling.when(max(certificate.valid_to_utc_ms for certificate in held)),
            str(trust.last_n[device]) if device in trust.last_n else "-",
        )
        for device, held in sorted(trust.certificates.items())
    )
    return Lines(columns=columns, rows=rows, none=none)


def _grouped(root: str) -> str:
    return " ".join(root[at : at + 4] for at in range(0, len(root), 4))
