"""The retrieval slip: what two people go for, who had it last and where, whom to call, what to bring back."""

from __future__ import annotations

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.terms.version import SheetKind
from pollstead.show.cautions import Place
from pollstead.show.packet.common import line, tick
from pollstead.show.packet.content import Block, Cell, Column, Heading, Print, Signatures, Table, Words
from pollstead.show.packet.warehouse import Printing, warehouse_print
from pollstead.show.packet.wording import Say


class FetchSlip(Value, frozen=True, kw_only=True):
    """One thing to fetch, in the reader's language; () or "" where nothing is known.

    `bring` is every thing to bring back: the thing and what is known to be inside it.
    """

    key: str
    thing: str
    site: str
    address: str
    last_people: str
    last_place: str
    last_time: str
    back_by: str
    pair: tuple[str, ...]
    call: tuple[tuple[str, str], ...]
    bring: tuple[str, ...]


def fetch_slip(given: Printing, slip: FetchSlip) -> Print:
    """The slip as one sheet, for two people; one person alone never fetches."""
    say = Say(given.language)
    unknown = say(N_("not known"))
    facts = (
        (say(N_("Fetch")), slip.thing),
        (say(N_("Site")), " · ".join(filter(None, (slip.site, slip.address)))),
        (say(N_("Who had it last")), slip.last_people or unknown),
        (say(N_("Where")), slip.last_place or unknown),
        (say(N_("Since")), slip.last_time or unknown),
        (say(N_("Two people go")), ", ".join(slip.pair) or say(N_("Write both names below."))),
        (say(N_("Back by")), slip.back_by or say(N_("as soon as they can"))),
    )
    blocks: list[Block] = [
        say.cautions(Place.NOT_BACK),
        Table(
            columns=(Column(title=say(N_("What")), width_mm=42), Column(title=say(N_("As told")))),
            rows=tuple((Cell(words=name), Cell(words=words, strong=True)) for name, words in facts),
        ),
        Heading(words=say(N_("Whom to call"))),
        Table(
            columns=(
                Column(title=say(N_("Who"))),
                Column(title=say(N_("Phone")), width_mm=50),
                Column(title=say(N_("What was said")), width_mm=60),
            ),
            rows=tuple(
                (
                    Cell(words=name),
                    Cell(words=phone or say(N_("call the office")), strong=True, whole=True),
                    Cell(fields=(line(),)),
                )
                for name, phone in slip.call
            )
            or ((Cell(words=say(N_("Nobody is named: call the office.")), span=3),),),
        ),
        Heading(words=say(N_("Bring back, unopened"))),
        Table(
            columns=(
                Column(title=say(N_("Found")), width_mm=19),
                Column(title=say(N_("Thing"))),
                Column(title=say(N_("Where it was found")), width_mm=62),
                Column(title=say(N_("How its seals look")), width_mm=42),
            ),
            rows=tuple(
                (
                    Cell(fields=(tick(),)),
                    Cell(words=thing, strong=True, whole=True),
                    Cell(fields=(line(),)),
                    Cell(fields=(line(),)),
                )
                for thing in slip.bring
            ),
        ),
        Words(
            words=say(
                N_("Both of you stay with it until a receiving table has taken it in. That closes this slip.")
            ),
            strong=True,
        ),
        Signatures(
            labels=(say(N_("Handed it over")), say(N_("Took it: first")), say(N_("Took it: second"))),
            time=say(N_("Time")),
        ),
        Signatures(
            labels=(say(N_("Received at the table")), say(N_("Second person at the table"))),
            time=say(N_("Time")),
            notes=say(N_("Notes")),
        ),
    ]
    title = say(N_("Retrieval slip"))
    # The machine's serial stands in the table: a heading would break it at a hyphen.
    draft = (SheetKind.PACKING, slip.key, title, slip.bring[0] if slip.bring else "", tuple(blocks))
    return warehouse_print(given, say, title, [draft])
