"""The vector kernel: its source gives the same bits on checked arrays and on every kind of vector."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import types
from importlib.metadata import version
from pathlib import Path

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.lines.days import arrival_days, counts_for, paths

from pollstead.plan.lines import (
    draws,
    engine,
    kernel,
    kernel_draws,
    kernel_lines,
    kernel_stages,
    trusted,
    vectors,
    vectors_checked,
)
from pollstead.plan.lines.beside import absences_of
from pollstead.plan.lines.laws import gap_table, law_table
from pollstead.plan.lines.reference import NO_ABSENCES, Voter, tell_day
from pollstead.plan.lines.refused import LARGEST_KNOT, SURELY_FITS_MS, fast_engine_refuses
from pollstead.plan.lines.told import _binding, counted_day, told_day
from pollstead.plan.lines.traced import counted_hours
from pollstead.plan.lines.trials import Trials
from pollstead.plan.terms.lines import (
    SIZED,
    Absence,
    ArrivalDay,
    Curbside,
    Failures,
    Jams,
    LawKind,
    ServiceLaw,
    SitePath,
    StageWork,
    WaitLimit,
)

LIMIT = WaitLimit(limit_ms=600_000, risk_ppm=50_000)


def on_checked_arrays() -> tuple[types.ModuleType, types.ModuleType]:
    """The kernel's own source once more, its words taken from ``vectors_checked``; draws and lines."""
    made: dict[str, types.ModuleType] = {}
    for module in (kernel_draws, kernel_lines, kernel_stages, kernel):
        path = Path(module.__file__ or "")
        source = path.read_text(encoding="utf-8")
        assert source.count("from pollstead.plan.lines import vectors as v\n") == 1
        twin = types.ModuleType(f"{module.__name__}_checked")
        changed = source.replace("import vectors as v\n", "import vectors_checked as v\n")
        # Of two parts of the kernel one takes the other's twin, too.
        for known in made:
            changed = changed.replace(f"from {known} import", f"from {known}_checked import")
        with pytest.MonkeyPatch.context() as patch:
            for known, one in made.items():
                patch.setitem(sys.modules, f"{known}_checked", one)
            exec(compile(changed, str(path), "exec"), twin.__dict__)  # noqa: S102  our own source
        made[module.__name__] = twin
    return made[kernel_draws.__name__], made[kernel.__name__]


@settings(max_examples=8, deadline=None)
@given(
    path=paths(reference_only=False),
    day=arrival_days(),
    key=st.integers(0, 2**63 - 1),
    totals=st.lists(st.integers(0, 40), min_size=1, max_size=20),
    numbers=st.lists(st.tuples(*[st.integers(1, 6)] * 4), min_size=1, max_size=3),
)
def test_the_same_source_on_checked_arrays_gives_the_same_bits(
    path: SitePath,
    day: ArrivalDay,
    key: int,
    totals: list[int],
    numbers: list[tuple[int, int, int, int]],
) -> None:
    """Rows and voters are equal, and no place, time or number is out of its range."""
    trials = Trials(path, day, LIMIT, key)
    given_days = (
        key, 3, np.array(totals), np.array(totals) // 3, trials._edges, trials._cumulative, trials._tables,
        trials._threshold, trials._chances,
    )  # fmt: skip
    listed = sorted(counts_for(path, n) for n in numbers)
    how = (day.open_ms, np.array(listed), 600_000, 40, absences_of(day, listed), trials._curb_stations)
    mine = engine.pass_days(engine.draw_days(*given_days), *how)
    with pytest.MonkeyPatch.context() as patch:
        checked_draws, checked = on_checked_arrays()
        patch.setattr(engine, "kernel_draws", checked_draws)
        patch.setattr(engine, "kernel", checked)
        with np.errstate(over="ignore"):
            theirs = engine.pass_days(engine.draw_days(*given_days), *how)
    assert (mine[0] == theirs[0]).all()
    assert (mine[1] == theirs[1]).all()


def test_checked_arrays_refuse_what_the_vectors_must_never_meet() -> None:
    """A place outside the array, a number too large for it, a time that is none: each is an error there."""
    row = np.zeros(32, np.int64)
    ones = vectors_checked.all_of(1)
    with pytest.raises(IndexError, match="32"):
        vectors_checked.load(row, 17)
    with pytest.raises(IndexError):
        vectors_checked.look_up(row, vectors_checked.all_of(32))
    with pytest.raises(OverflowError):
        vectors_checked.store_narrow(np.zeros(16, np.int32), 0, vectors_checked.all_of(1 << 31))
    with pytest.raises(ValueError, match="a time lies"):
        vectors_checked.sooner(ones, ones)
    foreign = {
        "annotations",
        "intrinsic",
        "ir",
        "models",
        "njit",
        "register_model",
        "types",
        "words_of_parts",
    }
    words = {n for n in vars(vectors) if n.islower() and not n.startswith("_")} - foreign
    assert words <= set(dir(vectors_checked))


