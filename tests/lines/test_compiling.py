"""The simulation's machine code: kept on the disk where that can be, used all the same elsewhere."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numba
import pytest
from numba.core import caching

from pollstead.plan.lines import vectors

pytestmark = pytest.mark.full


def test_a_computer_without_a_writable_folder_compiles_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """numba refuses to keep code where no folder can be written (a RuntimeError); nothing stops."""
    monkeypatch.setattr(caching.CacheImpl, "_locator_classes", [])

    def twice(number: int) -> int:
        return 2 * number

    with pytest.raises(RuntimeError, match="cannot cache"):
        numba.njit(cache=True)(twice)
    assert vectors.compiled(twice)(21) == 42


def test_code_that_was_kept_counts_only_for_the_words_of_all_its_parts(tmp_path: Path) -> None:
    """A part in another file is edited, its date and size stay: what was kept is not taken for it."""
    folder = tmp_path / "machine"
    folder.mkdir()
    (folder / "__init__.py").touch()
    part, whole = folder / "part.py", folder / "whole.py"
    part.write_text(
        "from pollstead.plan.lines import vectors as v\n\n\n@v.inlined\ndef part(n):\n    return 2 * n\n",
        encoding="utf-8",
    )
    whole.write_text(
        "from machine.part import part\n\nfrom pollstead.plan.lines import vectors as v\n\n\n"
        "@v.compiled\ndef whole(n):\n    return part(n)\n\n\n"
        "if __name__ != '__main__':\n    print(whole(21), sum(whole.stats.cache_hits.values()))\n",
        encoding="utf-8",
    )

    def told() -> str:
        """What a new process gets, and how much of it was kept."""
        done = subprocess.run(
            [sys.executable, "-B", "-c", "import machine.whole"],
            cwd=tmp_path,
            env={**os.environ, "NUMBA_CACHE_DIR": str(tmp_path / "kept"), "PYTHONPATH": _path(tmp_path)},
            capture_output=True,
            text=True,
            check=True,
        )
        return done.stdout.strip()

    assert told() == "42 0"
    assert told() == "42 1"
    dates = part.stat()
    part.write_text(part.read_text(encoding="utf-8").replace("2 * n", "3 * n"), encoding="utf-8")
    os.utime(part, ns=(dates.st_atime_ns, dates.st_mtime_ns))
    assert told() == "63 0"


def _path(folder: Path) -> str:
    """Where a new process finds these modules and what this one finds."""
    return os.pathsep.join([str(folder), *sys.path])
