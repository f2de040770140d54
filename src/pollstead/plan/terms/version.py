"""A plan version: everything the plan says, whole numbers and text only, so that its digest is exact."""

from __future__ import annotations

import datetime as dt
import enum

from pollstead.election.county import Assumption, FixedValue
from pollstead.election.notice import Notice
from pollstead.election.station_type import EntryPolicy, Moment, NumberPolicy
from pollstead.election.values import Value
from pollstead.election.words import Message
from pollstead.plan.terms.demand import SiteDayDemand
from pollstead.plan.terms.overruled import Overruled
from pollstead.plan.terms.part import Effort, Reason


class StageCount(Value, frozen=True, kw_only=True):
    """How many stations of one type a site gets; `fixed` when a person set it, with the reason."""

    station_type: str
    step: str
    count: int
    fixed: bool = False
    reason: str = ""
    computed: int | None = None


class WhatIf(Value, frozen=True, kw_only=True):
    """One change and what it does: chance that the longest wait passes the limit, 95 % longest wait.

    `voter_minutes` of waiting a day, all voters together; `percent` more time where the change is a longer
    ballot.
    """

    change: str
    count: int | None = None
    risk_ppm: int
    p95_longest_wait_ms: int
    voter_minutes: int | None = None
    percent: int | None = None


class HourWait(Value, frozen=True, kw_only=True):
    """The longest wait of those who come in one hour, on half of the days and on 90 of 100."""

    from_min: int
    p50_ms: int
    p90_ms: int


class WaitReport(Value, frozen=True, kw_only=True):
    """What the simulation of a site says, with the days used and the interval of the risk.

    `undecided`: the interval still holds the accepted risk after all days that the effort allows. `compared`
    is the plan itself on the `compared_days` of the what-ifs, so that differences are not chance.
    All is of `day`, the worst of the site. `told_singly` says why days were told event by event, in words;
    empty where none was. `hours` are of the first `hour_days` of the same days.
    """

    limit_ms: int
    risk_ppm: int
    low_ppm: int
    high_ppm: int
    days_used: int
    mean_wait_ms: int
    p50_longest_wait_ms: int
    p95_longest_wait_ms: int
    binding: str
    meets_limit: bool
    what_ifs: tuple[WhatIf, ...] = ()
    accepted_ppm: int | None = None
    undecided: bool = False
    compared: WhatIf | None = None
    compared_days: int = 0
    told_singly: str = ""
    day: dt.date | None = None
    hours: tuple[HourWait, ...] = ()
    hour_days: int = 0


class ExpectedSeal(Value, frozen=True, kw_only=True):
    """One position of a seal on a closure: what kind, what to do with the number, number if known.

    `number` is empty while it is not yet recorded. It never leaves the plan except into the
    expected list and private side objects.
    """

    closure: str
    name: str
    position: int
    seal_kind: str
    number_policy: NumberPolicy
    entry: EntryPolicy
    applied: Moment
    checked: tuple[Moment, ...]
    cut: Moment | None
    number: str = ""


class PartOfStation(Value, frozen=True, kw_only=True):
    """A part of a station: a serial from the fleet, or a count; `device` is "" while unassigned.

    `again` says that the device counted early ballots elsewhere before it stands here.
    """

    part: str
    name: str
    quantity: int
    device: str = ""
    serial: str = ""
    tag: str = ""
    cart: str = ""
    lifetime_counter: int | None = None
    memory_devices: tuple[str, ...] = ()
    by_serial: bool = False
    fixed: bool = False
    again: bool = False


class Station(Value, frozen=True, kw_only=True):
    """One station with its id, number, parts and seals.

    `first_day` and `last_day` are set where it stands on some of the site's days only: devices that count
    early ballots are not those that count election day's, unless the county says so.
    """

    id: str
    station_type: str
    number: int
    parts: tuple[PartOfStation, ...] = ()
    seals: tuple[ExpectedSeal, ...] = ()
    first_day: dt.date | None = None
    last_day: dt.date | None = None

    def stands_on(self, date: dt.date) -> bool:
        """Whether the station stands at its site on this operating day."""
        return (self.first_day is None or self.first_day <= date) and (
            self.last_day is None or date <= self.last_day
        )


class PackingLine(Value, frozen=True, kw_only=True):
    """A thing to pack and how many; `group` says where it stands on the list, `tags` what to look for.

    `why` holds, for each part of the sum, the figures from which it follows. `fixed` when a person set the
    quantity, with the reason and what was computed.
    """

    group: str
    item: str
    quantity: int
    unit: str = "each"
    tags: tuple[str, ...] = ()
    why: tuple[Message, ...] = ()
    fixed: bool = False
    reason: str = ""
    computed: int | None = None


class RunStep(Value, frozen=True, kw_only=True):
    """A set-up step with its earliest times, in minutes from the start of its part of the run sheet.

    `fixed` when a person set its minutes or people, with the reason.
    """

    id: str
    words: str
    when: Moment
    station_type: str
    starts_min: int
    ends_min: int
    people: int
    critical: bool
    times: int = 1
    caution: str = ""
    fixed: bool = False
    reason: str = ""