def test_the_engine_passes_its_test_with_the_versions_that_are_locked() -> None:
    """The digest, taken with the versions written beside it, which are those installed."""
    assert {name: version(name) for name in trusted.TAKEN_WITH} == trusted.TAKEN_WITH
    assert trusted.digest_of_small_days() == trusted.KNOWN_DIGEST
    assert trusted.fast_engine_is_right()


@pytest.mark.parametrize(
    "processor",
    [
        pytest.param("nehalem", marks=(pytest.mark.full, pytest.mark.begins_first)),
        pytest.param("haswell", marks=pytest.mark.long),
        pytest.param("generic", marks=pytest.mark.long),
    ],
)
def test_other_processors_vectors_give_the_same_digest(processor: str, tmp_path: Path) -> None:
    """Code for AVX2, for SSE 4.2 and for the oldest processors of the kind: the same bits of every day."""
    code = (
        "import json; from pollstead.plan.lines import trusted, vectors;"
        "print(json.dumps([vectors.machine(), trusted.digest_of_small_days()]))"
    )
    environment = dict(
        os.environ, NUMBA_CPU_NAME=processor, NUMBA_CPU_FEATURES="", NUMBA_CACHE_DIR=str(tmp_path)
    )
    if processor == "haswell":
        environment["NUMBA_CPU_FEATURES"] = "+avx,+avx2,+sse2,+sse4.2"
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True
    )
    machine, digest = json.loads(done.stdout)
    assert digest == trusted.KNOWN_DIGEST
    assert machine == "avx2" if processor == "haswell" else machine != vectors.machine()


def test_an_engine_that_fails_its_test_is_not_used(monkeypatch: pytest.MonkeyPatch) -> None:
    """Then every day is told event by event, with the same rows."""
    path = SitePath(check_in=StageWork(law=ServiceLaw(mean_ms=60_000, cv_ppm=500_000)))
    day = small_day()
    fast = Trials(path, day, LIMIT, 4)
    rows = fast.rows([(1, 0, 0, 0), (2, 0, 0, 0)], 0, 3)
    assert fast.reference_days == 0
    monkeypatch.setattr("pollstead.plan.lines.trials.fast_engine_is_right", lambda: False)
    slow = Trials(path, day, LIMIT, 4)
    assert (slow.rows([(1, 0, 0, 0), (2, 0, 0, 0)], 0, 3) == rows).all()
    assert slow.reference_days == 6


def small_day(voters: int = 50) -> ArrivalDay:
    """One hour."""
    from datetime import date

    from pollstead.election.values import frozen_array

    return ArrivalDay(
        date=date(2026, 11, 3),
        open_ms=0,
        close_ms=3_600_000,
        slot_weights=frozen_array([1, 2, 1, 1], "int64"),
        totals=frozen_array([voters], "int64"),
        opening_line_share_ppm=100_000,
    )


def test_a_law_beyond_the_tables_is_refused_and_told_by_the_other_engine() -> None:
    """A mean of one hour, a deviation of three: a service in a million would take weeks."""
    wide = StageWork(law=ServiceLaw(mean_ms=3_600_000, cv_ppm=3_000_000))
    path, day = SitePath(check_in=wide), small_day(6)
    assert fast_engine_refuses(path, day, (2, 0, 0, 0)) is not None
    trials = Trials(path, day, LIMIT, 9)
    rows = trials.rows([(2, 0, 0, 0)], 0, 2)[0]
    for number in range(2):
        told, voters = told_day(path, day, 9, number, 6, (2, 0, 0, 0))
        assert tuple(rows[number]) == counted_day(told, voters, day, LIMIT.limit_ms).row
    with pytest.raises(ValueError, match="knots"):
        trials._drawn(0, 2, 1_000_000)


def test_laws_with_long_tails_are_drawn_by_the_fast_engine_too() -> None:
    """An exponential marking of 45 minutes: its tail is beyond the packed tables; all is equal."""
    long = StageWork(law=ServiceLaw(kind=LawKind.EXPONENTIAL, mean_ms=2_700_000), limited=False)
    wide = StageWork(law=ServiceLaw(mean_ms=2_000_000, cv_ppm=1_500_000))
    path = SitePath(check_in=wide, mark=long, accessible=wide, accessible_share_ppm=400_000, cast=wide)
    day = small_day(60)
    counts = (9, 0, 4, 5)
    assert fast_engine_refuses(path, day, counts) is None
    rows = Trials(path, day, LIMIT, 9).rows([counts], 0, 40)[0]
    for number in range(40):
        told, voters = told_day(path, day, 9, number, 60, counts)
        assert tuple(rows[number]) == counted_day(told, voters, day, LIMIT.limit_ms).row


