"""Closures of station types × stations to expected seals, needs of each kind, and stock against need."""

from __future__ import annotations

from collections import Counter

from pollstead.election.county import ClosureSeal
from pollstead.election.identity import make_id
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.rules import CountyRules
from pollstead.election.station_type import Closure, Moment, NumberPolicy, StationType
from pollstead.election.words import N_, message
from pollstead.plan.seals.numbers import Numbers, NumbersOnDays
from pollstead.plan.seals.policy import closure_id, needs_of, owners_of
from pollstead.plan.seals.stock import seals_in_stock
from pollstead.plan.terms.part import Effort, Figure, Outcome, Reason, Watch, plain
from pollstead.plan.terms.stations import SealedSite, SealingSite, SealsAnswer, SealsGiven
from pollstead.plan.terms.version import ExpectedSeal, PartOfStation, SealNeed, SealStock, Spare, Station


def run(
    given: SealsGiven, rules: CountyRules, seed: int, effort: Effort, watch: Watch
) -> Outcome[SealsAnswer]:
    """Give every station and spare its seals and count what is needed; a number not yet known stays empty."""
    types = {t.id: t for t in given.station_types}
    stations = (station for site in given.sites for station in site.stations)
    numbers = NumbersOnDays(given.closure_seals, stations)
    sealed: list[SealedSite] = []
    reasons: list[Reason] = []
    county: Counter[str] = Counter()
    for index, site in enumerate(given.sites):
        watch.step("seals", index, len(given.sites))
        done, site_reasons = _seal_site(site, types, numbers)
        sealed.append(done)
        reasons += site_reasons
        for need in done.needs:
            county[need.seal_kind] += need.quantity
    spares = tuple(_seal_spare(spare, given.station_types, numbers.latest()) for spare in given.spares)
    for spare in spares:
        for seal in spare.seals:
            county[seal.seal_kind] += seal.applied is Moment.AFTER_TEST
    stock = _stock(given, county, _kinds_applied(given.closure_seals, sealed, spares))
    answer = SealsAnswer(sites=tuple(sealed), spares=spares, stock=stock)
    notices = [*_stock_notices(stock), *_unknown_numbers(sealed, bool(given.closure_seals))]
    return Outcome(answer, notices=tuple(notices), reasons=tuple(reasons), work_units=len(given.sites))


def _seal_site(
    site: SealingSite, types: dict[str, StationType], numbers: NumbersOnDays
) -> tuple[SealedSite, list[Reason]]:
    needs: Counter[tuple[str, Moment]] = Counter()
    parts: dict[tuple[str, Moment], Counter[tuple[str, int]]] = {}
    stations = []
    for station in site.stations:
        station_type = types[station.station_type]
        known = numbers.of_station(station, site.first_date)
        seals: list[ExpectedSeal] = []
        for closure in station_type.closures:
            carried = 0
            for owner, times in owners_of(closure, station_type, station):
                seals += positions(closure, owner, times, known)
                carried += times
            for moment, quantity in needs_of(closure, site.days_of(station)).items():
                key = (closure.seal_kind, moment)
                needs[key] += quantity * carried
                parts.setdefault(key, Counter())[closure.name, quantity] += carried
        stations.append(_with_seals(station, tuple(seals)))
    order = list(Moment)
    listed = [
        SealNeed(seal_kind=kind, moment=moment, quantity=quantity)
        for (kind, moment), quantity in sorted(needs.items(), key=lambda n: (n[0][0], order.index(n[0][1])))
        if quantity
    ]
    reasons = [_need_reason(site.site, need, parts[need.seal_kind, need.moment]) for need in listed]
    return SealedSite(site=site.site, stations=tuple(stations), needs=tuple(listed)), reasons


def positions(closure: Closure, owner: str, times: int, numbers: Numbers) -> list[ExpectedSeal]:
    """The seals of one closure of `owner`: each position, with its number where it is recorded and known."""
    if closure.number is NumberPolicy.NO_SEAL:
        return []
    recorded = closure.number is NumberPolicy.RECORDED
    return [
        ExpectedSeal(
            closure=closure_id(owner, closure),
            name=closure.name,
            position=position,
            seal_kind=closure.seal_kind,
            number_policy=closure.number,
            entry=closure.entry,
            applied=closure.applied,
            checked=closure.checked,
            cut=closure.cut,
            number=numbers.get((owner, closure.id, position), "") if recorded else "",
        )
        for position in range(1, closure.seals * times + 1)
    ]


def _with_seals(station: Station, seals: tuple[ExpectedSeal, ...]) -> Station:
    return Station(
        id=station.id,
        station_type=station.station_type,
        number=station.number,
        parts=station.parts,
        seals=seals,
        first_day=station.first_day,
        last_day=station.last_day,
    )


