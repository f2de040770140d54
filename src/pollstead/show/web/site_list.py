"""The list of sites as asked for: which ones, in which order, which page of them. Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final, Protocol, TypeVar
from urllib.parse import urlencode

from pollstead.election.values import Value
from pollstead.election.words import N_

PAGE_ROWS: Final = 100
LONGEST: Final = 100


class Row(Protocol):
    """What a row must tell to be filtered and sorted."""

    @property
    def name(self) -> str:
        """The site's name."""

    @property
    def id(self) -> str:
        """The site's id without ``site/``."""

    @property
    def area(self) -> str:
        """The part of the county."""

    @property
    def kind(self) -> str:
        """The kind of site."""

    @property
    def needs(self) -> bool:
        """Whether somebody must do something next."""

    @property
    def rules(self) -> int:
        """How many rules are not met."""

    @property
    def above_limit(self) -> bool:
        """Whether its wait is above the county's limit."""

    @property
    def assumptions(self) -> int:
        """How many values were assumed."""

    @property
    def order(self) -> int:
        """The place of its next step."""

    @property
    def voters_p50(self) -> int:
        """Voters of the busiest day, -1 while not known."""

    @property
    def wait_ms(self) -> int:
        """The longest wait, -1 while not known."""


R = TypeVar("R", bound=Row)

STATES: Final[Mapping[str, tuple[str, Callable[[Row], bool]]]] = {
    "needs": (N_("needs something next"), lambda row: row.needs),
    "rules": (N_("has a rule not met"), lambda row: row.rules > 0),
    "wait": (N_("waits above the county's limit"), lambda row: row.above_limit),
    "assumed": (N_("has assumed values"), lambda row: row.assumptions > 0),
    "nothing": (N_("needs nothing next"), lambda row: not row.needs),
}
SORTS: Final[Mapping[str, tuple[str, Callable[[Row], tuple[Any, ...]]]]] = {
    "next": (N_("what is needed first"), lambda row: (row.order, row.name, row.id)),
    "name": (N_("name"), lambda row: (row.name, row.id)),
    "id": (N_("site id"), lambda row: (row.id,)),
    "voters": (N_("most voters"), lambda row: (-row.voters_p50, row.id)),
    "wait": (N_("longest wait"), lambda row: (-row.wait_ms, row.id)),
    "rules": (N_("most rules not met"), lambda row: (-row.rules, row.name, row.id)),
}


class Wish(Value, frozen=True, kw_only=True):
    """What was asked of the list; what is not known in the address counts as not asked."""

    text: str = ""
    area: str = ""
    kind: str = ""
    state: str = ""
    sort: str = "next"
    page: int = 1

    @property
    def filters(self) -> bool:
        """Whether any site may be left out."""
        return bool(self.text or self.area or self.kind or self.state)

    def address(self, base: str, **changes: object) -> str:
        """The address of the same list with some wishes changed."""
        fields = {name: getattr(self, name) for name in self.__struct_fields__} | changes
        asked = {name: value for name, value in fields.items() if value not in ("", 1, "next")}
        return f"{base}?{urlencode(asked)}" if asked else base


def wish_of(query: Mapping[str, str]) -> Wish:
    """The wish in an address."""
    page = query.get("page", "1")
    state, sort = query.get("state", ""), query.get("sort", "next")
    return Wish(
        text=" ".join(query.get("text", "").split())[:LONGEST],
        area=query.get("area", "")[:LONGEST],
        kind=query.get("kind", "")[:LONGEST],
        state=state if state in STATES else "",
        sort=sort if sort in SORTS else "next",
        page=int(page) if page.isascii() and page.isdigit() and 0 < len(page) < 6 and int(page) else 1,
    )


def chosen(rows: tuple[R, ...], wish: Wish) -> tuple[R, ...]:
    """The rows that fit, in the order asked for."""
    text = wish.text.casefold()
    keeps = STATES[wish.state][1] if wish.state else None
    found = [
        row
        for row in rows
        if (not text or text in row.name.casefold() or text in row.id.casefold())
        and (not wish.area or row.area == wish.area)
        and (not wish.kind or row.kind == wish.kind)
        and (keeps is None or keeps(row))
    ]
    return tuple(sorted(found, key=SORTS[wish.sort][1]))


def pages_of(count: int) -> int:
    """How many pages a list of `count` rows has, at least one."""
    return max(1, -(-count // PAGE_ROWS))


def page_rows(rows: tuple[R, ...], page: int) -> tuple[R, ...]:
    """The rows of one page; of the last where there are fewer pages."""
    page = min(page, pages_of(len(rows)))
    return rows[(page - 1) * PAGE_ROWS : page * PAGE_ROWS]
