"""Killing the writer: what was acknowledged is there, and the record checks."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

import pytest

from pollstead.store.desk import Desk
from pollstead.store.exchange import check_store
from pollstead.store.opening import open_store

# The writer says an event's id only after the store has acknowledged it.
WRITER = """
import sys
from pathlib import Path
from pollstead.record.kinds.days import CountRead, SealNumber, SealSeen
from pollstead.record.write import Moment
from pollstead.store.desk import open_desk

desk = open_desk(Path(sys.argv[1]))
people = desk.store.events.all()[0].event.people
step = desk.store.events.count()
while True:
    step += 1
    moment = Moment(utc_ms=desk.header.created_utc_ms + step, offset_min=0, uncertainty_ms=0)
    common = dict(site="site/S01", day="2028-11-07", people=people, moment=moment)
    if step % 3:
        body = CountRead(term="ballots", value=step, source="hand")
        signed = desk.recorder.record(body, subject="site/S01", **common)
    else:
        body = SealSeen(step="opening", state="intact")
        number = SealNumber(number=str(step))
        signed = desk.recorder.record(body, subject="closure/a/b", private=number, **common)
    print(signed.id, flush=True)
"""


@pytest.mark.full
def test_no_acknowledged_event_is_lost_when_the_writer_is_killed(
    desk: Desk, tmp_path: Path, fault_random: random.Random
) -> None:
    """Five kills at random moments: every acknowledged event and its private part are there."""
    folder = tmp_path / "county"
    desk.close()
    acknowledged: list[str] = []
    for _ in range(5):
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(folder)], stdout=subprocess.PIPE, text=True
        )
        assert writer.stdout is not None
        wanted = fault_random.randrange(1, 60)
        for _, line in zip(range(wanted), writer.stdout, strict=False):
            acknowledged.append(line.strip())
        writer.kill()
        # What was already in the pipe was acknowledged too; a torn last line was not said whole.
        acknowledged += [line.strip() for line in writer.stdout if line.endswith("\n")]
        writer.wait()
    with open_store(folder) as store:
        with store.database.reading() as connection:
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
        kept = store.events.all()
        assert set(acknowledged) <= {signed.id for signed in kept}
        assert len(acknowledged) >= 5
        # At most one event a kill may be kept without having been acknowledged.
        assert len(kept) <= 7 + len(acknowledged) + 5
        report = check_store(store)
        assert report.checks and report.remarks == ()
        assert {s.event.private for s in kept if s.event.private} == set(store.sides.all())