class SealNeed(Value, frozen=True, kw_only=True):
    """Seals of one kind needed at a moment; `fixed` when a person set the quantity or added to it."""

    seal_kind: str
    moment: Moment
    quantity: int
    fixed: bool = False
    reason: str = ""
    computed: int | None = None


class SitePlan(Value, frozen=True, kw_only=True):
    """The plan of one site; `kind_reason` is set where a person chose another kind for this plan."""

    site: str
    name: str
    kind: str
    kind_reason: str = ""
    demand: tuple[SiteDayDemand, ...]
    counts: tuple[StageCount, ...]
    waits: WaitReport | None
    stations: tuple[Station, ...] = ()
    packing: tuple[PackingLine, ...] = ()
    run_sheet: tuple[RunStep, ...] = ()
    seal_needs: tuple[SealNeed, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    reasons: tuple[Reason, ...] = ()

    def stations_on(self, date: dt.date) -> tuple[Station, ...]:
        """The stations that stand here on one operating day."""
        return tuple(station for station in self.stations if station.stands_on(date))


class Spare(Value, frozen=True, kw_only=True):
    """A device held back, not at any site, and the seals on it: a spare is sealed like the others."""

    device: str
    kind: str
    serial: str
    tag: str = ""
    seals: tuple[ExpectedSeal, ...] = ()


class SealStock(Value, frozen=True, kw_only=True):
    """Seals of one kind: needed by the plan, in the county's ranges, already on closures by number.

    `needed` counts spares' seals too. `stock` is None while the county has told no range of the kind.
    """

    seal_kind: str
    needed: int
    stock: int | None
    applied: int

    @property
    def short(self) -> int:
        """Seals needed beyond the stock; 0 while the stock is unknown."""
        return 0 if self.stock is None else max(0, self.needed - self.stock)


class KindTotal(Value, frozen=True, kw_only=True):
    """Devices of a kind: planned at sites, owned, held back, short (planned more than owned)."""

    kind: str
    planned: int
    owned: int | None
    spares: int
    short: int


class EngineVersion(Value, frozen=True, kw_only=True):
    """A library or program whose version can change a result."""

    name: str
    version: str


class PlanVersion(Value, frozen=True, kw_only=True):
    """One whole plan: f(snapshot, decisions, county rules, root seed, effort, engine versions, parent).

    `snapshot`, `decisions` and `told` are digests of what went in; of the parent version only the places of
    devices count.
    """

    snapshot: str
    decisions: str
    told: str = ""
    seed: int
    effort: Effort
    engines: tuple[EngineVersion, ...]
    parent: str = ""
    sites: tuple[SitePlan, ...] = ()
    totals: tuple[KindTotal, ...] = ()
    spares: tuple[Spare, ...] = ()
    seal_stock: tuple[SealStock, ...] = ()
    fixed: tuple[FixedValue, ...] = ()
    overruled: tuple[Overruled, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    notices: tuple[Notice, ...] = ()
    reasons: tuple[Reason, ...] = ()
    stopped_early: bool = False

    def site(self, site_id: str) -> SitePlan:
        """The plan of this site; raises KeyError naming it otherwise."""
        for plan in self.sites:
            if plan.site == site_id:
                return plan
        raise KeyError(f"the plan has no site {site_id!r}")


class SheetKind(enum.StrEnum):
    """The sheets of a site packet; expected list and change notice are print jobs of their own."""

    COVER = "cover page"
    PACKING = "packing list"
    RUN = "set-up run sheet"
    OPENING = "opening sheet"
    CLOSING = "closing sheet"
    SEALS = "seal sheet"
    LINES = "lines and waits"
    BALANCE = "balance sheet"
    EXPECTED = "expected list"
    CHANGE = "change notice"


CARRIED_OVER = "carried over"
"""The value of an expected item that is whatever the record last says of the same subject."""


class ExpectedItem(Value, frozen=True, kw_only=True):
    """One thing expected to be found: ``serial``, ``seal``, ``counter``, ``clock``, ``date``, ``report``
    or ``memory device`` of `subject`, at `moment`, in independent or compared entry.

    `value` is empty while unknown, `CARRIED_OVER` where the last record of the same subject counts (a
    counter of an earlier day, a seal put on last night). A clock's value is its lead in minutes, to be met
    within `tolerance`. A seal whose number is not recorded has the value ``in place``. `private` values
    never stand in a signed field before opening.
    """

    subject: str
    station: str
    device: str
    what: str
    moment: Moment
    value: str
    words: str
    entry: EntryPolicy = EntryPolicy.INDEPENDENT
    tolerance: int = 0
    private: bool = False
    second_person: bool = False


class ExpectedList(Value, frozen=True, kw_only=True):
    """What is expected at one site on one operating day; its salted digest is what gets signed."""

    site: str
    date: dt.date
    plan: str
    items: tuple[ExpectedItem, ...]


class Decisions(Value, frozen=True, kw_only=True):
    """What people decided since the facts were read, folded from signed events."""

    fixed: tuple[FixedValue, ...] = ()


class Told(Value, frozen=True, kw_only=True):
    """What reading the facts had to say: its notices, and the sites not to be planned (``*``: none is)."""

    notices: tuple[Notice, ...] = ()
    leave_out: tuple[str, ...] = ()


NO_DECISIONS = Decisions()
NOTHING_TOLD = Told()
