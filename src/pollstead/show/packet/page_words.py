"""What stands on every page of a print job: county, serial, plan, moment of printing, marks."""

from __future__ import annotations

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.words import N_
from pollstead.show.packet.content import Marks, PageWords
from pollstead.show.packet.wording import Say, short_digest


def page_words(
    election: Election, say: Say, digest: str, printed_at: Instant, *, large: bool = False
) -> PageWords:
    """The words of head and foot; serial and page numbers are filled in where the page is set."""
    return PageWords(
        county=f"{election.county} · {election.name}",
        sheet=say(N_("Sheet {serial}"), serial="{serial}"),
        plan=say(N_("Plan {digest}"), digest=short_digest(digest)),
        page=say(N_("Page {page} of {pages}"), page="{page}", pages="{pages}"),
        packet_page=say(N_("Print job page {page} of {pages}"), page="{page}", pages="{pages}"),
        printed=say(N_("Printed {when}"), when=say.moment(printed_at, election.zone_name)),
        unofficial=say(N_("Unofficial, staff use")),
        continued=say(N_("(continued)")),
        blank=say(N_("This page is blank on purpose.")),
        code=say(N_("Code with the serial of this sheet, {serial}"), serial="{serial}"),
        large=say(N_("Large type")) if large else "",
    )


def page_marks(election: Election, say: Say) -> Marks:
    """That it is practice, that the county is invented; empty where it is not."""
    return Marks(
        practice=say(N_("PRACTICE · not a real election")) if election.practice else "",
        invented=say(N_("Invented county: no real place, people or numbers")) if election.invented else "",
    )
