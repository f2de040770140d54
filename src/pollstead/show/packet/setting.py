"""One child process that sets pages, as its parent sees it: a job goes in, a file comes out whole or not."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any, Final, NamedTuple

import msgspec

from pollstead.election.words import N_, Message, message
from pollstead.show.packet.codes import qr_svg
from pollstead.show.packet.content import Print
from pollstead.show.packet.typesetting import part_of

PAGES_OF_A_CHILD: Final = 300
"""A child process ends after so many pages, because the typesetter frees nothing it has set."""

NOT_SET: Final = N_("{file} was not printed: {why}")
NOT_WRITTEN: Final = N_(
    "{file} cannot be written: {why}. Look at the path, its rights and the space on the disk, then print "
    "again. Files that were finished are kept."
)


class PrintFailed(Exception):
    """Pages could not be set or written; `said` names the file, what happened and what comes next."""

    def __init__(self, said: Message) -> None:
        super().__init__(said.english())
        self.said = said


class FileSet(NamedTuple):
    """Pages and bytes of a file that was set."""

    pages: int
    bytes: int


class SettingProcess:
    """One child process at a time, a new one after `PAGES_OF_A_CHILD` pages.

    `set` and `end` belong to one thread; `stop` may be called from another.
    """

    def __init__(self) -> None:
        self._process: subprocess.Popen[str] | None = None
        self._pages = 0
        self._stopped = False
        self.peak = 0

    def set(self, output: Path, made: Print) -> FileSet:
        """Have one file set; raises PrintFailed when that cannot be done, and leaves nothing half done."""
        if self._process is None or self._pages >= PAGES_OF_A_CHILD:
            self.end()
            self._process = _started()
        if self._stopped:
            self._process.kill()
        answer = self._ask(self._process, output, made)
        if "not_written" in answer:
            raise PrintFailed(message(NOT_WRITTEN, file=str(output), why=str(answer["not_written"])))
        if "error" in answer:
            raise PrintFailed(message(NOT_SET, file=output.name, why=str(answer["error"])))
        self._pages += answer["pages"]
        self.peak = max(self.peak, answer["peak"])
        return FileSet(pages=answer["pages"], bytes=answer["bytes"])

    def _ask(self, process: subprocess.Popen[str], output: Path, made: Print) -> dict[str, Any]:
        job = {
            "print": msgspec.to_builtins(made),
            "codes": {sheet.serial: qr_svg(sheet.serial) for sheet in made.sheets},
            "output": str(output),
            "timestamp": made.timestamp,
        }
        line = ""
        try:
            if process.stdin is not None and process.stdout is not None:
                process.stdin.write(json.dumps(job) + "\n")
                process.stdin.flush()
                line = process.stdout.readline()
        except OSError:
            # The pipe broke, which an empty answer says as well.
            line = ""
        if not line.endswith("\n"):
            process.kill()
            process.wait()
            part_of(output).unlink(missing_ok=True)
            raise PrintFailed(
                message(NOT_SET, file=output.name, why="the typesetting process ended without an answer")
            )
        answer = json.loads(line)
        if not isinstance(answer, dict):
            raise TypeError(f"the typesetting process must answer with an object, got {line[:80]!r}")
        return answer

    def stop(self) -> None:
        """End the process now; what it is setting is given up, and whoever waits for it is told so."""
        self._stopped = True
        process = self._process
        if process is not None:
            process.kill()

    def end(self) -> None:
        """Let the process finish and forget it."""
        if self._process is None:
            return
        process, self._process, self._pages = self._process, None, 0
        # What was not sent to a process that is gone cannot be sent when the pipe is closed either.
        with contextlib.suppress(OSError):
            if process.stdin is not None:
                process.stdin.close()
        if process.stdout is not None:
            process.stdout.close()
        process.wait()


def _started() -> subprocess.Popen[str]:
    """A process of its own group: Ctrl-C belongs to this one, which ends its children itself."""
    own_group: dict[str, Any] = (
        {"creationflags": getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)}
        if os.name == "nt"
        else {"process_group": 0}
    )
    return subprocess.Popen(
        [sys.executable, "-m", "pollstead.show.packet.typesetting"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        **own_group,
    )
