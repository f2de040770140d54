"""What the record says of test decks: each comparison, which one repeats which, how a device stands."""

from __future__ import annotations

import enum
from collections import defaultdict

from pollstead.election.canonical import digest_of
from pollstead.election.county import Election
from pollstead.election.station_type import VoterStep
from pollstead.election.values import Value
from pollstead.plan.terms.deck_places import faces_by_site
from pollstead.plan.terms.decks import DeckSet
from pollstead.plan.terms.version import SitePlan
from pollstead.record.event import Part
from pollstead.record.facts import Fold, Reading
from pollstead.record.kinds.decks import DeckCompared

COUNTING = (VoterStep.CAST, VoterStep.MARK_AND_CAST)
"""Steps whose device gives a report of totals."""


class DeckRun(Value, frozen=True, kw_only=True):
    """One comparison of a device's report."""

    event: str
    device: str
    matched: bool
    decks: tuple[str, ...]
    digest: str
    ballots: int
    compared: int
    cells: tuple[str, ...]
    expected: tuple[int, ...]
    observed: tuple[int, ...]
    again: str
    lifetime_before: int | None
    lifetime_after: int | None
    people: tuple[str, ...]
    utc_ms: int


class DeckState(enum.StrEnum):
    """How far a device is with its decks."""

    NOT_READ = "no deck read yet"
    SOME = "some decks still to be read"
    DIFFERS = "report differs"
    CHANGED = "ballots changed since"
    ONE_PERSON = "compared by one person"
    MATCHED = "matched"


class DeviceDecks(Value, frozen=True, kw_only=True):
    """One counting device: the decks that it needs, its comparisons, oldest first, and how it stands."""

    device: str
    serial: str
    site: str
    station_type: str
    wanted: tuple[str, ...]
    runs: tuple[DeckRun, ...]
    state: DeckState

    @property
    def last(self) -> DeckRun | None:
        """The last comparison."""
        return self.runs[-1] if self.runs else None


def digest_of_decks(decks: DeckSet) -> str:
    """The digest that a comparison names: faces and decks, so that a changed ballot is known."""
    return digest_of(decks)


def deck_runs(folded: Fold) -> dict[str, tuple[DeckRun, ...]]:
    """The comparisons of each device that stand, in the order in which they were made."""
    found: dict[str, list[tuple[int, DeckRun]]] = defaultdict(list)
    for fact in folded.named(DeckCompared.kind):
        for reading in fact.current:
            # By cause, then clock: a comparison names the one that it repeats, whatever the clocks say.
            at = folded.place_in_order[reading.event]
            found[fact.subject].append((at, _run(fact.subject, reading)))
    return {
        device: tuple(run for _, run in sorted(runs, key=lambda one: one[0]))
        for device, runs in found.items()
    }


class DeckBook:
    """The decks of a county against the record: which device needs which, and how it stands."""

    def __init__(self, election: Election, decks: DeckSet, folded: Fold) -> None:
        self.decks = decks
        self.runs = deck_runs(folded)
        known = set(decks.keys)
        self._wanted = {
            site: tuple(key for key in keys if key in known) for site, keys in faces_by_site(election).items()
        }
        self._counting = {kind.id for kind in election.station_types if kind.step in COUNTING}
        self._digests: dict[tuple[str, ...], str] = {}

    def of_site(self, plan: SitePlan) -> tuple[DeviceDecks, ...]:
        """Every counting device of a site with the decks of its ballots; empty where none is described."""
        wanted = self._wanted.get(plan.site, ())
        found = []
        for station in plan.stations if wanted else ():
            # A station's first machine is the one that counts.
            part = next((part for part in station.parts if part.by_serial and part.device), None)
            if station.station_type in self._counting and part is not None:
                mine = self.runs.get(part.device, ())
                found.append(
                    DeviceDecks(
                        device=part.device,
                        serial=part.serial,
                        site=plan.site,
                        station_type=station.station_type,
                        wanted=wanted,
                        runs=mine,
                        state=self.state_of(wanted, mine),
                    )
                )
        return tuple(found)

    def state_of(self, wanted: tuple[str, ...], runs: tuple[DeckRun, ...]) -> DeckState:
        """How a device stands: for each deck the last comparison that read it counts."""
        last: dict[str, DeckRun] = {}
        for run in runs:
            last.update(dict.fromkeys(run.decks, run))
        mine = [last[key] for key in wanted if key in last]
        if not mine:
            return DeckState.NOT_READ
        if any(not run.matched for run in mine):
            return DeckState.DIFFERS
        if any(self._digest(run.decks) != run.digest for run in dict.fromkeys(mine)):
            return DeckState.CHANGED
        if any(len(run.people) < 2 for run in mine):
            return DeckState.ONE_PERSON
        return DeckState.MATCHED if len(mine) == len(wanted) else DeckState.SOME

    def _digest(self, keys: tuple[str, ...]) -> str:
        if keys not in self._digests:
            self._digests[keys] = digest_of_decks(self.decks.only(keys))
        return self._digests[keys]


def _run(device: str, reading: Reading) -> DeckRun:
    value = reading.value
    return DeckRun(
        event=reading.event,
        device=device,
        matched=value.get("result") == "matched",
        decks=tuple(map(str, value.get("decks", ()))),
        digest=str(value.get("digest", "")),
        ballots=_whole(value.get("ballots")) or 0,
        compared=_whole(value.get("compared")) or 0,
        cells=tuple(map(str, value.get("cells", ()))),
        expected=tuple(_whole(n) or 0 for n in value.get("expected", ())),
        observed=tuple(_whole(n) or 0 for n in value.get("observed", ())),
        again=str(value.get("again", "")),
        lifetime_before=_whole(value.get("lifetime_before")),
        lifetime_after=_whole(value.get("lifetime_after")),
        people=tuple(dict.fromkeys(p.person for p in reading.people if p.part in (Part.AUTHOR, Part.SECOND))),
        utc_ms=reading.utc_ms,
    )


def _whole(value: object) -> int | None:
    return value if isinstance(value, int) and not isinstance(value, bool) else None
