"""What the app has made while nobody waits for it: the code of the wait now, compiled by another process."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys

NOTHING_AHEAD = "POLLSTEAD_NOTHING_AHEAD"
"""An environment variable: set to anything, nothing is made before it is asked for."""

LONGEST_WAIT_S = 90.0


class Ahead:
    """A process that compiles; begun once, waited for by whoever needs what it makes, ended with the app."""

    def __init__(self) -> None:
        self._child: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Begin, unless the environment says that nothing is to be made ahead."""
        if os.environ.get(NOTHING_AHEAD):
            return
        # Where no process can be started, the first who asks compiles, as ever.
        with contextlib.suppress(OSError):
            self._child = subprocess.Popen(
                [sys.executable, "-m", "pollstead.work.compiling"],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )

    def wait(self) -> None:
        """Return when the process has ended, or at once where none was begun.

        Compiling the same in this process too would take both longer.
        """
        if self._child is not None:
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._child.wait(LONGEST_WAIT_S)

    def stop(self) -> None:
        """End the process."""
        if self._child is not None:
            self._child.terminate()
            self._child.wait()
