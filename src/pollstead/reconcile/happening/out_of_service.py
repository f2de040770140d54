"""The stretches in which devices were out of service, from what people recorded with its minute."""

from __future__ import annotations

import datetime as dt

from pollstead.reconcile.happening.lost import OUT, Stretch
from pollstead.record.facts import Fold


def out_stretches(folded: Fold, site: str, date: dt.date, now_min: int) -> tuple[Stretch, ...]:
    """Each stretch from a device's out to its back, or to `now_min`; records without a minute tell none.

    Every decision of the day enters, in its order; one that was corrected enters as corrected only.
    """
    found = []
    for fact in folded.named("device.out_of_service"):
        if fact.day != date.isoformat():
            continue
        corrected = {reading.corrects for reading in fact.readings if reading.corrects}
        out: tuple[int, str] | None = None
        for reading in fact.readings:
            minute = reading.value.get("at_min")
            if reading.event in corrected or reading.withdrawn or reading.site != f"site/{site}":
                continue
            if not isinstance(minute, int):
                continue
            if reading.value.get("state") == "out":
                out = out or (minute, reading.event)
            elif out is not None:
                found.append(_stretch(fact.subject, out, minute, running=False))
                out = None
        if out is not None:
            found.append(_stretch(fact.subject, out, max(now_min, out[0]), running=True))
    return tuple(found)


def _stretch(device: str, out: tuple[int, str], to_min: int, *, running: bool) -> Stretch:
    return Stretch(
        from_min=out[0], to_min=max(out[0], to_min), what=OUT, device=device, event=out[1], running=running
    )
