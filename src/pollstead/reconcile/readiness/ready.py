"""*Ready to open?* for each site, by joining the ledgers: facts, plan, lists, packets, seals, people, rules.

An item is done only by evidence that is named (an event with who and when, or the county's tables);
else it is not done, or unknown. Nothing is done by default.
"""

from __future__ import annotations

import datetime as dt

from pollstead.election.canonical import digest_of
from pollstead.election.county import Election, Site
from pollstead.election.notice import NoticeKind
from pollstead.election.station_type import Moment
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import ExpectedList, PlanVersion, SitePlan
from pollstead.reconcile.actions import RULE_OF, is_confirmed, resolution_of
from pollstead.reconcile.day import DayReport, SiteDay
from pollstead.reconcile.issued import Issued
from pollstead.reconcile.observed import short_site
from pollstead.reconcile.opening.states import DeviceState, ItemState
from pollstead.reconcile.readiness.states import Evidence, ReadyItem, ReadyState, SiteReady
from pollstead.reconcile.readiness.weights import USUAL_WEIGHTS, Weights
from pollstead.record.fold import Fold, Reading

__all__ = ["Evidence", "ReadyItem", "ReadyState", "SiteReady", "ready_to_open"]


def ready_to_open(
    election: Election,
    plan: PlanVersion,
    issued: Issued,
    folded: Fold,
    report: DayReport,
    weights: Weights = USUAL_WEIGHTS,
) -> tuple[SiteReady, ...]:
    """Every site of the day's report, the one to call first at the top.

    `plan` is the version people are about to use; approval, lists and packets must name its digest.
    """
    join = _Join(election, plan, issued, folded, report.date, weights)
    found = [join.site(day) for day in report.sites]
    return tuple(sorted(found, key=lambda one: (-one.rank, -one.points, one.site)))


