"""Ballot styles in the balance: which styles and which of their numbers are counted, and what they add up to.

A county that counts by style names the step; elsewhere a number that somebody typed of one style brings its
style in. Totals that balance may hide two styles that do not: each style has its own row, and the styles of
a number add up to its total.
"""

from __future__ import annotations

from collections.abc import Iterable

from pollstead.election.county import Election
from pollstead.election.styles_at import precincts_at
from pollstead.election.values import Value, require
from pollstead.reconcile.counts.terms import BY_ID, split_key, style_of


class StylesHere(Value, frozen=True, kw_only=True):
    """The ballot styles of a site: each with the sheets of one ballot, in order.

    `typed` are the terms that anybody counted by style, where the county does not ask for all of them; None
    where it does.
    """

    sheets: tuple[tuple[str, int], ...]
    typed: frozenset[str] | None = None

    def __post_init__(self) -> None:
        names = [style for style, _ in self.sheets]
        require(len(names) == len(set(names)), f"each ballot style once, got {', '.join(names)}")
        require(all(sheets >= 1 for _, sheets in self.sheets), "a ballot has at least one sheet")

    @property
    def mixed(self) -> bool:
        """Whether ballots of two styles have different numbers of sheets."""
        return len({sheets for _, sheets in self.sheets}) > 1

    def asks(self, term: str) -> bool:
        """Whether a term is counted by style here."""
        return BY_ID[term].by_style and (self.typed is None or term in self.typed)


NO_STYLES = StylesHere(sheets=())


def styles_here(election: Election, site: str, keys: Iterable[str], *, asked: bool) -> StylesHere:
    """The styles of the precincts that may vote at a site, else of all, where `asked`; else those typed.

    `keys` are the keys of numbers that were typed there. A style that was typed and is not the site's is in
    it too, so that nothing typed is left out.
    """
    typed = [(split_key(key)[0], style_of(key)) for key in keys if style_of(key)]
    of_site = [s for p in precincts_at(election, site) for s in p.styles]
    known = of_site or [s for p in election.precincts for s in p.styles]
    names = dict.fromkeys((*(sorted(set(known)) if asked else ()), *sorted({style for _, style in typed})))
    usual = election.rules.whole("sheets-per-ballot")
    told = {one.style: one.sheets for one in election.style_sheets}
    return StylesHere(
        sheets=tuple((style, told.get(style, usual)) for style in names),
        typed=None if asked else frozenset(term for term, _ in typed),
    )