def test_no_law_of_a_small_mean_comes_near_the_tables_bound() -> None:
    """The widest laws that the terms allow, at the mean up to which nobody looks."""
    widest = [
        ServiceLaw(kind=k, mean_ms=SURELY_FITS_MS, cv_ppm=3_000_000)
        for k in (LawKind.LOGNORMAL, LawKind.GAMMA)
    ]
    edge = (*[0] * 256, 1)
    widest.append(ServiceLaw(kind=LawKind.EMPIRICAL, mean_ms=SURELY_FITS_MS, quantiles_ms=edge))
    assert all(int(law_table(law).max()) <= LARGEST_KNOT for law in widest)


def busy_site() -> tuple[SitePath, ArrivalDay]:
    """Everything at once: many voters need accessible stations or the curb, many ballots jam, much fails."""
    from pollstead.plan.terms.lines import Breaks, Stage

    often = Failures(mean_use_ms=3_600_000, repair=ServiceLaw(mean_ms=600_000, cv_ppm=800_000))

    def work(mean_ms: int) -> StageWork:
        return StageWork(law=ServiceLaw(mean_ms=mean_ms, cv_ppm=600_000), failures=often)

    path = SitePath(
        check_in=work(90_000), mark=work(300_000), accessible=work(500_000), accessible_share_ppm=150_000,
        cast=work(20_000),
        jams=Jams(chance_ppm=80_000, time=ServiceLaw(mean_ms=120_000, cv_ppm=500_000)),
        curbside=Curbside(share_ppm=100_000, stations=2, law=ServiceLaw(mean_ms=700_000, cv_ppm=500_000)),
    )  # fmt: skip
    breaks = tuple(
        Breaks(stage=stage, lasts_ms=300_000, from_ms=600_000, until_ms=3_000_000) for stage in SIZED
    )
    late = Absence(stage=Stage.CHECK_IN, from_ms=0, until_ms=900_000, only_above=1)
    return path, msgspec.structs.replace(small_day(90), breaks=breaks, absences=(late,))


def test_a_day_on_which_everything_happens_is_equal_row_by_row_and_voter_by_voter() -> None:
    """Breaks, late shifts, failures, jams and the curb at once, in two full vectors and a part of one."""
    path, day = busy_site()
    trials = Trials(path, day, LIMIT, 31)
    candidates = [(2, 6, 1, 1), (2, 6, 2, 1), (2, 7, 2, 1), (3, 7, 2, 2)]
    rows = trials.rows(candidates, 0, 40, late_ms=60_000)
    assert trials.reference_days == 0
    for c, counts in enumerate(candidates):
        for number in (0, 7, 39):
            told, voters = told_day(path, day, 31, number, 90, counts, 60_000)
            assert tuple(rows[c, number]) == counted_day(told, voters, day, LIMIT.limit_ms).row
            trace = trials.one_day(counts, number, 60_000)
            assert [tuple(w) for w in trace[1:4].T.tolist()] == list(told.waits_ms)
            assert trace[6].tolist() == [v.curbside for v in voters]
    assert (rows[:, :, engine.SUM_CURBSIDE] > 0).any() and (rows[:, :, engine.BINDING] == 4).any()


