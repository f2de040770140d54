"""Two sites of an invented county with issued lists, and a fresh record for each fault that is planted."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
from tests.once import copied
from tests.reconcile.conftest import DAY, CountyMaker, RecordMaker
from tests.web.conftest import App, issue_all, planned

from pollstead.election.county import Election, Person
from pollstead.election.station_type import Moment
from pollstead.plan.terms.version import PlanVersion
from pollstead.reconcile.day import DayReport, SiteDay, reconcile_day
from pollstead.reconcile.issued import Issued
from pollstead.reconcile.opening.states import ItemResult

__all__ = ["planned"]

SCANNERS = {"ballot-scanner": 2}
PEOPLE = tuple(
    Person(id=f"P{n:03d}", name=name, role=role, site=site)
    for n, name, role, site in (
        (1, "Ida Fenwright", "site lead", "S01"),
        (2, "Tobin Oakley", "deputy lead", "S01"),
        (3, "Odell Briarly", "site lead", "S02"),
        (4, "Una Tolliver", "deputy lead", "S02"),
        (10, "Marit Ostrander", "coordinator", ""),
    )
)


class Fixed(msgspec.Struct, frozen=True):
    """What all faults share: facts, plan, lists; made once."""

    election: Election
    plan: PlanVersion
    issued: Issued


class Case:
    """The county with a record of this test alone."""

    def __init__(self, fixed: Fixed) -> None:
        self.election, self.plan, self.issued = fixed.election, fixed.plan, fixed.issued
        self.record = RecordMaker()

    def day(self, date: dt.date = DAY, folded: Any = None) -> DayReport:
        """The whole county on a day."""
        return reconcile_day(self.election, self.plan, self.issued, folded or self.record.fold(), date)

    def site(self, site: str = "S01") -> SiteDay:
        """One site on election day."""
        return self.day().site(site)

    def item(self, subject: str, site: str = "S01", moment: Moment = Moment.OPENING) -> ItemResult:
        """The result of one expected item."""
        return next(r for r in self.site(site).results if r.subject == subject and r.moment is moment)

    def expected(self, subject: str, site: str = "S01", moment: Moment = Moment.OPENING) -> str:
        """The value that the list expects."""
        listed = self.issued.of(site, DAY)
        assert listed is not None
        return next(i.value for i in listed.items if i.subject == subject and i.moment is moment)


@pytest.fixture(scope="session")
def fixed() -> Fixed:
    """Facts, plan and lists of two sites with two scanners each."""
    maker = CountyMaker()
    election = msgspec.structs.replace(maker.election(), people=PEOPLE)
    plan = maker.plan(SCANNERS)
    return Fixed(election=election, plan=plan, issued=maker.lists(election, plan))


@pytest.fixture
def case(fixed: Fixed) -> Case:
    """The county and an empty record."""
    return Case(fixed)


@pytest.fixture
def new_case(fixed: Fixed) -> Callable[[], Case]:
    """For tests that compare two records."""
    return lambda: Case(fixed)


@pytest.fixture(scope="session")
def shared_app(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[App]:
    """The small county with issued lists, for tests that each write of a site or thing of their own."""
    app = App(copied(planned, tmp_path_factory.mktemp("shared") / "county"))
    issue_all(app.folder)
    yield app
    app.folder.close()


@pytest.fixture
def said_by(capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    """What the command line prints."""
    from pollstead.cli.main import run

    def say(*words: str | Path) -> str:
        capsys.readouterr()
        assert run([str(word) for word in words]) == 0
        return capsys.readouterr().out

    return say
