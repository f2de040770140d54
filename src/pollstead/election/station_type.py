"""Station types: the one table from which packing, power, seals, sheets and balances follow.

Nothing about a kind of station is fixed in code: lead of a clock, number of memory devices, size
of a table, which closures carry a recorded seal. All are fields of a county's own table.
"""

from __future__ import annotations

import enum

from pollstead.election.identity import require_part
from pollstead.election.values import Value, require, require_unique

MOST_STATIONS = 500
"""More stations of one type at one site than this are refused: a slip of the keys, not a site."""

MOST_SERVICE_MS = 4 * 3_600_000


class VoterStep(enum.StrEnum):
    """What a voter does at a station of this type."""

    CHECK_IN = "check-in"
    MARK = "mark"
    CAST = "cast"
    MARK_AND_CAST = "mark and cast"
    NONE = "none"


class Moment(enum.StrEnum):
    """When something is applied, compared, cut, printed or done."""

    AFTER_TEST = "after test"
    EVENING_BEFORE = "evening before"
    OPENING = "opening"
    DURING = "during"
    CLOSING = "closing"
    OVERNIGHT = "overnight"
    RECEIVING = "receiving"


class IdentifiedBy(enum.StrEnum):
    """Whether a part is told apart by its serial or only counted."""

    SERIAL = "serial"
    COUNT = "count"


class NumberPolicy(enum.StrEnum):
    """What happens to a seal's number on this closure."""

    RECORDED = "recorded"
    TICKED = "ticked"
    NO_SEAL = "no seal"


class EntryPolicy(enum.StrEnum):
    """Whether the reader sees the expected value before typing."""

    INDEPENDENT = "entered independently"
    COMPARED = "compared"


class DeviceOrder(enum.StrEnum):
    """In which order devices get the numbers of stations, left to right. Varies by county, no source."""

    LOW_TO_HIGH = "serial, low to high"
    HIGH_TO_LOW = "serial, high to low"
    TAG = "tag"
    CART = "cart, then serial"


class OpeningValue(enum.StrEnum):
    """What a counter must show before the first voter of the day."""

    ZERO = "zero"
    CARRIED_OVER = "carried over"
    LAST_RECORDED = "last recorded"


class CountUnit(enum.StrEnum):
    """What a counter counts."""

    BALLOTS = "ballots"
    SHEETS = "sheets"
    CHECK_INS = "check-ins"


class LawKind(enum.StrEnum):
    """Shape of the service time."""

    LOGNORMAL = "lognormal"
    EXPONENTIAL = "exponential"
    FIXED = "fixed"


class Service(Value, frozen=True, kw_only=True):
    """Service time of one voter: mean in milliseconds, spread as coefficient of variation."""

    law: LawKind = LawKind.LOGNORMAL
    mean_ms: int
    cv_ppm: int = 500_000
    assumed: bool = False

    def __post_init__(self) -> None:
        require(
            0 < self.mean_ms <= MOST_SERVICE_MS,
            f"a service time must be above 0 and at most 4 hours, got {self.mean_ms} ms",
        )
        require(0 <= self.cv_ppm <= 3_000_000, f"cv_ppm must be 0..3000000, got {self.cv_ppm}")


class Failure(Value, frozen=True, kw_only=True):
    """How often a station of this type fails: mean hours of use between failures, mean minutes of repair."""

    mean_use_hours: int
    repair_minutes: int
    assumed: bool = False

    def __post_init__(self) -> None:
        require(
            1 <= self.mean_use_hours <= 10_000,
            f"mean_use_hours must be 1 to 10,000, got {self.mean_use_hours}",
        )
        require(
            1 <= self.repair_minutes <= 240, f"repair_minutes must be 1 to 240, got {self.repair_minutes}"
        )


class Part(Value, frozen=True, kw_only=True):
    """One thing that a station is made of; `device_kind` joins serial parts to the fleet."""

    id: str
    name: str
    identified_by: IdentifiedBy = IdentifiedBy.COUNT
    device_kind: str = ""
    per_station: int = 1
    entry: EntryPolicy = EntryPolicy.INDEPENDENT
    order: DeviceOrder = DeviceOrder.LOW_TO_HIGH

    def __post_init__(self) -> None:
        require(1 <= self.per_station <= 1000, f"per_station must be 1 to 1000, got {self.per_station}")
        if self.identified_by is IdentifiedBy.SERIAL:
            require(bool(self.device_kind), f"part {self.id!r} told apart by serial needs a device_kind")


class Furniture(Value, frozen=True, kw_only=True):
    """A share in furniture: `stations_per_item` stations stand at one `item`."""

    item: str
    stations_per_item: int = 1

    def __post_init__(self) -> None:
        require(self.stations_per_item >= 1, f"stations_per_item must be >= 1, got {self.stations_per_item}")