@pytest.mark.full
@settings(max_examples=60, deadline=None)
@given(
    path=paths(reference_only=False),
    day=arrival_days(),
    key=st.integers(0, 2**63 - 1),
    first=st.integers(0, 2**21),
    days=st.integers(1, 20),
    numbers=st.lists(st.tuples(*[st.integers(1, 6)] * 4), min_size=1, max_size=3),
    late_ms=st.sampled_from([0, 1, 3_600_000]),
)
def test_any_day_that_the_fast_engine_does_equals_the_day_told_event_by_event(
    path: SitePath,
    day: ArrivalDay,
    key: int,
    first: int,
    days: int,
    numbers: list[tuple[int, int, int, int]],
    late_ms: int,
) -> None:
    """Every column of the row, every wait of every voter, and the hours and lines of the day."""
    trials = Trials(path, day, LIMIT, key)
    candidates = sorted({counts_for(path, n) for n in numbers})
    rows = trials.rows(candidates, first, days, late_ms)
    assert trials.reference_days == 0
    if path.curbside is None and day.totals[0] > 0:
        latest = trials._draw(first, days, 1_000_000).latest_ms(
            day.open_ms + late_ms, np.array(candidates), absences_of(day, candidates)
        )
        assert latest >= rows[:, :, engine.LAST_OUT].max()
    for c, counts in enumerate(candidates):
        told, voters = told_day(path, day, key, first, int(day.totals[0]), counts, late_ms)
        plain = counted_day(told, voters, day, LIMIT.limit_ms)
        assert tuple(rows[c, 0]) == plain.row
        trace = trials.one_day(counts, first, late_ms)
        assert trace[0].tolist() == [v.arrives_ms for v in voters]
        assert [tuple(w) for w in trace[1:4].T.tolist()] == list(told.waits_ms)
        came, over, longest, lines = counted_hours(day, trace, LIMIT.limit_ms)
        assert (tuple(came), tuple(over), tuple(longest)) == (plain.voters, plain.over, plain.longest_ms)
        assert [tuple(line) for line in lines.tolist()] == list(plain.lines)


def test_an_absence_that_nobody_lives_to_see_changes_nothing() -> None:
    """Due in 30,000 years, or so long after closing that its end has no room in a key."""
    path, day = busy_site()
    far = tuple(
        Absence(stage=SIZED[k], from_ms=from_ms, lasts_ms=172_800_000)
        for k, from_ms in enumerate((10**15, 2**44, 2**36, 10**9))
    )
    wanted = Trials(path, day, LIMIT, 3).rows([(2, 6, 1, 1)], 0, 4)
    trials = Trials(path, msgspec.structs.replace(day, absences=(*day.absences, *far)), LIMIT, 3)
    assert (trials.rows([(2, 6, 1, 1)], 0, 4) == wanted).all()
    assert trials.reference_days == 0


def test_of_two_longest_waits_at_the_curb_and_inside_the_first_at_the_door_counts() -> None:
    """Doors an hour late: the first inside and the first at the curb wait the same hour; who came first
    binds."""
    fixed = ServiceLaw(kind=LawKind.DETERMINISTIC, mean_ms=1)
    path = SitePath(
        check_in=StageWork(law=fixed), curbside=Curbside(share_ppm=500_000, stations=500, law=fixed)
    )
    day = small_day(40)
    rows = Trials(path, day, LIMIT, 1).rows([(100, 0, 0, 0)], 0, 12, late_ms=3_600_000)[0]
    for number in range(12):
        told, voters = told_day(path, day, 1, number, 40, (100, 0, 0, 0), 3_600_000)
        assert tuple(rows[number]) == counted_day(told, voters, day, LIMIT.limit_ms).row
        assert rows[number, engine.BINDING] == (4 if voters[0].curbside else 0)
    assert len(set(rows[:, engine.BINDING].tolist())) == 2


def test_days_that_a_key_has_no_room_for_are_told_by_the_other_engine() -> None:
    """Where the latest possible moment is too far, the engine refuses and the trials tell the day."""
    path = SitePath(check_in=StageWork(law=ServiceLaw(kind=LawKind.DETERMINISTIC, mean_ms=60_000)))
    trials = Trials(path, small_day(40), LIMIT, 2)
    wanted = trials.rows([(1, 0, 0, 0), (40, 0, 0, 0)], 0, 2)
    drawn = trials._drawn(0, 2, 1_000_000)
    tried = np.array([[1, 0, 0, 0], [40, 0, 0, 0]])
    assert drawn.latest_ms(0, tried) >= int(wanted[:, :, engine.LAST_OUT].max())
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(kernel_lines, "TIME_BITS", 29)
        assert not drawn.has_room(0, tried) and drawn.has_room(0, tried[1:])
        with pytest.raises(ValueError, match="too long for a key"):
            engine.pass_days(drawn, 0, tried, 600_000)
        assert (trials.rows([(1, 0, 0, 0), (40, 0, 0, 0)], 0, 2) == wanted).all()
    assert trials.reference_days == 2