class _Join:
    """The ledgers of one day, while they are joined."""

    def __init__(
        self,
        election: Election,
        plan: PlanVersion,
        issued: Issued,
        folded: Fold,
        date: dt.date,
        weights: Weights,
    ) -> None:
        self.election, self.plan, self.issued = election, plan, issued
        self.folded, self.date, self.weights = folded, date, weights
        self.plan_digest = digest_of(plan)

    def site(self, day: SiteDay) -> SiteReady:
        site_plan = self.plan.site(day.site)
        expected = self.issued.of(day.site, self.date)
        facts = next((s for s in self.election.sites if s.id == day.site), None)
        made = (
            self._plan_approved(),
            self._expected_list(day.site, expected),
            self._packets(day.site, expected),
            self._devices(site_plan),
            self._seals(expected),
            self._openers(facts),
            self._contact(facts),
            self._hours(facts),
            self._accessible(site_plan),
            self._rules(),
            self._open_items(day.site),
            self._comparison(day),
        )
        items = tuple(item for item in made if item is not None)
        points = sum(item.points for item in items)
        voters = next((d.voters.p50 for d in site_plan.demand if d.date == self.date), 0)
        return SiteReady(
            site=day.site, name=day.name, voters=voters, items=items, points=points, rank=points * voters
        )

    def _item(
        self,
        item: str,
        words: str,
        state: ReadyState,
        text: Message,
        evidence: tuple[Evidence, ...] = (),
        remedy: str = "",
    ) -> ReadyItem:
        points = 0 if state is ReadyState.DONE else self.weights.points(item)
        return ReadyItem(
            id=item,
            words=words,
            state=state,
            text=text,
            evidence=evidence,
            remedy=message(remedy) if remedy and state is not ReadyState.DONE else None,
            points=points,
        )

    def _plan_approved(self) -> ReadyItem:
        fact = self.folded.find("plan", "plan.approved")
        current = () if fact is None else fact.current
        mine = [r for r in current if r.value.get("digest") == self.plan_digest]
        state = ReadyState.DONE if mine else ReadyState.NOT_DONE
        if mine:
            text = message(N_("This plan version is approved."))
        elif current:
            text = message(N_("Another plan version is approved, not this one."))
        else:
            text = message(N_("No plan version is approved."))
        return self._item(
            "plan-approved",
            N_("Plan approved"),
            state,
            text,
            _evidence(mine),
            N_("Approve the plan version by name."),
        )

    def _expected_list(self, site: str, expected: ExpectedList | None) -> ReadyItem:
        words, remedy = N_("Expected list issued"), N_("Issue the expected list of this site.")
        if expected is None:
            text = message(N_("No expected list has been issued for this day."))
            return self._item("expected-list", words, ReadyState.NOT_DONE, text, (), remedy)
        readings = self._readings_of_list(site)
        if expected.plan != self.plan_digest:
            text = message(N_("The list in force belongs to another plan version."))
            return self._item("expected-list", words, ReadyState.NOT_DONE, text, _evidence(readings), remedy)
        text = message(N_("{count} things are expected."), count=len(expected.items))
        return self._item("expected-list", words, ReadyState.DONE, text, _evidence(readings))

    def _readings_of_list(self, site: str) -> list[Reading]:
        fact = self.folded.find(f"site/{site}", "expected", self.date.isoformat())
        event = self.issued.event_of(site, self.date)
        return [] if fact is None else [r for r in fact.current if r.event == event]

    def _packets(self, site: str, expected: ExpectedList | None) -> ReadyItem:
        printed = [
            reading
            for fact in self.folded.named("packet.printed")
            if short_site(fact.subject) == site and fact.day in ("", self.date.isoformat())
            for reading in fact.current
        ]
        lists = self._readings_of_list(site)
        digests = {r.value.get("list_digest") for r in lists}
        # Sheets that do not say for which list: those printed before the list was amended are void.
        amended = max((r.utc_ms for r in lists if r.kind == "expected.amended"), default=0)
        mine = [
            r
            for r in printed
            if r.value.get("plan") == self.plan_digest
            and (
                r.value.get("list_digest") in digests
                or (not r.value.get("list_digest") and r.utc_ms >= amended)
            )
        ]
        if mine:
            text = message(N_("Printed for this plan version."))
        elif printed:
            text = message(N_("Printed, but for another plan version or an older list."))
        else:
            text = message(N_("Not printed yet."))
        state = ReadyState.DONE if mine else ReadyState.NOT_DONE
        remedy = N_("Print the packet of this site; take old sheets back.")
        return self._item("packets", N_("Packet printed"), state, text, _evidence(mine), remedy)

    def _devices(self, plan: SitePlan) -> ReadyItem | None:
        parts = [part for station in plan.stations for part in station.parts if part.by_serial]
        if not parts:
            return None
        missing = [part for part in parts if not part.device or not part.serial]
        words, remedy = N_("Devices assigned, serials known"), N_("Assign devices or add their serials.")
        if missing:
            text = message(
                N_("{missing} of {count} devices have no serial yet."),
                missing=len(missing),
                count=len(parts),
            )
            return self._item("devices", words, ReadyState.NOT_DONE, text, (), remedy)
        text = message(N_("All {count} devices have a serial."), count=len(parts))
        return self._item("devices", words, ReadyState.DONE, text, (_tables("devices"),))

    def _seals(self, expected: ExpectedList | None) -> ReadyItem | None:
        words, remedy = N_("Seal numbers recorded"), N_("Record the numbers after test, by two people.")
        if expected is None:
            text = message(N_("Not known before an expected list is issued."))
            return self._item("seals", words, ReadyState.UNKNOWN, text, (), remedy)
        seals = [i for i in expected.items if i.what == "seal" and i.moment is Moment.OPENING]
        if not seals:
            return None
        missing = [item for item in seals if not item.value]
        if missing:
            text = message(
                N_("{missing} of {count} seal numbers are not recorded."),
                missing=len(missing),
                count=len(seals),
            )
            return self._item("seals", words, ReadyState.NOT_DONE, text, (), remedy)
        text = message(N_("All {count} seal numbers are recorded."), count=len(seals))
        return self._item("seals", words, ReadyState.DONE, text, (_tables("seals"),))

    def _openers(self, site: Site | None) -> ReadyItem:
        need = self.election.rules.whole("openers")
        words = N_("People who can each open the building")
        remedy = N_("Find another person with a key and call both.")
        if site is None or not site.openers:
            text = message(N_("Nobody is named."))
            return self._item("openers", words, ReadyState.UNKNOWN, text, (), remedy)
        have = len(set(site.openers))
        text = message(N_("{have} named, {need} needed."), have=have, need=need)
        state = ReadyState.DONE if have >= need else ReadyState.NOT_DONE
        return self._item("openers", words, state, text, (_tables("sites"),), remedy)

    def _contact(self, site: Site | None) -> ReadyItem:
        known = site is not None and bool(site.contact)
        state = ReadyState.DONE if known else ReadyState.UNKNOWN
        text = message(N_("A contact is named.") if known else N_("No contact is named."))
        remedy = N_("Ask who answers the phone on the morning.")
        evidence = (_tables("sites"),) if known else ()
        return self._item("contact", N_("Contact of the building"), state, text, evidence, remedy)

    def _hours(self, site: Site | None) -> ReadyItem:
        known = site is not None and any(h.date == self.date for h in site.hours)
        state = ReadyState.DONE if known else ReadyState.UNKNOWN
        text = message(
            N_("Opening hours are set for this day.") if known else N_("No hours are set for this day.")
        )
        remedy = N_("Enter the hours of this day.")
        evidence = (_tables("sites"),) if known else ()
        return self._item("hours", N_("Opening hours"), state, text, evidence, remedy)

    def _accessible(self, plan: SitePlan) -> ReadyItem:
        need = self.election.rules.whole("accessible-stations")
        accessible = {t.id for t in self.election.station_types if t.accessible}
        have = sum(count.count for count in plan.counts if count.station_type in accessible)
        text = message(N_("{have} planned, {need} needed."), have=have, need=need)
        state = ReadyState.DONE if have >= need else ReadyState.NOT_DONE
        remedy = N_("Plan another accessible voting station for this site.")
        return self._item(
            "accessible-station",
            N_("Accessible voting stations"),
            state,
            text,
            (Evidence(source="plan"),) if have >= need else (),
            remedy,
        )

    def _rules(self) -> ReadyItem:
        asked = sorted(set(RULE_OF.values()))
        open_rules = [r for r in asked if not is_confirmed(self.election.rules, r, self.folded)]
        text = (
            message(N_("Not confirmed: {rules}."), rules=", ".join(open_rules))
            if open_rules
            else message(N_("The rules for differences at opening are confirmed."))
        )
        state = ReadyState.NOT_DONE if open_rules else ReadyState.DONE
        evidence = () if open_rules else (_tables("rules"),)
        remedy = N_("Ask the election official, and confirm the rules.")
        return self._item("rules", N_("County rules confirmed"), state, text, evidence, remedy)

    def _open_items(self, site: str) -> ReadyItem:
        mine = [
            notice
            for notice in self.plan.notices
            if notice.kind in (NoticeKind.OPEN_ITEM, NoticeKind.FAULT, NoticeKind.RULE_NOT_MET)
            and (notice.subject == f"site/{site}" or notice.subject.startswith(f"station/{site}/"))
            and not resolution_of(notice, self.folded)
        ]
        text = (
            message(N_("{count} open item(s) of the plan."), count=len(mine))
            if mine
            else message(N_("The plan has no open item here."))
        )
        state = ReadyState.NOT_DONE if mine else ReadyState.DONE
        evidence = () if mine else (Evidence(source="plan"),)
        remedy = N_("Work through the open items of this site.")
        return self._item("open-items", N_("Open items"), state, text, evidence, remedy)

    def _comparison(self, day: SiteDay) -> ReadyItem:
        words, remedy = N_("Opening comparison"), N_("Read what is left; the other devices may go on.")
        items = day.at(Moment.OPENING)
        if not day.list_issued or not items:
            text = message(N_("Nothing to compare with yet."))
            return self._item("opening-comparison", words, ReadyState.UNKNOWN, text, (), remedy)
        left = [r for r in items if r.state in (ItemState.NOT_SEEN, ItemState.WAITING)]
        waiting = [d for d in day.devices if d.state is DeviceState.NOT_YET]
        if left or waiting:
            text = message(
                N_("{left} of {count} readings to come; {waiting} device(s) not yet ready."),
                left=len(left),
                count=len(items),
                waiting=len(waiting),
            )
            return self._item("opening-comparison", words, ReadyState.NOT_DONE, text, (), remedy)
        last = max(
            (o for r in items for o in r.observations), key=lambda o: (o.utc_ms, o.event), default=None
        )
        out = sum(d.state is DeviceState.OUT_OF_SERVICE for d in day.devices)
        text = message(N_("Everything was read; {out} device(s) out of service."), out=out)
        evidence = (
            ()
            if last is None
            else (Evidence(source=last.kind, event=last.event, people=last.entered_by, utc_ms=last.utc_ms),)
        )
        return self._item("opening-comparison", words, ReadyState.DONE, text, evidence)


def _tables(name: str) -> Evidence:
    return Evidence(source=f"table {name}")


def _evidence(readings: list[Reading]) -> tuple[Evidence, ...]:
    return tuple(
        Evidence(source=r.kind, event=r.event, people=tuple(p.person for p in r.people), utc_ms=r.utc_ms)
        for r in readings
    )
