"""Papers of the day: the list of incidents on one page, the slip of an order with boxes for the read-back.

Set as PDF/UA-1 in a child process that ends; the same bytes for the same paper.
"""

from __future__ import annotations

import msgspec

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.words import N_
from pollstead.show.cautions import Place, for_place
from pollstead.show.one_paper import Template, paper_or_refusal
from pollstead.show.paper_head import PaperHead
from pollstead.show.words import is_right_to_left, text

TEMPLATE = Template("packet", "happening.typ", "paper")
WORDS = (
    ("aloud", N_("Read this aloud; they read it back")),
    ("calls", N_("Calls")),
    ("site", N_("Site")),
    ("call", N_("Call")),
    ("time", N_("Time")),
    ("same", N_("Read back the same")),
    ("other", N_("Read back otherwise")),
)


class HappeningPaper(PaperHead, frozen=True, kw_only=True):
    """One paper; every word in the reader's language.

    `widths` are shares of the columns, 0 for as wide as needed. A row of `calls` is site, whom to call, time
    and tick, the last two "" where boxes are to be filled by hand.
    """

    lead: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    read_aloud: str
    table_title: str
    heads: tuple[str, ...]
    widths: tuple[int, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str
    calls: tuple[tuple[str, str, str, str], ...]
    cautions: tuple[str, ...]
    words: tuple[tuple[str, str], ...]


def happening_paper(
    election: Election,
    now_ms: int,
    *,
    place: Place,
    title: str,
    language: str,
    lead: tuple[str, ...] = (),
    facts: tuple[tuple[str, str], ...] = (),
    read_aloud: str = "",
    table_title: str = "",
    heads: tuple[str, ...] = (),
    widths: tuple[int, ...] = (),
    rows: tuple[tuple[str, ...], ...] = (),
    empty: str = "",
    calls: tuple[tuple[str, str, str, str], ...] = (),
    paper: str = "letter",
) -> HappeningPaper:
    """The paper with its fixed words; what is given is in the reader's language already."""

    def say(english: str) -> str:
        return text(english, language)

    at = Instant(utc_ms=now_ms).local(election.zone_name).strftime("%Y-%m-%d %H:%M")
    return HappeningPaper(
        title=title,
        county=f"{election.county}, {election.name}",
        as_of=f"{say(N_('As of'))} {at}",
        page=say(N_("page {page} of {pages}")),
        unofficial=say(N_("Unofficial, staff use")),
        practice=say(N_("PRACTICE")) if election.practice else "",
        invented=say(N_("Invented data, for practice and show.")) if election.invented else "",
        language=language,
        right_to_left=is_right_to_left(language),
        paper=paper,
        timestamp=now_ms // 1000,
        lead=lead,
        facts=facts,
        read_aloud=read_aloud,
        table_title=table_title,
        heads=heads,
        widths=widths,
        rows=rows,
        empty=empty,
        calls=calls,
        cautions=tuple(say(caution.words) for caution in for_place(place)),
        words=tuple((name, say(english)) for name, english in WORDS),
    )


def happening_pdf(paper: HappeningPaper) -> bytes:
    """The PDF, the same bytes for the same paper; raises `PrintFailed` as `paper_or_refusal` does."""
    return paper_or_refusal(TEMPLATE, msgspec.to_builtins(paper))
