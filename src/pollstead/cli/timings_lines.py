"""Print what timings say, and its JSON form."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pollstead.cli.fact_lines import print_notices
from pollstead.election.instants import Instant
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.election.timings import Band
    from pollstead.record.event import Signed
    from pollstead.work.facts import FactsTaken
    from pollstead.work.timings import Looked, TakenBefore

FORMAT = "pollstead timings 1"


def tell_looked(looked: Looked, election: Election) -> None:
    """What was read, what is open, what it says."""
    for read in looked.reads:
        print(
            fill(
                message(
                    N_("{file}: {kind}, {rows} rows read, none kept; file {digest}"),
                    file=read.name,
                    kind=text(read.kind.value),
                    rows=read.rows,
                    digest=read.digest[:12],
                )
            )
        )
        if read.used:
            print("  " + ", ".join(f"{theirs} → {text(ours)}" for theirs, ours in read.used))
        print_notices(read.refused)
        print_notices(read.remarks)
    for gap in looked.gaps:
        words = N_(
            "Gaps between check-ins, {site}: half are at most {p50} s, 90 of 100 within {p05} to {p95} s."
        )
        print(fill(message(words, site=gap.site, p50=gap.p50_s, p05=gap.p05_s, p95=gap.p95_s)))
    for one in looked.unknown:
        words = (
            N_("No site is called {text}. Say --same '{text}=ID'; near: {near}")
            if one.what == "site"
            else N_("{text} may mean several station types, or none. Say --same '{text}=ID'; here: {near}")
        )
        print(fill(message(words, text=one.text, near=", ".join(one.nearest) or "–")))
    told = dict(looked.answers)
    for fault in looked.faults:
        print(f"- {fill(fault.words)}")
        answer = told.get(fault.key)
        if answer is not None and answer in fault.answers:
            print("    " + fill(message(N_("Answered: {answer}"), answer=text(answer.value))))
        else:
            choices = " | ".join(one.value for one in fault.answers)
            print(
                "    " + fill(message(N_("Say --say '{key}=…': {choices}"), key=fault.key, choices=choices))
            )
    if looked.without_hours:
        words = N_("No hours are known for {sites}; their counts say nothing of arrivals.")
        print(fill(message(words, sites=", ".join(looked.without_hours))))
    for line in looked.lines:
        print(f"{line.number}. {fill(line.title)}")
        print("   " + fill(message(N_("now: {now}"), now=fill(line.now))))
        says = message(
            N_("says: {then}; 95 % interval {interval}; {basis}"),
            then=fill(line.then),
            interval=fill(line.interval),
            basis=fill(line.basis),
        )
        print("   " + fill(says))
        for note in line.notes:
            print(f"   {fill(note)}")
    _tell_untaken(looked)


def _tell_untaken(looked: Looked) -> None:
    """Steps with too few samples have no value; they are told all the same."""
    have = {line.subject for line in looked.lines}
    for step in looked.fit.steps:
        if f"service/{step.station_type}" not in have:
            words = N_("{type}: too thin, {n} samples timed to the end; about {wanted} give ±10 %.")
            print(
                fill(message(words, type=step.station_type, n=step.service.done, wanted=step.service.wanted))
            )


def tell_before(folder: Path, election: Election, *, as_json: bool) -> int:
    """What was taken from timings before."""
    from pollstead.cli.standing import standing_of
    from pollstead.work.timings import taken_before

    _, folded, _ = standing_of(folder)
    found = taken_before(folded) if folded is not None else ()
    if as_json:
        json.dump({"format": FORMAT, "taken": [_before_object(one) for one in found]}, sys.stdout, indent=2)
        print()
        return 0
    for one in found:
        moment = Instant(utc_ms=one.utc_ms).local(election.zone_name).strftime("%Y-%m-%d %H:%M")
        words = message(
            N_("{moment} by {person}: {rows} rows of {files}, days {first} to {last}; change {change}"),
            moment=moment,
            person=one.person.removeprefix("person/"),
            rows=one.rows,
            files=", ".join(digest[:12] for digest in one.digests),
            first=one.first or "?",
            last=one.last or "?",
            change=one.change[:8],
        )
        print(fill(words))
        for value in one.values:
            print(f"  {value.of}: {value.value} ({value.low}–{value.high}), n {value.samples}")
    if not found:
        print(text(N_("No value was taken from timings yet.")))
    return 0


def as_object(looked: Looked, taken: tuple[FactsTaken, Signed] | None) -> dict[str, Any]:
    """The stable JSON form; times in ms, shares in ppm."""
    told = dict(looked.answers)
    fit = looked.fit
    return {
        "format": FORMAT,
        "files": [
            {
                "name": read.name,
                "sha256": read.digest,
                "kind": read.kind.value,
                "rows": read.rows,
                "columns": [{"heading": theirs, "holds": ours} for theirs, ours in read.used],
                "refused": [_notice(one) for one in read.refused],
                "remarks": [_notice(one) for one in read.remarks],
            }
            for read in looked.reads
        ],
        "gaps_s": [
            {"site": g.site, "gaps": g.gaps, "p05": g.p05_s, "p25": g.p25_s, "p50": g.p50_s, "p75": g.p75_s}
            | {"p95": g.p95_s}
            for g in looked.gaps
        ],
        "unknown": [{"what": u.what, "text": u.text, "nearest": list(u.nearest)} for u in looked.unknown],
        "faults": [
            {
                "key": one.key,
                "kind": one.kind.value,
                "text": one.words.english(),
                "rows": list(one.rows),
                "answers": [answer.value for answer in one.answers],
                "answer": told[one.key].value if one.key in told else None,
            }
            for one in looked.faults
        ],
        "values": [
            {
                "number": line.number,
                "of": line.subject,
                "now": line.now.english(),
                "says": line.then.english(),
                **_band(line.band),
                "samples": line.samples,
                "too_thin": line.thin,
                "basis": line.basis.english(),
                "notes": [note.english() for note in line.notes],
            }
            for line in looked.lines
        ],
        "arrivals": None
        if fit.shape is None
        else {
            "step_min": fit.shape.step_min,
            "first_min": fit.shape.first_min,
            "shares_ppm": [_band(one) for one in fit.shape.shares_ppm],
            "first_hour": fit.shape.first_hour,
            "hours_ppm": [_band(one) for one in fit.shape.counted_ppm],
            "alike": fit.shape.alike,
            "effective_voters": fit.shape.effective,
            "line_known": fit.line_known,
            "sites": [
                {"site": s.site, "voters": s.voters, "own_weight_ppm": s.own_weight_ppm}
                for s in fit.shape.sites
            ],
        },
        "laws": [
            {
                "station_type": step.station_type,
                "law": one.law.value,
                "chosen": one.law is step.service.chosen,
                "mean_ms": _band(one.mean_ms),
                "cv_ppm": _band(one.cv_ppm),
                "log_likelihood_milli": one.log_likelihood_milli,
            }
            for step in fit.steps
            for one in step.service.fits
        ],
        "sites": [
            {"station_type": step.station_type, "site": s.site, "samples": s.samples, "own_ms": s.own_ms}
            | {"drawn_ms": _band(s.drawn_ms), "own_weight_ppm": s.own_weight_ppm}
            for step in fit.steps
            if step.across is not None
            for s in step.across.sites
        ],
        "taken": None if taken is None else {"change": taken[0].event.id, "event": taken[1].id},
    }


def _before_object(one: TakenBefore) -> dict[str, Any]:
    return {
        "event": one.event,
        "utc_ms": one.utc_ms,
        "by": one.person,
        "change": one.change,
        "rows": one.rows,
        "sha256": list(one.digests),
        "first": one.first,
        "last": one.last,
        "values": [
            {"of": v.of, "value": v.value, "low": v.low, "high": v.high, "samples": v.samples}
            for v in one.values
        ],
    }


def _band(band: Band) -> dict[str, int]:
    return {"value": band.value, "low": band.low, "high": band.high}


def _notice(notice: Any) -> dict[str, Any]:
    return {
        "key": notice.key,
        "text": notice.text.english(),
        "found": notice.found,
        "wanted": notice.wanted,
        "remedy": notice.remedy.english() if notice.remedy else "",
    }