class Footprint(Value, frozen=True, kw_only=True):
    """Floor that one station takes and the clear floor before it, in micrometres."""

    width_um: int
    depth_um: int
    clear_front_um: int = 0

    def __post_init__(self) -> None:
        require(self.width_um > 0 and self.depth_um > 0, "a footprint needs a width and a depth > 0")


class Power(Value, frozen=True, kw_only=True):
    """Load as typed in, watts; cord length in micrometres."""

    idle_w: int
    peak_w: int
    cord_um: int = 0

    def __post_init__(self) -> None:
        require(
            0 <= self.idle_w <= self.peak_w, f"idle_w must be 0..peak_w, got {self.idle_w}, {self.peak_w}"
        )


class Closure(Value, frozen=True, kw_only=True):
    """A door, port, lid or bin that a seal keeps shut, and its seal policy."""

    id: str
    name: str
    part: str = ""
    number: NumberPolicy = NumberPolicy.RECORDED
    seal_kind: str = ""
    entry: EntryPolicy = EntryPolicy.INDEPENDENT
    applied: Moment = Moment.AFTER_TEST
    checked: tuple[Moment, ...] = (Moment.OPENING,)
    cut: Moment | None = None
    resealed: tuple[Moment, ...] = ()
    resealed_number: NumberPolicy = NumberPolicy.TICKED
    seals: int = 1

    def __post_init__(self) -> None:
        require(1 <= self.seals <= 100, f"closure {self.id!r}: seals must be 1 to 100, got {self.seals}")
        if self.number is not NumberPolicy.NO_SEAL:
            require(bool(self.seal_kind), f"closure {self.id!r} with a seal needs a seal_kind")


class Counter(Value, frozen=True, kw_only=True):
    """A number that the device shows; `id` is ``public`` or ``lifetime`` for the balances."""

    id: str
    name: str
    unit: CountUnit = CountUnit.SHEETS
    opening: OpeningValue = OpeningValue.ZERO


class Report(Value, frozen=True, kw_only=True):
    """A paper report that the device prints, and when."""

    id: str
    name: str
    when: Moment
    zero: bool = False


class ClockCheck(Value, frozen=True, kw_only=True):
    """The device's clock is `lead_min` minutes ahead of the reference, within `tolerance_min`."""

    reference: str
    lead_min: int = 0
    tolerance_min: int = 1
    date_too: bool = True

    def __post_init__(self) -> None:
        require(self.tolerance_min >= 0, f"tolerance_min must be >= 0, got {self.tolerance_min}")


class MemoryDevices(Value, frozen=True, kw_only=True):
    """How many memory devices each machine holds and how many of them travel at closing."""

    count: int = 0
    travels: int = 0

    def __post_init__(self) -> None:
        require(0 <= self.travels <= self.count <= 2, "memory devices: 0 <= travels <= count <= 2")


class LineKind(enum.StrEnum):
    """What a line of an opening or closing sheet asks for."""

    SERIAL = "serial"
    CLOSURE = "closure"
    CLOCK = "clock"
    COUNTER = "counter"
    REPORT = "report"
    MEMORY_DEVICE = "memory device"
    ACT = "act"
    MINUTE = "minute"


class SheetLine(Value, frozen=True, kw_only=True):
    """One line of a sheet, in the order hands move; `ref` names the part, closure or counter.

    `before` puts a line of the whole site before the devices' lines; without it, it stands after them. An act
    is ticked, of a `minute` the minute is written down too.
    """

    kind: LineKind
    ref: str = ""
    words: str
    second_person: bool = False
    before: bool = False


class SetUpStep(Value, frozen=True, kw_only=True):
    """A step of setting up: minutes of work, people at once, what comes before it."""

    id: str
    words: str
    minutes: int
    people: int = 1
    after: tuple[str, ...] = ()
    when: Moment = Moment.OPENING
    once_per_site: bool = False
    caution: str = ""

    def __post_init__(self) -> None:
        require(
            0 <= self.minutes <= 24 * 60 and 1 <= self.people <= MOST_STATIONS,
            f"step {self.id!r}: minutes must be 0 to 1440 and people 1 to {MOST_STATIONS}, "
            f"got {self.minutes} and {self.people}",
        )


class SupplyUse(Value, frozen=True, kw_only=True):
    """What a station uses up: per voter (parts per million of a unit), station, site, container.

    An item of unit ``ballots`` without a `spare_ppm` of its own takes the county rule ``ballot-surplus``.
    """

    item: str
    unit: str = "each"
    per_voter_ppm: int = 0
    per_station: int = 0
    per_site: int = 0
    per_container: int = 0
    spare_ppm: int = 0


