"""Import and first call in a process of its own: with an empty compile cache, and with a full one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

CODE = """\
import json, resource, time
start, cpu = time.perf_counter(), time.process_time()
from pollstead.plan.lines.trials import Trials
from pollstead.plan.lines import engine
from pollstead.plan.lines.trusted import fast_engine_is_right
imported = time.perf_counter(), time.process_time()
import bench.sweep as sweep
site = sweep.invented(1)
trials = Trials(site.path, site.days[0], site.limit, 1)
begun = time.perf_counter(), time.process_time()
right = fast_engine_is_right()
trials.rows([(4, 11, 2, 1)], 0, 64)
done = time.perf_counter(), time.process_time()
print(json.dumps({
    "import_s": imported[0] - start, "import_cpu_s": imported[1] - cpu,
    "first_call_s": done[0] - begun[0], "first_call_cpu_s": done[1] - begun[1],
    "peak_memory_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024, "right": right,
}))
"""


def starting() -> dict[str, dict[str, object]]:
    """Seconds to import the engine, and for its self-test and 64 days of one site, cold and warm."""
    with tempfile.TemporaryDirectory() as folder:
        return {"cold": _once(folder), "warm": _once(folder)}


def _once(cache: str) -> dict[str, object]:
    top = Path(__file__).resolve().parents[2]
    paths = os.pathsep.join([str(top), *(p for p in sys.path if p)])
    environment = {**os.environ, "NUMBA_CACHE_DIR": cache, "PYTHONPATH": paths}
    done = subprocess.run(
        [sys.executable, "-c", CODE], check=True, env=environment, capture_output=True, text=True
    )
    told = json.loads(done.stdout)
    return {key: round(value, 2) if isinstance(value, float) else value for key, value in told.items()}
