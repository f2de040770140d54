"""The one line about copies that stands on every page and ends every command that writes."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import sqlalchemy as sa

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.store.copy_state import (
    LAST_GOOD,
    LAST_TROUBLE,
    TARGET,
    CopyTarget,
    CopyTrouble,
    LastCopy,
)
from pollstead.store.opening import Store
from pollstead.store.schema import events, settings


class CopyStatus(Value, frozen=True, kw_only=True):
    """Where copies go, the last good one, what went wrong since, and how many entries it does not have."""

    target: CopyTarget | None = None
    last: LastCopy | None = None
    trouble: CopyTrouble | None = None
    newer: int = 0

    @property
    def is_well(self) -> bool:
        """Whether a copy is made at each change and the last attempt was good."""
        return self.target is not None and self.last is not None and self.trouble is None


def copy_status(store: Store) -> CopyStatus:
    """What the store knows of its copies, in one look: it is asked for every page."""
    wanted = sa.select(settings.c.key, settings.c.value).where(
        settings.c.key.in_((TARGET, LAST_GOOD, LAST_TROUBLE))
    )
    with store.database.reading() as connection:
        found = {str(row.key): bytes(row.value) for row in connection.execute(wanted)}
        size = connection.execute(sa.select(sa.func.max(events.c.seq))).scalar() or 0
    target, last, trouble = (found.get(key) for key in (TARGET, LAST_GOOD, LAST_TROUBLE))
    good = msgspec.json.decode(last, type=LastCopy) if last else None
    return CopyStatus(
        target=msgspec.json.decode(target, type=CopyTarget) if target else None,
        last=good,
        trouble=msgspec.json.decode(trouble, type=CopyTrouble) if trouble else None,
        newer=max(0, int(size) - (0 if good is None else good.head.size)),
    )


def copy_sentences(status: CopyStatus, when: Callable[[int], str]) -> tuple[Message, ...]:
    """What is so, then what to do where something is: `when` gives a moment as the reader's clock says it."""
    last, trouble = status.last, status.trouble
    if trouble is not None and last is not None:
        said = message(N_("No copy since {time}."), time=when(last.made_utc_ms))
        if trouble.damaged:
            said = message(N_("Last copy {time}, and the store needs a look."), time=when(last.made_utc_ms))
        return (said, trouble.said)
    if trouble is not None:
        return (message(N_("No copy was made yet.")), trouble.said)
    if last is None and status.target is None:
        return (
            message(N_("No copy of this folder was ever made.")),
            message(N_("If this computer dies, all of it is lost. Choose a place for copies.")),
        )
    if last is None:
        return (message(N_("The first copy is being made.")),)
    said = message(N_("Last good copy: {time}."), time=when(last.made_utc_ms))
    if status.target is None:
        return (said, message(N_("None is made at a change. Choose a place for copies.")))
    if status.newer:
        return (said, message(N_("Entries since then: {n}. The next copy follows."), n=status.newer))
    return (said,)