class StationType(Value, frozen=True, kw_only=True):
    """One kind of station, complete: see the module's first line."""

    id: str
    name: str
    step: VoterStep
    accessible: bool = False
    service: Service | None = None
    failure: Failure | None = None
    cost: int = 1
    parts: tuple[Part, ...] = ()
    furniture: tuple[Furniture, ...] = ()
    footprint: Footprint | None = None
    power: Power | None = None
    data: str = "none"
    closures: tuple[Closure, ...] = ()
    memory_devices: MemoryDevices = MemoryDevices()
    counters: tuple[Counter, ...] = ()
    reports: tuple[Report, ...] = ()
    clock: ClockCheck | None = None
    opening: tuple[SheetLine, ...] = ()
    closing: tuple[SheetLine, ...] = ()
    set_up: tuple[SetUpStep, ...] = ()
    pack_away: tuple[SheetLine, ...] = ()
    supplies: tuple[SupplyUse, ...] = ()
    container: str = ""
    stations_per_container: int = 1
    table_sheet_from: int = 5

    def __post_init__(self) -> None:
        require_part(self.id, "a station type's id")
        own = [p.id for p in self.parts] + [c.id for c in self.closures]
        for name in (*own, *(c.id for c in self.counters), *(r.id for r in self.reports)):
            require_part(name, f"station type {self.id!r}: the id of a part, closure, counter or report")
        require(
            self.stations_per_container >= 1,
            f"station type {self.id!r}: stations_per_container must be >= 1, "
            f"got {self.stations_per_container}",
        )
        require(self.cost >= 0, f"station type {self.id!r}: cost must be >= 0, got {self.cost}")
        for what, ids in (
            ("part ids", tuple(p.id for p in self.parts)),
            ("closure ids", tuple(c.id for c in self.closures)),
            ("counter ids", tuple(c.id for c in self.counters)),
            ("report ids", tuple(r.id for r in self.reports)),
            ("set-up step ids", tuple(s.id for s in self.set_up)),
        ):
            require_unique(ids, f"station type {self.id!r}: {what}")
        known = {
            LineKind.SERIAL: {p.id for p in self.parts},
            LineKind.CLOSURE: {c.id for c in self.closures},
            LineKind.COUNTER: {c.id for c in self.counters},
            LineKind.REPORT: {r.id for r in self.reports},
        }
        for line in (*self.opening, *self.closing, *self.pack_away):
            if line.kind in known:
                require(
                    line.ref in known[line.kind],
                    f"station type {self.id!r}: line {line.words!r} names {line.kind} {line.ref!r}, "
                    f"which is not one of {sorted(known[line.kind])}",
                )
        for closure in self.closures:
            require(
                closure.part in {"", *(p.id for p in self.parts)},
                f"station type {self.id!r}: closure {closure.id!r} names part {closure.part!r}, not found",
            )

    def serial_parts(self) -> tuple[Part, ...]:
        """The parts that are told apart by serial."""
        return tuple(p for p in self.parts if p.identified_by is IdentifiedBy.SERIAL)

    def counter(self, counter_id: str) -> Counter | None:
        """The counter `counter_id`, or None where this type has none."""
        return next((c for c in self.counters if c.id == counter_id), None)


class StationUse(Value, frozen=True, kw_only=True):
    """A kind of site uses this station type, at least `minimum`, at most `maximum` (None: no cap)."""

    station_type: str
    minimum: int = 1
    maximum: int | None = None
    fixed: int | None = None

    def __post_init__(self) -> None:
        for name, number in (("minimum", self.minimum), ("maximum", self.maximum), ("fixed", self.fixed)):
            require(
                number is None or 0 <= number <= MOST_STATIONS,
                f"{name} must be 0 to {MOST_STATIONS}, got {number}",
            )
        if self.maximum is not None:
            require(self.maximum >= self.minimum, f"maximum must be >= minimum, got {self.maximum}")


class SiteKind(Value, frozen=True, kw_only=True):
    """A kind of site: which station types stand there, in the order a voter meets them."""

    id: str
    name: str
    uses: tuple[StationUse, ...]
    balance: tuple[str, ...] = ()
    site_opening: tuple[SheetLine, ...] = ()
    site_closing: tuple[SheetLine, ...] = ()
    site_supplies: tuple[SupplyUse, ...] = ()

    def __post_init__(self) -> None:
        require_part(self.id, "a kind of site's id")
        require_unique(tuple(u.station_type for u in self.uses), f"site kind {self.id!r}: station types")
