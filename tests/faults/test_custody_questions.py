"""One scanner of the small county from its test to its return: the record answers each custody question.

Who, what, when, where, from whom, to whom, seals before and after, every step documented: after the U.S.
Election Assistance Commission, Chain of Custody Best Practices, v1.1, 2021-07-12. The questions are in our
own words. Two people for a number and cut seals kept: common practice, no source; varies by county.
"""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.once import copied
from tests.web.conftest import MORNING_MS, App, issue_all

from pollstead.reconcile.custody.life import Life, about, life_of, with_reasons
from pollstead.reconcile.custody.questions import MAY_BE_NONE, WORDS, Asked, answers
from pollstead.record.event import Means, Part
from pollstead.record.event import Person as Someone
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds import custody, days, stocks, warehouse
from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import Who

DAY = "2028-11-07"
SCANNER, SERIAL = "device/scanner/0001", "LM-S-0001"
LID, CART, MEMORY = "closure/scanner/0001/lid", "cart/cart-S01-S", "memory-device/LM-M-S001A"
LEAD, DEPUTY, WAREHOUSE, DRIVER = "person/P001", "person/P002", "person/P011", "person/P012"


def hands(giver: str, *receivers: str) -> tuple[Someone, ...]:
    """Giver and receivers of a hand-off."""
    parts = [(giver, Part.GIVER), *((one, Part.RECEIVER) for one in receivers)]
    return tuple(Someone(person=who, means=Means.NAME_ONLY, part=part) for who, part in parts)


class Lived:
    """The folder in which one scanner went out and came back; `events` by a word for each step."""

    def __init__(self, app: App) -> None:
        self.app = app
        self.events: dict[str, str] = {}
        self.number = ""
        minutes = itertools.count(MORNING_MS, 60_000)
        app.folder.clock = lambda: next(minutes)

    def write(self, word: str, body: Any, subject: str, who: str, **more: Any) -> str:
        """One step, kept under its word."""
        actor = Who(person=who, role=Role.HELPER)
        self.events[word] = self.app.folder.write(body, who=actor, subject=subject, **more).id
        return self.events[word]

    def life(self, code: str = SERIAL) -> Life:
        """What the record says of a thing."""
        folder = self.app.folder
        election = folder.election()
        assert election is not None
        life = life_of(folder.fold(), about(election, code))
        return with_reasons(life, folder.store.sides.fields_of(life.corrections))


@pytest.fixture(scope="module")
def lived(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lived]:
    """Tested, sealed by two, packed, sent, received, read by two, misread and corrected, closed, back."""
    folder = copied(planned, tmp_path_factory.mktemp("custody") / "county")
    found = Lived(App(folder))
    lid = next(s for s in _closures(folder) if s.startswith("device/scanner/0001,lid,1,"))
    found.number = number = lid.rpartition(",")[2]
    there = {"site": "site/S01", "day": DAY}
    tested = stocks.DeviceTested(result="pass", zero="zero", lifetime_counter=3000)
    found.write("tested", tested, SCANNER, WAREHOUSE, second=DRIVER)
    for word, who in (("sealed", WAREHOUSE), ("sealed again", DRIVER)):
        private = days.SealNumber(number=number)
        found.write(word, stocks.ClosureSealed(position=1), LID, who, private=private)
    found.write("packed", warehouse.ThingPacked(into="cart-S01-S"), SCANNER, WAREHOUSE)
    issue_all(found.app.folder)
    sent = custody.ThingSent(from_place="place/warehouse", to_place="site/S01", seals="intact")
    found.write("sent", sent, CART, WAREHOUSE, hands=hands(WAREHOUSE, DRIVER), **there)
    arrived = days.ThingReceived(place="site/S01", from_place="place/road", state="received", seals="intact")
    found.write("arrived", arrived, CART, LEAD, hands=hands(DRIVER, LEAD), **there)
    part = "station/S01/ballot-scanner/1/scanner"
    found.write("serial", days.SerialSeen(serial=SERIAL), part, LEAD, **there)
    found.write("serial again", days.SerialSeen(serial=SERIAL), part, DEPUTY, **there)
    opening = days.SealSeen(step="opening", state="intact")
    found.write("misread", opening, LID, LEAD, private=days.SealNumber(number="0040000"), **there)
    found.write("lid", opening, LID, DEPUTY, private=days.SealNumber(number=number), **there)
    corrected = days.EntryCorrected(
        corrects=found.events["misread"],
        of_kind="seen.seal",
        value=FrozenObject({"step": "opening", "state": "intact"}),
    )
    why = days.CorrectionPrivate(reason="two digits swapped", fields=FrozenObject({"number": number}))
    found.write("corrected", corrected, LID, LEAD, private=why, **there)
    cut = days.SealSeen(step="closing", state="cut")
    found.write("cut", cut, LID, LEAD, private=days.SealNumber(number=number), second=DEPUTY, **there)
    packed = days.MemoryDevicePacked(state="in_case")
    found.write("memory packed", packed, MEMORY, LEAD, second=DEPUTY, **there)
    back = days.ThingReceived(place="receiving/T1", from_place="site/S01", state="received", seals="intact")
    found.write("memory back", back, MEMORY, WAREHOUSE, hands=hands(LEAD, WAREHOUSE), **there)
    found.write("back", back, SCANNER, WAREHOUSE, hands=hands(DRIVER, WAREHOUSE), **there)
    yield found
    found.app.folder.close()


