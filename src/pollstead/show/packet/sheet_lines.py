"""The numbered lines of a printed sheet, by the sheet's key: what was asked at L12 of it.

Drawn and told by one and the same builder, so that a number read out over the phone or from a scan belongs to
the line that is printed beside it.
"""

from __future__ import annotations

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.plan.terms.version import PlanVersion
from pollstead.reconcile.changed.on_the_day import Swap
from pollstead.show.packet.asked import AskedLine
from pollstead.show.packet.draft import Draft
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.packet import blank_drafts, content_of
from pollstead.show.words import ENGLISH

__all__ = ["AskedLine", "item_of", "lines_as_printed", "lines_by_key", "lines_of", "lines_of_site"]


def lines_of(given: SiteGiven, key: str) -> tuple[AskedLine, ...]:
    """The numbered lines of the sheet with this key, in their order; none on sheets without such lines.

    Raises KeyError naming the key where the site has no such sheet.
    """
    return _draft(given, key).lines


def _draft(given: SiteGiven, key: str) -> Draft:
    for draft in blank_drafts(given):
        if draft.key == key:
            return draft
    raise KeyError(f"site {given.site.id!r} has no blank sheet {key!r}")


def lines_by_key(given: SiteGiven) -> dict[str, tuple[AskedLine, ...]]:
    """The numbered lines of every blank sheet of a site that has any."""
    return {draft.key: draft.lines for draft in blank_drafts(given) if draft.lines}


def lines_of_site(
    election: Election,
    plan: PlanVersion,
    site: str,
    key: str,
    *,
    language: str = ENGLISH,
    swaps: tuple[Swap, ...] = (),
) -> tuple[AskedLine, ...]:
    """The same from facts, plan and the record's swaps; the key names the day. Raises as `lines_of` does."""
    return lines_of(_given(election, plan, site, language, swaps), key)


def lines_as_printed(
    election: Election,
    plan: PlanVersion,
    site: str,
    key: str,
    content: str,
    *,
    language: str = ENGLISH,
    swaps: tuple[Swap, ...] = (),
) -> tuple[AskedLine, ...]:
    """The lines of the sheet whose `content` digest was kept: with those of `swaps` that were known then.

    A sheet printed before a swap has other lines under the same numbers than one printed after it. None where
    the sheet is neither; raises KeyError as `lines_of` does.
    """
    for known in range(len(swaps), -1, -1):
        draft = _draft(_given(election, plan, site, language, swaps[:known]), key)
        if content_of(draft) == content:
            return draft.lines
    return ()


def _given(
    election: Election, plan: PlanVersion, site: str, language: str, swaps: tuple[Swap, ...]
) -> SiteGiven:
    # Neither the digest nor the moment of printing has a part in the lines.
    return SiteGiven(
        election=election,
        plan=plan,
        digest="",
        site=site,
        printed_at=Instant(utc_ms=0),
        language=language,
        swaps=swaps,
    )


def item_of(lines: tuple[AskedLine, ...], line: str) -> AskedLine:
    """The line with this number, however it was typed (``l12``, ``12``); raises KeyError naming the last."""
    wanted = line.strip().upper().removeprefix("L").lstrip("0")
    for asked in lines:
        if asked.line == f"L{wanted}":
            return asked
    last = lines[-1].line if lines else "no line"
    raise KeyError(f"this sheet has no line {line!r}; its lines go to {last}")
