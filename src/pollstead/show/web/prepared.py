"""Build what msgspec knows of our types before several threads ask for it.

msgspec 0.22 builds its knowledge of a type on first use and is not safe when several threads do so
at once: the process ends with a segmentation fault (seen, and held by a test). So everything that a
request may decode is asked for here, in the one thread that starts the app.
"""

from __future__ import annotations

from typing import Any

import msgspec

from pollstead.election.county import Election
from pollstead.plan.terms.version import Decisions, ExpectedItem, ExpectedList, PlanVersion, Told
from pollstead.record.event import Event
from pollstead.record.header import Header
from pollstead.record.kinds.registry import KINDS
from pollstead.show.web.who import Who
from pollstead.store.copy_list import CopyFacts
from pollstead.store.copy_state import CopyTarget, CopyTrouble, LastCopy, RestoredFrom
from pollstead.work.kinds import ARGUMENTS


def _any(wanted: type, value: Any) -> Any:
    raise NotImplementedError(wanted)


def prepare_types() -> None:
    """Build the decoders of all types that pages read; call it before threads start."""
    bodies = [*KINDS.values(), *(body.private for body in KINDS.values() if body.private is not None)]
    plans = (PlanVersion, Decisions, ExpectedItem, ExpectedList, Told)
    copies = (CopyFacts, CopyTarget, CopyTrouble, LastCopy, RestoredFrom)
    for known in (*plans, *copies, Election, Event, Header, Who, *ARGUMENTS.values(), *bodies):
        msgspec.json.Decoder(known, dec_hook=_any)