def _closures(folder: Path) -> list[str]:
    return (folder / "closure_seals.csv").read_text(encoding="utf-8").splitlines()


ANSWERED_BY = {
    Asked.WHAT: {"serial", "serial again"},
    Asked.WHO: {"packed", "sent", "arrived", "memory packed", "memory back", "back"},
    Asked.WHERE: {"packed", "sent", "arrived", "memory back", "back"},
    Asked.FROM_TO: {"sent", "arrived", "memory back", "back"},
    Asked.SEALS_BEFORE: {"sealed", "sealed again"},
    Asked.SEALS_AFTER: {"sent", "arrived", "lid", "corrected", "cut", "memory back", "back"},
    Asked.TESTED: {"tested"},
    Asked.CUT: {"cut"},
    Asked.CORRECTED: {"misread", "corrected"},
    Asked.LAST: {"back"},
}


@pytest.mark.parametrize("asked", ANSWERED_BY, ids=str)
def test_the_record_answers_the_question_with_these_steps(lived: Lived, asked: Asked) -> None:
    """Each question is answered by the steps that people took, by no other, and by none twice."""
    found = next(one for one in answers(lived.life()) if one.asked is asked)
    steps = {event: word for word, event in lived.events.items()}
    assert {steps[entry.event] for entry in found.entries} == ANSWERED_BY[asked]
    assert len({entry.event for entry in found.entries}) == len(found.entries)


def test_every_step_has_its_time_and_every_step_by_two_its_two_names(lived: Lived) -> None:
    """When: all that stands, in order. Two people: named in one entry, or each in one that says the same."""
    found = {one.asked: one for one in answers(lived.life())}
    times = [entry.utc_ms for entry in found[Asked.WHEN].entries]
    assert times == sorted(times)
    assert len(times) == len(lived.events) - 1, "all but the reading that was corrected"
    by_two = {entry.event for entry in found[Asked.TWO].entries}
    one_alone = {"packed", "misread"}
    assert by_two == {event for word, event in lived.events.items() if word not in one_alone}


def test_what_was_expected_is_told_with_the_list_that_fixed_it_before(lived: Lived) -> None:
    """The seal's number and the serial by the list of election day, issued before anybody read them."""
    found = next(one for one in answers(lived.life()) if one.asked is Asked.EXPECTED)
    told = {(entry.subject, entry.number or entry.said_of("serial")) for entry in found.entries}
    assert (LID, lived.number) in told
    assert ("station/S01/ballot-scanner/1/scanner", SERIAL) in told
    first_read = min(e.utc_ms for e in lived.life().of("seen.seal", "seen.serial"))
    assert max(entry.utc_ms for entry in found.entries) <= first_read


