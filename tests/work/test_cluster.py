"""Sizing on a cluster: the same bytes as in threads, a killed process costs time alone, plain refusals."""

from __future__ import annotations

import datetime as dt
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import msgspec
import pytest

from pollstead.election.values import frozen_array
from pollstead.plan.lines.run import run
from pollstead.plan.terms.lines import (
    ArrivalDay,
    LinesGiven,
    ServiceLaw,
    SiteLines,
    SitePath,
    StageWork,
    WaitLimit,
)
from pollstead.plan.terms.part import Effort
from pollstead.plan.terms.spreading import InThreads
from pollstead.work import cluster
from pollstead.work.cluster import OnCluster, packed, spreading, workers_asked
from pollstead.work.county_folder import Refused

HOUR = 3_600_000
pytestmark = [pytest.mark.full, pytest.mark.timeout(180)]


def sites(count: int) -> LinesGiven:
    """Invented sites of 60 voters and more."""
    path = SitePath(
        check_in=StageWork(law=ServiceLaw(mean_ms=90_000, cv_ppm=600_000)),
        mark=StageWork(law=ServiceLaw(mean_ms=240_000, cv_ppm=500_000)),
    )
    return LinesGiven(
        sites=tuple(
            SiteLines(
                site=f"P{k}",
                seed_key=f"key {k}",
                path=path,
                days=(
                    ArrivalDay(
                        date=dt.date(2028, 11, 7),
                        open_ms=7 * HOUR,
                        close_ms=20 * HOUR,
                        slot_weights=frozen_array([1] * 52, "int64"),
                        totals=frozen_array([60 + k], "int64"),
                    ),
                ),
                limit=WaitLimit(limit_ms=1_800_000, risk_ppm=50_000),
            )
            for k in range(count)
        )
    )


class Machines:
    """A scheduler and two workers, each a process of its own, as on three machines."""

    def __init__(self, folder: Path) -> None:
        at = folder / "scheduler.json"
        start = [sys.executable, "-m", "distributed.cli.dask_scheduler"]
        self.scheduler = self._start(
            [*start, "--port", "0", "--no-dashboard", "--scheduler-file", str(at), "--host", "127.0.0.1"]
        )
        worker = [sys.executable, "-m", "distributed.cli.dask_worker", "--scheduler-file", str(at)]
        more = ["--nthreads", "1", "--no-nanny", "--no-dashboard", "--local-directory", str(folder)]
        self.workers = [self._start([*worker, *more]) for _ in range(2)]
        self.file = at

    def _start(self, command: list[str]) -> subprocess.Popen[bytes]:
        return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def address(self) -> str:
        """Where the scheduler listens, once both workers have joined."""
        import distributed

        with distributed.Client(scheduler_file=str(self.file), timeout=60) as client:
            client.wait_for_workers(2, timeout=60)
            return str(client.scheduler.address)

    def end(self) -> None:
        """End them all."""
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.wait()


@pytest.fixture(scope="module")
def machines(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machines]:
    """A scheduler with two workers."""
    started = Machines(tmp_path_factory.mktemp("machines"))
    yield started
    started.end()


class _KillAfter:
    """A watch that kills a worker once the first sites are done."""

    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        self.process, self.killed = process, False

    def step(self, part: str, done: int, total: int) -> None:
        """Kill once some are done and most are not."""
        if done >= 2 and not self.killed:
            assert done < total / 2
            os.kill(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.killed = True


def test_a_worker_killed_in_the_middle_costs_no_site_and_changes_no_byte(machines: Machines) -> None:
    """A worker killed in the middle costs no site and changes no byte."""
    given = sites(16)
    expected = run(given, 7, Effort.QUICK, workers=2)
    watch = _KillAfter(machines.workers[0])
    with spreading(machines.address()) as spread:
        assert isinstance(spread, OnCluster)
        found = run(given, 7, Effort.QUICK, watch, spreading=spread)
    assert watch.killed
    assert msgspec.json.encode(found.value) == msgspec.json.encode(expected.value)
    assert found.work_units == expected.work_units


def test_a_process_with_other_code_is_refused_by_its_name_for_it(
    machines: Machines, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A process with other code is refused by its name for it."""
    import distributed

    with distributed.Client(scheduler_file=str(machines.file), timeout=60) as client:
        monkeypatch.setattr(cluster, "salt", lambda _: "of another version")
        with (
            pytest.raises(Refused, match="expected code of another version, found"),
            closing(OnCluster(client).in_order(abs, [-1])) as made,
        ):
            next(made)


def test_where_no_scheduler_answers_the_refusal_says_how_to_start_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Where no scheduler answers the refusal says how to start one."""
    monkeypatch.setattr(cluster, "CONNECT_SECONDS", 1)
    with (
        pytest.raises(Refused, match=r"No scheduler answers at tcp://127\.0\.0\.1:9 .*dask scheduler"),
        spreading("tcp://127.0.0.1:9"),
    ):
        pass


def test_read_only_arrays_travel_read_only_with_their_values() -> None:
    """Read only arrays travel read only with their values."""
    import pickle

    given = sites(2)
    again = pickle.loads(packed(given))  # noqa: S301 - made here
    assert packed(again) == packed(given)
    assert not again.sites[1].days[0].totals.flags.writeable
    assert again.sites[1].days[0].totals.tolist() == [61]


def test_a_caller_that_stops_early_begins_no_more() -> None:
    """A caller that stops early begins no more."""
    begun: list[int] = []

    def note(one: int) -> int:
        begun.append(one)
        return one

    made = InThreads(1).in_order(note, range(1000))
    assert next(iter(made)) == 0
    made.close()
    assert len(begun) < 1000


@pytest.mark.parametrize(
    ("asked", "means"),
    [("0", 0), ("12", 12), ("local:4", "local:4"), ("tcp://10.0.0.5:8786", "tcp://10.0.0.5:8786")],
)
def test_workers_are_a_number_processes_here_or_an_address(asked: str, means: int | str) -> None:
    """Workers are a number processes here or an address."""
    assert workers_asked(asked) == means


@pytest.mark.parametrize("asked", ["", "-1", "local:", "local:0", "local:257", "10.0.0.5", "http://a:1", "²"])
def test_anything_else_is_refused_with_what_is_expected(asked: str) -> None:
    """Anything else is refused with what is expected."""
    with pytest.raises(Refused, match="expected a number of threads"):
        workers_asked(asked)
