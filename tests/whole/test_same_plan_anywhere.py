"""One county, one plan: the zone, the language and the seed of hashes of a machine change no byte of it."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.full

SMALL = Path(__file__).parents[2] / "small"
PLACES = (
    {"TZ": "UTC", "LANG": "de_DE.UTF-8", "PYTHONHASHSEED": "0", "NUMBA_NUM_THREADS": "1"},
    {"TZ": "Pacific/Kiritimati", "LANG": "tr_TR.UTF-8", "LC_ALL": "C", "PYTHONHASHSEED": "4021"},
)
"""UTC and the zone furthest ahead of it; a comma in numbers, letters that change case in their own way."""


@pytest.mark.begins_first
def test_zone_language_hash_seed_and_threads_change_no_plan(tmp_path: Path) -> None:
    """The command line gives the same snapshot and the same plan digest in two unlike environments."""
    found = []
    for n, place in enumerate(PLACES):
        folder = tmp_path / str(n)
        shutil.copytree(SMALL, folder, ignore=shutil.ignore_patterns("pollstead.db*", "packets", "keys"))
        command = [
            sys.executable,
            "-m",
            "pollstead.cli.main",
            "plan",
            str(folder),
            "--effort",
            "quick",
            "--json",
        ]
        workers = ["--workers", str(n + 1)]
        done = subprocess.run(
            [*command, *workers], env={**os.environ, **place}, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
        said = json.loads(done.stdout)
        found.append((said["snapshot"], said["digest"]))
    assert found[0] == found[1]
