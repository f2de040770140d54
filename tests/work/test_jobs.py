"""Jobs: in line, watched, cancelled, found again after a crash; what is half-done is never kept."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from pollstead.plan.terms.part import Cancelled, Effort
from pollstead.store.jobs import JobState
from pollstead.store.opening import Store, open_store
from pollstead.work import child
from pollstead.work.foreman import NOT_STARTED, Foreman
from pollstead.work.kinds import PlanArguments, PrintArguments, decode_arguments, encode_arguments
from pollstead.work.line import INTERRUPTED, ask_for, interrupted, sweep
from pollstead.work.lock import worker_lock
from pollstead.work.watch import LEAST_INTERVAL_S, StoreWatch

# A worker whose jobs only take steps, so that its end can be watched from outside.
SLOW_WORKER = """
import sys, time
from pathlib import Path
from pollstead.work import child

def slow(folder, *, watch, **arguments):
    for n in range(100_000):
        watch.step("slow part", n, 100_000)
        time.sleep(0.005)
    return "finished"

child.function_of = lambda kind: slow
sys.exit(child.run_line(Path(sys.argv[1])))
"""


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """An empty store in this test's folder."""
    with open_store(tmp_path) as opened:
        yield opened


def put(store: Store, at: int = 1, **arguments: Any) -> str:
    """Put a plan job in line and give its id."""
    return ask_for(store, "plan", PlanArguments(**arguments), by="person/P010", utc_ms=at).id


def until(truth: Any, what: str) -> None:
    """Wait until `truth()` holds; the test fails after a minute, however slow the machine."""
    for _ in range(6000):
        if truth():
            return
        time.sleep(0.01)
    pytest.fail(f"{what} did not come about")


def start_slow_worker(folder: Path) -> subprocess.Popen[bytes]:
    """A worker process that never finishes its job by itself."""
    return subprocess.Popen([sys.executable, "-c", SLOW_WORKER, str(folder)])


