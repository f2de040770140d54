"""Badges at the scan station: a scanned badge says who works here, two badges are the pair.

A badge's code is the person's id and nothing else. It is no proof: a copied badge says the same, and every
entry made with one says ``code``.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Final

import msgspec
from litestar import Response

from pollstead.election.words import N_
from pollstead.record.event import Means
from pollstead.show.web.open_folder import person_id
from pollstead.show.web.pages.frame import Ask, go
from pollstead.show.web.who import Who, who_cookie

BADGE: Final = re.compile(r"person/[A-Za-z0-9][A-Za-z0-9._-]{0,63}", re.IGNORECASE)

DID: Final = {
    "badge-first": ("square", N_("Signed in by badge. The next badge makes the pair.")),
    "badge-pair": ("square", N_("The pair is signed in")),
    "badge-turn": ("square", N_("The other one of the pair enters now")),
    "badge-none": ("cross", N_("Nobody of this county has this badge")),
}
"""What a scan page says in large words after a badge, by the key in its address."""


def is_badge(code: str) -> bool:
    """Whether a scanned code is a badge's: no serial, tag or seal number begins like it."""
    return BADGE.fullmatch(code.strip()) is not None


def person_of_badge(ask: Ask, code: str) -> str:
    """The person's id as events name it; empty where nobody has it. Scanners may change the case."""
    wanted = code.strip().casefold()
    found = {person_id(p) for p in ask.folder.people() if person_id(p).casefold() == wanted}
    return found.pop() if len(found) == 1 else ""


def after_badge(who: Who, person: str) -> tuple[Who, str]:
    """Who works here once `person` scanned a badge, and what is said.

    The first badge signs in, another one makes the pair; within a pair the scanned one enters from now on;
    anybody else begins anew.
    """
    by_badge = who.means is Means.CODE
    if by_badge and person == who.second:
        return msgspec.structs.replace(who, person=person, second=who.person), "badge-turn"
    if by_badge and not who.second and person != who.person:
        return msgspec.structs.replace(who, second=person), "badge-pair"
    if by_badge and person == who.person:
        return who, "badge-pair" if who.second else "badge-first"
    return Who(person=person, role=who.role, means=Means.CODE), "badge-first"


def badge_answer(ask: Ask, code: str, at: Callable[[str, Who], str]) -> Response[Any] | None:
    """The answer to a scanned badge; None for every other code. `at` is the address of what was done."""
    if not is_badge(code):
        return None
    person = person_of_badge(ask, code)
    if not person:
        return go(at("badge-none", ask.person()))
    who, did = after_badge(ask.person(), person)
    return signed_in(go(at(did, who)), who)


def signed_in(answered: Response[Any], who: Who) -> Response[Any]:
    """The answer, with the cookie that says who works here."""
    answered.cookies.append(who_cookie(who))
    return answered
