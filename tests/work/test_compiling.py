"""What is compiled ahead is all that the wait now needs: sites of other kinds compile nothing more."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

# In a process of its own, since other tests have compiled in this one.
CODE = """
import json
from msgspec.structs import replace
from numba.core.dispatcher import Dispatcher
from pollstead.plan.lines import now_kernel
from pollstead.plan.lines.now import run
from pollstead.plan.terms.lines import LawKind, ServiceLaw, SitePath, StageWork, StationCounts
from pollstead.plan.terms.now import LineReport
from pollstead.work.compiling import compile_the_wait_now, invented

def compiled():
    found = {name: one for name, one in vars(now_kernel).items() if isinstance(one, Dispatcher)}
    return {name: [str(s) for s in one.signatures] for name, one in found.items()}

first = compile_the_wait_now()
ahead = compiled()
given = invented()
law = ServiceLaw(kind=LawKind.GAMMA, mean_ms=240_000, cv_ppm=600_000)
bare = SitePath(check_in=StageWork(law=law), mark=StageWork(law=law))
counts = StationCounts(check_in=1, mark=9, mark_accessible=0, cast=0)
told = LineReport(at_ms=given.now_ms - 1, wait_ms=3_600_000, check_ins=12, event="told")
large = replace(
    given.sites[0], site="large", path=bare, counts=counts, most=counts, reports=(told,), changes=(),
    opened_ms=given.now_ms - 3_600_000,
)
never = replace(given.sites[1], site="never", reports=())
second = run(replace(given, sites=(large, never), spares=(0, 0, 0, 0)), 1, 700)
told = [[one.known for one in answer.sites] for answer in (first, second)]
print(json.dumps([ahead, compiled(), told]))
"""


@pytest.mark.full
def test_other_sites_need_no_code_that_was_not_compiled_ahead() -> None:
    """A site without accessible stations and scanner, other laws and reports, more states."""
    done = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    ahead, after, known = json.loads(done.stdout)
    assert known == [["estimated", "estimated"], ["estimated", "never told"]]
    assert after == ahead
    assert any(ahead.values())