def _seal_spare(spare: Spare, station_types: tuple[StationType, ...], numbers: Numbers) -> Spare:
    """A spare carries the seals of the first station type that it could stand in."""
    for station_type in station_types:
        for part in station_type.serial_parts():
            if part.device_kind != spare.kind:
                continue
            held = PartOfStation(part=part.id, name=part.name, quantity=1, device=spare.device)
            alone = Station(id=spare.device, station_type=station_type.id, number=1, parts=(held,))
            seals = [
                seal
                for closure in station_type.closures
                if closure.part == part.id
                for owner, times in owners_of(closure, station_type, alone)
                for seal in positions(closure, owner, times, numbers)
            ]
            return Spare(
                device=spare.device,
                kind=spare.kind,
                serial=spare.serial,
                tag=spare.tag,
                seals=tuple(seals),
            )
    return spare


def _need_reason(site: str, need: SealNeed, parts: Counter[tuple[str, int]]) -> Reason:
    figures = tuple(
        Figure(name=name, value=f"{carried} × {quantity}", source="station_types.toml")
        for (name, quantity), carried in sorted(parts.items())
    )
    return Reason(
        subject=make_id("site", site),
        field=f"seals {need.seal_kind} {need.moment.value}",
        text=message(
            N_("Seals of kind {kind}, {moment}: {quantity}, closures × seals on each."),
            quantity=need.quantity,
            kind=need.seal_kind,
            moment=need.moment.value,
        ),
        figures=figures,
    )


def _kinds_applied(
    recorded: tuple[ClosureSeal, ...], sealed: list[SealedSite], spares: tuple[Spare, ...]
) -> Counter[str]:
    """Seals of each kind whose number already stands on a closure of the plan."""
    seals = [seal for site in sealed for station in site.stations for seal in station.seals]
    seals += [seal for spare in spares for seal in spare.seals]
    return Counter(seal.seal_kind for seal in seals if seal.number) if recorded else Counter()


def _stock(given: SealsGiven, county: Counter[str], applied: Counter[str]) -> tuple[SealStock, ...]:
    stock = seals_in_stock(given.seal_ranges)
    return tuple(
        SealStock(seal_kind=kind, needed=county[kind], stock=stock.get(kind), applied=applied[kind])
        for kind in sorted({*county, *stock})
    )


def _stock_notices(stock: tuple[SealStock, ...]) -> list[Notice]:
    notices = []
    for line in stock:
        if line.stock is None and line.needed:
            notices.append(
                Notice(
                    kind=NoticeKind.OPEN_ITEM,
                    rule="seal-stock-unknown",
                    subject=f"seal/{line.seal_kind}",
                    text=message(
                        N_(
                            "The plan needs {needed} seals of kind {kind}; no range of that kind is in stock."
                        ),
                        needed=line.needed,
                        kind=line.seal_kind,
                    ),
                    remedy=message(N_("Add the ranges in stock to seals.csv.")),
                    depends=(str(line.needed),),
                )
            )
        elif line.short:
            notices.append(
                Notice(
                    kind=NoticeKind.OPEN_ITEM,
                    rule="seal-stock-short",
                    subject=f"seal/{line.seal_kind}",
                    text=message(
                        N_("Seals of kind {kind} short: {short}. Needed {needed}, in stock {stock}."),
                        short=line.short,
                        kind=line.seal_kind,
                        needed=line.needed,
                        stock=line.stock or 0,
                    ),
                    found=plain(line.stock or 0),
                    wanted=plain(line.needed),
                    depends=(str(line.needed), str(line.stock)),
                )
            )
    return notices


def _unknown_numbers(sealed: list[SealedSite], some_known: bool) -> list[Notice]:
    """One open item for each site with seals whose number should be known after test and is not.

    While no number at all is recorded, one open item says so for the whole county.
    """
    notices: list[Notice] = []
    every = 0
    for site in sealed:
        seals = [
            seal
            for station in site.stations
            for seal in station.seals
            if seal.number_policy is NumberPolicy.RECORDED and seal.applied is Moment.AFTER_TEST
        ]
        unknown = sum(1 for seal in seals if not seal.number)
        every += unknown
        if unknown and some_known:
            notices.append(
                Notice(
                    kind=NoticeKind.OPEN_ITEM,
                    rule="seal-number-unknown",
                    subject=make_id("site", site.site),
                    text=message(
                        N_("{unknown} of {all} seals put on after test have no number yet."),
                        unknown=unknown,
                        all=len(seals),
                    ),
                    remedy=message(N_("Two people enter or scan the numbers after test.")),
                    depends=(str(unknown), str(len(seals))),
                )
            )
    if every and not some_known:
        notices.append(
            Notice(
                kind=NoticeKind.OPEN_ITEM,
                rule="seal-number-unknown",
                subject="county",
                text=message(
                    N_("None of the {all} seals put on after test has a number yet ({sites} sites)."),
                    all=every,
                    sites=len(sealed),
                ),
                remedy=message(N_("Two people enter or scan the numbers after test.")),
                depends=(str(every),),
            )
        )
    return notices
