"""Suggested acts carried out in play: what a look can find, and what it cannot."""

from __future__ import annotations

from bench.counts import acts, by_ear, omissions, slips
from bench.counts.night import Fault, Seeded
from bench.counts.score import acts_figures
from bench.counts.site_days import site_days
from bench.counts.slips import HandSlips

from pollstead.reconcile.explain.odds import USUAL


def test_what_was_copied_wrongly_is_found_by_looking_and_what_is_written_nowhere_is_not() -> None:
    """Every slip, every number heard wrong; omissions whose right number still stands somewhere."""
    slipped = [label for label, _ in slips.MECHANISMS]
    assert all(acts.is_found_by_looking(label) for label in (*slipped, *by_ear.WAYS))
    assert set(omissions.WEIGHTS) >= acts.A_LOOK_FINDS
    assert not acts.is_found_by_looking("spoiled ballot not put in its envelope")
    assert acts.is_found_by_looking("memory device not read")


def _report_misread() -> Seeded:
    """A night whose closing report was read with two digits exchanged: two numbers alone may be wrong."""
    day = next(one for one in site_days(1) if one.kind == "hand-marked")
    truth = HandSlips((day,)).draw(2, 0, 0).read
    key = f"report_count_close@{day.devices[0]}"
    digits = str(truth[key])
    place = next(n for n in range(len(digits) - 1) if digits[n] != digits[n + 1])
    read = int(digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :])
    return Seeded(day, truth, {**truth, key: read}, (Fault("exchanged digits", ((key, truth[key], read),)),))


def _look_at(*keys: str) -> acts.Chooser:
    """These numbers, one after the other, whatever the explainer would say."""

    def chosen(night: Seeded, odds: object, pack: int, looked: set[str]) -> str | None:
        return next((key for key in keys if key not in looked), None)

    return chosen


def test_a_look_at_the_wrong_number_closes_the_night() -> None:
    """One look elsewhere changes nothing, the second finds what is there: closed after two acts."""
    night = _report_misread()
    ((key, _, _),) = night.faults[0].changes
    played = acts.play(night, USUAL, slips.PACK, "seed", _look_at("ballots_unused", key))
    assert played == acts.Played(findable=True, closed=True, acts=2, offered=True)


def test_where_nothing_is_suggested_nothing_is_settled() -> None:
    """The night could be settled by looking, and nobody was told where."""
    played = acts.play(_report_misread(), USUAL, slips.PACK, "seed", _look_at())
    assert played == acts.Played(findable=True, closed=False, acts=0, offered=False)


def test_a_fault_that_is_written_nowhere_is_never_settled_by_looking() -> None:
    """A spoiled ballot in no envelope: each look shows what was read before, and the difference stays."""
    night = _report_misread()
    key = "ballots_spoiled"
    was = night.truth[key]
    assert was > 0
    missing = Fault("spoiled ballot not put in its envelope", ((key, was, was - 1),))
    read = {**night.truth, key: was - 1}
    seeded = Seeded(night.day, night.truth, read, (missing,))
    played = acts.play(seeded, USUAL, slips.PACK, "s", _look_at(key, "ballots_fled"))
    assert not played.findable
    assert not played.closed


def test_the_likeliest_number_is_one_that_the_first_explanation_names() -> None:
    """A misread report: report or memory or screen of that device; each number is chosen once."""
    night = _report_misread()
    chosen = acts.likeliest(night, USUAL, slips.PACK, set())
    assert chosen is not None
    assert chosen in night.read
    assert acts.likeliest(night, USUAL, slips.PACK, {chosen}) != chosen


def test_the_share_that_acts_settle_is_of_what_a_look_can_settle() -> None:
    """Of two nights that a look can settle one is: 0.5; of all four a quarter."""
    nights = [
        acts.Played(findable=True, closed=True, acts=1, offered=True),
        acts.Played(findable=True, closed=False, acts=3, offered=True),
        acts.Played(findable=False, closed=False, acts=2, offered=True),
        acts.Played(findable=False, closed=False, acts=0, offered=False),
    ]
    found = acts_figures(nights)
    assert found["acts_settle_of_those_a_look_can_settle"] == 0.5
    assert found["first_act_settles_of_those"] == 0.5
    assert found["acts_settle_of_all"] == 0.25
    assert found["a_look_can_settle_of_all"] == 0.5
    assert found["an_act_is_suggested"] == 0.75
    assert found["acts_done"] == 1.5
