"""Who may do what: the roles, and one table from every route to the capability that it asks for.

A route that stands in no line of `ROUTES` is refused, so that a new page cannot be open by accident.
"""

from __future__ import annotations

import enum
from types import MappingProxyType
from typing import Final

from pollstead.election.words import N_


class Role(enum.StrEnum):
    """The part that a person plays at this computer; chosen with the name."""

    COORDINATOR = "coordinator"
    HELPER = "helper"
    WAREHOUSE = "warehouse"
    CLERK = "clerk"
    SITE_LEAD = "site lead"
    READER = "reader"


OLD_ROLES: Final = frozenset({"office", "seal custodian"})
"""Names that roles had once; a cookie that holds one asks for a new choice."""


class Capability(enum.StrEnum):
    """What a route, or a part of a page, lets a person do."""

    NONE = "none"
    READ = "read"
    SEE_PEOPLE = "see names of people"
    SEE_PHONES = "see phones"
    SEE_OWN_PHONES = "see phones of the own site"
    SEE_KEYS = "see who opens a building"
    SEE_PARTY = "see parties"
    SEE_EXPECTED = "see expected numbers"
    ENTER = "enter readings"
    CORRECT = "correct entries"
    RESOLVE = "resolve notices"
    COMPUTE = "start and cancel jobs"
    APPROVE = "approve plan versions"
    ISSUE = "issue expected lists"
    CHANGE = "change facts and the plan"
    CALL = "record calls"
    TICK = "tick tasks of the calendar"
    STOCK = "keep seal stock and tests"
    BACK_UP = "make copies"
    RECEIVE = "receive things at a table"
    HAND_OVER = "print the office book"
    TELL = "write down what happens on the day"
    SEE_CANVASS = "see counts of all sites"
    CANVASS = "keep the canvass"


_C = Capability

# Nobody holds both ENTER and SEE_EXPECTED: whoever types a number has not seen the expected one.
# A site lead sees phones of the own site alone: whoever asks for SEE_PHONES anywhere asks for all of them.
# Whoever enters a site's numbers has not seen what the canvass has: helpers and site leads do not.
# The warehouse ticks its tasks (TICK) and makes no calls: it sees no phones and few names.
HELD: Final = MappingProxyType(
    {
        Role.COORDINATOR: frozenset(set(Capability) - {_C.NONE, _C.ENTER, _C.CORRECT}),
        Role.HELPER: frozenset(
            {
                _C.READ,
                _C.SEE_PEOPLE,
                _C.SEE_PHONES,
                _C.SEE_KEYS,
                _C.ENTER,
                _C.CORRECT,
                _C.RESOLVE,
                _C.COMPUTE,
                _C.CALL,
                _C.TICK,
                _C.BACK_UP,
                _C.RECEIVE,
                _C.HAND_OVER,
                _C.TELL,
            }
        ),
        Role.WAREHOUSE: frozenset({_C.READ, _C.SEE_KEYS, _C.SEE_EXPECTED, _C.STOCK, _C.TICK, _C.RECEIVE}),
        Role.CLERK: frozenset(
            {
                _C.READ,
                _C.SEE_PEOPLE,
                _C.SEE_PHONES,
                _C.CHANGE,
                _C.CALL,
                _C.TICK,
                _C.RECEIVE,
                _C.HAND_OVER,
                _C.TELL,
                _C.SEE_CANVASS,
                _C.CANVASS,
            }
        ),
        Role.SITE_LEAD: frozenset({_C.READ, _C.SEE_PEOPLE, _C.SEE_OWN_PHONES, _C.ENTER, _C.CORRECT, _C.TELL}),
        Role.READER: frozenset({_C.READ, _C.SEE_CANVASS}),
    }
)

ROLE_WORDS: Final = MappingProxyType(
    {
        Role.COORDINATOR: (
            N_("Coordinator"),
            N_("Plans, changes, approves, issues expected lists, resolves; enters no readings."),
        ),
        Role.HELPER: (
            N_("Helper"),
            N_("Enters what sites phone in, corrects, calls, resolves, plans and prints."),
        ),
        Role.WAREHOUSE: (
            N_("Warehouse"),
            N_("Keeps seals and tests, ticks tasks, sees seal numbers before opening; enters no readings."),
        ),
        Role.CLERK: (
            N_("Clerk"),
            N_("Keeps the county's lists and calls people; sees no seal numbers before opening."),
        ),
        Role.SITE_LEAD: (
            N_("Site lead"),
            N_("Enters and corrects the readings of a site; sees the phones of the own site."),
        ),
        Role.READER: (N_("Reader"), N_("Reads pages; sees no names, phones or seal numbers before opening.")),
    }
)

