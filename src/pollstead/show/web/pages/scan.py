"""The scan station: what can be done with a scanner in the warehouse, and what the command cards do."""

from __future__ import annotations

from typing import Any, ClassVar

from litestar import Request, Response, get

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.show.commands import WORDS, Command
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.frame import Ask, Page, answer, in_thread


class CardLine(Value, frozen=True, kw_only=True):
    """One command card: its name and what it does."""

    name: str
    does: str


class ScanPage(Page, frozen=True, kw_only=True):
    """The scan station's first page."""

    template: ClassVar[str] = "scan.html"

    cards: tuple[CardLine, ...]
    may_change: bool


@get("/scan")
@in_thread
def scan_station(request: Request[Any, Any, Any]) -> Response[str]:
    """What can be done with a scanner."""
    ask = Ask(request)
    cards = tuple(CardLine(name=WORDS[one][0], does=WORDS[one][1]) for one in Command)
    return answer(
        ask, ScanPage(**ask.frame(N_("Scan station")), cards=cards, may_change=ask.may(Capability.STOCK))
    )
