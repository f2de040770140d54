"""A day reconciled again after some events equals the day reconciled anew, whatever came in."""

from __future__ import annotations

import datetime as dt
from typing import Any

from hypothesis import example, given, settings
from hypothesis import strategies as st

from pollstead.reconcile.actions import values_digest
from pollstead.reconcile.again import Observed, reconcile_again
from pollstead.reconcile.day import reconcile_day
from pollstead.record.event import read_side
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.growing import GrowingFold
from pollstead.record.kinds import canvass, days, offices, stocks

DAY = dt.date(2028, 11, 7)
BEFORE = dt.date(2028, 11, 6)
SITES = ("S01", "S02", "S03")
END = ("S01", "S01", DAY, 0)

things = st.tuples(
    st.sampled_from(
        (
            "serial",
            "serial",
            "seal",
            "count",
            "opened",
            "closed",
            "service",
            "correct",
            "decide",
            "rule",
            "unknown",
            "void",
            "upload",
        )
    ),
    st.sampled_from((*SITES, "S09")),
    st.sampled_from(SITES),
    st.sampled_from((BEFORE, DAY)),
    st.integers(0, 3),
)


def write(record: Any, lists: Any, report: Any, thing: tuple[str, str, str, dt.date, int]) -> None:
    """One event of a kind: at a site, with a value that belongs to a device of a site, on a day."""
    kind, site, other, day, number = thing
    where = {"site": site, "day": day}
    items = lists.of(other, day).items
    serials = [i for i in items if i.what == "serial"]
    seals = [i for i in items if i.what == "seal" and i.value]
    own = serials[number % len(serials)]
    if kind == "serial":
        here = lists.of(site if site in SITES else other, day).items
        subject = next(i for i in here if i.what == "serial").subject
        record.serial(subject, own.value, f"P00{number}", **where)
    elif kind == "seal":
        seal = seals[number % len(seals)]
        record.seal(seal.subject, seals[0].value, f"P00{number}", **where)
    elif kind == "count":
        record.number(
            own.subject, "public_counter_close" if number > 1 else "public_counter_open", number, **where
        )
    elif kind == "opened":
        record.write(days.SiteOpened(at_min=420 + number), f"site/{site}", **where)
    elif kind == "closed":
        record.write(days.SiteClosed(at_min=1200 + number), f"site/{site}", **where)
    elif kind == "service":
        record.write(days.DeviceOutOfService(state="out", why="jam"), own.subject, **where)
    elif kind == "correct":
        wrong = next((s for s in record.journal.events if s.event.kind == "seen.serial"), None)
        if wrong is not None:
            record.correct(wrong, days.SerialSeen(serial=serials[0].value))
    elif kind == "decide" and report.notices:
        notice = report.notices[number % len(report.notices)]
        body = offices.NoticeResolved(
            notice_key=notice.key, digest=values_digest(notice), resolution="accepted"
        )
        record.write(body, f"site/{site}", private=offices.Words(words="Looked at."), **where)
    elif kind == "void":
        void = stocks.VoidSeal(number=f"99{number}" if number else seals[0].value, reason="Cut.")
        record.write(stocks.SealVoided(why="cut"), "seals/wire", private=void, **where)
        record.seal(seals[1].subject, f"99{number}", "P001", **where)
    elif kind == "upload":
        memory = [i.value for i in items if i.what == "memory device"]
        state = ("taken", "taken", "refused", "taken_out")[number]
        body = canvass.MemoryUploaded(count=number // 2, state=state)  # type: ignore[arg-type]
        record.write(body, f"memory/{memory[0]}", **where)
    elif kind == "rule":
        record.write(offices.RuleConfirmed(rule="seal-differs", level="directive"), "rules", **where)


def sides_of(record: Any) -> dict[str, FrozenObject]:
    """The private parts of a record's events."""
    return {digest: read_side(side) for digest, side in record.journal.sides.items()}


def test_a_day_reconciled_again_equals_the_day_reconciled_anew(county: Any, record: Any) -> None:
    """After each of any events: readings here and elsewhere, corrections, decisions, rules, other days."""
    county.dates = (BEFORE, DAY)
    election = county.election(SITES)
    plan = county.plan({"ballot-scanner": 1}, SITES)
    lists = county.lists(election, plan)
    make_record = type(record)

    @example([("serial", "S01", "S01", DAY, 0), ("serial", "S02", "S01", DAY, 1)])
    @example([("count", "S01", "S01", BEFORE, 3), ("serial", "S02", "S01", DAY, 1), ("decide", *END)])
    @example([("void", "S02", "S01", DAY, 1), ("void", "S01", "S02", DAY, 2), ("void", "S03", "S01", DAY, 1)])
    @example([("upload", "S02", "S02", DAY, 1), ("upload", "S02", "S02", DAY, 3)])
    @settings(max_examples=10)
    @given(st.lists(things, min_size=1, max_size=6))
    def same(story: list[Any]) -> None:
        story_record = make_record()
        growing = GrowingFold()
        folded = growing.fold
        observed = Observed(folded)
        reports = {day: reconcile_day(election, plan, lists, folded, day) for day in (BEFORE, DAY)}
        for thing in story:
            write(story_record, lists, reports[DAY], thing)
            growing.add(story_record.journal.events, sides_of(story_record))
            folded, earlier = growing.fold, observed
            observed = Observed(folded, earlier)
            for day in (BEFORE, DAY):
                reports[day] = reconcile_again(
                    reports[day], earlier,
                    election=election, plan=plan, issued=lists, folded=folded, observed=observed,
                )  # fmt: skip
                assert reports[day] == reconcile_day(election, plan, lists, folded, day)

    same()
