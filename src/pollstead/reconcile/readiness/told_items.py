"""Questions that people's own word settles: delivery, supplies, and what fact rules say of a building."""

from __future__ import annotations

from pollstead.election.notice import Notice
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.actions import resolution_of
from pollstead.reconcile.readiness.ground import Ground, item, table
from pollstead.reconcile.readiness.heard import evidence_of
from pollstead.reconcile.readiness.people_items import ANSWERS, BAD, GOOD, UNKNOWN, contact_of
from pollstead.reconcile.readiness.states import Evidence, ReadyItem, ReadyState, Whom

WAREHOUSE = N_("warehouse")
TOLD = (
    "delivery",
    "supplies",
    "crew",
    "building-way-in",
    "building-power",
    "building-room",
    "building-other",
)
"""Questions that what a person saw or said settles; every other one is settled by its own ledger."""

HANDLED_BY_CALLS = frozenset({"opener-not-confirmed"})
BUILDING: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("building-way-in", N_("Keys and the way in"), ("site_access.csv",)),
    ("building-power", N_("Power"), ("circuits.csv", "outlets.csv", "ports.csv")),
    ("building-room", N_("Room"), ("rooms.csv", "room_corners.csv", "doors.csv", "site_survey.csv")),
    ("building-other", N_("Around the building"), ("site_times.csv", "site_routes.csv", "vehicles.csv")),
)


def told(ground: Ground, site: str, question: str) -> tuple[ReadyState, bool, Message, Evidence] | None:
    """The last word about a question: an event of its own, or a call that settled it; None for none."""
    found: list[tuple[int, str, str, Evidence]] = []
    for reading in ground.told.get((site, question), ()):
        if reading.utc_ms <= ground.now_ms:
            result = "" if reading.kind == "ready.unknown" else str(reading.value.get("result", ""))
            found.append((reading.utc_ms, reading.event, result, evidence_of(reading)))
    for call in ground.calls.about(site):
        mine = question in call.questions or (question == "delivery" and call.purpose == "delivery")
        if mine and call.answered and call.utc_ms <= ground.now_ms:
            result = "good" if call.result == "answered_yes" else "bad"
            found.append((call.utc_ms, call.event, result, call.evidence))
    if not found:
        return None
    utc_ms, _, result, evidence = max(found, key=lambda one: one[:2])
    if not result:
        return UNKNOWN, False, message(N_("What was seen counts no longer.")), evidence
    if result == "bad":
        return BAD, False, message(N_("Somebody saw or said that it is not so.")), evidence
    if not ground.fresh(utc_ms):
        text = message(N_("Seen or said before the present call-back window."))
        return UNKNOWN, True, text, evidence
    return GOOD, False, message(N_("Seen or said in this window.")), evidence


def with_word(ground: Ground, site: str, one: ReadyItem | None) -> ReadyItem | None:
    """The question with the last word about it in place of what the tables say."""
    if one is None or one.state is GOOD:
        return one
    word = told(ground, site, one.question)
    if word is None:
        return one
    state, old, text, evidence = word
    if one.state is BAD and state is UNKNOWN:
        # The tables say bad, and an old or withdrawn word does not change that.
        return one
    return item(
        one.question,
        one.words,
        state,
        text,
        whom=one.whom,
        evidence=(evidence,),
        remedy=one.remedy or "",
        old=old,
        id=one.id,
    )


def delivery_item(ground: Ground, site: str) -> ReadyItem | None:
    """Whether cart and boxes are at the site, by what somebody saw or said."""
    return with_word(
        ground,
        site,
        item(
            "delivery",
            N_("Delivery: cart and boxes"),
            UNKNOWN,
            message(N_("Nobody has said that they are there.")),
            whom=ground.someone(ground.warehouse_person, WAREHOUSE),
            remedy=N_("Call the warehouse: is it there, locked, and in the right room?"),
        ),
    )


def supplies_item(ground: Ground, site: str) -> ReadyItem | None:
    """Whether what is on the packing list was packed, by what somebody saw or said."""
    return with_word(
        ground,
        site,
        item(
            "supplies",
            N_("Supplies packed"),
            UNKNOWN,
            message(N_("Nobody has said that the packing list was ticked.")),
            whom=ground.someone(ground.warehouse_person, WAREHOUSE),
            remedy=N_("Ask who packed it, and whether every line is ticked."),
        ),
    )


def building_items(ground: Ground, site: str) -> list[ReadyItem]:
    """What the fact rules say of the building: each notice a question; else known, or not told."""
    contact = contact_of(ground, site)
    whom = ground.someone(contact, ANSWERS)
    made: list[ReadyItem] = []
    for question, words, files in BUILDING:
        mine = [n for n in ground.notices[site] if n.place is not None and n.place.file in files]
        standing = [n for n in mine if n.rule not in HANDLED_BY_CALLS and not resolution_of(n, ground.folded)]
        if standing:
            made += [_trap(ground, site, question, words, notice, whom) for notice in standing]
            continue
        if _has_rows(ground, site, question):
            text = message(N_("The rules that read the tables have nothing against it."))
            made.append(item(question, words, GOOD, text, evidence=(table(files[0].removesuffix(".csv")),)))
            continue
        text = message(N_("The tables tell nothing of it."))
        remedy = N_("Ask the contact, or look on the survey visit.")
        bare = item(question, words, UNKNOWN, text, whom=whom, remedy=remedy)
        made.append(with_word(ground, site, bare) or bare)
    return made


def _trap(ground: Ground, site: str, question: str, words: str, notice: Notice, whom: Whom) -> ReadyItem:
    made = item(
        question,
        words,
        BAD,
        notice.text,
        whom=whom,
        evidence=(table(notice.place.file.removesuffix(".csv") if notice.place else ""),),
        remedy=notice.remedy or N_("Ask the contact what is to be done."),
        id=f"{question}/{notice.rule}" + (f"/{notice.day}" if notice.day else ""),
    )
    return with_word(ground, site, made) or made


def _has_rows(ground: Ground, site: str, question: str) -> bool:
    election = ground.election
    if question == "building-way-in":
        return site in ground.access
    if question == "building-power":
        return any(row.site == site for row in election.outlets)
    if question == "building-room":
        return any(row.site == site for row in election.rooms)
    return any(r.site == site for r in election.site_routes) or any(
        t.site == site for t in election.site_times
    )
