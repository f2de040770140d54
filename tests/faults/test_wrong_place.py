"""A wrong cart at a site, a wrong device in the right cart: the true site is named, and the leads of both."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

import msgspec
import pytest
from tests.reconcile.conftest import DAY
from tests.web.conftest import ELECTION_DAY

from pollstead.election.fleet import Cart
from pollstead.reconcile.custody.legs import legs_of
from pollstead.reconcile.custody.misplaced import Misplaced, misplaced
from pollstead.reconcile.custody.near_sites import CAMPUS, NAME, near_to
from pollstead.reconcile.custody.places import held_things
from pollstead.reconcile.opening.states import ItemState
from pollstead.record.kinds import custody, days
from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import Who

HERE, THERE = "station/S01/ballot-scanner/{}/scanner", "station/S02/ballot-scanner/{}/scanner"
LEADS = {"S01": ("person/P001", "person/P002"), "S02": ("person/P003", "person/P004")}


def told(case: Any, **facts: Any) -> tuple[Misplaced, ...]:
    """What stands at a wrong site; `facts` replace some of the county's."""
    folded = case.record.fold()
    election = msgspec.structs.replace(case.election, **facts)
    return misplaced(election, case.day(folded=folded).sites, case.issued.lists, held_things(legs_of(folded)))


def plain_text(page: str) -> str:
    """A page's words without its marks."""
    return " ".join(re.sub(r"<[^>]+>", "", page).replace("\u2068", "").replace("\u2069", "").split())


def read_there(case: Any, number: int) -> str:
    """The serial of a scanner of S02 is read at S01 by two people."""
    serial = case.expected(THERE.format(number), "S02")
    for person in ("P001", "P002"):
        case.record.serial(HERE.format(number), serial, person)
    return str(serial)


def test_a_wrong_device_in_the_right_cart_names_its_site_and_both_leads(case: Any) -> None:
    """One scanner of S02 stands at S01 beside its own one: told with both sites and all leads."""
    serial = read_there(case, 1)
    case.record.serial(HERE.format(2), case.expected(HERE.format(2)), "P001")
    (found,) = told(case)
    assert (found.site, found.owner, found.own_seen) == ("S01", "S02", 1)
    assert [(s.what, s.value, len(s.events)) for s in found.strays] == [("serial", serial, 2)]
    assert (found.leads_here, found.leads_there) == (LEADS["S01"], LEADS["S02"])
    assert (
        found.words({"S02": "Far Hall"}).english()
        == f"serial {serial}: seen at S01, expected at S02 Far Hall."
    )
    assert case.item(HERE.format(1)).state is ItemState.VALUE_DIFFERS, "and the item itself still differs"


def test_a_whole_load_of_another_site_asks_whether_it_is_the_wrong_cart(case: Any) -> None:
    """Both scanners are those of S02 and nothing of S01 was read."""
    read_there(case, 1)
    read_there(case, 2)
    (found,) = told(case)
    assert (len(found.strays), found.own_seen) == (2, 0)
    assert found.words({}).english().endswith("nothing of S01 was read here: is it the wrong cart?")


def test_a_cart_that_a_site_took_in_by_mistake_names_its_own_site(case: Any) -> None:
    """Cart C2 is of S02 and was received at S01: told before anything was opened; moved on, it is gone."""
    carts = (Cart(id="C1", site="S01"), Cart(id="C2", site="S02"))
    for cart in ("C1", "C2"):
        case.record.write(days.ThingReceived(place="site/S01", state="received"), f"cart/{cart}", "P001")
    (found,) = told(case, carts=carts)
    assert (found.site, found.owner, found.carts) == ("S01", "S02", ("C2",))
    assert found.leads_there == LEADS["S02"]
    sent = custody.ThingSent(from_place="site/S01", to_place="site/S02")
    case.record.write(sent, "cart/C2", "P001")
    assert told(case, carts=carts) == ()


def test_what_stands_where_it_belongs_and_what_was_taken_back_is_no_stray(case: Any) -> None:
    """Right serials, a withdrawn reading, and a serial that no list has: nothing of another site."""
    case.record.serial(HERE.format(2), case.expected(HERE.format(2)), "P001")
    wrong = case.record.serial(HERE.format(1), case.expected(THERE.format(1), "S02"), "P001")
    assert len(told(case)) == 1
    case.record.correct(wrong, None, "P001")
    case.record.serial(HERE.format(1), "LM-S-9999", "P002")
    assert told(case) == ()


@pytest.mark.parametrize(
    ("name", "address", "why"),
    [
        ("Kiln Road School", "9 Hill Road", NAME),
        ("Far Hall", "1 Mill Lane, east door", None),
        ("Far Hall", "1 Mill Lane", CAMPUS),
    ],
)
def test_sites_that_are_easily_taken_for_one_another_say_so(
    case: Any, name: str, address: str, why: str | None
) -> None:
    """Names that sound alike, or one campus: warned of beforehand, and told beside what stands wrong."""
    here, there = case.election.sites
    sites = (
        msgspec.structs.replace(here, name="Mill Road School", address="1 Mill Lane"),
        msgspec.structs.replace(there, name=name, address=address),
    )
    read_there(case, 1)
    (found,) = told(case, sites=sites)
    assert found.near == why
    warned = near_to(msgspec.structs.replace(case.election, sites=sites), here.id)
    assert [one.why for one in warned] == ([why] if why else [])


def test_the_page_of_the_day_shows_both_leads_by_need_and_keeps_back_what_waits(shared_app: Any) -> None:
    """One read it: the coordinator is told at once; whoever may have to read it second only afterwards."""
    folder = shared_app.folder
    part = "station/S01/ballot-scanner/1/scanner"

    def read(person: str) -> None:
        folder.write(
            days.SerialSeen(serial="LM-S-0003"),
            who=Who(person=person, role=Role.SITE_LEAD),
            subject=part,
            site="site/S01",
            day=ELECTION_DAY.isoformat(),
        )

    def page(role: Role, person: str = "person/P010") -> str:
        asks = {"day": ELECTION_DAY.isoformat()}
        return plain_text(shared_app.client(role, person).get("/day", params=asks).text)

    read("person/P001")
    told_here = "serial LM-S-0003: seen at S01 Ansel Civic Hall, expected at S02 Harbor Lane Library."
    assert told_here in page(Role.COORDINATOR)
    assert "555-0112" in page(Role.COORDINATOR) and "Ida Fenwright" in page(Role.COORDINATOR)
    assert told_here not in page(Role.SITE_LEAD, "person/P002")
    read("person/P002")
    assert told_here in page(Role.SITE_LEAD, "person/P002")
    reader = page(Role.READER)
    assert told_here in reader and "555-0112" not in reader and "Ida Fenwright" not in reader


def test_another_day_is_not_mixed_in(case: Any) -> None:
    """What was read the day before election day says nothing of election day."""
    before = DAY - dt.timedelta(days=1)
    case.record.serial(HERE.format(1), case.expected(THERE.format(1), "S02"), "P001", day=before)
    assert told(case) == ()
