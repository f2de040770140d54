"""Snapshots, plan versions, jobs, settings and sheets."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

import alembic.command
import alembic.config
import pytest
import sqlalchemy as sa

from pollstead.store.database import Database, database_url
from pollstead.store.jobs import JobState
from pollstead.store.opening import Store, open_store
from pollstead.store.sheets import Sheet
from pollstead.store.trouble import ChangedInStore
from pollstead.store.versions import PlanVersion


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """An empty store."""
    with open_store(tmp_path) as opened:
        yield opened


def test_snapshots_are_kept_under_their_digest(store: Store) -> None:
    """Saved twice they are one; a digest that is not there is said."""
    first = store.snapshots.save(b"facts", label="first", created_utc_ms=1)
    assert store.snapshots.save(b"facts", label="again", created_utc_ms=2) == first
    second = store.snapshots.save(b"other", label="second", created_utc_ms=3)
    assert store.snapshots.load(first) == b"facts"
    assert [line.digest for line in store.snapshots.list()] == [second, first]
    with pytest.raises(ValueError, match="must be one that is kept"):
        store.snapshots.load("0" * 64)


ONE, TWO = (hashlib.sha256(data).hexdigest() for data in (b"one", b"two"))


def plan(digest: str, created: int) -> PlanVersion:
    """A plan version."""
    return PlanVersion(
        digest=digest,
        parent="",
        snapshot="f" * 64,
        label="quick",
        effort="quick",
        seed="18446744073709551615",
        stopped_early=False,
        created_utc_ms=created,
    )


def test_plan_versions_are_kept_once(store: Store) -> None:
    """Equal bytes are kept once; other bytes under one digest are refused; labels may change."""
    assert store.plans.save(plan(ONE, 1), b"one")
    assert not store.plans.save(plan(ONE, 2), b"one")
    with pytest.raises(ValueError, match="equal inputs give equal plans"):
        store.plans.save(plan(ONE, 2), b"two")
    assert store.plans.save(plan(TWO, 3), b"two")
    assert store.plans.load(ONE) == b"one"
    assert store.plans.relabel(ONE, "approved")
    assert [version.label for version in store.plans.list()] == ["quick", "approved"]
    assert store.plans.list()[0] == plan(TWO, 3)
    with pytest.raises(ValueError, match="must be one that is kept"):
        store.plans.load("c" * 64)


def test_changed_bytes_of_a_plan_version_are_named(store: Store) -> None:
    """A version whose bytes do not fit its digest is not read as if it were the one that was kept."""
    store.plans.save(plan(ONE, 1), b"another")
    with pytest.raises(ChangedInStore, match=f"Plan version {ONE[:16]} was changed"):
        store.plans.load(ONE)


def request(store: Store, job_id: str, utc_ms: int) -> None:
    """Put a job in line."""
    store.jobs.request(job_id=job_id, kind="plan", arguments=b"{}", requested_by="person/P1", utc_ms=utc_ms)


def test_a_job_goes_from_waiting_to_done(store: Store) -> None:
    """Taken in order, once each, with progress and result."""
    request(store, "j2", 20)
    request(store, "j1", 10)
    taken = store.jobs.take(30)
    assert taken is not None and (taken.id, taken.state, taken.started_utc_ms) == ("j1", JobState.RUNNING, 30)
    other = store.jobs.take(31)
    assert other is not None and other.id == "j2"
    assert store.jobs.take(32) is None
    assert store.jobs.progress("j1", done=3, total=9, message="sites")
    assert store.jobs.finish("j1", JobState.DONE, utc_ms=40, result=b"digest")
    done = store.jobs.get("j1")
    assert (done.state, done.progress_done, done.progress_total, done.result) == (
        JobState.DONE,
        3,
        9,
        b"digest",
    )
    assert not store.jobs.finish("j1", JobState.FAILED, utc_ms=41)
    assert [job.id for job in store.jobs.list()] == ["j2", "j1"]


def test_a_job_is_cancelled_and_restarted(store: Store) -> None:
    """One that waits stops at once; one that runs is told by its next progress note."""
    request(store, "j1", 10)
    assert store.jobs.cancel("j1", 11) is JobState.CANCELLED
    assert store.jobs.take(12) is None
    assert store.jobs.restart("j1")
    assert store.jobs.take(13) is not None
    assert store.jobs.cancel("j1", 14) is JobState.CANCELLING
    assert not store.jobs.progress("j1", done=1, total=2)
    assert store.jobs.finish("j1", JobState.CANCELLED, utc_ms=15)
    assert store.jobs.cancel("j1", 16) is JobState.CANCELLED
    with pytest.raises(ValueError, match="done, failed or cancelled"):
        store.jobs.finish("j1", JobState.RUNNING, utc_ms=17)
    with pytest.raises(ValueError, match="must be one in the table"):
        store.jobs.get("j9")


def test_sheet_serials_are_used_once(store: Store) -> None:
    """All sheets of a print run are kept or none; a used serial is named."""

    def sheet(serial: str, site: str = "site/S01") -> Sheet:
        return Sheet(
            serial=serial, kind="opening", site=site, day="2028-11-07",
            plan_digest="a" * 64, list_digest="", printed_utc_ms=1,
        )  # fmt: skip

    store.sheets.add([sheet("sheet/1"), sheet("sheet/2", "site/S02")])
    with pytest.raises(ValueError, match="used before: sheet/2"):
        store.sheets.add([sheet("sheet/3"), sheet("sheet/2")])
    assert store.sheets.get("sheet/3") is None
    assert store.sheets.get("sheet/1") == sheet("sheet/1")
    assert [s.serial for s in store.sheets.of(site="site/S02")] == ["sheet/2"]
    assert len(store.sheets.of(day="2028-11-07")) == 2
    store.sheets.add([])


def test_settings_are_kept_and_some_only_once(store: Store) -> None:
    """Set replaces, set once does not."""
    store.settings.set("a", b"1")
    store.settings.set("a", b"2")
    assert store.settings.get("a") == b"2"
    assert store.settings.set_once("a", b"3") == b"2"
    assert store.settings.set_once("b", b"4") == b"4"
    assert store.settings.get("c") is None


def test_sheets_of_an_older_store_are_read_without_what_was_not_kept(tmp_path: Path) -> None:
    """Opening a store of the first schema adds key, language, content and replaces, empty for old sheets."""
    path = tmp_path / "pollstead.db"
    database = Database(database_url(tmp_path))
    config = alembic.config.Config()
    config.set_main_option("script_location", "pollstead.store:migrations")
    with database.engine.begin() as connection:
        config.attributes["connection"] = connection
        alembic.command.upgrade(config, "0001")
        connection.execute(
            sa.text(
                "INSERT INTO sheets (serial, kind, site, day, plan_digest, list_digest, printed_utc_ms) "
                "VALUES ('AAAA-BBBB-CCCC', 'cover page', 'S01', '', 'd', '', 1)"
            )
        )
    database.close()
    assert path.exists()
    with open_store(tmp_path) as store:
        old = store.sheets.get("AAAA-BBBB-CCCC")
        assert old == Sheet("AAAA-BBBB-CCCC", "cover page", "S01", "", "d", "", 1)
        assert (old.key, old.language, old.content, old.replaces) == ("", "", "", "")
