"""A restore that is ended or runs out of room: nothing is made, the copy stays good, the next one works."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from pollstead.store.backup import make_copy
from pollstead.store.copy_list import check_copy
from pollstead.store.copy_lock import held_or_left
from pollstead.store.desk import Desk
from pollstead.store.refusal import Refusal
from pollstead.store.restore import restore_copy

pytestmark = pytest.mark.full

NOW = 1_857_200_100_000

KILLED = """
import os, signal, sys
from pathlib import Path
import pollstead.store.restore as restore
def die(*_, **__): os.kill(os.getpid(), signal.SIGKILL)
setattr(restore, sys.argv[3], die)
restore.restore_copy(Path(sys.argv[1]), Path(sys.argv[2]), utc_ms=1)
"""


@pytest.fixture
def copy(desk: Desk, tmp_path: Path) -> Path:
    """A good copy on a stick."""
    (tmp_path / "county" / "sites.csv").write_text("id,name\nS01,Ash Hall\n", encoding="utf-8")
    (tmp_path / "stick").mkdir()
    (tmp_path / "there").mkdir()
    return Path(make_copy(tmp_path / "county", tmp_path / "stick", utc_ms=NOW).path)


@pytest.mark.skipif(os.name != "posix", reason="there is no kill -9 on Windows")
def test_a_restore_killed_half_way_makes_nothing_and_the_next_sweeps_up(copy: Path, tmp_path: Path) -> None:
    """Ended by kill -9 with the files written and the store opened: no folder of that name is there."""
    new = tmp_path / "there" / "new"
    ended = subprocess.run(
        [sys.executable, "-c", KILLED, str(copy), str(new), "note_restored"], timeout=60, check=False
    )
    assert ended.returncode == -signal.SIGKILL
    left = os.listdir(tmp_path / "there")
    assert len(left) == 1 and left[0].startswith(".restoring-"), "half a county is never under its own name"
    check_copy(copy)
    restore_copy(copy, new, utc_ms=NOW)
    assert os.listdir(tmp_path / "there") == ["new"], "what was left, names in it, is gone"


def test_another_restore_at_work_is_left_alone(copy: Path, tmp_path: Path) -> None:
    """A sweep takes only what nobody holds."""
    busy = tmp_path / "there" / ".restoring-busy"
    busy.mkdir()
    with held_or_left(busy / ".lock") as ours:
        assert ours
        restore_copy(copy, tmp_path / "there" / "new", utc_ms=NOW)
        assert busy.exists()


def test_a_disk_that_fills_up_during_a_restore_is_told_and_leaves_nothing(
    copy: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No space left on the device at the third file: in words, nothing half made, the copy as it was."""
    real, written = shutil.copyfileobj, []

    def full(source: object, target: object) -> None:
        written.append(1)
        if len(written) == 2:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(source, target)  # type: ignore[type-var]

    monkeypatch.setattr(shutil, "copyfileobj", full)
    with pytest.raises(Refusal, match="was not made: No space left on device"):
        restore_copy(copy, tmp_path / "there" / "new", utc_ms=NOW)
    assert os.listdir(tmp_path / "there") == []
    monkeypatch.setattr(shutil, "copyfileobj", real)
    check_copy(copy)
    restore_copy(copy, tmp_path / "there" / "new", utc_ms=NOW)


def test_a_stick_pulled_out_during_a_restore_is_told_and_leaves_nothing(
    copy: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The files that can no longer be read are named; put in again, the same command works."""
    real = shutil.copyfileobj

    def pulled(source: object, target: object) -> None:
        real(source, target)  # type: ignore[type-var]
        if (tmp_path / "stick").exists():
            (tmp_path / "stick").rename(tmp_path / "pocket")

    monkeypatch.setattr(shutil, "copyfileobj", pulled)
    with pytest.raises(Refusal, match="cannot be read") as refused:
        restore_copy(copy, tmp_path / "there" / "new", utc_ms=NOW)
    assert "nothing was made" in str(refused.value)
    assert os.listdir(tmp_path / "there") == []
    (tmp_path / "pocket").rename(tmp_path / "stick")
    monkeypatch.setattr(shutil, "copyfileobj", real)
    restore_copy(copy, tmp_path / "there" / "new", utc_ms=NOW)