def test_packed_knots_draw_what_the_plain_table_draws() -> None:
    """300 words and the edges of every cell: the vectors' quantile is the plain one, for any law."""
    rng = np.random.default_rng(8)
    words = np.concatenate([
        rng.integers(0, 2**64, 304, np.uint64), np.uint64(0xFFFF) * rng.integers(0, 2**48, 16, np.uint64),
        np.arange(256, dtype=np.uint64) << np.uint64(56), ~(np.arange(256, dtype=np.uint64) << np.uint64(48)),
    ])  # fmt: skip
    checked_draws, _ = on_checked_arrays()
    for table in (gap_table(), law_table(ServiceLaw(mean_ms=300_000, cv_ppm=900_000))):
        packed = engine._packed(np.stack([np.array(table)]))
        found = [
            checked_draws.quantile(packed, vectors_checked.all_of(0), words[k : k + 16].view(np.int64))
            for k in range(0, len(words), 16)
        ]
        assert np.concatenate(found).tolist() == [draws.quantile(table.tolist(), int(w)) for w in words]


def told_plainly(
    key, first_day, totals, waiting, opens_ms, edges, shares, tables, threshold, candidates, limit_ms, most,
    chances, absences, curb_stations,
):  # fmt: skip
    """What ``engine.simulate_days`` gives, from the plain draws and the event-by-event telling."""
    tables = tables.tolist()
    rows = np.zeros((len(candidates), len(totals), engine.COLUMNS), np.int64)
    trace = np.zeros((7, most), np.int64)
    # The voters shown are of the first day of the last sixteen, days in order of their voters.
    shown = np.argsort(-totals, kind="stable")[len(totals) // 16 * 16]
    for d, n in enumerate(totals.tolist()):
        day = first_day + d
        times = draws.arrivals_ms(key, day, n, int(waiting[d]), edges.tolist(), shares.tolist(), tables[0])
        people = [
            plain_voter(
                key, day, who, arrives, tables, threshold, [0] * 6 if chances is None else chances.tolist()
            )
            for who, arrives in enumerate(times)
        ]
        for c, counts in enumerate(candidates.tolist()):
            away = NO_ABSENCES if absences is None else plain_absences(absences, c)
            told = tell_day(
                people, tuple(counts), opens_ms, int(edges[0]), absences=away, curbside_stations=curb_stations
            )
            waits = [sum(w) for w in told.waits_ms]
            sums = told.sums_ms(people)
            rows[c, d, :3] = (
                told.longest_ms,
                sum(w > limit_ms for w in waits),
                told.last_out_ms if n else edges[-1],
            )
            rows[c, d, 3:7] = sums[:4]
            rows[c, d, engine.BINDING] = _binding(told, people)
            rows[c, d, engine.SUM_CURBSIDE] = sums[4]
            if c == len(candidates) - 1 and d == shown:
                for who, (voter, w) in enumerate(zip(people, told.waits_ms, strict=True)):
                    mark = -1 - voter.mark_ms if voter.accessible else voter.mark_ms
                    trace[:, who] = voter.arrives_ms, *w, mark, voter.check_in_ms, voter.curbside
    return rows, trace


def plain_voter(key, day, who, arrives, tables, threshold, chances):
    """One voter of a small day, by ``draws`` alone."""
    *rates, jam_below, curb_below = chances
    if curb_below > 0 and draws.at_curb(key, day, who, curb_below):
        whole = draws.quantile(tables[6], draws.word(key, day, who, draws.CHECK_IN))
        return Voter(arrives, False, whole, 0, 0, curbside=True)
    special = threshold > 0 and draws.needs_accessible(key, day, who, threshold)
    takes, repairs = [], []
    for step, (law, purpose) in enumerate(
        zip((1, 3 if special else 2, 4), (draws.CHECK_IN, draws.MARK, draws.CAST), strict=True)
    ):
        bits = draws.word(key, day, who, purpose)
        takes.append(draws.quantile(tables[law], bits))
        out = rates[law - 1] > 0 and draws.fails(bits, takes[-1], rates[law - 1])
        repair = draws.word(key, day, who, draws.REPAIR[step])
        repairs.append(draws.quantile(tables[6 + law], repair) if out else 0)
    jam = 0
    if draws.jams(key, day, who, jam_below):
        jam = draws.quantile(tables[5], draws.word(key ^ draws.OTHER_KEY, day, who, draws.JAM_TIME))
    return Voter(arrives, special, *takes, repair_ms=tuple(repairs), jam_ms=jam)


def plain_absences(absences, candidate):
    """The absences of one candidate as values."""
    return tuple(
        tuple(
            Absence(stage=stage, from_ms=a, lasts_ms=b, until_ms=c)
            for a, b, c in absences.rows[first:last].tolist()
        )
        for stage, (first, last) in zip(SIZED, absences.spans[candidate].tolist(), strict=True)
    )


def test_the_reference_engine_gives_the_digest_too() -> None:
    """So the digest stands for the model, not for what the fast engine once gave."""
    assert trusted.digest_of_small_days(told_plainly) == trusted.KNOWN_DIGEST
