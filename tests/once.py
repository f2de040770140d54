"""What is made once in a run, whatever number of worker processes there are."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pollstead.election.county import Election


def made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """The folder that `make` makes where it is told to; the first who asks makes it, the others wait.

    It is there to be read and copied: a test that writes takes a copy. Where making it fails, whoever
    waits tries again, and fails with the same words.
    """
    root = factory.getbasetemp()
    shared = root.parent if os.environ.get("PYTEST_XDIST_WORKER") else root
    folder, lock, done = (shared / f"{name}{end}" for end in ("", ".lock", ".done"))
    while not done.exists():
        try:
            lock.mkdir()
        except FileExistsError:
            time.sleep(0.1)
            continue
        try:
            if not done.exists():
                make(folder)
                done.touch()
        except BaseException:
            shutil.rmtree(folder, ignore_errors=True)
            raise
        finally:
            lock.rmdir()
    return folder


def copied(folder: Path, to: Path) -> Path:
    """This test's own copy, made at `to`, of a folder that others read meanwhile.

    Whoever reads a store has two files beside it that come and go; the store is whole without them.
    """
    return Path(shutil.copytree(folder, to, ignore=shutil.ignore_patterns("*.db-wal", "*.db-shm")))


def facts_and_digest(folder: Path) -> tuple[Election, str]:
    """The facts of a county folder with one plan version, and the digest of that version."""
    from pollstead.cli.county import digests, facts_of, store_of

    with store_of(folder) as store:
        (digest,) = digests(store)
    return facts_of(folder)[0], digest
