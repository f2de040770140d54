"""Minutes in which voters could not be served, each minute once, each stretch with what was told of it."""

from __future__ import annotations

from collections.abc import Iterable

from pollstead.election.values import Value
from pollstead.reconcile.happening.incidents import STOPPED, Incident

LATE = "late_opening"
OUT = "out_of_service"


class Stretch(Value, frozen=True, kw_only=True):
    """Minutes of the operating day from `from_min` to before `to_min`, and what was told as their reason.

    `device` is "" where the whole site stood. `running` says that nobody has told an end: `to_min` is then
    the minute up to which it is counted.
    """

    from_min: int
    to_min: int
    what: str
    device: str = ""
    incident: str = ""
    event: str = ""
    running: bool = False

    @property
    def minutes(self) -> int:
        """How many minutes it is."""
        return self.to_min - self.from_min


class Lost(Value, frozen=True, kw_only=True):
    """Lost minutes of one site: `site_min` of the whole site, `devices` of each device, both without doubles.

    A minute in which the whole site stood is no device's own. `running` says whether some stretch goes on.
    """

    site: str
    site_min: int
    devices: tuple[tuple[str, int], ...]
    stretches: tuple[Stretch, ...]
    running: bool


def union(spans: Iterable[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Spans that cover the same minutes and do not touch one another, in order; empty ones dropped."""
    joined: list[tuple[int, int]] = []
    for begin, end in sorted(span for span in spans if span[0] < span[1]):
        if joined and begin <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((begin, end))
    return tuple(joined)


def without(
    spans: tuple[tuple[int, int], ...], taken: tuple[tuple[int, int], ...]
) -> tuple[tuple[int, int], ...]:
    """The minutes of `spans` that are not in `taken`."""
    left = list(union(spans))
    for begin, end in taken:
        left = [
            piece for a, b in left for piece in ((a, min(b, begin)), (max(a, end), b)) if piece[0] < piece[1]
        ]
    return union(left)


def length(spans: Iterable[tuple[int, int]]) -> int:
    """How many minutes spans cover, each once."""
    return sum(end - begin for begin, end in union(spans))


def lost_minutes(
    site: str,
    incidents: tuple[Incident, ...],
    *,
    opens_min: int,
    closes_min: int,
    opened_min: int | None,
    now_min: int,
    out: tuple[Stretch, ...] = (),
) -> Lost:
    """The lost minutes of a site within its hours, up to `now_min`.

    Late doors are lost from the opening set to the opening told; while nobody told one that is unknown and
    not counted: where doors stay shut somebody writes an incident down. Each incident with service stopped
    counts from its beginning to its end, or to now. `out` are the stretches in which devices were out of
    service. What reaches beyond the hours is cut at them; the hours are those in force, orders included.
    """
    end = min(closes_min, max(now_min, opens_min))
    late_to = opens_min if opened_min is None else opened_min
    found = []
    if late_to > opens_min:
        found.append(Stretch(from_min=opens_min, to_min=late_to, what=LATE))
    for one in incidents:
        if one.site == site and one.service == STOPPED:
            found.append(
                Stretch(
                    from_min=one.began_min,
                    to_min=end if one.ended_min is None else one.ended_min,
                    what=one.what,
                    device=one.device,
                    incident=one.subject,
                    event=one.event,
                    running=one.goes_on,
                )
            )
    cut = [_cut(stretch, opens_min, end) for stretch in (*found, *out)]
    stretches = tuple(
        sorted((s for s in cut if s.minutes > 0), key=lambda s: (s.from_min, s.to_min, s.device, s.what))
    )
    whole = union((s.from_min, s.to_min) for s in stretches if not s.device)
    devices = []
    for device in dict.fromkeys(s.device for s in stretches if s.device):
        own = tuple((s.from_min, s.to_min) for s in stretches if s.device == device)
        devices.append((device, length(without(own, whole))))
    return Lost(
        site=site,
        site_min=length(whole),
        devices=tuple(sorted(devices)),
        stretches=stretches,
        running=any(s.running for s in stretches),
    )


def _cut(stretch: Stretch, begin: int, end: int) -> Stretch:
    from_min = min(max(stretch.from_min, begin), end)
    return Stretch(
        from_min=from_min,
        to_min=max(from_min, min(stretch.to_min, end)),
        what=stretch.what,
        device=stretch.device,
        incident=stretch.incident,
        event=stretch.event,
        running=stretch.running,
    )
