"""The split of a fixed fleet over all sites: what it is given, the table of each site, the answer."""

from __future__ import annotations

import enum

from pollstead.election.notice import Notice
from pollstead.election.values import Value, require, require_unique
from pollstead.plan.terms.lines import SiteLines

Counts = tuple[int, int, int, int]
"""Stations of each stage, in the order of ``SIZED``."""


class Goal(enum.StrEnum):
    """What the split makes least: all waits, the worst site, or all waits with the worst site held down."""

    TOTAL = "total"
    WORST = "worst"
    BLEND = "blend"


class FleetKind(Value, frozen=True, kw_only=True):
    """One kind of device: how many are in service, and how many of them stay off the sites as spares.

    `elsewhere` stand at stations whose number the split does not choose. `hold_back_is_policy` says that the
    number held back is the office's own choice, so that its price may be told.
    """

    id: str
    owned: int
    held_back: int = 0
    elsewhere: int = 0
    hold_back_is_policy: bool = True

    def __post_init__(self) -> None:
        for name, number in (
            ("owned", self.owned),
            ("held_back", self.held_back),
            ("elsewhere", self.elsewhere),
        ):
            require(number >= 0, f"{self.id}: {name} must be >= 0, got {number}")

    @property
    def available(self) -> int:
        """Devices for the stations that the split chooses; below 0: the others need more than there are."""
        return self.owned - self.held_back - self.elsewhere


class SiteBound(Value, frozen=True, kw_only=True):
    """A bound of one site on all its stations together: sum of `each` times stations is at most `most`.

    Room in square millimetres, power in watts: whatever `name` says; the stations that the split does not
    choose are taken off `most` before.
    """

    name: str
    unit: str
    each: Counts
    most: int


class SplitSite(Value, frozen=True, kw_only=True):
    """One site: its lines, how many devices of each kind a station of each stage takes, what it has now.

    `takes` has a row for each kind of device of the fleet, in the order of `SplitGiven.fleet`, with the
    devices that one station of each stage takes. A stage that takes none of any kind keeps its number `has`,
    and so does a stage that a person has fixed (`lines.fixed`). `soft_floor` are the least numbers of the
    office's own choosing that stand above those of law and accessibility (`lines.floor` holds the higher).
    """

    lines: SiteLines
    takes: tuple[Counts, ...]
    has: Counts
    law_floor: Counts
    bounds: tuple[SiteBound, ...] = ()
    area: str = ""
    languages: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """The site's id."""
        return self.lines.site

    @property
    def key(self) -> tuple[str, str]:
        """What sites are put in order by: the seed key, whatever the id is."""
        return (self.lines.seed_key, self.lines.site)


class SplitGiven(Value, frozen=True, kw_only=True):
    """The fleet, the sites, and what is to be made least.

    `within_ppm`: in a blend no site's longest wait may be more than this share above the least possible worst
    one. `stay_ms`: each station more or fewer than a site has now counts as so much waiting a day.
    """

    fleet: tuple[FleetKind, ...]
    sites: tuple[SplitSite, ...]
    goal: Goal = Goal.TOTAL
    within_ppm: int = 100_000
    stay_ms: int = 0
    days: int = 64

    def __post_init__(self) -> None:
        require_unique(tuple(kind.id for kind in self.fleet), "kinds of the fleet")
        require_unique(tuple(site.id for site in self.sites), "sites")
        require_unique(tuple(site.lines.seed_key for site in self.sites), "seed keys of sites")
        require(self.stay_ms >= 0 and self.within_ppm >= 0, "stay_ms and within_ppm must be >= 0")
        require(1 <= self.days <= 8192, f"days must be 1 to 8192, got {self.days}")
        for site in self.sites:
            require(len(site.takes) == len(self.fleet), f"{site.id}: takes needs a row for each kind")


class Response(Value, frozen=True, kw_only=True):
    """What the same simulated days say of a site with these numbers; sums over the days.

    `wait_ms`: all voters' waits; `longest_ms`: the longest wait of each day added up; `over_days`: days whose
    longest wait passes the limit; `over_voters`: voters who wait longer than the limit.
    """

    counts: Counts
    wait_ms: int
    longest_ms: int
    over_days: int
    over_voters: int


class ResponseTable(Value, frozen=True, kw_only=True):
    """The responses of one site to all numbers tried, in the order of the numbers; of `days` site-days.

    `low` and `high` are the least and most of each stage that were tried.
    """

    site: str
    days: int
    voters: int
    low: Counts
    high: Counts
    rows: tuple[Response, ...]

    def at(self, counts: Counts) -> Response | None:
        """The response to these numbers; None where they were not tried."""
        return next((row for row in self.rows if row.counts == counts), None)


class Price(Value, frozen=True, kw_only=True):
    """The worth of one more device of a kind, in ms of all voters' waiting a day."""

    kind: str
    worth_ms: int
    used: int
    available: int


class PolicyPrice(Value, frozen=True, kw_only=True):
    """What an office's own choice costs, at most, in ms of all voters' waiting a day.

    `policy` is ``hold back`` (one device of `kind` fewer held back) or ``least number`` (one station of
    `stage` fewer than the least at `site`). No law and no accessibility rule ever stands here.
    """

    policy: str
    kind: str = ""
    site: str = ""
    stage: str = ""
    worth_ms: int


class SiteSplit(Value, frozen=True, kw_only=True):
    """The numbers of one site: now and in the split, with the response to each on the same days.

    `edge`: the numbers are the least or the most that were tried, and no bound says that they end there.
    """

    site: str
    has: Counts
    counts: Counts
    before: Response | None
    after: Response
    edge: bool = False

    @property
    def changed(self) -> bool:
        """Whether the split gives the site other numbers than it has."""
        return self.has != self.counts


class SplitAnswer(Value, frozen=True, kw_only=True):
    """A split with its bound.

    All sums are over the simulated days. `value` is what was made least: all waits plus the cost of changes
    (for the goal `worst`: the worst site's longest waits). `bound` is proved: no split of the numbers tried
    has less. `multipliers` prove it for total and blend: one integer for each kind of device, in ms for the
    days together; anybody can add up, site by site, the least of wait plus multipliers times devices, and
    take off the multipliers times the devices there are.
    """

    goal: Goal
    days: int
    sites: tuple[SiteSplit, ...]
    value: int
    bound: int
    wait_ms: int
    worst_ms: int
    worst_bound_ms: int
    threshold_ms: int | None
    changes: int
    multipliers: tuple[int, ...]
    prices: tuple[Price, ...]
    policies: tuple[PolicyPrice, ...]
    tried: int
    best_of_tried: bool
    notices: tuple[Notice, ...] = ()

    @property
    def gap_ppm(self) -> int:
        """How far the answer may be above the best, in parts per million of the bound, rounded up."""
        if self.value <= self.bound:
            return 0
        return -(-(self.value - self.bound) * 1_000_000 // max(1, self.bound))


class NoSplit(Value, frozen=True, kw_only=True):
    """There is no split: what is short, where, and by how much."""

    notices: tuple[Notice, ...]
