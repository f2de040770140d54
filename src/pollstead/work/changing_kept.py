"""What this computer keeps of changes: the one that is being carried out, and all that each one brought.

Kept among the settings of the store. What happened stands in the record; this is what is needed to finish a
change that was interrupted, and to show its sheets and calls again.
"""

from __future__ import annotations

from typing import Final

import msgspec

from pollstead.election.values import Value
from pollstead.reconcile.changed.terms import Change, Consequence
from pollstead.store.opening import Store
from pollstead.work.changing_terms import Asked

OPEN: Final = "change.open"
DONE: Final = "change.done/"


class Intent(Value, frozen=True, kw_only=True):
    """A change that was begun: what was asked, by whom, when, and as much of it as is known already.

    `event` is that of the facts, `after` the plan version, "" until each is there. `consequence` is what was
    shown; its sheets and lists are those to void, print and amend. `steps` are those that are done for sure.
    """

    asked: Asked
    change: Change
    by: str
    second: str = ""
    reason: str
    utc_ms: int
    offset_min: int
    uncertainty_ms: int
    before: str
    approve: bool
    event: str = ""
    number: int = 0
    after: str = ""
    consequence: Consequence | None = None
    steps: tuple[str, ...] = ()


class KeptChange(Value, frozen=True, kw_only=True):
    """A change that was carried out, with the files of its sheets by name."""

    intent: Intent
    files: tuple[str, ...] = ()


def open_intent(store: Store) -> Intent | None:
    """The change that is being carried out; None where none is."""
    data = store.settings.get(OPEN)
    return None if not data else msgspec.json.decode(data, type=Intent)


def note(store: Store, intent: Intent) -> Intent:
    """Keep how far a change is."""
    store.settings.set(OPEN, msgspec.json.encode(intent))
    return intent


def close(store: Store, intent: Intent, files: tuple[str, ...]) -> None:
    """The change is carried out: keep all of it by its event, and let the next one begin."""
    store.settings.set(DONE + intent.event, msgspec.json.encode(KeptChange(intent=intent, files=files)))
    store.settings.set(OPEN, b"")


def forget(store: Store) -> None:
    """Let go of a change of which nothing was written."""
    store.settings.set(OPEN, b"")


def kept(store: Store, event: str) -> KeptChange | None:
    """What is kept of a change that was carried out here; None for one made elsewhere."""
    data = store.settings.get(DONE + event)
    return None if data is None else msgspec.json.decode(data, type=KeptChange)


def kept_change(store: Store, event: str) -> Consequence | None:
    """What a change brought, where it was carried out here."""
    found = kept(store, event)
    return None if found is None else found.intent.consequence


def plan_before(store: Store, event: str) -> str:
    """The plan version that held before a change, "" where that is not known here."""
    found = kept(store, event)
    return "" if found is None else found.intent.before
