"""The values that timings offer, each beside what the facts hold now, with its interval and basis."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING

from pollstead.election.county import Election
from pollstead.election.rules import RuleSetting
from pollstead.election.station_type import LawKind
from pollstead.election.timings import Band
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.cells import CellKind, write_cell
from pollstead.intake.fact_edits import Edit, add_row, remove_row, set_cell
from pollstead.plan.lines.fit_laws import CLEAR, LawFit

if TYPE_CHECKING:
    from pollstead.election.station_type import StationType
    from pollstead.plan.lines.fit import FlowOfType, StepFit, TimingsFit
    from pollstead.plan.lines.fit_flow import OpeningFit
    from pollstead.plan.lines.fit_shape import ShapeFit

OPENING_RULE = "opening-line-share"
TENTH_PPM = 1_000


class ValueLine(Value, frozen=True, kw_only=True):
    """One thing that can be taken: `now` and `then` as the tables write it, its interval, what to know.

    `band` is the number behind it: mean in ms, or a share in ppm. `thin` lines are taken by number only.
    """

    number: int
    subject: str
    title: Message
    now: Message
    then: Message
    interval: Message
    basis: Message
    band: Band
    samples: int
    thin: bool
    notes: tuple[Message, ...]
    edits: tuple[Edit, ...]
    first: dt.date | None
    last: dt.date | None


def value_lines(election: Election, fit: TimingsFit) -> tuple[ValueLine, ...]:
    """Every value that can be taken, numbered from 1: service times, arrivals, line at opening."""
    flows = {one.station_type: one for one in fit.flows}
    steps = {one.station_type: one for one in fit.steps}
    found: list[ValueLine] = []
    for kind in election.station_types:
        line = _service(len(found) + 1, kind, steps.get(kind.id), flows.get(kind.id))
        if line is not None:
            found.append(line)
    if fit.shape is not None:
        found.append(_arrivals(len(found) + 1, election, fit, fit.shape))
    if fit.opening is not None:
        found.append(_opening(len(found) + 1, election, fit, fit.opening))
    return tuple(found)


def seconds_text(ms: int) -> str:
    """Seconds as a table holds them: whole from 20 s on, else tenths."""
    tenths = (ms + 50) // 100 if ms < 20_000 else (ms + 500) // 1000 * 10
    return f"{tenths // 10}.{tenths % 10}" if tenths % 10 else str(tenths // 10)


def percent_text(ppm: int) -> str:
    """A share or spread in percent, to a tenth."""
    tenths = (ppm + TENTH_PPM // 2) // TENTH_PPM
    return f"{tenths // 10}.{tenths % 10}" if tenths % 10 else str(tenths // 10)


def law_taken(step: StepFit) -> LawFit | None:
    """The fit whose law a station type can hold; the lognormal one where it cannot hold the better."""
    fit = step.service.fit
    if fit is None or fit.law.value in {law.value for law in LawKind}:
        return fit
    return step.service.fits[0]


def _service(
    number: int, kind: StationType, step: StepFit | None, flow: FlowOfType | None
) -> ValueLine | None:
    law = law_taken(step) if step is not None else None
    notes: list[Message] = []
    if step is not None and law is None:
        notes.append(_too_few(step))
    if law is None and flow is None:
        return None
    band, samples, wanted, thin = _mean(step, law, flow, notes)
    cells = {"service_mean_s": seconds_text(band.value), "service_assumed": "no"}
    if law is not None:
        cells |= {"service_law": law.law.value, "service_cv_percent": str(round(law.cv_ppm.value / 10_000))}
    if step is not None and law is not None:
        notes += _law_notes(step, law)
    elif flow is not None and not flow.spread_counted:
        notes.append(
            message(N_("The spread stays as it is: only timed samples, or check-ins by station, tell it."))
        )
    if thin:
        notes.append(
            message(N_("Too thin: {n} samples; about {wanted} give ±10 %."), n=samples, wanted=wanted)
        )
    now = kind.service
    dates = [
        d for one in (step, flow.flow if flow else None) if one is not None for d in (one.first, one.last)
    ]
    days = [day for day in dates if day is not None]
    return ValueLine(
        number=number,
        subject=f"service/{kind.id}",
        title=message(N_("{name} ({id}): seconds for a voter"), name=kind.name, id=kind.id),
        now=message(N_("{mean} s, spread {cv} %, {law}"), **_now(now))
        if now is not None
        else message(N_("not told")),
        then=message(
            N_("{mean} s, spread {cv} %, {law}"),
            mean=cells["service_mean_s"],
            cv=cells.get("service_cv_percent", percent_text(now.cv_ppm) if now else "?"),
            law=cells.get("service_law", now.law.value if now else LawKind.LOGNORMAL.value),
        ),
        interval=message(N_("{low} to {high} s"), low=seconds_text(band.low), high=seconds_text(band.high)),
        basis=_service_basis(step, flow, law, band),
        band=band,
        samples=samples,
        thin=thin,
        notes=tuple(notes),
        edits=tuple(set_cell("station_types", kind.id, column, text) for column, text in cells.items()),
        first=min(days, default=None),
        last=max(days, default=None),
    )


def _now(service: object) -> dict[str, str]:
    from pollstead.election.station_type import Service

    assert isinstance(service, Service)  # noqa: S101 - the caller looked
    return {
        "mean": seconds_text(service.mean_ms),
        "cv": percent_text(service.cv_ppm),
        "law": service.law.value,
    }


def _mean(
    step: StepFit | None, law: LawFit | None, flow: FlowOfType | None, notes: list[Message]
) -> tuple[Band, int, int, bool]:
    """The mean with the narrower interval; the other source is told beside it."""
    timed: tuple[Band, int, int, bool] | None = None
    if step is not None and law is not None:
        band = law.mean_ms
        if step.across is not None:
            # Sites differ: the interval of samples thrown together would be too narrow.
            across = step.across.mean_ms
            band = Band(value=band.value, low=min(band.low, across.low), high=max(band.high, across.high))
            notes.append(
                message(
                    N_("Between sites the mean differs by about {apart} %; the interval knows that."),
                    apart=percent_text(step.across.apart_ppm),
                )
            )
        half = max(band.high - band.value, band.value - band.low)
        samples, thin = step.service.done + step.service.going, 10 * half > band.value
        wanted = step.service.wanted
        if thin:
            # A law that fits badly, or sites that differ, want more than the spread alone says.
            wanted = max(wanted, samples + 1, math.ceil(samples * (10 * half / band.value) ** 2))
        timed = (band, samples, wanted, thin)
    if flow is None:
        assert timed is not None  # noqa: S101 - one of the two is there
        return timed
    counted = (flow.flow.mean_ms, flow.flow.check_ins, flow.flow.wanted, flow.flow.thin)
    if timed is None:
        return counted
    taken, other = (counted, timed) if _width(counted[0]) < _width(timed[0]) else (timed, counted)
    words = (
        N_("Busy check-ins say {mean} s ({low} to {high}); the narrower of the two is taken.")
        if other is counted
        else N_("The watch says {mean} s ({low} to {high}); the narrower of the two is taken.")
    )
    band = other[0]
    notes.append(
        message(
            words, mean=seconds_text(band.value), low=seconds_text(band.low), high=seconds_text(band.high)
        )
    )
    if taken[0].low > other[0].high or taken[0].high < other[0].low:
        notes.append(
            message(N_("The two do not fit one another: were only quick voters timed, or stations idle?"))
        )
    return taken


def _width(band: Band) -> float:
    return (band.high - band.low) / band.value


def _too_few(step: StepFit) -> Message:
    return message(
        N_("Too thin: {n} samples timed to the end; about {wanted} give ±10 %."),
        n=step.service.done,
        wanted=step.service.wanted,
    )


def _law_notes(step: StepFit, law: LawFit) -> list[Message]:
    """What the samples say of the law, and what a station type can hold."""
    fits = {one.law.value: one.log_likelihood_milli / 1000 for one in step.service.fits}
    ahead = fits["gamma"] - fits["lognormal"]
    if abs(ahead) < CLEAR:
        words = N_("The samples do not tell a lognormal from a gamma law; the lognormal one is kept.")
        return [message(words)]
    if ahead > 0 and law.law.value == "lognormal":
        words = N_("A gamma law fits better ({times} times as likely); a station type holds no such law yet.")
    elif ahead > 0:
        words = N_("A gamma law fits better than a lognormal one: {times} times as likely.")
    else:
        words = N_("A lognormal law fits better than a gamma one: {times} times as likely.")
    times = round(min(1e6, 2.718281828 ** abs(ahead)))
    return [message(words, times=f"{times:,}" if times < 1_000_000 else "over 1,000,000")]


def _service_basis(step: StepFit | None, flow: FlowOfType | None, law: LawFit | None, band: Band) -> Message:
    if flow is not None and (law is None or band == flow.flow.mean_ms):
        return message(
            N_("{n} check-ins in {stretches} busy stretches at {sites} sites")
            if flow.flow.sites != 1
            else N_("{n} check-ins in {stretches} busy stretches at one site"),
            n=flow.flow.check_ins,
            stretches=flow.flow.stretches,
            sites=flow.flow.sites,
        )
    assert step is not None  # noqa: S101 - a law comes from a step
    return message(
        N_("{n} samples, {going} of them still going, at {sites} sites")
        if step.sites != 1
        else N_("{n} samples, {going} of them still going, at one site"),
        n=step.service.done + step.service.going,
        going=step.service.going,
        sites=step.sites,
    )


def _arrivals(number: int, election: Election, fit: TimingsFit, shape: ShapeFit) -> ValueLine:
    then = {shape.first_hour + place: ppm for place, ppm in enumerate(shape.hours_ppm)}
    now = {one.hour: one.share_ppm for one in election.arrivals}
    peak = shape.counted_ppm[shape.busiest_hour - shape.first_hour]
    notes = []
    if not fit.line_known:
        notes.append(
            message(
                N_("Counted when voters had checked in, not when they came: with a line the curve is late.")
            )
        )
    if shape.days < 3:
        notes.append(message(N_("From fewer than three site-days; how much days differ is assumed.")))
    if shape.thin:
        notes.append(
            message(
                N_("Too thin: {n} site-days; about {wanted} give the busiest hour within ±10 %."),
                n=shape.days,
                wanted=shape.wanted,
            )
        )
    busiest = max(now, key=lambda hour: now[hour]) if now else None
    return ValueLine(
        number=number,
        subject="arrivals",
        title=message(N_("When voters come: share of the day by hour")),
        now=message(N_("busiest {hour}:00, {share} %"), hour=busiest, share=percent_text(now[busiest]))
        if busiest is not None
        else message(N_("not told")),
        then=message(
            N_("busiest {hour}:00, {share} %"),
            hour=shape.busiest_hour % 24,
            share=percent_text(then[shape.busiest_hour]),
        ),
        interval=message(N_("{low} to {high} %"), low=percent_text(peak.low), high=percent_text(peak.high)),
        basis=message(N_("{n} voters on {days} site-days"), n=shape.voters, days=shape.days),
        band=peak,
        samples=shape.voters,
        thin=shape.thin,
        notes=tuple(notes),
        edits=_arrival_edits(now, {hour % 24: ppm for hour, ppm in then.items()}),
        first=fit.first,
        last=fit.last,
    )


def _arrival_edits(now: dict[int, int], then: dict[int, int]) -> tuple[Edit, ...]:
    edits = [remove_row("arrivals", str(hour)) for hour in now if hour not in then]
    follows = ""
    for hour, ppm in then.items():
        text = write_cell(CellKind.PERCENT, ppm)
        if hour in now:
            edits.append(set_cell("arrivals", str(hour), "share_percent", text))
        else:
            edits.append(add_row("arrivals", {"hour": str(hour), "share_percent": text}, follows=follows))
        follows = str(hour)
    return tuple(edits)


def _opening(number: int, election: Election, fit: TimingsFit, opening: OpeningFit) -> ValueLine:
    share = opening.share_ppm
    text = percent_text(share.value)
    setting = next((one for one in election.rules.settings if one.rule == OPENING_RULE), None)
    notes = []
    if setting is not None and setting.confirmed_by:
        notes.append(
            message(N_("The rule's confirmation was of the old value: somebody confirms the new one."))
        )
    if opening.thin:
        notes.append(
            message(
                N_("Too thin: {n} site-days; about {wanted} give ±10 %."),
                n=opening.days,
                wanted=opening.wanted,
            )
        )
    return ValueLine(
        number=number,
        subject="opening-line",
        title=message(N_("Share of the day's voters in line at opening")),
        now=message(N_("{share} %"), share=percent_text(election.rules.whole(OPENING_RULE))),
        then=message(N_("{share} %"), share=text),
        interval=message(N_("{low} to {high} %"), low=percent_text(share.low), high=percent_text(share.high)),
        basis=message(
            N_("{line} in line of {n} voters on {days} site-days"),
            line=opening.in_line,
            n=opening.voters,
            days=opening.days,
        ),
        band=share,
        samples=opening.voters,
        thin=opening.thin,
        notes=tuple(notes),
        edits=_opening_edits(setting, text, fit),
        first=fit.first,
        last=fit.last,
    )


def _opening_edits(setting: RuleSetting | None, text: str, fit: TimingsFit) -> tuple[Edit, ...]:
    span = "" if fit.first is None else f" {fit.first.isoformat()}"
    source = f"line counts{span}"
    if setting is None:
        cells = {"rule": OPENING_RULE, "value": text, "level": "policy", "source": source}
        return (add_row("rules", cells),)
    cells = {"value": text, "source": source, "confirmed_by": ""}
    return tuple(set_cell("rules", OPENING_RULE, column, cell) for column, cell in cells.items())
