"""Questions that the office's own ledgers settle: plan, list, packet, devices, tests, seals, rules."""

from __future__ import annotations

from pollstead.election.notice import NoticeKind
from pollstead.election.station_type import Moment
from pollstead.election.words import N_, message
from pollstead.plan.terms.version import ExpectedList, SitePlan
from pollstead.reconcile.actions import RULE_OF, is_confirmed, resolution_of
from pollstead.reconcile.day import SiteDay
from pollstead.reconcile.decks.runs import DeckState
from pollstead.reconcile.opening.states import DeviceState, ItemState
from pollstead.reconcile.readiness.ground import Ground, events, item, table
from pollstead.reconcile.readiness.states import Evidence, ReadyItem, ReadyState, Whom
from pollstead.record.fold import Reading

EQUIPMENT = N_("equipment")
GOOD, BAD, UNKNOWN = ReadyState.GOOD, ReadyState.BAD, ReadyState.UNKNOWN
OPEN_KINDS = (NoticeKind.OPEN_ITEM, NoticeKind.FAULT, NoticeKind.RULE_NOT_MET)


def plan_item(ground: Ground) -> ReadyItem:
    """Whether the plan version in use is approved; approval of another does not count."""
    fact = ground.folded.find("plan", "plan.approved")
    current = () if fact is None else fact.current
    mine = [r for r in current if r.value.get("digest") == ground.plan_digest]
    if mine:
        text = message(N_("This plan version is approved."))
    elif current:
        text = message(N_("Another plan version is approved, not this one."))
    else:
        text = message(N_("No plan version is approved."))
    return item(
        "plan-approved",
        N_("Plan approved"),
        GOOD if mine else BAD,
        text,
        evidence=events(mine),
        remedy=N_("Approve the plan version by name."),
    )


def list_item(ground: Ground, site: str, expected: ExpectedList | None) -> ReadyItem:
    """Whether the expected list of this plan version is issued."""
    words, remedy = N_("Expected list issued"), N_("Issue the expected list of this site.")
    if expected is None:
        text = message(N_("No expected list has been issued for this day."))
        return item("expected-list", words, BAD, text, remedy=remedy)
    readings = events(_readings_of_list(ground, site))
    if expected.plan != ground.plan_digest:
        text = message(N_("The list in force belongs to another plan version."))
        return item("expected-list", words, BAD, text, evidence=readings, remedy=remedy)
    text = message(N_("{count} things are expected."), count=len(expected.items))
    return item("expected-list", words, GOOD, text, evidence=readings)


def _readings_of_list(ground: Ground, site: str) -> list[Reading]:
    fact = ground.folded.find(f"site/{site}", "expected", ground.date.isoformat())
    event = ground.issued.event_of(site, ground.date)
    return [] if fact is None else [r for r in fact.current if r.event == event]


def packet_item(ground: Ground, site: str) -> ReadyItem:
    """Whether the packet was printed for this plan version and the list in force."""
    printed = [r for day, r in ground.printed[site] if day in ("", ground.date.isoformat())]
    lists = _readings_of_list(ground, site)
    digests = {r.value.get("list_digest") for r in lists}
    # Sheets that do not say for which list: those printed before the list was amended are void.
    amended = max((r.utc_ms for r in lists if r.kind == "expected.amended"), default=0)
    mine = [
        r
        for r in printed
        if r.value.get("plan") == ground.plan_digest
        and (
            r.value.get("list_digest") in digests or (not r.value.get("list_digest") and r.utc_ms >= amended)
        )
    ]
    if mine:
        text = message(N_("Printed for this plan version."))
    elif printed:
        text = message(N_("Printed, but for another plan version or an older list."))
    else:
        text = message(N_("Not printed yet."))
    remedy = N_("Print the packet of this site; take old sheets back.")
    state = GOOD if mine else BAD
    return item("packets", N_("Packet printed"), state, text, evidence=events(mine), remedy=remedy)


