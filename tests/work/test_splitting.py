"""A split that is accepted is one act, all of its numbers or none; taking it back leaves the rest alone."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from tests.once import copied
from tests.split_county import make_three_sites

from pollstead.intake import read_folder
from pollstead.plan.lines.spares import least_spares
from pollstead.plan.terms.part import NoWatch
from pollstead.plan.terms.split import Goal
from pollstead.record.event import Means, Part, Person
from pollstead.record.write import Moment
from pollstead.store.desk import Desk, begin_desk
from pollstead.store.opening import open_store
from pollstead.work.child import run_line
from pollstead.work.county_folder import Refused
from pollstead.work.kinds import SplitArguments
from pollstead.work.line import ask_for
from pollstead.work.overruling import decisions_standing, fix, unfix
from pollstead.work.split_kept import kept_split
from pollstead.work.splitting import (
    SplitReport,
    accept,
    accepted_splits,
    new_numbers,
    split_folder,
    take_back,
)

pytestmark = pytest.mark.full

PEOPLE = (Person(person="person/P001", means=Means.NAME_ONLY, part=Part.AUTHOR),)
DAYS, FRESH_DAYS = 16, 32
LAW = """[[setting]]
rule = "spare-share"
value = 200000
level = "law"
source = "Larkmoor Code 7-3 (invented)"
confirmed_by = "P001"
effective_from = 2028-01-10
"""


@pytest.fixture(scope="module")
def report(three_sites: Path) -> SplitReport:
    """Its split."""
    return split_folder(three_sites, watch=NoWatch(), days=DAYS, fresh_days=FRESH_DAYS, workers=1)


@pytest.fixture
def folder(three_sites: Path, tmp_path: Path) -> Path:
    """This test's own copy."""
    return copied(three_sites, tmp_path / "county")


@pytest.fixture
def desk(folder: Path) -> Iterator[Desk]:
    """The desk of that copy."""
    election = read_folder(folder).election
    assert election is not None
    found = begin_desk(
        folder,
        county=election.county,
        election=election.name,
        practice=election.practice,
        people=PEOPLE,
        moment=at(0),
    )
    with contextlib.closing(found):
        yield found


def at(second: int) -> Moment:
    """A moment of the test's own clock."""
    return Moment(utc_ms=1_850_000_000_000 + second * 1000, offset_min=0, uncertainty_ms=0)


def standing(desk: Desk) -> dict[str, tuple[str, str]]:
    """Rows that people fixed, with value and reason."""
    return {d.place.row: (d.value, d.reason) for d in decisions_standing(desk.fold(private=True))}


def test_accepting_fixes_every_number_of_each_site_that_changes_at_one_moment(
    desk: Desk, report: SplitReport
) -> None:
    """Those that stay the same at such a site too: sizing would answer a new number with others."""
    assert report.answer is not None
    wanted = {new.place.row: str(new.value) for new in new_numbers(report)}
    changed = {one.site for one in report.answer.sites if one.changed}
    assert changed and {row.partition("/")[0] for row in wanted} == changed
    assert any(new.before == new.value for new in new_numbers(report))
    fold = desk.fold(private=True)
    fixed = accept(desk.recorder, fold, report, reason="as counted", people=PEOPLE, moment=at(1))
    assert fixed == len(wanted)
    assert standing(desk) == {row: (value, "as counted") for row, value in wanted.items()}
    (act,) = accepted_splits(desk.fold(private=True))
    assert (act.reason, act.person, act.utc_ms) == ("as counted", "person/P001", at(1).utc_ms)
    assert {place.row for place in act.places} == set(wanted)
    again = accept(desk.recorder, desk.fold(private=True), report, reason="x", people=PEOPLE, moment=at(2))
    assert again == 0 and len(accepted_splits(desk.fold(private=True))) == 1


def test_what_cannot_be_written_leaves_nothing_of_the_act(desk: Desk, report: SplitReport) -> None:
    """The journal fails at the third event of the act, as a full disk would: none of them is kept."""
    before = desk.store.events.count()
    journal, real = desk.recorder._journal, desk.recorder._journal.append_run

    class Full:
        """A journal that makes the events and then cannot keep them."""

        def append_run(self, device: str, make: object) -> object:
            """Fail after two."""

            def stopped(n: int, prev: str) -> object:
                made = make(n, prev)  # type: ignore[operator]
                assert len(made) > 2
                raise OSError("no space left")

            return real(device, stopped)  # type: ignore[arg-type]

    desk.recorder._journal = Full()  # type: ignore[assignment]
    fold = desk.fold(private=True)
    with pytest.raises(OSError, match="no space"):
        accept(desk.recorder, fold, report, reason="as counted", people=PEOPLE, moment=at(1))
    desk.recorder._journal = journal
    assert desk.store.events.count() == before
    assert standing(desk) == {}