def test_jobs_are_done_in_the_order_in_which_they_were_asked_for(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The worker does every job in line, passes its arguments, and keeps the result."""
    seen = []

    def work(folder: Path, *, watch: Any, effort: Effort, seed: int) -> str:
        seen.append((folder, effort, seed))
        return f"seed {seed}"

    monkeypatch.setattr(child, "function_of", lambda kind: work)
    ids = [put(store, at, effort=Effort.DEEP, seed=at) for at in (1, 2, 3)]
    assert child.run_line(tmp_path) == 0
    assert seen == [(tmp_path, Effort.DEEP, at) for at in (1, 2, 3)]
    assert [store.jobs.get(i).state for i in ids] == [JobState.DONE] * 3
    assert store.jobs.get(ids[0]).result == b'"seed 1"'


def test_a_job_that_fails_says_why_and_the_next_runs(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An error ends its own job alone, with the words of the error."""

    def work(folder: Path, *, watch: Any, seed: int, **rest: Any) -> str:
        if seed == 1:
            raise ValueError("sites.csv, row 7: registered must be a number, found 'many'")
        return "fine"

    monkeypatch.setattr(child, "function_of", lambda kind: work)
    failing, fine = put(store, 1, seed=1), put(store, 2, seed=2)
    assert child.run_line(tmp_path) == 0
    assert store.jobs.get(failing).state is JobState.FAILED
    assert store.jobs.get(failing).message == "sites.csv, row 7: registered must be a number, found 'many'"
    assert not interrupted(store.jobs.get(failing))
    assert store.jobs.get(fine).state is JobState.DONE


def test_a_cancelled_job_stops_at_its_next_step(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cancel is seen by the job itself: it raises, keeps nothing, and stands as stopped."""
    kept = []

    def work(folder: Path, *, watch: Any, **rest: Any) -> str:
        watch.step("first part", 1, 10)
        store.jobs.cancel(job_id, 5)
        watch.step("second part", 1, 10)
        kept.append("half-done")
        return "never"

    monkeypatch.setattr(child, "function_of", lambda kind: work)
    job_id = put(store)
    child.run_line(tmp_path)
    job = store.jobs.get(job_id)
    assert (job.state, kept, job.result) == (JobState.CANCELLED, [], None)
    assert job.message == child.CANCELLED_WORDS


def test_progress_is_written_a_few_times_a_second_at_most(store: Store) -> None:
    """Many small steps make few writes; a new part is told at once."""
    job_id = put(store)
    store.jobs.take(1)
    now = [0.0]
    watch = StoreWatch(store, job_id, clock=lambda: now[0])
    writes = []
    real = store.jobs.progress
    store.jobs.progress = lambda *a, **k: writes.append(k) or real(*a, **k)  # type: ignore[func-returns-value, method-assign]
    for n in range(1000):
        watch.step("lines", n, 1000)
        now[0] += LEAST_INTERVAL_S / 100
    assert 9 <= len(writes) <= 11
    watch.step("stations", 0, 3)
    assert writes[-1]["message"] == "stations"
    assert store.jobs.get(job_id).message == "stations"


def test_a_watch_of_an_ended_job_stops_the_work(store: Store) -> None:
    """A worker that lives on after its job was ended elsewhere stops at its next step."""
    job_id = put(store)
    store.jobs.take(1)
    store.jobs.finish(job_id, JobState.FAILED, utc_ms=2)
    with pytest.raises(Cancelled):
        StoreWatch(store, job_id).step("lines", 1, 2)


@pytest.mark.full
def test_a_killed_worker_leaves_its_job_interrupted(store: Store, tmp_path: Path) -> None:
    """After kill -9 the job is found as interrupted, once, and can be started again."""
    job_id = put(store)
    process = start_slow_worker(tmp_path)
    until(lambda: store.jobs.get(job_id).progress_done > 0, "progress")
    assert sweep(store, tmp_path, 5) == ()  # a living worker is left alone
    process.send_signal(signal.SIGKILL)
    process.wait()
    assert store.jobs.get(job_id).state is JobState.RUNNING
    assert sweep(store, tmp_path, 6) == (job_id,)
    assert store.jobs.get(job_id).message == INTERRUPTED and interrupted(store.jobs.get(job_id))
    assert sweep(store, tmp_path, 7) == ()
    assert store.jobs.restart(job_id)
    assert store.jobs.get(job_id).state is JobState.WAITING


@pytest.mark.full
def test_a_running_worker_is_cancelled_from_another_process(store: Store, tmp_path: Path) -> None:
    """Cancel goes through the store: the worker sees it, stops, and ends by itself."""
    job_id = put(store)
    process = start_slow_worker(tmp_path)
    until(lambda: store.jobs.get(job_id).progress_done > 0, "progress")
    assert store.jobs.cancel(job_id, 5) is JobState.CANCELLING
    assert process.wait(timeout=60) == 0
    assert store.jobs.get(job_id).state is JobState.CANCELLED


def test_two_workers_never_share_a_folder(tmp_path: Path) -> None:
    """Whoever comes second gets no lock, and the lock is free again when the first has ended."""
    with worker_lock(tmp_path) as first, worker_lock(tmp_path) as second:
        assert first and not second
        assert child.run_line(tmp_path) == 3
    with worker_lock(tmp_path) as again:
        assert again


def test_a_job_cancelled_by_a_worker_that_died_counts_as_cancelled(store: Store, tmp_path: Path) -> None:
    """Somebody asked it to stop, and it has stopped."""
    job_id = put(store)
    store.jobs.take(1)
    store.jobs.cancel(job_id, 2)
    sweep(store, tmp_path, 3)
    assert store.jobs.get(job_id).state is JobState.CANCELLED


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        ("plan", b'{"effort":"endless"}'),
        ("plan", b'{"seed":-1}'),
        ("plan", b'{"seed":1.5}'),
        ("plan", b'{"seed":"1"}'),
        ("plan", b'{"more":1}'),
        ("plan", b"[]"),
        ("plan", b"\xff"),
        ("print", b'{"site":7}'),
        ("other", b"{}"),
    ],
)
def test_arguments_are_read_strictly(kind: str, data: bytes) -> None:
    """What no screen and no command of ours writes is refused with ValueError."""
    with pytest.raises(ValueError, match=r"must be one of|do not fit"):
        decode_arguments(kind, data)


def test_arguments_come_back_as_they_went_in() -> None:
    """Every kind's arguments survive the table of jobs."""
    for kind, arguments in (("plan", PlanArguments(seed=7)), ("print", PrintArguments(site="X"))):
        assert decode_arguments(kind, encode_arguments(arguments)) == arguments


def test_a_worker_that_cannot_begin_is_not_started_for_ever(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the worker program itself fails, the jobs in line end in words instead of a loop."""
    started = []

    class Broken:
        def __init__(self, command: list[str], **more: Any) -> None:
            started.append(command)

        def wait(self) -> int:
            return 1

        def poll(self) -> int:
            return 1

    monkeypatch.setattr("pollstead.work.foreman.subprocess.Popen", Broken)
    job_id = put(store)
    foreman = Foreman(store, tmp_path)
    foreman.start()
    until(lambda: store.jobs.get(job_id).state is JobState.FAILED, "the end of the job")
    foreman.stop()
    assert store.jobs.get(job_id).message == NOT_STARTED
    assert len(started) == 1


@pytest.mark.full
def test_stopping_the_app_ends_its_worker(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The foreman takes its worker down with it, and says that the job was interrupted."""
    real = subprocess.Popen
    monkeypatch.setattr(
        "pollstead.work.foreman.subprocess.Popen",
        lambda command, **more: real([sys.executable, "-c", SLOW_WORKER, str(tmp_path)], **more),
    )
    job_id = put(store)
    foreman = Foreman(store, tmp_path)
    foreman.start()
    until(lambda: store.jobs.get(job_id).progress_done > 0, "progress")
    foreman.stop()
    assert interrupted(store.jobs.get(job_id))
    with worker_lock(tmp_path) as free:
        assert free


def test_every_kind_of_job_names_a_function_that_is_there() -> None:
    """The functions that jobs call by name exist and take folder and watch."""
    import importlib.util
    import inspect

    from pollstead.work.kinds import ARGUMENTS, KINDS, function_of

    assert set(KINDS) == set(ARGUMENTS)
    for kind in KINDS:
        module = KINDS[kind].target.partition(":")[0]
        assert importlib.util.find_spec(module) is not None, module
        names = set(inspect.signature(function_of(kind)).parameters)
        assert {"folder", "watch", *ARGUMENTS[kind].__struct_fields__} <= names, kind