def device_items(ground: Ground, plan: SitePlan) -> list[ReadyItem]:
    """Whether devices have serials, and whether each passed its test."""
    parts = [part for station in plan.stations for part in station.parts if part.by_serial]
    if not parts:
        return []
    whom = ground.someone(ground.equipment_person, EQUIPMENT)
    missing = [part for part in parts if not part.device or not part.serial]
    words, remedy = N_("Devices assigned, serials known"), N_("Assign devices or add their serials.")
    if missing:
        text = message(
            N_("{missing} of {count} devices have no serial yet."), missing=len(missing), count=len(parts)
        )
        made = [item("devices", words, BAD, text, remedy=remedy)]
    else:
        text = message(N_("All {count} devices have a serial."), count=len(parts))
        made = [item("devices", words, GOOD, text, evidence=(table("devices"),))]
    tests = [ground.tests.get(part.device) for part in parts]
    failed = sum(test is not None and not test.passed for test in tests)
    passed = [test for test in tests if test is not None and test.passed]
    evidence = tuple(
        Evidence(source="device.tested", people=test.people, utc_ms=test.utc_ms)
        for test in sorted(passed, key=lambda t: t.utc_ms)[-1:]
    )
    words, remedy = N_("Devices tested"), N_("Test what is left, by two people; swap what did not pass.")
    figures = {"passed": len(passed), "count": len(parts), "failed": failed}
    if failed:
        text = message(N_("{passed} of {count} passed, {failed} did not."), **figures)
        state = BAD
    elif len(passed) < len(parts):
        text = message(N_("{passed} of {count} passed; of the others no test is recorded."), **figures)
        state = UNKNOWN
    else:
        text, state = message(N_("All {count} passed."), count=len(parts)), GOOD
    made.append(item("tests", words, state, text, whom=whom, evidence=evidence, remedy=remedy))
    return made


def deck_item(ground: Ground, plan: SitePlan) -> ReadyItem | None:
    """Whether each counting device's report over its test decks matched; None where no ballot is known."""
    devices = ground.decks.of_site(plan)
    if not devices:
        return None
    differs = sum(device.state is DeckState.DIFFERS for device in devices)
    matched = [device for device in devices if device.state is DeckState.MATCHED]
    evidence = tuple(
        Evidence(source="deck.compared", event=run.event, people=run.people, utc_ms=run.utc_ms)
        for run in sorted((d.runs[-1] for d in matched), key=lambda r: r.utc_ms)[-1:]
    )
    figures = {"matched": len(matched), "count": len(devices), "differs": differs}
    if differs:
        text = message(N_("Reports of {matched} of {count} matched, of {differs} they differ."), **figures)
        state = BAD
    elif len(matched) < len(devices):
        text = message(
            N_("Reports of {matched} of {count} matched; of the others that is not recorded."), **figures
        )
        state = UNKNOWN
    else:
        text, state = message(N_("The reports of all {count} matched."), count=len(devices)), GOOD
    return item(
        "decks",
        N_("Test decks read, reports compared"),
        state,
        text,
        whom=ground.someone(ground.equipment_person, EQUIPMENT),
        evidence=evidence,
        remedy=N_("Read the decks of this site's ballots and compare the reports, by two people."),
    )


def seal_item(ground: Ground, expected: ExpectedList | None) -> ReadyItem | None:
    """Whether every seal of the opening has its number; None where the site has none."""
    words, remedy = N_("Seal numbers recorded"), N_("Record the numbers after test, by two people.")
    whom = ground.someone(ground.equipment_person, EQUIPMENT)
    if expected is None:
        text = message(N_("Not known before an expected list is issued."))
        return item("seals", words, UNKNOWN, text, remedy=remedy)
    seals = [i for i in expected.items if i.what == "seal" and i.moment is Moment.OPENING]
    if not seals:
        return None
    missing = [one for one in seals if not one.value]
    if missing:
        text = message(
            N_("{missing} of {count} seal numbers are not recorded."), missing=len(missing), count=len(seals)
        )
        return item("seals", words, BAD, text, whom=whom, remedy=remedy)
    text = message(N_("All {count} seal numbers are recorded."), count=len(seals))
    return item("seals", words, GOOD, text, evidence=(table("seals"),))


