"""Say at once that a seal number's check character does not fit, before anything is compared.

The number is not refused: who has read it again and ticks so may keep it, since a strange seal may be there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from pollstead.election.county import Election
from pollstead.election.seal_checks import SealChecks
from pollstead.election.words import N_
from pollstead.plan.seals.applied import kinds_of_closures
from pollstead.plan.terms.version import PlanVersion

MISREAD: Final = N_("This number's check character does not fit; read it again.")
READ_AGAIN: Final = "read_again"
"""The field of a form that says so: it was read again and stands there as it was typed."""

Misread = Callable[[str, str], bool]
"""Whether a number on a closure (its subject as events name it, then the number) must be read again."""


def never(closure: str, number: str) -> bool:
    """Nothing is held against any number: for forms that ask for no seal."""
    return False


def misread_of(election: Election | None, plan: PlanVersion | None, typed: Mapping[str, str]) -> Misread:
    """What holds a number against its check character; nothing does where the form says it was read again."""
    checks = SealChecks() if election is None else SealChecks.of(election.seal_ranges)
    if election is None or not checks.runs or typed.get(READ_AGAIN) == "yes":
        return never
    kinds = kinds_of_closures(election, plan)

    def look(closure: str, number: str) -> bool:
        parts = closure.split("/")
        # The second seal of a closure has its position behind the closure.
        kind = kinds.get(closure) or kinds.get("/".join(parts[:-1]), "")
        return checks.misread(kind, number)

    return look
