"""The pages by the question of the moment: plan, get ready, the day, after, office.

A page is linked where it stands in the table of routes and the role may open it.
"""

from __future__ import annotations

from typing import Final

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.show.web.capabilities import Role, may, needed


class Link(Value, frozen=True, kw_only=True):
    """A link of the top rows; `here` marks the page, or the part of the work, that is shown."""

    address: str
    words: str
    here: bool


PARTS: Final = (
    (
        N_("Plan"),
        (
            ("/", N_("Sites")),
            ("/map", N_("Map")),
            ("/lines", N_("Waits by hour")),
            ("/allocation", N_("Split the fleet")),
            ("/timings", N_("Timings")),
            ("/versions", N_("Plan versions")),
            ("/compare", N_("Compare")),
            ("/fixed", N_("Fixed values")),
            ("/workbook", N_("Workbook")),
            ("/sites/edit", N_("Edit many sites")),
            ("/facts/changes", N_("Changes of facts")),
        ),
    ),
    (
        N_("Get ready"),
        (
            ("/calendar", N_("Calendar")),
            ("/calls", N_("Calls")),
            ("/stock", N_("Seal stock")),
            ("/decks", N_("Test decks")),
            ("/tests", N_("Tests and seals")),
            ("/scan", N_("Scan station")),
            ("/change", N_("Make a change")),
            ("/changes", N_("Changes made")),
        ),
    ),
    (
        N_("The day"),
        (
            ("/ready", N_("Ready to open?")),
            ("/day", N_("Which doors are open?")),
            ("/heard", N_("Not heard from")),
            ("/phone", N_("Phone-in")),
            ("/waits", N_("Waits now")),
            ("/incidents", N_("What goes wrong?")),
            ("/supplies", N_("What runs out?")),
            ("/orders", N_("Which orders hold?")),
        ),
    ),
    (
        N_("After"),
        (
            ("/receiving", N_("Receiving tables")),
            ("/not-back", N_("Not back yet")),
            ("/paper", N_("Signed paper")),
            ("/counts/import", N_("Take counts in")),
            ("/canvass", N_("Canvass")),
            ("/open", N_("What is open?")),
            ("/why", N_("Why these numbers?")),
        ),
    ),
    (
        N_("Office"),
        (
            ("/jobs", N_("Jobs")),
            ("/copies", N_("Copies")),
            ("/book", N_("Office book")),
            ("/search", N_("Search")),
            ("/help", N_("Help")),
        ),
    ),
)
"""Every page that is reached from the top, by part of the work."""

_DAY_PAGES: Final = ("/opening", "/closing", "/expected")


def page_of(path: str) -> str:
    """The linked page that a path belongs to; empty for none."""
    if path.startswith("/site/"):
        return "/day" if path.endswith(_DAY_PAGES) else "/"
    pages = [address for _, links in PARTS for address, _ in links]
    under = [a for a in pages if path == a or (a != "/" and path.startswith(a + "/"))]
    return max(under, key=len, default="")


def links_for(role: Role | None) -> tuple[str, ...]:
    """The addresses of every page that is linked for a role."""
    return tuple(address for _, links in _open_to(role) for address, _ in links)


def parts_at(path: str, role: Role | None) -> tuple[Link, ...]:
    """The parts of the work, each leading to its first page."""
    page = page_of(path)
    return tuple(
        Link(address=links[0][0], words=words, here=any(a == page for a, _ in links))
        for words, links in _open_to(role)
    )


def pages_at(path: str, role: Role | None) -> tuple[Link, ...]:
    """The pages of the part of the work that `path` belongs to."""
    page = page_of(path)
    for _, links in _open_to(role):
        if any(address == page for address, _ in links):
            return tuple(Link(address=a, words=words, here=a == page) for a, words in links)
    return ()


def _open_to(role: Role | None) -> list[tuple[str, list[tuple[str, str]]]]:
    found = [(words, [link for link in links if _may_open(link[0], role)]) for words, links in PARTS]
    return [(words, links) for words, links in found if links]


def _may_open(address: str, role: Role | None) -> bool:
    """Whether a page is there and open to the role; before a name is chosen, whatever every role may read."""
    capability = needed("GET", address)
    return capability is not None and may(Role.READER if role is None else role, capability)
