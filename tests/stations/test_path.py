"""How the station types of a kind of site become the voter path that is sized."""

from __future__ import annotations

from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.station_type import Failure, Service, SiteKind, StationType, StationUse, VoterStep
from pollstead.plan.stations.path import VoterPath, voter_path
from pollstead.plan.terms.lines import HOUR_MS, SIZED, SitePath

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


def test_the_countys_rules_bring_jams_the_curb_and_leaving_into_the_path() -> None:
    """Each switch alone; without any the path is as if they did not exist."""
    types = {t.id: t for t in (DESK, BOOTH, HELPED, READER)}
    whole = kind(DESK, BOOTH, HELPED, READER)

    def with_rule(rule: str, value: int | str) -> SitePath:
        rules = CountyRules(settings=(*RULES.settings, RuleSetting(rule=rule, value=value)))
        return voter_path(whole, types, rules, {}).path

    plain = path(DESK, BOOTH, HELPED, READER).path
    assert (plain.jams, plain.curbside, plain.patience, plain.accessible_open) == (None, None, None, False)
    jams = with_rule("jam-chance", 2_000).jams
    assert jams is not None
    assert (jams.chance_ppm, jams.time.mean_ms) == (2_000, 120_000)
    curb = with_rule("curbside-share", 10_000).curbside
    assert curb is not None
    assert (curb.share_ppm, curb.stations, curb.law.mean_ms) == (10_000, 1, 900_000)
    patience = with_rule("line-patience", 60).patience
    assert patience is not None
    assert patience.mean_ms == HOUR_MS
    assert with_rule("accessible-open", "yes").accessible_open


def test_no_ballot_jams_where_none_is_scanned() -> None:
    """A ballot box has no scanner; a rule about jams changes nothing there."""
    rules = CountyRules(settings=(RuleSetting(rule="jam-chance", value=2_000),))
    found = voter_path(kind(DESK, BOOTH, BOX), {t.id: t for t in (DESK, BOOTH, BOX)}, rules, {})
    assert found.path.jams is None


def test_a_station_type_that_fails_says_how_often_and_for_how_long() -> None:
    """Hours of use between failures and minutes of repair reach the line; assumed figures are told."""
    failure = Failure(mean_use_hours=150, repair_minutes=20, assumed=True)
    reader = StationType(
        id="reader", name="r", step=VoterStep.CAST, service=Service(mean_ms=15_000), failure=failure
    )
    found = path(DESK, BOOTH, reader)
    assert found.path.cast is not None
    fails = found.path.cast.failures
    assert fails is not None
    assert (fails.mean_use_ms, fails.repair.mean_ms) == (150 * HOUR_MS, 1_200_000)
    assert [(a.field, a.value) for a in found.assumptions] == [("failure", "150 h, 20 min")]
