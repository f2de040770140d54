"""Logs that were filled in before or copied: advice to ask, never an accusation, and the day is the same."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from tests.reconcile.conftest import DAY, START

from pollstead.reconcile.observed import Observation, Someone, What, observations_of
from pollstead.reconcile.opening.pace import advice_on_readings
from pollstead.record.event import Means, Part
from pollstead.record.kinds import days

NEVER_SAID = ("fraud", "copied by", "false", "fake", "cheat", "tamper", "person/")


def sent(*steps: tuple[str, int, int], sheet: str = "") -> list[Observation]:
    """Entries as the form sends them: (person, seconds since the entry before, lines at once)."""
    now, found = START, []
    for number, (person, gap_s, lines) in enumerate(steps):
        now += gap_s * 1000
        found += [
            Observation(
                event=f"{number}-{line}",
                kind="seen.seal",
                what=What.SEAL,
                subject=f"closure/a/{number}/{line}",
                site="S01",
                day=DAY.isoformat(),
                sheet=sheet,
                people=(Someone(person=f"person/{person}", part=Part.AUTHOR, means=Means.NAME_ONLY),),
                recorder="tablet/1",
                utc_ms=now + 3 * line,
            )
            for line in range(lines)
        ]
    return found


def words(seen: list[Observation]) -> list[str]:
    """The advice in English."""
    return [one.english() for one in advice_on_readings(seen)]


def test_forty_lines_half_a_minute_after_the_first_person_are_remarked() -> None:
    """The second person's form comes 30 s after the first one's: too fast to have read forty lines."""
    (said,) = words(sent(("P1", 0, 40), ("P2", 30, 40)))
    assert said.startswith("advice: 40 lines were entered 29 s after the entry before.")
    assert words(sent(("P1", 0, 40), ("P2", 600, 40))) == []


def test_entries_at_equal_intervals_are_remarked_and_by_hand_they_are_not() -> None:
    """Nine devices 40 s apart to half a second; with a person's own pace nothing is said."""
    (said,) = words(sent(*[("P1", 40, 2)] * 9))
    assert said == ("advice: 9 entries came at equal intervals. Ask when they were read and written down.")
    assert words(sent(*[("P1", gap, 2) for gap in (40, 52, 31, 47, 60, 38, 45, 33, 50)])) == []
    assert words(sent(*[("P1", 1200, 2)] * 9)) == [], "a break is no pace"


def test_all_lines_with_one_minute_are_remarked(case: Any) -> None:
    """Five clocks that one person read at 06:00; the differences stay what they are."""
    before = case.site()
    for number in range(5):
        case.record.clock += 60_000 + 7_000 * number
        case.record.clock_seen(f"device/x/{number}", 360, 360, "P001")
    found = words(list(observations_of(case.record.fold())))
    assert found == [
        "advice: the clocks of 5 devices were written down for one minute, 06:00. Ask when each was read."
    ]
    kept = {n.key for n in before.notices}
    assert kept <= {n.key for n in case.site().notices}


def test_what_is_typed_from_paper_says_nothing_of_the_pace_at_the_site() -> None:
    """The same times, typed next day from a sheet: typing has its own pace."""
    assert words(sent(("P1", 0, 40), ("P2", 30, 40), sheet="LM-SHEET-1")) == []


@pytest.mark.parametrize("seen", [sent(("P1", 0, 40), ("P2", 30, 40)), sent(*[("P1", 40, 2)] * 9)])
def test_advice_names_nobody_and_accuses_nobody(seen: list[Observation]) -> None:
    """Every sentence begins with the word advice, ends in a question to ask, and holds no person."""
    for said in words(seen):
        assert said.startswith("advice: ") and "Ask " in said
        assert not [word for word in NEVER_SAID if word in said.lower()]


def test_a_correction_is_no_pace() -> None:
    """Twelve corrections in a row are somebody mending, not reading."""
    seen = sent(("P1", 0, 40), ("P2", 5, 12))
    mended = [msgspec.structs.replace(o, corrects="0-0") if o.event.startswith("1-") else o for o in seen]
    assert words(mended) == []


def test_reconcile_prints_the_advice_and_counts_what_was_corrected(case: Any) -> None:
    """The lines of the command: a count of corrections, then advice; a quiet day has neither."""
    from pollstead.cli.reconcile import day_object

    quiet = day_object(case.day(), case.day().sites)["sites"][0]
    assert (quiet["corrections"], quiet["advice"]) == ([], [])
    wrong = case.record.number("device/scanner/S01-1", "public_counter_close", 412, "P001")
    right = days.CountRead(term="public_counter_close", value=421, source="screen")
    mended = case.record.correct(wrong, right, "P002")
    told = day_object(case.day(), case.day().sites)["sites"][0]
    assert told["corrections"] == [{"event": mended.id, "corrects": wrong.id}]
