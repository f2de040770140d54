"""What jams may have done to a counter: whole-number terms that may explain a difference, or leave it open.

Each jam record says whether the counter moved and where the ballot went. From both follows by how much the
counter may stand above (+) or below (-) the ballots that are otherwise counted. The terms enter the equations
with the coefficient of that device's counters; nothing is subtracted from any count.
"""

from __future__ import annotations

from collections import defaultdict

from pollstead.election.values import Value
from pollstead.reconcile.counts.balance import BalanceLine
from pollstead.reconcile.counts.terms import key_of, split_key
from pollstead.record.facts import Fold

MOVES_ALIKE = (
    "public_counter_close",
    "lifetime_counter_close",
    "report_count_close",
    "memory_count_close",
)
"""The numbers of a device that a ballot counted once too often raises together."""


class Jam(Value, frozen=True, kw_only=True):
    """One jam record. `moved` is how far the counter went meanwhile, None where it was not read twice."""

    event: str
    device: str
    site: str
    at_min: int
    went: str
    before: int | None = None
    after: int | None = None

    @property
    def moved(self) -> int | None:
        """How far the counter went; None where a reading lacks, it fell or went on by more than one."""
        if self.before is None or self.after is None or self.after - self.before not in (0, 1):
            return None
        return self.after - self.before

    @property
    def extra(self) -> tuple[int, int]:
        """The least and the most by which the counter may stand too high because of it."""
        counted = (0, 1) if self.moved is None else (self.moved, self.moved)
        if self.went in ("scanned_again", "auxiliary_bin", "spoiled"):
            # It is counted, or accounted for, once more; so a first count is one too many.
            return counted
        if self.went == "in_box":
            # It lies with the counted ballots; if it was not counted, the counter is one short.
            return (counted[0] - 1, counted[1] - 1)
        return (counted[0] - 1, counted[1])


class JamTerm(Value, frozen=True, kw_only=True):
    """All jams of one device: the least and the most by which its counter may stand too high."""

    device: str
    low: int
    high: int
    jams: tuple[Jam, ...]

    @property
    def known(self) -> bool:
        """Whether the records leave one number only."""
        return self.low == self.high


class Explained(Value, frozen=True, kw_only=True):
    """What jams may explain of one line: ``difference - sum(coefficient x term)``, from `low` to `high`.

    `terms` are pairs (coefficient, term). `possible` says whether 0 is within: a possible explanation. Where
    no number but 0 would be left the records explain the difference exactly; else the rest stays open.
    """

    equation: str
    subject: str
    difference: int
    terms: tuple[tuple[int, JamTerm], ...]
    low: int
    high: int

    @property
    def possible(self) -> bool:
        """Whether the jams may explain all of the difference."""
        return self.low <= 0 <= self.high

    @property
    def exact(self) -> bool:
        """Whether they leave nothing open."""
        return self.low == 0 == self.high

    @property
    def jams(self) -> tuple[Jam, ...]:
        """The jam records behind it, in order of time."""
        return tuple(sorted((j for _, t in self.terms for j in t.jams), key=lambda j: (j.at_min, j.event)))


def jams_of(folded: Fold, site: str, day: str) -> tuple[Jam, ...]:
    """The jam records of a site and day that stand."""
    found = []
    for fact in folded.named("ballot.jam"):
        if fact.day != day:
            continue
        for reading in fact.current:
            if reading.site.removeprefix("site/") != site:
                continue
            before, after = reading.value.get("before"), reading.value.get("after")
            found.append(
                Jam(
                    event=reading.event,
                    device=fact.subject,
                    site=site,
                    at_min=int(str(reading.value["at_min"])),
                    went=str(reading.value.get("went", "not_known")),
                    before=before if isinstance(before, int) else None,
                    after=after if isinstance(after, int) else None,
                )
            )
    return tuple(sorted(found, key=lambda jam: (jam.at_min, jam.event)))


def jam_terms(jams: tuple[Jam, ...]) -> tuple[JamTerm, ...]:
    """One term for each device that jammed."""
    by_device: dict[str, list[Jam]] = defaultdict(list)
    for jam in jams:
        by_device[jam.device].append(jam)
    return tuple(
        JamTerm(
            device=device,
            low=sum(jam.extra[0] for jam in mine),
            high=sum(jam.extra[1] for jam in mine),
            jams=tuple(mine),
        )
        for device, mine in sorted(by_device.items())
    )


def explained(lines: tuple[BalanceLine, ...], terms: tuple[JamTerm, ...]) -> tuple[Explained, ...]:
    """What the jams may explain of each line with a difference; lines that they cannot touch are left out."""
    found = []
    for line in lines:
        if not line.difference:
            continue
        entering = tuple((c, term) for term in terms if (c := _coefficient(line, term.device)))
        if not entering or all(term.low == 0 == term.high for _, term in entering):
            continue
        ends = [sorted((c * term.low, c * term.high)) for c, term in entering]
        found.append(
            Explained(
                equation=line.equation,
                subject=line.subject,
                difference=line.difference,
                terms=entering,
                low=line.difference - sum(end[1] for end in ends),
                high=line.difference - sum(end[0] for end in ends),
            )
        )
    return tuple(found)


def _coefficient(line: BalanceLine, device: str) -> int:
    """By how much the line moves when the device counts one ballot once too often."""
    wanted = {key_of(term, device) for term in MOVES_ALIKE}
    return sum(term.coefficient for term in line.terms if term.key in wanted and split_key(term.key)[1])
