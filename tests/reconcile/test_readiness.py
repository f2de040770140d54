"""Ready to open? Nothing is done by default; each item is done by evidence that is named."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

import msgspec
import pytest

from pollstead.election.canonical import digest_of
from pollstead.election.contacts import ReadyWeight
from pollstead.election.rules import CountyRules
from pollstead.reconcile.day import reconcile_day
from pollstead.reconcile.issued import Issued, issued_lists
from pollstead.reconcile.readiness.ready import ReadyItem, ReadyList, ReadyState, SiteReady, ready_to_open
from pollstead.reconcile.readiness.weights import USUAL_WEIGHTS, Weights
from pollstead.record.kinds import offices
from pollstead.record.write import Moment

COUNTS = {"check-in-desk": 1, "accessible-marker": 1, "ballot-scanner": 1}
DAY = dt.date(2028, 11, 7)
MORNING = 1_857_207_600_000
"""2028-11-07 (a Tuesday) 06:00 in eastern standard time, UTC-5."""


class Eve:
    """The evening before, with a county and a record."""

    def __init__(self, county: Any, record: Any) -> None:
        self.county, self.record = county, record
        self.plan = county.plan(COUNTS)
        self.election = county.election()

    def office(self, body: Any, subject: str, site: str = "", day: str = "") -> Any:
        record = self.record
        record.clock += 1000
        from pollstead.record.event import Means, Part, Person

        return record.recorder.record(
            body,
            subject=subject,
            site=site,
            day=day,
            people=(Person(person="person/P010", means=Means.OWN_DEVICE, part=Part.AUTHOR),),
            moment=Moment(utc_ms=record.clock, offset_min=-300, uncertainty_ms=0),
        )

    def approve(self, digest: str = "") -> Any:
        return self.office(offices.PlanApproved(digest=digest or digest_of(self.plan)), "plan")

    def list(self, weights: Weights = USUAL_WEIGHTS, now_ms: int = MORNING) -> ReadyList:
        folded = self.record.fold()
        issued = issued_lists(folded)
        report = reconcile_day(self.election, self.plan, issued, folded, DAY)
        return ready_to_open(self.election, self.plan, issued, folded, report, now_ms=now_ms, weights=weights)

    def ready(self, weights: Weights = USUAL_WEIGHTS) -> tuple[SiteReady, ...]:
        return self.list(weights).sites

    def item(self, name: str, site: str = "S01") -> ReadyItem:
        return next(i for one in self.ready() if one.site == site for i in one.items if i.id == name)


@pytest.fixture
def eve(county: Any, record: Any) -> Eve:
    """Nothing has been done."""
    return Eve(county, record)


def test_nothing_is_done_by_default(county: Any, record: Any) -> None:
    """A county that has told nothing and done nothing: only what the plan itself says is known to be good."""
    county.rules = CountyRules()
    eve = Eve(county, record)
    eve.election = msgspec.structs.replace(
        eve.election,
        sites=tuple(
            msgspec.structs.replace(s, openers=(), contact=None, hours=()) for s in eve.election.sites
        ),
    )
    site = next(one for one in eve.ready() if one.site == "S01")
    assert not site.ready
    done = {item.id for item in site.items if item.state is ReadyState.GOOD}
    assert done == {"devices", "accessible-station", "open-items"}
    assert {item.id: item.state for item in site.items}["openers"] is ReadyState.UNKNOWN


def test_every_done_item_names_its_evidence(eve: Eve) -> None:
    """Done without evidence does not occur, and evidence by event has who and when."""
    event = eve.approve()
    for one in eve.county.lists(eve.election, eve.plan).lists:
        eve.record.issue(one)
    for site in eve.ready():
        for item in site.items:
            if item.state is ReadyState.GOOD:
                assert item.evidence, item.id
            else:
                assert item.remedy is not None, item.id
    approved = eve.item("plan-approved")
    assert approved.evidence[0].event == event.id
    assert approved.evidence[0].people == ("person/P010",)
    assert approved.evidence[0].utc_ms == event.event.utc_ms


def test_approval_of_another_version_is_not_approval_of_this_one(eve: Eve) -> None:
    """The approval names a digest; another digest leaves the item open and says so."""
    eve.approve("a" * 64)
    item = eve.item("plan-approved")
    assert item.state is ReadyState.BAD
    assert item.text.english() == "Another plan version is approved, not this one."


def test_a_packet_printed_for_another_plan_is_not_done(eve: Eve) -> None:
    """Sheets of an older version do not count."""
    for plan, state in (("b" * 64, ReadyState.BAD), (digest_of(eve.plan), ReadyState.GOOD)):
        eve.office(offices.PacketPrinted(sheets=("sheet/AAAA",), plan=plan), "site/S01", site="site/S01")
        assert eve.item("packets").state is state
    assert eve.item("packets", "S02").state is ReadyState.BAD


def test_a_packet_printed_before_the_list_was_amended_is_not_done(eve: Eve) -> None:
    """A changed list voids the sheets that were printed for the older one, until they are printed again."""
    from pollstead.reconcile.issued import lines_of
    from pollstead.record.write import list_side

    expected = eve.county.lists(eve.election, eve.plan).lists[0]
    first = eve.record.issue(expected)
    printed = offices.PacketPrinted(sheets=("sheet/AAAA",), plan=digest_of(eve.plan))
    eve.office(printed, "site/S01", site="site/S01")
    assert eve.item("packets").state is ReadyState.GOOD
    fewer = msgspec.structs.replace(expected, items=expected.items[:-1])
    salt, lines = b"\x07" * 32, lines_of(fewer)
    eve.record.write(
        offices.ExpectedAmended(
            list_digest=list_side(lines, salt).digest,
            replaces=str(first.event.body["list_digest"]),
            plan=expected.plan,
        ),
        "site/S01",
        private=offices.ExpectedList(lines=lines),
        salt=salt,
    )
    assert issued_lists(eve.record.fold()).of("S01", DAY) == fewer
    assert eve.item("packets").state is ReadyState.BAD
    eve.office(printed, "site/S01", site="site/S01")
    assert eve.item("packets").state is ReadyState.GOOD


def test_missing_seal_numbers_and_serials_are_counted(eve: Eve) -> None:
    """Two seal numbers and one serial are not known: the items say how many of how many."""
    site = eve.plan.site("S01")
    scanner = site.stations[-1]
    bare = msgspec.structs.replace(
        scanner,
        parts=tuple(msgspec.structs.replace(p, serial="") if p.by_serial else p for p in scanner.parts),
        seals=tuple(msgspec.structs.replace(s, number="") for s in scanner.seals),
    )
    changed = msgspec.structs.replace(site, stations=(*site.stations[:-1], bare))
    eve.plan = msgspec.structs.replace(
        eve.plan, sites=(changed, *(s for s in eve.plan.sites if s.site != "S01"))
    )
    eve.record.issue(eve.county.lists(eve.election, eve.plan).lists[0])
    assert eve.item("devices").text.english() == "1 of 3 devices have no serial yet."
    # The scanner's lid and memory door; its box and bin are sealed at the site.
    assert eve.item("seals").text.english().startswith("2 of ")
    assert eve.item("seals").state is ReadyState.BAD


def test_one_opener_where_two_are_needed_is_not_done(eve: Eve) -> None:
    """The rule asks for two people who can each open; the same person twice is one."""
    eve.election = msgspec.structs.replace(
        eve.election,
        sites=tuple(msgspec.structs.replace(s, openers=("P001", "P001")) for s in eve.election.sites),
    )
    item = eve.item("openers")
    assert (item.state, item.text.english()) == (ReadyState.BAD, "1 independent, 2 needed.")


def test_the_opening_comparison_is_done_when_everything_was_read(eve: Eve) -> None:
    """Not done while readings are to come; done with the last reading as evidence."""
    expected = eve.county.lists(eve.election, eve.plan).lists[0]
    eve.record.issue(expected)
    assert eve.item("opening-comparison").state is ReadyState.BAD
    eve.record.follow(expected)
    item = eve.item("opening-comparison")
    assert item.state is ReadyState.GOOD
    assert item.evidence[0].people == ("person/P001", "person/P002")


def test_the_site_with_more_risk_times_voters_comes_first(eve: Eve) -> None:
    """The stake is the model's risk x planned voters; a county's own weights change it."""
    eve.approve()
    eve.election = msgspec.structs.replace(
        eve.election,
        sites=tuple(
            msgspec.structs.replace(s, openers=() if s.id == "S02" else s.openers) for s in eve.election.sites
        ),
    )
    first, second = eve.ready()
    assert (first.site, second.site) == ("S02", "S01")
    assert first.stake_micro == first.risk_ppb * first.voters // 1000
    own = ReadyWeight(question="opener-call", good_ppm=0, old_ppm=0, unknown_ppm=0, bad_ppm=0)
    eve.election = msgspec.structs.replace(
        eve.election,
        ready_weights=(own, msgspec.structs.replace(own, question="openers")),
    )
    assert len({one.risk_ppb for one in eve.ready()}) == 1


def test_a_list_of_an_older_plan_version_is_not_done(eve: Eve) -> None:
    """The list in force names another plan than the one people are about to use."""
    old = msgspec.structs.replace(eve.county.lists(eve.election, eve.plan).lists[0], plan="c" * 64)
    eve.record.issue(old)
    assert eve.item("expected-list").state is ReadyState.BAD
    assert "another plan version" in eve.item("expected-list").text.english()
    assert isinstance(issued_lists(eve.record.fold()), Issued)


def test_the_guide_lists_the_weights_as_they_are() -> None:
    """docs/guides/ready-to-open.md and the weights in code say the same shares and minutes."""
    page = Path(__file__).parents[2] / "docs" / "guides" / "ready-to-open.md"
    told = set()
    for line in page.read_text(encoding="utf-8").splitlines():
        found = re.fullmatch(r"\| `([a-z-]+)`" + r" \| ([\d.]+)" * 5 + r" \| .* \|", line)
        if found:
            shares = tuple(round(float(found[n]) * 10_000) for n in (2, 3, 4, 5))
            told.add((found[1], *shares, int(found[6])))
    assert told == {
        (w.question, w.good_ppm, w.old_ppm, w.unknown_ppm, w.bad_ppm, w.minutes) for w in USUAL_WEIGHTS.items
    }
