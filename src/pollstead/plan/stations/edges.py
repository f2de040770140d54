"""From early voting to election day: the states of one device, and what lacks before the next one.

A device that counted early ballots counts election day's only after its early results are out of it: closed,
memory devices out, tested and set to zero, sealed anew. An edge that leaves one of these out is refused with
what lacks; whether a county may deploy a device again at all is for its law and its election official.
"""

from __future__ import annotations

import enum
from types import MappingProxyType
from typing import Final

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message


class DeviceState(enum.StrEnum):
    """Where a device is on its way from early voting to election day."""

    EARLY_OPEN = "early voting"
    EARLY_CLOSED = "early voting closed"
    MEMORY_OUT = "memory devices out"
    TESTED = "tested, counters as the rules ask"
    SEALED = "sealed anew"
    ELECTION_DAY = "election day"


ORDER: Final = tuple(DeviceState)


class Evidence(Value, frozen=True, kw_only=True):
    """What is known of one device since its last early day began; nothing counts as done by default.

    `tested` is a test that was passed after early voting closed; `zero` that its counters show zero.
    """

    closed: bool = False
    memory_out: bool = False
    tested: bool = False
    zero: bool = False
    sealed: int = 0
    seals_wanted: int = 0
    holds_memory: bool = True


_LACKS: Final = MappingProxyType(
    {
        DeviceState.EARLY_CLOSED: N_("The closing of its last early day is not recorded."),
        DeviceState.MEMORY_OUT: N_("Its memory devices of early voting are not recorded as out."),
        DeviceState.TESTED: N_(
            "No passed test after early voting is recorded, or its counters are not at zero."
        ),
        DeviceState.SEALED: N_("{sealed} of {wanted} new seals are read by two people."),
    }
)


def done(evidence: Evidence, state: DeviceState) -> bool:
    """Whether the evidence shows that this state has been reached, whatever came before."""
    return {
        DeviceState.EARLY_OPEN: True,
        DeviceState.EARLY_CLOSED: evidence.closed,
        DeviceState.MEMORY_OUT: evidence.memory_out or not evidence.holds_memory,
        DeviceState.TESTED: evidence.tested and evidence.zero,
        DeviceState.SEALED: evidence.sealed >= evidence.seals_wanted,
        DeviceState.ELECTION_DAY: False,
    }[state]


def state_of(evidence: Evidence) -> DeviceState:
    """The last state of the chain that was reached with nothing left out before it."""
    reached = DeviceState.EARLY_OPEN
    for state in ORDER[1:-1]:
        if not done(evidence, state):
            break
        reached = state
    return reached


def lacks(evidence: Evidence, wanted: DeviceState) -> tuple[Message, ...]:
    """What lacks before a device may go on to `wanted`; empty where nothing does."""
    return tuple(
        message(_LACKS[state], sealed=evidence.sealed, wanted=evidence.seals_wanted)
        if state is DeviceState.SEALED
        else message(_LACKS[state])
        for state in ORDER[1 : ORDER.index(wanted)]
        if not done(evidence, state)
    )