def hours_item(ground: Ground, site: str) -> ReadyItem:
    """Whether the opening hours of the day are told."""
    known = ground.needed_by(site) is not None
    text = N_("Opening hours are set for this day.") if known else N_("No hours are set for this day.")
    evidence = (table("sites"),) if known else ()
    remedy = N_("Enter the hours of this day.")
    return item(
        "hours",
        N_("Opening hours"),
        GOOD if known else UNKNOWN,
        message(text),
        evidence=evidence,
        remedy=remedy,
    )


def accessible_item(ground: Ground, plan: SitePlan) -> ReadyItem:
    """Whether as many accessible stations are planned as the county's rule wants."""
    need = ground.election.rules.whole("accessible-stations")
    accessible = {t.id for t in ground.election.station_types if t.accessible}
    have = sum(count.count for count in plan.counts if count.station_type in accessible)
    return item(
        "accessible-station",
        N_("Accessible voting stations"),
        GOOD if have >= need else BAD,
        message(N_("{have} planned, {need} needed."), have=have, need=need),
        evidence=(Evidence(source="plan"),) if have >= need else (),
        remedy=N_("Plan another accessible voting station for this site."),
    )


def rules_item(ground: Ground) -> ReadyItem:
    """Whether somebody confirmed what is done about differences at opening."""
    asked = sorted(set(RULE_OF.values()))
    still = [r for r in asked if not is_confirmed(ground.election.rules, r, ground.folded)]
    text = (
        message(N_("Not confirmed: {rules}."), rules=", ".join(still))
        if still
        else message(N_("The rules for differences at opening are confirmed."))
    )
    return item(
        "rules",
        N_("County rules confirmed"),
        BAD if still else GOOD,
        text,
        evidence=() if still else (table("rules"),),
        remedy=N_("Ask the election official, and confirm the rules."),
    )


def open_item_of(ground: Ground, site: str) -> ReadyItem:
    """Whether the plan's own notices about the site are decided."""
    mine = [
        notice
        for notice in ground.plan_notices[site]
        if notice.kind in OPEN_KINDS and not resolution_of(notice, ground.folded)
    ]
    text = (
        message(N_("Open items of the plan: {count}."), count=len(mine))
        if mine
        else message(N_("The plan has no open item here."))
    )
    return item(
        "open-items",
        N_("Open items"),
        BAD if mine else GOOD,
        text,
        evidence=() if mine else (Evidence(source="plan"),),
        remedy=N_("Work through the open items of this site."),
    )


def comparison_item(ground: Ground, day: SiteDay) -> ReadyItem | None:
    """On the day itself: whether everything was read. Before that day nobody can, so it is not asked."""
    if ground.now_ms < ground.start_of(ground.date):
        return None
    words, remedy = N_("Opening comparison"), N_("Read what is left; the other devices may go on.")
    lead = Whom(role="office")
    items = day.at(Moment.OPENING)
    if not day.list_issued or not items:
        text = message(N_("Nothing to compare with yet."))
        return item("opening-comparison", words, UNKNOWN, text, whom=lead, remedy=remedy)
    left = [r for r in items if r.state in (ItemState.NOT_SEEN, ItemState.WAITING)]
    waiting = [d for d in day.devices if d.state is DeviceState.NOT_YET]
    if left or waiting:
        text = message(
            N_("{left} of {count} readings to come; devices not yet ready: {waiting}."),
            left=len(left),
            count=len(items),
            waiting=len(waiting),
        )
        return item("opening-comparison", words, BAD, text, whom=lead, remedy=remedy)
    last = max((o for r in items for o in r.observations), key=lambda o: (o.utc_ms, o.event), default=None)
    out = sum(d.state is DeviceState.OUT_OF_SERVICE for d in day.devices)
    text = message(N_("Everything was read; devices out of service: {out}."), out=out)
    evidence = (
        ()
        if last is None
        else (Evidence(source=last.kind, event=last.event, people=last.entered_by, utc_ms=last.utc_ms),)
    )
    return item("opening-comparison", words, GOOD, text, evidence=evidence)
