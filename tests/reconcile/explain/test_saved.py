"""A saved explanation: kept with who and when, for the numbers it explains and no others."""

from __future__ import annotations

import json
from typing import Any

import pytest
from tests.reconcile.conftest import DAY, CountyMaker, RecordMaker

from pollstead.cli.explained import explained_sites, explanations_object, sentence_of
from pollstead.reconcile.day import DayReport, reconcile_day
from pollstead.reconcile.explain.night import explain_site
from pollstead.reconcile.explain.saved import in_force, saved_of
from pollstead.reconcile.explain.terms import Explained
from pollstead.record.kinds.explanations import ExplanationSaved, RowOf, SavedWords


class Desk:
    """One county in memory with a site whose report says another count than the screen."""

    def __init__(self, county: CountyMaker, record: RecordMaker) -> None:
        self.election = county.election()
        self.plan = county.plan({"ballot-scanner": 1})
        self.issued = county.lists(self.election, self.plan)
        self.record = record
        device = next(p.device for st in self.plan.sites[0].stations for p in st.parts if p.device)
        self.device = device
        record.number(device, "public_counter_close", 412, "P001")
        self.report_event = record.number(device, "report_count_close", 421, "P001", source="report")

    def day(self) -> DayReport:
        """The day as recorded."""
        return reconcile_day(self.election, self.plan, self.issued, self.record.fold(), DAY)

    def explained(self) -> Explained | None:
        """What explains the first site."""
        report = self.day()
        found = explain_site(report.site("S01"), report, self.record.fold(), self.election)
        return None if found is None else found.explained

    def save(self, explained: Explained, person: str = "P009") -> None:
        """A person keeps the first explanation."""
        first = explained.groups[0].explanations[0]
        self.record.write(
            ExplanationSaved(
                digest=explained.digest,
                rows=tuple(
                    RowOf(equation=d.equation, subject=d.subject, difference=d.difference)
                    for d in explained.differences
                ),
                explanation=first.id,
                act="reread_paper",
                looked_at=first.faults[0].keys[0],
                outcome=412,
            ),
            "site/S01",
            person,
            private=SavedWords(words="The report was read as 421.", own="Read again by two people."),
        )


@pytest.fixture
def desk(county: CountyMaker, record: RecordMaker) -> Desk:
    """The county with one difference."""
    return Desk(county, record)


def test_it_holds_until_a_number_changes_and_is_kept_after(desk: Desk) -> None:
    """Saved with a name; once the report is corrected it no longer holds, and nothing of it is gone."""
    explained = desk.explained()
    assert explained is not None and explained.groups
    assert saved_of(desk.record.fold(), "S01", DAY.isoformat(), explained) == ()
    desk.save(explained)
    (saved,) = saved_of(desk.record.fold(), "S01", DAY.isoformat(), desk.explained())
    assert (saved.person, saved.holds, saved.outcome) == ("person/P009", True, 412)
    assert saved.words == "The report was read as 421."
    assert in_force((saved,)) == saved
    desk.record.number(desk.device, "lifetime_counter_close", 9_000, "P001")
    (later,) = saved_of(desk.record.fold(), "S01", DAY.isoformat(), desk.explained())
    assert not later.holds and later.words == saved.words
    assert in_force((later,)) is None


def test_what_was_read_at_an_hour_of_the_day_is_a_bound_of_the_closing_number(desk: Desk) -> None:
    """The counter stood at 415 at three o'clock: that the screen shows 412 at closing speaks against it."""
    before = desk.explained()
    assert before is not None and before.groups[0].keys > {f"report_count_close@{desk.device}"}
    desk.record.number("site/S01", "check_ins_at_1500", 430, "P001")
    desk.record.number(desk.device, "public_counter_at_1500", 415, "P001")
    after = desk.explained()
    assert after is not None and after.groups[0].keys == {f"public_counter_close@{desk.device}"}
    assert after.digest != before.digest


def test_a_later_one_takes_the_place_of_an_earlier_one(desk: Desk) -> None:
    """Both are kept, with their names; one is in force."""
    explained = desk.explained()
    assert explained is not None
    desk.save(explained)
    desk.save(explained, "P010")
    saved = saved_of(desk.record.fold(), "S01", DAY.isoformat(), explained)
    assert [one.in_force for one in saved] == [False, True]
    now = in_force(saved)
    assert now is not None and now.person == "person/P010"


def test_saving_changes_no_number_and_no_notice(desk: Desk) -> None:
    """Working notes: the day reconciles as before."""
    before = desk.day()
    explained = desk.explained()
    assert explained is not None
    desk.save(explained)
    after = desk.day()
    assert [n.key for n in after.notices] == [n.key for n in before.notices]
    assert after.site("S01").lines == before.site("S01").lines


def test_the_json_of_a_site_has_sentence_groups_acts_and_what_was_saved(desk: Desk) -> None:
    """Groups with the numbers they touch; a site without a difference has the same fields, empty."""
    explained = desk.explained()
    assert explained is not None
    desk.save(explained)
    report, folded = desk.day(), desk.record.fold()
    found = explained_sites(desk.election, folded, report, report.sites)
    told: dict[str, Any] = {
        site.site: explanations_object(found.get(site.site), desk.election, folded, site)
        for site in report.sites
    }
    json.dumps(told)
    assert sentence_of(found["S01"]) == "Difference of 9; two explanations fit."
    kinds = [f["kind"] for g in told["S01"]["groups"] for e in g["explanations"] for f in e["faults"]]
    assert kinds[0] == "digits swapped"
    assert [s["holds"] for s in told["S01"]["saved"]] == [True]
    assert told["S02"] == {
        "sentence": "",
        "fits": 0,
        "unknown_ppm": 0,
        "digest": "",
        "groups": [],
        "next_acts": [],
        "saved": [],
    }
