"""The worker process: ``python -m pollstead.work.child FOLDER`` does the jobs in line, one by one.

It runs apart from the web app, so that a long plan never holds up a page, and what it allocates
goes when it ends.
"""

from __future__ import annotations

import signal
import sys
from pathlib import Path
from typing import Any

import msgspec

from pollstead.plan.terms.part import Cancelled
from pollstead.store.jobs import Job, JobState
from pollstead.store.opening import Store, open_store
from pollstead.store.passphrase import PASSPHRASE
from pollstead.work.clock import now_ms
from pollstead.work.kinds import decode_arguments, function_of
from pollstead.work.line import CANCELLED_WORDS, sweep_holding_lock
from pollstead.work.lock import worker_lock
from pollstead.work.watch import StoreWatch


def run_line(folder: Path) -> int:
    """Do every job in line; 0 when the line is empty, 3 when another worker is at work here."""
    with worker_lock(folder) as ours, open_store(folder) as store:
        if not ours:
            return 3
        sweep_holding_lock(store, now_ms())
        while (job := store.jobs.take(now_ms())) is not None:
            run_job(store, folder, job)
    return 0


def run_job(store: Store, folder: Path, job: Job) -> None:
    """Do one job and write how it ended; whatever goes wrong ends this job alone, in words."""
    try:
        arguments = msgspec.structs.asdict(decode_arguments(job.kind, job.arguments))
        result = function_of(job.kind)(folder, watch=StoreWatch(store, job.id), **arguments)
    except Cancelled:
        store.jobs.finish(job.id, JobState.CANCELLED, utc_ms=now_ms(), message=CANCELLED_WORDS)
    except Exception as error:  # noqa: BLE001 - the boundary of the process: the next job must run
        print(f"job {job.id} failed: {error!r}", file=sys.stderr)
        store.jobs.finish(job.id, JobState.FAILED, utc_ms=now_ms(), message=reason_of(error))
    else:
        store.jobs.finish(job.id, JobState.DONE, utc_ms=now_ms(), result=msgspec.json.encode(_plain(result)))


def reason_of(error: Exception) -> str:
    """What went wrong, as its author said it; its type alone only where it says nothing."""
    said = str(error).strip()
    return said[:2000] if said else type(error).__name__


def _plain(result: Any) -> Any:
    return str(result) if isinstance(result, Path) else msgspec.to_builtins(result, enc_hook=str)


def main(arguments: list[str]) -> int:
    """Run from the command line of the process."""
    if len(arguments) != 1:
        print("usage: python -m pollstead.work.child FOLDER", file=sys.stderr)
        return 2
    # Ctrl-C belongs to the server, which tells jobs to stop through the store.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # The line ends at once where no key is protected; nobody types here.
    given = sys.stdin.readline().rstrip("\n") if sys.stdin is not None and not sys.stdin.isatty() else ""
    PASSPHRASE.know(given or None)
    return run_line(Path(arguments[0]))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
