"""Many first requests at once do not end the process."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

# Threads change over as often as they can, which brings the race about within a few starts.
FIRST_REQUESTS = """
import sys, threading
from pathlib import Path
from pollstead.show.web.open_folder import OpenFolder

sys.setswitchinterval(1e-6)
folder = OpenFolder(Path(sys.argv[1]))
together = threading.Barrier(8)
answers = []

def ask():
    together.wait()
    answers.append((folder.election().county, folder.current().seed))

threads = [threading.Thread(target=ask) for _ in range(8)]
for thread in threads:
    thread.start()
for thread in threads:
    thread.join()
assert len(answers) == 8 and len(set(answers)) == 1, answers
"""


@pytest.mark.full
def test_eight_first_requests_at_once_are_all_answered(county: Path) -> None:
    """A process that is asked by eight threads before it has decoded anything answers them all."""
    for _ in range(5):
        done = subprocess.run(
            [sys.executable, "-c", FIRST_REQUESTS, str(county)], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr[-2000:]
