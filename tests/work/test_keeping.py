"""Sizing's results kept between plans: never another plan, only sooner; damage counts as absent."""

from __future__ import annotations

import functools
from pathlib import Path

import pytest
import sqlalchemy as sa

from pollstead.election.canonical import digest_of
from pollstead.plan.compose import compose
from pollstead.plan.lines.run import KEPT_PART
from pollstead.plan.lines.run import run as run_lines
from pollstead.plan.terms.part import Effort, NoWatch
from pollstead.plan.terms.version import Decisions, EngineVersion, Told
from pollstead.store.opening import open_store
from pollstead.store.schema import kept_results
from pollstead.work.county_folder import facts_of, version_of
from pollstead.work.keeping import ComparedKeeping, StoreKeeping
from pollstead.work.planning import plan_folder

TYPES = Path(__file__).parents[2] / "src" / "pollstead" / "intake" / "data" / "station_types_d.toml"
COUNTY = 'county = "Larkmoor"\nname = "Invented"\nelection_day = 2028-11-07\nzone = "America/Chicago"\n'
SITES = "id,name,expected_voters\nP1,Mill Hall,30\nP2,Reed Hall,40\nP3,Fen Hall,50\n"
PEOPLE = "id,name,role,site,phone\nP001,Tobin Marsh,coordinator,,555-0001\n"
FIXED = "table,row,field,value,reason\nstations,P1/check-in-book,count,2,two doors\n"


def made(folder: Path) -> Path:
    """A county folder of three tiny sites, at one of which a person fixed a number."""
    folder.mkdir()
    for name, text in (
        ("county.toml", COUNTY),
        ("sites.csv", SITES),
        ("people.csv", PEOPLE),
        ("fixed.csv", FIXED),
        ("station_types.toml", TYPES.read_text(encoding="utf-8")),
    ):
        (folder / name).write_text(text, encoding="utf-8")
    return folder


class Heard:
    """A watch that remembers how far the parts with sites came."""

    def __init__(self) -> None:
        self.kept: tuple[int, int] | None = None

    def step(self, part: str, done: int, total: int) -> None:
        """Remember what was kept."""
        if part == KEPT_PART:
            self.kept = (done, total)


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tiny county with one plan version."""
    folder = made(tmp_path_factory.mktemp("county") / "tiny")
    plan_folder(folder, watch=NoWatch())
    return folder


def _change_phone(folder: Path, phone: str) -> None:
    path = folder / "people.csv"
    text = path.read_text(encoding="utf-8")
    first = next(word for word in text.replace("\n", ",").split(",") if word.startswith("555-"))
    path.write_text(text.replace(first, phone, 1), encoding="utf-8")


def test_after_a_changed_phone_every_site_is_kept_and_the_plan_is_as_if_computed(planned: Path) -> None:
    """The version made with kept results has the digest of the one computed whole."""
    _change_phone(planned, "555-0181")
    heard = Heard()
    digest = plan_folder(planned, watch=heard)
    assert heard.kept == (3, 3)
    election, intake = facts_of(planned)
    with open_store(planned) as store:
        kept = version_of(store, digest)
        again = compose(
            election,
            intake.digest,
            Decisions(),
            1,
            Effort.QUICK,
            NoWatch(),
            kept.parent,
            told=Told(notices=intake.notices, leave_out=intake.not_planned),
            previous=version_of(store, kept.parent),
            engines=kept.engines,
        )
    assert digest_of(again) == digest


def test_a_damaged_result_is_computed_anew_and_a_changed_one_is_found(planned: Path) -> None:
    """Bytes that do not fit their digest are never used; a result that differs is named by a rebuild."""
    with open_store(planned) as store, store.database.writing() as connection:
        keys = list(connection.execute(sa.select(kept_results.c.key)).scalars())
        for key, data in zip(keys[:2], (b"not compressed", b""), strict=True):
            connection.execute(sa.update(kept_results).where(kept_results.c.key == key).values(bytes=data))
    heard = Heard()
    _change_phone(planned, "555-0182")
    plan_folder(planned, watch=heard)
    assert heard.kept is not None and heard.kept[0] < 3
    with open_store(planned) as store:
        assert store.kept.count() == len(keys)
        compared = ComparedKeeping(store)
        compared.put("never kept", b"x")
        assert (compared.same, compared.different) == (0, [])
        with StoreKeeping(store) as keeping:
            keeping.put("k", b"one")
        compared.put("k", b"one")
        compared.put("k", b"two")
        assert (compared.same, compared.different) == (1, ["k"])


def test_results_of_other_engines_are_not_used(planned: Path) -> None:
    """A new version of a library that computes sets its results apart."""
    with open_store(planned) as store:
        with StoreKeeping(store) as keeping:
            keeping.put("site", b"made by these")
            keeping.write()
            assert keeping.get("site") == b"made by these"
        other = StoreKeeping(store, made_by=(EngineVersion(name="numpy", version="0"),))
        assert other.get("site") is None


def test_what_was_not_used_for_longest_goes_first(planned: Path) -> None:
    """The table is bounded; what the last plans used stays."""
    with open_store(planned) as store:
        store.kept.save({"old": b"1"}, (), utc_ms=1)
        store.kept.save({"new": b"2"}, (), utc_ms=1 << 50)
        before = store.kept.count()
        assert store.kept.forget_unused(most=1) == before - 1
        assert (store.kept.get("old"), store.kept.get("new")) == (None, b"2")


def test_a_site_that_was_sized_before_a_stop_is_kept(planned: Path, tmp_path: Path) -> None:
    """A plan that is stopped halfway goes on from there: the sites that were done are not done again."""

    class Stop(Exception):
        """Somebody stopped it."""

    class Stopping(Heard):
        def step(self, part: str, done: int, total: int) -> None:
            super().step(part, done, total)
            if part == "lines" and done == 2:
                raise Stop

    folder = made(tmp_path / "tiny")
    with pytest.raises(Stop):
        plan_folder(folder, watch=Stopping(), workers=1)
    heard = Heard()
    plan_folder(folder, watch=heard)
    assert heard.kept == (2, 3)


def test_keeping_takes_only_what_follows_from_the_same(planned: Path) -> None:
    """Another seed or effort finds nothing kept; the answers handed out are those handed in."""
    kept: dict[str, bytes] = {}

    class Memory:
        def get(self, key: str) -> bytes | None:
            return kept.get(key)

        def put(self, key: str, data: bytes) -> None:
            assert key not in kept
            kept[key] = data

    election, intake = facts_of(planned)
    versions = [
        compose(
            election,
            intake.digest,
            Decisions(),
            seed,
            Effort.QUICK,
            NoWatch(),
            told=Told(notices=intake.notices, leave_out=intake.not_planned),
            lines_run=functools.partial(run_lines, keeping=Memory()),
        )
        for seed in (1, 2, 1)
    ]
    assert versions[0] == versions[2] != versions[1]
    # Three sites, and the one with a number that a person fixed once more without it; two seeds.
    assert len(kept) == 2 * 4
