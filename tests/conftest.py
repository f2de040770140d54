"""What every test shares: the fault seed of the run, the browser, and how hypothesis works here."""

from __future__ import annotations

import contextlib
import gc
import itertools
import os
import random
import secrets
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path

import hypothesis
import pytest
from tests.once import copied, facts_and_digest, made_once

from pollstead.store.database import Database, database_url

FAULT_SEED = "POLLSTEAD_FAULT_SEED"
NO_BROWSER = "POLLSTEAD_NO_BROWSER"
BROWSER_ARGUMENTS = (
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)

# No test may depend on how fast the machine is.
for _name, _examples in (("pollstead", 30), ("quick", 8)):
    hypothesis.settings.register_profile(
        _name,
        deadline=None,
        max_examples=_examples,
        print_blob=True,
        suppress_health_check=[hypothesis.HealthCheck.too_slow],
    )
# `./run check` draws fewer examples than the full tier.
hypothesis.settings.load_profile(os.environ.get("POLLSTEAD_EXAMPLES", "pollstead"))


def pytest_configure(config: pytest.Config) -> None:
    """Choose the fault seed once, before worker processes start, so that all of them share it."""
    os.environ.setdefault(FAULT_SEED, str(secrets.randbelow(2**31)))
    # Apps that tests start compile nothing ahead, unless a test asks for it.
    os.environ.setdefault("POLLSTEAD_NOTHING_AHEAD", "1")


def pytest_report_header(config: pytest.Config) -> list[str]:
    """Print the fault seed, and what was left out on request."""
    lines = [f"fault seed {os.environ[FAULT_SEED]} (repeat with {FAULT_SEED}={os.environ[FAULT_SEED]})"]
    if os.environ.get(NO_BROWSER):
        lines.append("browser tests are left out: --no-browser was given")
    return lines


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, exitstatus: int) -> None:
    """Say the fault seed again beside failures, where it is needed and where -q hid the header."""
    if exitstatus != 0:
        terminalreporter.write_line(f"fault seed {os.environ[FAULT_SEED]}")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave browser tests out only where that was asked for, counted as deselected; long ones first."""
    left_out = [item for item in items if item.get_closest_marker("browser")]
    if left_out and os.environ.get(NO_BROWSER):
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if not item.get_closest_marker("browser")]
    processes = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
    if processes > 1:
        items[:] = long_ones_first(items, processes)


def long_ones_first(items: Sequence[pytest.Item], processes: int) -> list[pytest.Item]:
    """The tests in their order, but in each process's stretch of them those begin that take long.

    Each process begins with such a stretch and takes from the end of another's when its own is done: a
    long test that began last would keep one process busy and the others idle.
    """
    ends = [len(items) * number // processes for number in range(processes + 1)]
    stretches = [items[start:end] for start, end in itertools.pairwise(ends)]
    return [
        item
        for stretch in stretches
        for item in sorted(stretch, key=lambda one: one.get_closest_marker("begins_first") is None)
    ]


def pytest_collection_finish(session: pytest.Session) -> None:
    """Look for garbage less often, and not among modules and tests: they stay until the end.

    A test that makes thousands of frozen values spends a tenth of its time on looking.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(100_000, 20, 50)


@pytest.fixture(scope="session", autouse=True)
def empty_store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """A store that is made begins as a copy of one empty store that was migrated step by step, once.

    Making the tables takes fifty times as long as copying them, and hundreds of tests begin a store. Where a
    copy cannot be written, and on a store that is there, everything goes its own way.
    """
    migrate, kept = Database.migrate, tmp_path_factory.mktemp("store") / "empty.db"

    def from_copy(database: Database) -> None:
        place = database.engine.url.database
        if database.is_sqlite and place and place != ":memory:" and not Path(place).exists():
            if not kept.exists():
                made = Database(database_url(kept))
                migrate(made)
                made.close()
            with contextlib.suppress(OSError):
                shutil.copyfile(kept, place)
        migrate(database)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Database, "migrate", from_copy)
        yield


SMALL = Path(__file__).resolve().parents[1] / "small"


@pytest.fixture(scope="session")
def demo_planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small county, copied and planned by the demo command's first half; to be read and copied."""
    from pollstead.cli import demo

    return made_once(tmp_path_factory, "demo-planned", lambda folder: demo.prepare(folder, SMALL))


@pytest.fixture(scope="session")
def three_sites(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three planned sites with fewer machines than their plan wants; to be read and copied."""
    from tests.split_county import make_three_sites

    return made_once(tmp_path_factory, "three-sites", make_three_sites)


@pytest.fixture(scope="session")
def demo_played(demo_planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same county with packets and its seeded days, as the demo leaves it; to be read and copied."""
    from pollstead.cli import demo

    def play(folder: Path) -> None:
        copied(demo_planned, folder)
        demo.play(folder, SMALL, *facts_and_digest(folder))
        (folder / demo.MARK).write_text("test", encoding="utf-8")

    return made_once(tmp_path_factory, "demo-played", play)


@pytest.fixture(scope="session")
def fault_seed() -> int:
    """The seed of this run's planted faults; fresh each run unless POLLSTEAD_FAULT_SEED is set."""
    return int(os.environ[FAULT_SEED])


# Seeds that once found a fault, run beside the fresh one for ever after. Say what each found.
REGRESSION_SEEDS = (
    73,  # the two checkers named a redaction differently when the event that owns it was changed
)


@pytest.fixture(params=["fresh", *REGRESSION_SEEDS])
def fault_random(fault_seed: int, request: pytest.FixtureRequest) -> random.Random:
    """Random numbers of this test alone: the same for one fault seed, in whatever order tests run.

    Each test runs with the fresh seed of this run and with every regression seed.
    """
    seed = fault_seed if request.param == "fresh" else request.param
    return random.Random(f"{seed}:{request.node.originalname}")


@pytest.fixture(scope="session")
def chromium() -> str:
    """The path of Chromium; the test fails, and is not skipped, where there is none."""
    named = os.environ.get("POLLSTEAD_CHROMIUM")
    names = ("chromium-headless-shell", "chromium", "chromium-browser", "chrome")
    found = named or next(filter(None, map(shutil.which, names)), None)
    if not found:
        pytest.fail("no Chromium: run ./run test, which installs it on Debian, or set POLLSTEAD_CHROMIUM")
    return found


@pytest.fixture(scope="session")
def chromium_arguments() -> Sequence[str]:
    """Options with which Chromium starts quietly and asks nothing from outside."""
    return BROWSER_ARGUMENTS