def test_a_number_that_a_person_fixed_before_stays_through_accepting_and_taking_back(
    desk: Desk, report: SplitReport
) -> None:
    """Its reason too; taking the split back leaves it fixed."""
    mine = new_numbers(report)[0].place
    fold = desk.fold(private=True)
    fix(desk.recorder, fold, mine, "9", reason="two doors", people=PEOPLE, moment=at(1))
    fixed = accept(
        desk.recorder, desk.fold(private=True), report, reason="split", people=PEOPLE, moment=at(2)
    )
    assert fixed == len(new_numbers(report)) - 1
    assert standing(desk)[mine.row] == ("9", "two doors")
    (act,) = accepted_splits(desk.fold(private=True))
    assert mine not in act.places
    gone = take_back(desk.recorder, desk.fold(private=True), act, reason="no", people=PEOPLE, moment=at(3))
    assert gone == fixed
    assert standing(desk) == {mine.row: ("9", "two doors")}
    assert accepted_splits(desk.fold(private=True)) == ()


def test_taking_back_passes_over_a_number_that_was_taken_back_alone(desk: Desk, report: SplitReport) -> None:
    """The act as it was read before; what changed meanwhile stays as it was changed."""
    fold = desk.fold(private=True)
    accept(desk.recorder, fold, report, reason="split", people=PEOPLE, moment=at(1))
    (act,) = accepted_splits(desk.fold(private=True))
    first = act.places[0]
    unfix(desk.recorder, desk.fold(private=True), first, reason="alone", people=PEOPLE, moment=at(2))
    gone = take_back(desk.recorder, desk.fold(private=True), act, reason="no", people=PEOPLE, moment=at(3))
    assert gone == len(act.places) - 1 and standing(desk) == {}


def test_two_accepted_splits_stand_apart_the_newest_first(desk: Desk, report: SplitReport) -> None:
    """A number fixed alone is no split."""
    numbers = new_numbers(report)
    fix(desk.recorder, desk.fold(), numbers[0].place, "7", reason="alone", people=PEOPLE, moment=at(0))
    assert accepted_splits(desk.fold(private=True)) == ()
    accept(desk.recorder, desk.fold(private=True), report, reason="one", people=PEOPLE, moment=at(1))
    (first,) = accepted_splits(desk.fold(private=True))
    take_back(desk.recorder, desk.fold(private=True), first, reason="no", people=PEOPLE, moment=at(2))
    accept(desk.recorder, desk.fold(private=True), report, reason="two", people=PEOPLE, moment=at(3))
    assert [act.reason for act in accepted_splits(desk.fold(private=True))] == ["two"]


def test_spares_may_be_tried_as_the_office_chooses_and_never_below_a_law(
    three_sites: Path, tmp_path: Path, report: SplitReport
) -> None:
    """More days without a spare: fewer held back, as Poisson says; a share that a law asks for stays."""
    tried = split_folder(
        three_sites,
        watch=NoWatch(),
        days=DAYS,
        fresh_days=FRESH_DAYS,
        workers=1,
        spare_share_ppm=0,
        run_out_ppm=500_000,
    )
    (own,), (other,) = report.spares, tried.spares
    assert (other.by_share, other.risk_ppm, tried.spare_share_ppm) == (0, 500_000, 0)
    assert other.held == other.by_risk == least_spares(other.expected_ppm / 1_000_000, 500_000) < own.held
    assert tried.facts.fleet[0].available > report.facts.fleet[0].available
    law = make_three_sites(tmp_path / "law", rules=LAW)
    with pytest.raises(Refused, match="is a law"):
        split_folder(law, watch=NoWatch(), days=DAYS, fresh_days=FRESH_DAYS, spare_share_ppm=100_000)
    more = split_folder(
        law, watch=NoWatch(), days=DAYS, fresh_days=FRESH_DAYS, workers=1, spare_share_ppm=250_000
    )
    assert more.spares[0].by_share == 4  # a quarter of 14, rounded up


def test_a_split_as_a_job_is_kept_and_reads_back_as_it_was_made(folder: Path) -> None:
    """The worker makes it; the same as asked for directly; thrown away, the job says so by None."""
    asked = SplitArguments(goal=Goal.WORST, days=DAYS, fresh_days=FRESH_DAYS)
    with open_store(folder) as store:
        job = ask_for(store, "split", asked, by="person/P001", utc_ms=1)
        assert run_line(folder) == 0
        kept = kept_split(store, store.jobs.get(job.id))
        assert kept.asked == asked and kept.report is not None
        direct = split_folder(
            folder, watch=NoWatch(), goal=Goal.WORST, days=DAYS, fresh_days=FRESH_DAYS, workers=1
        )
        assert msgspec.json.encode(kept.report) == msgspec.json.encode(direct)
        assert kept.report == direct
        store.kept.forget_unused(0)
        assert kept_split(store, store.jobs.get(job.id)).report is None
