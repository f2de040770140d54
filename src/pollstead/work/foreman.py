"""Starts the worker process whenever jobs wait, and notices when it dies; one worker a folder."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import threading
from pathlib import Path

from pollstead.election.words import N_
from pollstead.store.jobs import JobState
from pollstead.store.opening import Store
from pollstead.store.passphrase import PASSPHRASE
from pollstead.work.clock import now_ms
from pollstead.work.line import sweep

NOT_STARTED = N_("The worker could not start; the terminal where the app runs says why.")


class Foreman:
    """Keeps the line of one folder moving while the app runs.

    A thread sleeps until it is poked or its child ends. It holds no job itself: after a crash of
    the app, the next start finds what was interrupted and goes on with what waits.
    """

    def __init__(self, store: Store, folder: Path) -> None:
        self._store = store
        self._folder = folder
        self._poked = threading.Event()
        self._ending = threading.Event()
        self._child: subprocess.Popen[bytes] | None = None
        self._thread = threading.Thread(target=self._keep, name="foreman", daemon=True)

    def start(self) -> None:
        """Find interrupted jobs, then begin with those that wait."""
        sweep(self._store, self._folder, now_ms())
        self._poked.set()
        self._thread.start()

    def poke(self) -> None:
        """Say that a job was put in line."""
        self._poked.set()

    def stop(self) -> None:
        """End the worker, and with it the job that runs; it is then marked as interrupted."""
        self._ending.set()
        self._poked.set()
        child = self._child
        if child is not None and child.poll() is None:
            child.terminate()
        if self._thread.is_alive():
            self._thread.join(timeout=10)
        sweep(self._store, self._folder, now_ms())

    def _keep(self) -> None:
        while True:
            self._poked.wait()
            self._poked.clear()
            while not self._ending.is_set() and self._waiting():
                self._run_child()
            if self._ending.is_set():
                return

    def _waiting(self) -> tuple[str, ...]:
        return tuple(job.id for job in self._store.jobs.list() if job.state is JobState.WAITING)

    def _run_child(self) -> None:
        command = [sys.executable, "-m", "pollstead.work.child", str(self._folder)]
        before = self._waiting()
        # A passphrase typed at the start goes through a pipe: never into an argument or a variable.
        known = PASSPHRASE.known
        given = subprocess.DEVNULL if known is None else subprocess.PIPE
        self._child = subprocess.Popen(command, stdin=given)  # noqa: S603 - our own module
        if known is not None and self._child.stdin is not None:
            with contextlib.suppress(OSError):
                self._child.stdin.write(f"{known}\n".encode())
                self._child.stdin.close()
        if self._ending.is_set():
            self._child.terminate()
        code = self._child.wait()
        self._child = None
        sweep(self._store, self._folder, now_ms())
        if code == 3:
            # Another program's worker has the lock and will do what waits here too.
            self._ending.wait(1.0)
        elif code != 0 and self._waiting() == before and not self._ending.is_set():
            # A worker that cannot even begin would be started for ever.
            for job_id in before:
                self._store.jobs.finish(job_id, JobState.FAILED, utc_ms=now_ms(), message=NOT_STARTED)
