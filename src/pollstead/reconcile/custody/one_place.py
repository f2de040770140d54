"""I8: each thing has one place and one custodian at each instant, and a hand-off has its two people.

A thing whose words put it at two places stands at both until people say more; a hand-off that names no
giver or no receiver, or no witness where the county asks for one, is told. Nothing is blocked.
"""

from __future__ import annotations

from collections.abc import Mapping

from pollstead.election.notice import Notice, NoticeKind, by_key
from pollstead.election.rules import BY_ID, CountyRules
from pollstead.election.words import N_, message
from pollstead.reconcile.custody.legs import Leg, LegKind
from pollstead.reconcile.custody.places import Held

WITNESS_RULE = "hand-off-witness"
HAND_OFFS = (LegKind.SENT, LegKind.RECEIVED)


def custody_notices(held: Mapping[str, Held], rules: CountyRules) -> tuple[Notice, ...]:
    """Every thing at two places at once, and every hand-off that lacks a person, by thing."""
    witness = rules.choice(WITNESS_RULE) == "yes"
    found = []
    for thing, one in sorted(held.items()):
        if one.differs:
            found.append(_two_places(thing, one))
        for leg in one.legs:
            lacking = lacking_people(leg, witness=witness)
            if lacking:
                found.append(_lacks(thing, leg, lacking))
    return by_key(tuple(found))


def lacking_people(leg: Leg, *, witness: bool) -> tuple[str, ...]:
    """Which parts of a hand-off nobody is named for: giver, receiver and, where asked for, witness.

    What was sent and has not arrived has no receiver yet; a refusal or a word about a thing is no hand-off.
    """
    if leg.kind not in HAND_OFFS or (leg.kind is LegKind.RECEIVED and leg.state != "received"):
        return ()
    sent = leg.kind is LegKind.SENT
    parts = {"giver": bool(leg.givers or (sent and leg.entered_by))}
    if not sent:
        parts["receiver"] = bool(leg.receivers or leg.entered_by)
        parts["witness"] = bool(leg.witnesses) or not witness
    return tuple(name for name, told in parts.items() if not told)


def _two_places(thing: str, one: Held) -> Notice:
    return Notice(
        kind=NoticeKind.DIFFERENCE,
        rule="two-places",
        subject=thing,
        text=message(
            N_("{thing} is at two places by what was said: {places}."),
            thing=thing,
            places=", ".join(one.places),
        ),
        found=", ".join(one.places),
        wanted="one place",
        remedy=message(N_("Ask both who said so; a correction or the next hand-off tells which.")),
        who_decides="election official",
        depends=tuple(leg.event for leg in one.at),
    )


def _lacks(thing: str, leg: Leg, lacking: tuple[str, ...]) -> Notice:
    return Notice(
        kind=NoticeKind.RULE_NOT_MET,
        rule="hand-off-people",
        subject=f"{thing}/{leg.event[:12]}",
        day=leg.day,
        text=message(
            N_("{thing}: a hand-off to {place} names no {lacking}."),
            thing=thing,
            place=leg.to_place or "?",
            lacking=", ".join(lacking),
        ),
        found=", ".join((*leg.givers, *leg.receivers)),
        remedy=message(N_("Ask who was there, and write it down with its reason.")),
        who_decides=BY_ID[WITNESS_RULE].who_decides,
        depends=(leg.event,),
    )
