"""One place and one custodian for each thing, and the people of each hand-off."""

from __future__ import annotations

from typing import Any

import pytest
from tests.reconcile.conftest import DAY, START, person

from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.reconcile.custody.legs import legs_of
from pollstead.reconcile.custody.one_place import custody_notices
from pollstead.reconcile.custody.places import held_things
from pollstead.record.event import Part
from pollstead.record.kinds import custody, days
from pollstead.record.write import Moment

CASE = "case/S01"


def handed(record: Any, place: str, *people: Any, kind: type = days.ThingReceived, **more: str) -> None:
    """One hand-off of the case with its people."""
    record.clock += 60_000
    body = (
        custody.ThingSent(from_place="site/S01", to_place=place)
        if kind is custody.ThingSent
        else days.ThingReceived(place=place, state="received", **more)  # type: ignore[arg-type]
    )
    record.recorder.record(
        body,
        subject=CASE,
        people=people,
        moment=Moment(utc_ms=record.clock, offset_min=-300, uncertainty_ms=0),
        site="site/S01",
        day=DAY.isoformat(),
    )


def told(record: Any, witness: str = "no") -> list[tuple[str, str]]:
    """The notices about custody."""
    rules = CountyRules(settings=(RuleSetting(rule="hand-off-witness", value=witness),))
    found = custody_notices(held_things(legs_of(record.fold())), rules)
    return [
        (n.rule, n.found if n.rule == "two-places" else n.text.english().rpartition("no ")[2]) for n in found
    ]


def test_a_case_that_goes_from_hand_to_hand_says_nothing(record: Any) -> None:
    """Sent by the site, received at the table by somebody from somebody."""
    assert record.clock == START
    handed(record, "receiving/1", person("P001"), person("P001", Part.GIVER), kind=custody.ThingSent)
    handed(record, "receiving/1", person("P003"), person("P001", Part.GIVER), person("P003", Part.RECEIVER))
    assert told(record) == []


def test_two_words_that_do_not_join_put_a_thing_at_two_places(record: Any) -> None:
    """Received at one table, and received at another one from somebody who never had it."""
    handed(record, "receiving/1", person("P003"), person("P001", Part.GIVER), person("P003", Part.RECEIVER))
    handed(record, "receiving/2", person("P005"), person("P004", Part.GIVER), person("P005", Part.RECEIVER))
    assert told(record) == [("two-places", "receiving/1, receiving/2")]


@pytest.mark.parametrize(("witness", "lacking"), [("no", []), ("yes", [("hand-off-people", "witness.")])])
def test_a_witness_is_asked_for_where_the_countys_rule_does(
    record: Any, witness: str, lacking: list[tuple[str, str]]
) -> None:
    """The rule decides; nothing is blocked."""
    handed(record, "receiving/1", person("P003"), person("P001", Part.GIVER), person("P003", Part.RECEIVER))
    assert told(record, witness) == lacking


def test_a_hand_off_from_nobody_is_told(record: Any) -> None:
    """Two signatures on one event: the giver is missing."""
    handed(record, "receiving/1", person("P003"), person("P003", Part.RECEIVER))
    assert told(record) == [("hand-off-people", "giver.")]
