"""The sheet for timing voters with a stop watch: step, seconds, still going; never a name."""

from __future__ import annotations

from pollstead.election.words import N_
from pollstead.plan.terms.version import SheetKind
from pollstead.show.cautions import Place
from pollstead.show.packet.common import line, tick
from pollstead.show.packet.content import Block, Cell, Column, Print, Table, Words
from pollstead.show.packet.warehouse import Printing, warehouse_print
from pollstead.show.packet.wording import Say

ROWS = 28
"""So many voters on a sheet: both sides of letter paper."""


def timing_sheet(given: Printing) -> Print:
    """One sheet: which step and site, then a row for each voter timed, with the columns of a samples file."""
    say = Say(given.language)
    told = Table(
        columns=(
            Column(title=say(N_("Site"))),
            Column(title=say(N_("Date"))),
            Column(title=say(N_("Step: check-in, marking or casting"))),
            Column(title=say(N_("From, to"))),
        ),
        rows=(
            (Cell(fields=(line(),)), Cell(fields=(line(),)), Cell(fields=(line(),)), Cell(fields=(line(),))),
        ),
    )
    blocks: tuple[Block, ...] = (
        say.cautions(Place.TALLY),
        told,
        Words(
            words=say(
                N_(
                    "Before the first voter choose every third one, or every fifth, and keep to it: quick "
                    "voters alone would make the line look short. Start the watch when the voter steps up, "
                    "stop it when the place is free. Must you leave, or does the time run out, write the "
                    "seconds so far and tick still going: such a row counts too."
                )
            )
        ),
        Table(
            columns=(
                Column(title=say(N_("Row")), width_mm=13),
                Column(title=say(N_("Start")), width_mm=36),
                Column(title=say(N_("End")), width_mm=36),
                Column(title=say(N_("Seconds")), width_mm=36),
                Column(title=say(N_("Still going")), width_mm=24),
                Column(title=say(N_("What was unusual, without a name"))),
            ),
            rows=tuple(
                (
                    Cell(words=str(number)),
                    Cell(fields=(line(),)),
                    Cell(fields=(line(),)),
                    Cell(fields=(line(),)),
                    Cell(fields=(tick(),)),
                    Cell(fields=(line(),)),
                )
                for number in range(1, ROWS + 1)
            ),
        ),
    )
    title = say(N_("Stop-watch sheet"))
    return warehouse_print(given, say, title, [(SheetKind.PACKING, "TIMING", title, "", blocks)])