def test_the_correction_shows_both_numbers_who_and_why(lived: Lived) -> None:
    """The first number, the right one, the author of each and the reason."""
    found = next(one for one in answers(lived.life()) if one.asked is Asked.CORRECTED)
    first, second = found.entries
    assert (first.number, first.who(), first.stands) == ("0040000", (LEAD,), False)
    assert (second.number, second.reason) == (lived.number, "two digits swapped")


def test_a_thing_that_nobody_wrote_of_leaves_every_question_open(lived: Lived) -> None:
    """A spare that lay in the store: the record does not say, and no answer is made up."""
    for one in answers(life_of(lived.app.folder.fold(), about(lived.app.folder.election(), "LM-S-0007"))):
        assert one.is_open or one.asked in MAY_BE_NONE


def test_the_command_prints_each_question_and_numbers_only_where_asked(
    lived: Lived, said_by: Callable[..., str]
) -> None:
    """`pollstead why FOLDER SERIAL`: all questions; seal numbers with --numbers alone; JSON the same."""
    folder = lived.app.folder.path
    said = said_by("why", folder, SERIAL)
    assert all(words in said for words in WORDS.values())
    assert lived.number not in said and "0040000" not in said
    with_numbers = said_by("why", folder, SERIAL, "--numbers")
    assert lived.number in with_numbers and "0040000" in with_numbers
    assert "two digits swapped" in with_numbers
    content = json.loads(said_by("why", folder, SERIAL, "--json"))
    asked = {question["asked"]: question for question in content["record"]["questions"]}
    assert not [name for name, question in asked.items() if question["open"]]
    [cut] = asked["cut or void"]["steps"]
    assert content["record"]["steps"][cut - 1]["event"] == lived.events["cut"]
    assert lived.number not in json.dumps(content)


def test_the_command_keeps_back_what_a_second_person_has_still_to_read(
    lived: Lived, said_by: Callable[..., str]
) -> None:
    """One reading of the memory door: told as one entry that waits; both are told once two have read."""
    folder, door = lived.app.folder.path, LID.replace("/lid", "/memory-door")
    opening = days.SealSeen(step="opening", state="intact")
    there = {"site": "site/S01", "day": DAY}
    for word, who, waits in (("door", LEAD, 1), ("door again", DEPUTY, 0)):
        lived.write(word, opening, door, who, private=days.SealNumber(number="0049999"), **there)
        said = said_by("why", folder, SERIAL, "--numbers")
        assert ("0049999" in said) is not waits
        assert ("a second person has still to read it independently: 1" in said) is bool(waits)
        content = json.loads(said_by("why", folder, SERIAL, "--json"))["record"]
        assert content["kept_back"] == waits
        shown = {step["event"] for step in content["steps"]}
        assert (lived.events[word] in shown) is not bool(waits)


def test_the_box_on_every_page_leads_to_the_answers_by_need(lived: Lived) -> None:
    """Search leads to the page; a coordinator sees names and numbers, a reader neither."""
    found = lived.app.client(Role.COORDINATOR).get("/search", params={"q": SERIAL}).text
    assert f"/why?subject={SCANNER}#record" in found
    page = lived.app.client(Role.COORDINATOR).get("/why", params={"subject": SCANNER}).text
    assert lived.number in page and "Ida Fenwright" in page and "two digits swapped" in page
    page = lived.app.client(Role.READER).get("/why", params={"subject": SCANNER}).text
    assert "Who had it?" in page
    assert lived.number not in page and "Ida Fenwright" not in page and "two digits swapped" not in page


def test_nobody_who_still_has_to_read_a_line_sees_what_the_first_read(lived: Lived) -> None:
    """The deputy reads nothing of the lead's on a line that waits; the lead sees the own entry."""
    door = "closure/scanner/0002/lid"
    lived.write(
        "waiting",
        days.SealSeen(step="opening", state="not_intact"),
        door,
        LEAD,
        private=days.SealNumber(number="0040001"),
        site="site/S01",
        day=DAY,
    )
    del lived.events["waiting"]
    asks = {"subject": "LM-S-0002"}
    page = lived.app.client(Role.SITE_LEAD, DEPUTY).get("/why", params=asks).text
    assert "1 entry is kept back" in page and "not intact" not in page
    page = lived.app.client(Role.SITE_LEAD, LEAD).get("/why", params=asks).text
    assert "not intact" in page
