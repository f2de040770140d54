"""The states of an expected item and of a device, and the results that carry them."""

from __future__ import annotations

import enum

from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.election.words import Message
from pollstead.plan.terms.version import ExpectedItem
from pollstead.reconcile.actions import Action
from pollstead.reconcile.diagnosis.diagnose import Diagnosis
from pollstead.reconcile.observed import Observation


class ItemState(enum.StrEnum):
    """Expected against observed, for one item."""

    MATCH = "match"
    VALUE_DIFFERS = "value differs"
    NOT_SEEN = "not seen"
    NOT_EXPECTED = "seen but not expected"
    SEEN_TWICE = "seen twice"
    WAITING = "waiting for the second person"
    UNKNOWN = "unknown"


DIFFERENCES = (ItemState.VALUE_DIFFERS, ItemState.NOT_EXPECTED, ItemState.SEEN_TWICE)
"""States that are a difference as soon as they are there; ``not seen`` becomes one when its time is over."""


class ItemResult(Value, frozen=True, kw_only=True):
    """One expected item, or one thing seen that no item expects, with everything that was observed.

    `expected` is the value compared with ("" while unknown) and `expected_from` where it comes from;
    `values` are the standing values, each once, in the order first read; `observations` holds all
    readings, corrected ones too. `people` are those who stand behind the standing readings. `diagnoses`
    say what each standing value that differs most likely is, and where else a matching number stands.
    """

    state: ItemState
    what: str
    moment: Moment
    subject: str
    station: str
    device: str
    words: str
    item: ExpectedItem | None = None
    expected: str = ""
    expected_from: Message | None = None
    values: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    observations: tuple[Observation, ...] = ()
    explanation: Message | None = None
    diagnoses: tuple[Diagnosis, ...] = ()
    action: Action | None = None
    notice: Notice | None = None
    resolution: str = ""

    @property
    def is_difference(self) -> bool:
        """Whether a difference notice stands for it."""
        return self.notice is not None and self.notice.kind is NoticeKind.DIFFERENCE


class DeviceState(enum.StrEnum):
    """Whether a device may be used."""

    READY = "ready"
    OUT_OF_SERVICE = "out of service"
    NOT_YET = "not yet"


class DeviceResult(Value, frozen=True, kw_only=True):
    """One device: its state, whether people recorded it or the county's rule says it, and why.

    `waiting_for` are the subjects of the items that are not there yet; `differences` the keys of its
    notices; `observations` the events that took it out of service or back.
    """

    device: str
    station: str
    state: DeviceState
    recorded: bool = False
    why: Message | None = None
    waiting_for: tuple[str, ...] = ()
    differences: tuple[str, ...] = ()
    observations: tuple[Observation, ...] = ()
