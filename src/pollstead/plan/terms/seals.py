"""What happens to single seals, as facts and record tell it: one step in the life of one number."""

from __future__ import annotations

import enum

from pollstead.election.values import Value


class SealStep(enum.StrEnum):
    """A step in the life of a seal, in the order in which they may come."""

    APPLIED = "applied"
    READ = "read"
    CUT = "cut"
    VOIDED = "voided"
    RETURNED = "returned"


class SealEvent(Value, frozen=True, kw_only=True):
    """One step of one seal. `place` is the closure it concerns, or blank; `utc_ms` is 0 for facts.

    `seal_kind` is blank where nobody has told it: then the number is looked for in every kind.
    `source` says where it was read, for people.
    """

    number: str
    step: SealStep
    seal_kind: str = ""
    place: str = ""
    utc_ms: int = 0
    source: str = ""