ROUTES: Final = MappingProxyType(
    {
        ("GET", "/"): _C.READ,
        ("GET", "/site/{site}"): _C.READ,
        ("GET", "/site/{site}/lines"): _C.READ,
        ("GET", "/site/{site}/expected"): _C.READ,
        ("POST", "/site/{site}/expected"): _C.ISSUE,
        ("GET", "/site/{site}/opening"): _C.READ,
        ("POST", "/site/{site}/opening"): _C.ENTER,
        ("GET", "/site/{site}/closing"): _C.READ,
        ("POST", "/site/{site}/closing"): _C.ENTER,
        ("GET", "/site/{site}/explanations"): _C.CANVASS,
        ("POST", "/site/{site}/explanations"): _C.CANVASS,
        ("GET", "/entry/{event}"): _C.CORRECT,
        ("POST", "/entry/{event}"): _C.CORRECT,
        ("GET", "/ready"): _C.READ,
        ("POST", "/ready"): _C.CALL,
        ("GET", "/ready/print/{what}"): _C.CALL,
        ("GET", "/calls"): _C.READ,
        ("POST", "/calls"): _C.CALL,
        ("GET", "/day"): _C.READ,
        ("GET", "/incidents"): _C.READ,
        ("POST", "/incidents"): _C.TELL,
        ("GET", "/incidents/paper"): _C.SEE_PEOPLE,
        ("GET", "/orders"): _C.READ,
        ("POST", "/orders"): _C.CALL,
        ("GET", "/orders/paper"): _C.READ,
        ("GET", "/supplies"): _C.READ,
        ("POST", "/supplies"): _C.TELL,
        ("GET", "/heard"): _C.READ,
        ("POST", "/heard"): _C.CALL,
        ("GET", "/waits"): _C.READ,
        ("GET", "/waits/count"): _C.TELL,
        ("POST", "/waits/count"): _C.TELL,
        ("GET", "/phone"): _C.ENTER,
        ("POST", "/phone"): _C.ENTER,
        ("GET", "/open"): _C.READ,
        ("GET", "/open/resolve"): _C.RESOLVE,
        ("POST", "/open/resolve"): _C.RESOLVE,
        ("GET", "/versions"): _C.READ,
        ("GET", "/versions/{digest}"): _C.READ,
        ("POST", "/versions/{digest}/approve"): _C.APPROVE,
        ("GET", "/compare"): _C.READ,
        ("GET", "/fixed"): _C.READ,
        ("POST", "/fixed"): _C.CHANGE,
        ("GET", "/site/{site}/fix"): _C.CHANGE,
        ("POST", "/site/{site}/fix"): _C.CHANGE,
        ("GET", "/allocation"): _C.READ,
        ("POST", "/allocation"): _C.COMPUTE,
        ("POST", "/allocation/accept"): _C.CHANGE,
        ("POST", "/allocation/back"): _C.CHANGE,
        ("GET", "/timings"): _C.READ,
        ("POST", "/timings"): _C.CHANGE,
        ("GET", "/timings/sheet"): _C.READ,
        ("GET", "/timings/{look}"): _C.CHANGE,
        ("POST", "/timings/{look}"): _C.CHANGE,
        ("GET", "/jobs"): _C.READ,
        ("POST", "/jobs"): _C.COMPUTE,
        ("POST", "/jobs/{job}/cancel"): _C.COMPUTE,
        ("GET", "/copies"): _C.READ,
        ("POST", "/copies"): _C.BACK_UP,
        ("GET", "/copies/laptop"): _C.READ,
        ("GET", "/book"): _C.HAND_OVER,
        ("GET", "/change"): _C.CHANGE,
        ("GET", "/change/{act}"): _C.CHANGE,
        ("GET", "/change/{act}/review"): _C.CHANGE,
        ("POST", "/change/{act}/review"): _C.CHANGE,
        ("GET", "/changes"): _C.READ,
        ("GET", "/changes/now"): _C.READ,
        ("POST", "/changes/now"): _C.CHANGE,
        ("GET", "/changes/{number}"): _C.READ,
        ("POST", "/changes/{number}"): _C.CALL,
        ("GET", "/changes/{number}/file/{name}"): _C.READ,
        ("GET", "/workbook"): _C.READ,
        ("GET", "/workbook/file"): _C.CHANGE,
        ("POST", "/workbook"): _C.CHANGE,
        ("GET", "/workbook/{digest}"): _C.CHANGE,
        ("POST", "/workbook/{digest}"): _C.CHANGE,
        ("GET", "/facts/changes"): _C.READ,
        ("POST", "/facts/changes/{event}"): _C.CHANGE,
        ("GET", "/stock"): _C.READ,
        ("POST", "/stock"): _C.STOCK,
        ("GET", "/scan"): _C.READ,
        ("GET", "/scan/pair"): _C.READ,
        ("POST", "/scan/pair"): _C.READ,
        ("GET", "/scan/badges"): _C.STOCK,
        ("GET", "/scan/inventory"): _C.READ,
        ("POST", "/scan/inventory"): _C.STOCK,
        ("POST", "/scan/inventory/list"): _C.STOCK,
        ("GET", "/scan/pack"): _C.READ,
        ("POST", "/scan/pack"): _C.STOCK,
        ("GET", "/scan/load"): _C.READ,
        ("POST", "/scan/load"): _C.RECEIVE,
        ("GET", "/scan/load/paper"): _C.RECEIVE,
        ("GET", "/scan/test"): _C.READ,
        ("POST", "/scan/test"): _C.STOCK,
        ("GET", "/decks"): _C.READ,
        ("GET", "/decks/paper"): _C.SEE_EXPECTED,
        ("GET", "/decks/report"): _C.READ,
        ("POST", "/decks/report"): _C.STOCK,
        ("GET", "/tests"): _C.READ,
        ("GET", "/tests/check"): _C.STOCK,
        ("GET", "/tests/{site}"): _C.READ,
        ("POST", "/tests/{site}"): _C.STOCK,
        ("GET", "/receiving"): _C.READ,
        ("POST", "/receiving"): _C.RECEIVE,
        ("POST", "/receiving/receipt"): _C.RECEIVE,
        ("GET", "/not-back"): _C.READ,
        ("POST", "/not-back"): _C.CALL,
        ("GET", "/paper"): _C.READ,
        ("GET", "/paper/{serial}"): _C.READ,
        ("POST", "/paper/{serial}"): _C.RECEIVE,
        ("POST", "/paper/{serial}/keyed"): _C.ENTER,
        ("GET", "/not-back/slip"): _C.CALL,
        ("GET", "/canvass"): _C.SEE_CANVASS,
        ("POST", "/canvass"): _C.CANVASS,
        ("GET", "/canvass/version/{digest}"): _C.SEE_CANVASS,
        ("GET", "/canvass/file/{name}"): _C.SEE_CANVASS,
        ("GET", "/counts/import"): _C.SEE_CANVASS,
        ("POST", "/counts/import"): _C.CANVASS,
        ("POST", "/counts/import/back"): _C.CANVASS,
        ("GET", "/counts/import/{digest}"): _C.CANVASS,
        ("POST", "/counts/import/{digest}"): _C.CANVASS,
        ("GET", "/search"): _C.READ,
        ("GET", "/map"): _C.READ,
        ("GET", "/lines"): _C.READ,
        ("GET", "/sites/edit"): _C.CHANGE,
        ("POST", "/sites/edit"): _C.CHANGE,
        ("GET", "/why"): _C.READ,
        ("GET", "/calendar"): _C.READ,
        ("POST", "/calendar"): _C.TICK,
        ("POST", "/calendar/start"): _C.CHANGE,
        ("GET", "/calendar/task/{task}"): _C.READ,
        ("POST", "/calendar/task/{task}"): _C.TICK,
        ("GET", "/calendar/month"): _C.READ,
        ("GET", "/calendar/file"): _C.READ,
        ("GET", "/calendar/paper"): _C.READ,
        ("GET", "/help"): _C.NONE,
        ("GET", "/who"): _C.NONE,
        ("POST", "/who"): _C.NONE,
        ("POST", "/language"): _C.NONE,
        ("GET", "/static/{file_path}"): _C.NONE,
    }
)


def may(role: Role | None, capability: Capability) -> bool:
    """Whether a person in `role` (None: no name chosen yet) holds `capability`."""
    return capability is Capability.NONE or (role is not None and capability in HELD[role])


def needed(method: str, path: str) -> Capability | None:
    """The capability that the route asks for; None where it stands in no line of the table."""
    return ROUTES.get(("GET" if method == "HEAD" else method, path))
