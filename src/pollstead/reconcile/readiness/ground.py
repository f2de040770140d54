"""What the questions of one day read: facts by site, the record, the plan, the window that has begun."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict

from pollstead.election.canonical import digest_of
from pollstead.election.contacts import SiteContact
from pollstead.election.county import Election, Person, Site
from pollstead.election.instants import OperatingDay
from pollstead.election.notice import Notice
from pollstead.election.words import Message, message
from pollstead.plan.terms.decks import DeckSet
from pollstead.plan.terms.version import PlanVersion
from pollstead.reconcile.custody.pairs import Warehouse, warehouse
from pollstead.reconcile.decks.runs import DeckBook
from pollstead.reconcile.issued import Issued
from pollstead.reconcile.observed import short_site
from pollstead.reconcile.readiness.heard import Calls, evidence_of
from pollstead.reconcile.readiness.states import Evidence, ReadyItem, ReadyState, Whom
from pollstead.reconcile.readiness.windows import window_at, windows_of
from pollstead.record.fold import Fold, Reading

MS_PER_DAY = 86_400_000
OFFICE = "office"
NO_DECKS = DeckSet()


class Ground:
    """The ledgers of one day, looked up once for all sites."""

    def __init__(
        self,
        election: Election,
        plan: PlanVersion,
        issued: Issued,
        folded: Fold,
        date: dt.date,
        now_ms: int,
        notices: tuple[Notice, ...],
        decks: DeckSet = NO_DECKS,
    ) -> None:
        self.election, self.plan, self.issued, self.folded = election, plan, issued, folded
        self.date, self.now_ms = date, now_ms
        self.plan_digest = digest_of(plan)
        self.calls = Calls(folded)
        self.decks = DeckBook(election, decks, folded)
        self.windows = windows_of(election, date)
        self.window = window_at(self.windows, now_ms)
        self.people: dict[str, Person] = {p.id: p for p in election.people}
        self.crew: dict[str, list[Person]] = defaultdict(list)
        for person in election.people:
            self.crew[person.site].append(person)
        self.contacts: dict[str, list[SiteContact]] = defaultdict(list)
        for row in election.site_contacts:
            self.contacts[row.site].append(row)
        self.access = {row.site: row for row in election.site_access}
        self.sites: dict[str, Site] = {s.id: s for s in election.sites}
        self.notices: dict[str, list[Notice]] = defaultdict(list)
        for notice in notices:
            self.notices[short_site(notice.subject)].append(notice)
        self.plan_notices: dict[str, list[Notice]] = defaultdict(list)
        for notice in plan.notices:
            kind, _, rest = notice.subject.partition("/")
            if kind in ("site", "station"):
                self.plan_notices[rest.partition("/")[0]].append(notice)
        self.printed: dict[str, list[tuple[str, Reading]]] = defaultdict(list)
        for fact in folded.named("packet.printed"):
            for reading in fact.current:
                self.printed[short_site(fact.subject)].append((fact.day, reading))
        self.told: dict[tuple[str, str], tuple[Reading, ...]] = {
            (short_site(fact.subject), str(fact.key.get("question", ""))): fact.current
            for fact in folded.named("ready")
        }
        house: Warehouse = warehouse(folded)
        self.tests = {test.device: test for test in house.tests}
        self.warehouse_person = self._role("warehouse manager") or self._role("warehouse")
        self.equipment_person = self._role("equipment") or self.warehouse_person

    def _role(self, word: str) -> str:
        return next((p.id for p in self.election.people if word in p.role.casefold()), "")

    @property
    def window_ms(self) -> int | None:
        """When the present window began; None before the first."""
        return None if self.window is None else self.window.starts_ms

    def fresh(self, utc_ms: int) -> bool:
        """Whether something said at this moment counts in the present window, and was said by now."""
        return utc_ms <= self.now_ms and (self.window_ms is None or utc_ms >= self.window_ms)

    def start_of(self, date: dt.date) -> int:
        """The first moment of a date on the county's clock."""
        return OperatingDay(date=date, zone_name=self.election.zone_name).start().utc_ms

    def phones(self, person: str, site: str = "") -> tuple[str, ...]:
        """Every phone that the tables tell of a person, the main one first."""
        known = self.people.get(person)
        first = (known.phone,) if known is not None and known.phone else ()
        rows = self.contacts[site] if site else self.election.site_contacts
        others = tuple(row.other_phone for row in rows if row.person == person and row.other_phone)
        return tuple(dict.fromkeys((*first, *others)))

    def needed_by(self, site: str) -> int | None:
        """The minute at which the crew needs the door; None while no hours are told."""
        known = self.sites.get(site)
        hours = next((h for h in known.hours if h.date == self.date), None) if known is not None else None
        if hours is None:
            return None
        return max(0, hours.opens_min - self.election.rules.whole("morning-set-up"))

    def someone(self, person: str, role: str) -> Whom:
        """The person where the tables name one, else the office, which has to find out."""
        return Whom(person=person, role=role) if person else Whom(role=OFFICE)


def item(
    question: str,
    words: str,
    state: ReadyState,
    text: Message,
    *,
    whom: Whom | None = None,
    evidence: tuple[Evidence, ...] = (),
    remedy: str | Message = "",
    old: bool = False,
    id: str = "",
    group: str = "",
    member: str = "",
) -> ReadyItem:
    """One question; what is known to be good needs no remedy."""
    good = state is ReadyState.GOOD
    step = message(remedy) if isinstance(remedy, str) and remedy else remedy
    return ReadyItem(
        id=id or question,
        question=question,
        words=words,
        state=state,
        text=text,
        old=old and state is ReadyState.UNKNOWN,
        evidence=evidence,
        remedy=None if good or not step or isinstance(step, str) else step,
        whom=whom or Whom(role=OFFICE),
        group=group,
        member=member,
    )


def table(name: str, utc_ms: int | None = None) -> Evidence:
    """A table of the county as evidence, with a date where it tells one."""
    return Evidence(source=f"table {name}", utc_ms=utc_ms)


def events(readings: list[Reading]) -> tuple[Evidence, ...]:
    """Events as evidence."""
    return tuple(evidence_of(reading) for reading in readings)
