"""How the station types of a kind of site become the voter path that is sized."""

from __future__ import annotations

from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.station_type import Service, SiteKind, StationType, StationUse, VoterStep
from pollstead.plan.stations.path import VoterPath, voter_path
from pollstead.plan.terms.lines import (
    SIZED,
)

RULES = CountyRules(settings=(RuleSetting(rule="accessible-stations", value=2),))


def kind(*types: StationType, uses: tuple[StationUse, ...] = ()) -> SiteKind:
    """A kind of site with these station types in this order."""
    return SiteKind(id="k", name="K", uses=uses or tuple(StationUse(station_type=t.id) for t in types))


def station(
    name: str, step: VoterStep, *, accessible: bool = False, mean_ms: int | None = 60_000
) -> StationType:
    """A station type of one step."""
    service = None if mean_ms is None else Service(mean_ms=mean_ms)
    return StationType(id=name, name=name, step=step, accessible=accessible, service=service)


DESK = station("desk", VoterStep.CHECK_IN)
BOOTH = station("booth", VoterStep.MARK)
HELPED = station("helped", VoterStep.MARK, accessible=True)
READER = station("reader", VoterStep.CAST)
BOX = station("box", VoterStep.CAST, mean_ms=None)
UNIT = station("unit", VoterStep.MARK_AND_CAST)


def path(*types: StationType, fixed: dict[str, int] | None = None, of: SiteKind | None = None) -> VoterPath:
    """The voter path through these types."""
    return voter_path(of or kind(*types), {t.id: t for t in types}, RULES, fixed or {})


def sized(found: VoterPath) -> dict[str, str]:
    """Station type by stage."""
    return {s.stage.value: s.station_type for s in found.sized}


def test_each_step_has_its_stage() -> None:
    """Check in, mark, mark at an accessible station, cast."""
    found = path(DESK, BOOTH, HELPED, READER)
    assert sized(found) == dict(
        zip([s.value for s in SIZED], ["desk", "booth", "helped", "reader"], strict=True)
    )
    assert found.path.accessible_share_ppm == RULES.whole("accessible-share")
    assert found.floor.by_stage() == (1, 1, 2, 1)


def test_a_ballot_box_makes_no_line() -> None:
    """Casting without a service time is not sized; the kind's number stands."""
    found = path(
        DESK,
        BOOTH,
        BOX,
        of=kind(
            uses=(
                StationUse(station_type="desk"),
                StationUse(station_type="booth"),
                StationUse(station_type="box", fixed=1),
            )
        ),
    )
    assert found.path.cast is None
    assert found.set == (("box", 1),)


def test_marking_and_casting_in_one_has_no_cast_stage() -> None:
    """Electronic recording: the voter is done where the voter marks."""
    found = path(DESK, UNIT)
    assert sized(found) == {"check-in": "desk", "mark": "unit"}
    assert found.path.cast is None


def test_where_every_station_is_accessible_all_voters_share_them() -> None:
    """One stage for everybody, and never fewer than the county's rule for accessible stations."""
    found = path(DESK, HELPED)
    assert sized(found) == {"check-in": "desk", "mark": "helped"}
    assert found.path.accessible is None
    assert found.floor.mark == 2


def test_a_second_type_for_a_stage_keeps_its_own_number() -> None:
    """Lines size the first type of a stage; a second one is set by the kind or by a person."""
    second = station("standing", VoterStep.MARK)
    uses = (
        StationUse(station_type="desk"),
        StationUse(station_type="booth"),
        StationUse(station_type="standing", minimum=3),
    )
    assert path(DESK, BOOTH, second, of=kind(uses=uses)).set == (("standing", 3),)
    assert path(DESK, BOOTH, second, of=kind(uses=uses), fixed={"standing": 5}).set == (("standing", 5),)


def test_a_type_fixed_at_none_serves_nobody() -> None:
    """A person who fixes 0 booths sends all voters to the next type of the same stage."""
    found = path(DESK, BOOTH, HELPED, READER, fixed={"booth": 0})
    assert sized(found) == {"check-in": "desk", "mark": "helped", "cast": "reader"}
    assert found.set == (("booth", 0),)


def test_an_untimed_step_is_an_assumption() -> None:
    """A check-in station without a service time is planned with an assumed one, and says so."""
    untimed = station("desk", VoterStep.CHECK_IN, mean_ms=None)
    found = path(untimed, BOOTH)
    assert [a.subject for a in found.assumptions] == ["station_type/desk"]
    assert found.path.check_in.law.mean_ms > 0


def test_a_site_without_check_in_holds_nobody_up_there() -> None:
    """Without a check-in station type the first step takes no time and has no line."""
    assert path(BOOTH, READER).path.limited() == (False, True, False, True)
