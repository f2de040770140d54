"""Sentences about a number of things, beside their twins for one thing.

Inner parts speak in one template with a number in it. Whoever shows it takes the twin where the
number asks for the form of one, by the plural rule of the language (gettext's ``Plural-Forms``).
A language with more than two forms needs sentences that do without them: none is shipped.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

from pollstead.election.values import Value
from pollstead.election.words import N_


class Twin(Value, frozen=True, kw_only=True):
    """The sentence for one, and the parameter whose number decides."""

    decides: str
    one: str


_PAIRS: Final = (
    (N_("All {count} devices have a serial."), "count", N_("The {count} device has a serial.")),
    (
        N_("All {count} seal numbers are recorded."),
        "count",
        N_("The {count} seal number is recorded."),
    ),
    (N_("Called {n} times, nobody reached."), "n", N_("Called {n} time, nobody reached.")),
    (
        N_("Cart {cart} has {over} devices more than places."),
        "over",
        N_("Cart {cart} has {over} device more than places."),
    ),
    (
        N_("Count {count}: {n} codes are not on the third list"),
        "n",
        N_("Count {count}: {n} code is not on the third list"),
    ),
    (
        N_("Count {count}: {n} codes are on the third list alone"),
        "n",
        N_("Count {count}: {n} code is on the third list alone"),
    ),
    (
        N_("Count {count}: {n} codes were scanned more than once"),
        "n",
        N_("Count {count}: {n} code was scanned more than once"),
    ),
    (
        N_("Count {count}: {n} codes were scanned that the book does not have"),
        "n",
        N_("Count {count}: {n} code was scanned that the book does not have"),
    ),
    (
        N_("Count {count}: {n} devices of the book were not scanned"),
        "n",
        N_("Count {count}: {n} device of the book was not scanned"),
    ),
    (
        N_("Count {count}: {n} devices stood in another cart than the book says"),
        "n",
        N_("Count {count}: {n} device stood in another cart than the book says"),
    ),
    (
        N_("Done: change {number}, {act}, {count} cells or rows."),
        "count",
        N_("Done: change {number}, {act}, {count} cell or row."),
    ),
    (N_("If it ends {n} working days late"), "n", N_("If it ends {n} working day late")),
    (
        N_("If {task} ends {days} working days late: tasks that move: {moved}; dates that break: {broken}"),
        "days",
        N_("If {task} ends {days} working day late: tasks that move: {moved}; dates that break: {broken}"),
    ),
    (N_("Look at {n} differences."), "n", N_("Look at {n} difference.")),
    (N_("Not planned: {count} sites ({sites})"), "count", N_("Not planned: {count} site ({sites})")),
    (N_("Office book: {path}, {pages} pages."), "pages", N_("Office book: {path}, {pages} page.")),
    (
        N_("Plan version {number}, digest {digest}: {sites} sites, effort {effort}, seed {seed}."),
        "sites",
        N_("Plan version {number}, digest {digest}: {sites} site, effort {effort}, seed {seed}."),
    ),
    (
        N_("Stock of {kind}, series {series}: {count} seals come in."),
        "count",
        N_("Stock of {kind}, series {series}: {count} seal comes in."),
    ),
    (N_("That is {n} days ago."), "n", N_("That is {n} day ago.")),
    (
        N_("The record does not check: {count} problems."),
        "count",
        N_("The record does not check: {count} problem."),
    ),
    (
        N_("The record did not check when it was copied either, {count} problems: {first}"),
        "count",
        N_("The record did not check when it was copied either, {count} problem: {first}"),
    ),
    (
        N_("This part of setting up takes {minutes} min with {crew} people."),
        "crew",
        N_("This part of setting up takes {minutes} min with {crew} person."),
    ),
    (N_("and {count} more rows like these"), "count", N_("and {count} more row like these")),
    (N_("and {n} more questions in the app"), "n", N_("and {n} more question in the app")),
    (N_("{act}: {count} cells changed."), "count", N_("{act}: {count} cell changed.")),
    (
        N_("{count} cells or rows changed; {files} written; facts {digest}"),
        "count",
        N_("{count} cell or row changed; {files} written; facts {digest}"),
    ),
    (
        N_("{count} cells were changed in the workbook and here: look at both values."),
        "count",
        N_("{count} cell was changed in the workbook and here: look at both values."),
    ),
    (
        N_("{count} copies of earlier tables deleted."),
        "count",
        N_("{count} copy of earlier tables deleted."),
    ),
    (
        N_("{count} devices are of a kind that no station type uses ({names})"),
        "count",
        N_("{count} device is of a kind that no station type uses ({names})"),
    ),
    (
        N_("{count} devices have a home that is not a site ({names})"),
        "count",
        N_("{count} device has a home that is not a site ({names})"),
    ),
    (
        N_("{count} differences arose in the folder since; its values stay unless you say --older-too."),
        "count",
        N_("{count} difference arose in the folder since; its value stays unless you say --older-too."),
    ),
    (N_("{count} files written to {out}"), "count", N_("{count} file written to {out}")),
    (
        N_("{count} lines taken; {files} written; facts {digest}"),
        "count",
        N_("{count} line taken; {files} written; facts {digest}"),
    ),
    (
        N_("{count} lines were changed here since: taking them goes back to the older value."),
        "count",
        N_("{count} line was changed here since: taking it goes back to the older value."),
    ),
    (
        N_("{count} numbers matched and are in the table of closures now."),
        "count",
        N_("{count} number matched and is in the table of closures now."),
    ),
    (
        N_("{count} numbers of {kind} came in and stand in no range: {where}."),
        "count",
        N_("{count} number of {kind} came in and stands in no range: {where}."),
    ),
    (
        N_("{count} numbers of {kind} have no receipt: {where}."),
        "count",
        N_("{count} number of {kind} has no receipt: {where}."),
    ),
    (
        N_("{count} numbers of {kind} look like those of another series: {where}."),
        "count",
        N_("{count} number of {kind} looks like one of another series: {where}."),
    ),
    (
        N_("{count} numbers of {kind} stand in the bags of two sites: {where}."),
        "count",
        N_("{count} number of {kind} stands in the bags of two sites: {where}."),
    ),
    (
        N_("{count} numbers of {kind} stand in two rows: {where}."),
        "count",
        N_("{count} number of {kind} stands in two rows: {where}."),
    ),
    (
        N_("{count} numbers of {kind} stand in two series: {where}."),
        "count",
        N_("{count} number of {kind} stands in two series: {where}."),
    ),
    (
        N_("{count} people named at sites are not in people.csv ({names})"),
        "count",
        N_("{count} person named at a site is not in people.csv ({names})"),
    ),
    (N_("{count} seals lack for this bag."), "count", N_("{count} seal lacks for this bag.")),
    (
        N_("{count} seals on closures are in no range of seal_ranges.csv, row {row} first"),
        "count",
        N_("{count} seal on a closure is in no range of seal_ranges.csv, row {row}"),
    ),
    (
        N_("{count} numbers in {file} have a check character that does not fit, row {row} first"),
        "count",
        N_("{count} number in {file} has a check character that does not fit, row {row}"),
    ),
    (
        N_("{count} stations of type {type}, one each"),
        "count",
        N_("{count} station of type {type}, one each"),
    ),
    (
        N_("{count} stations of type {type}, {each} at one"),
        "count",
        N_("{count} station of type {type}, {each} at one"),
    ),
    (
        N_("{count} stations of type {type}, {each} in each"),
        "count",
        N_("{count} station of type {type}, {each} in each"),
    ),
    (
        N_("{count} stations of type {type}: {carts} named in the fleet, {loose} for {outside} others"),
        "count",
        N_("{count} station of type {type}: {carts} named in the fleet, {loose} for {outside} others"),
    ),
    (N_("{count} things are expected."), "count", N_("{count} thing is expected.")),
    (
        N_("{count} values are assumed because nobody has told them; lists that would: {lists}."),
        "count",
        N_("{count} value is assumed because nobody has told it; lists that would: {lists}."),
    ),
    (
        N_("{missing} of {count} devices have no serial yet."),
        "missing",
        N_("{missing} of {count} devices has no serial yet."),
    ),
    (
        N_("{missing} of {count} seal numbers are not recorded."),
        "missing",
        N_("{missing} of {count} seal numbers is not recorded."),
    ),
    (N_("{n} answers of calls are written down."), "n", N_("{n} answer of a call is written down.")),
    (N_("{n} days after it."), "n", N_("{n} day after it.")),
    (N_("{n} days before it."), "n", N_("{n} day before it.")),
    (
        N_("{n} opening readings are still empty."),
        "n",
        N_("{n} opening reading is still empty."),
    ),
    (N_("{n} people are still to be called."), "n", N_("{n} person is still to be called.")),
    (N_("{n} sheets were printed, the last at {when}."), "n", N_("{n} sheet was printed, at {when}.")),
    (N_("{n} sites"), "n", N_("{n} site")),
    (N_("{n} things are open."), "n", N_("{n} thing is open.")),
    (
        N_("{n} things were seen at no site of the plan."),
        "n",
        N_("{n} thing was seen at no site of the plan."),
    ),
    (N_("{n} times"), "n", N_("{n} time")),
    (
        N_("{n} working days less; {left} are left"),
        "n",
        N_("{n} working day less; {left} are left"),
    ),
    (N_("{path}: {pages} pages."), "pages", N_("{path}: {pages} page.")),
    (
        N_("{row}: {after} seals needed (were {before})."),
        "after",
        N_("{row}: {after} seal needed (were {before})."),
    ),
    (
        N_("{row}: {after} stations (were {before})."),
        "after",
        N_("{row}: {after} station (were {before})."),
    ),
    (
        N_("{task} would end on {now}, {over} working days after {due}"),
        "over",
        N_("{task} would end on {now}, {over} working day after {due}"),
    ),
    (
        N_("{task}; {owner}; slack {days} working days"),
        "days",
        N_("{task}; {owner}; slack {days} working day"),
    ),
    (
        N_("{unknown} of {all} seals put on after test have no number yet."),
        "unknown",
        N_("{unknown} of {all} seals put on after test has no number yet."),
    ),
    (
        N_("{where}: counted by {count} people; two are wanted ({kind})."),
        "count",
        N_("{where}: counted by {count} person; two are wanted ({kind})."),
    ),
    (
        N_("{where}: {count} seals of {kind} from the bag are not used, not void and did not come back."),
        "count",
        N_("{where}: {count} seal of {kind} from the bag is not used, not void and did not come back."),
    ),
    (
        N_("would end on {now}, {n} working days after {due}"),
        "n",
        N_("would end on {now}, {n} working day after {due}"),
    ),
    (
        N_("{county}, {day}, as of {at}: {n} of {sites} sites are overdue."),
        "n",
        N_("{county}, {day}, as of {at}: {n} of {sites} sites is overdue."),
    ),
)

TWINS: Final = MappingProxyType({many: Twin(decides=field, one=one) for many, field, one in _PAIRS})
"""The twin for one by the sentence for many."""
