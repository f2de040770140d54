"""What files of timings say: columns to confirm, names and faults to answer, values to take or to leave."""

from __future__ import annotations

from typing import Any, ClassVar

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.county import Election
from pollstead.election.notice import Notice
from pollstead.election.timings import Answer, GapQuantiles
from pollstead.election.words import N_, Message, message
from pollstead.intake.counts.mapping_file import read_mappings
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.pages.fix import LONGEST_REASON
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.timings_held import Held, looked_at
from pollstead.show.web.timings_view import (
    LEFT_OUT,
    AskedRow,
    FileRow,
    HourRow,
    ValueRow,
    fault_rows,
    file_rows,
    hour_rows,
    name_rows,
    too_thin,
    value_rows,
)
from pollstead.show.web.typed import Wrong
from pollstead.work.facts import CannotChange, NotTaken
from pollstead.work.timings import Looked, NothingToTake, Said, take
from pollstead.work.timings_names import PlaceNames


class TimingsLookPage(Page, frozen=True, kw_only=True):
    """One look at files of timings before anything of them is taken."""

    template: ClassVar[str] = "timings_look.html"

    look: str
    files: tuple[FileRow, ...]
    gaps: tuple[GapQuantiles, ...]
    names: tuple[AskedRow, ...]
    asked: tuple[AskedRow, ...]
    open_faults: int
    without_hours: tuple[str, ...]
    lines: tuple[ValueRow, ...]
    thin: tuple[Message, ...]
    hours: tuple[HourRow, ...]
    may_take: bool
    confirmed: bool
    reason: str
    not_taken: tuple[Notice, ...]
    faults: tuple[Wrong, ...]
    cautions: tuple[Caution, ...]


class Look:
    """A look that is held, with the county as its tables are now."""

    def __init__(self, ask: Ask, name: str) -> None:
        held, election = ask.folder.timings.get(name), ask.folder.tables_election()
        if held is None or election is None:
            raise Trouble(
                404,
                N_("These files are not held any more."),
                N_("Nothing of them was kept; send them again."),
                "/timings",
            )
        self.ask, self.name = ask, name
        self.held: Held = held
        self.election: Election = election
        self.looked: Looked = looked_at(election, self.names(held), held)

    def names(self, held: Held) -> PlaceNames:
        """The names that the county knows, with those that mappings of counts and this look say."""
        kept, _ = read_mappings(self.ask.folder.path)
        uses = tuple(use for mapping in kept for use in mapping.names)
        return PlaceNames(self.election, self.ask.folder.current(), uses, dict(held.said.same))

    def page(
        self,
        faults: tuple[Wrong, ...] = (),
        not_taken: tuple[Notice, ...] = (),
        chosen: frozenset[int] | None = None,
    ) -> TimingsLookPage:
        """The page; what was chosen and typed is kept."""
        ask, looked = self.ask, self.looked
        return TimingsLookPage(
            **ask.frame(N_("What do these timings say?")),
            look=self.name,
            files=file_rows(looked),
            gaps=looked.gaps,
            names=name_rows(looked, self.election),
            asked=fault_rows(looked),
            open_faults=len(looked.open_faults),
            without_hours=looked.without_hours,
            lines=value_rows(looked, chosen),
            thin=too_thin(looked, self.election),
            hours=hour_rows(looked, self.election),
            may_take=looked.may_take,
            confirmed=bool(ask.form.text("confirmed")),
            reason=ask.form.text("reason"),
            not_taken=not_taken,
            faults=faults,
            cautions=for_place(Place.TIMINGS),
        )

    def said(self) -> Said:
        """What was said before with what the form says now."""
        form = self.ask.form
        same, answers = dict(self.held.said.same), dict(self.held.said.answers)
        sites = {site.id for site in self.election.sites}
        types = {kind.id for kind in self.election.station_types}
        for row in name_rows(self.looked, self.election):
            meant = form.text(row.field)
            if meant in sites | types | {LEFT_OUT}:
                same[row.key] = "" if meant == LEFT_OUT else meant
        known = {answer.value: answer for answer in Answer}
        for row in fault_rows(self.looked):
            given = form.text(row.field)
            if given in {key for key, _ in row.answers}:
                answers[row.key] = known[given]
            elif given == "" and row.field in form:
                answers.pop(row.key, None)
        return Said(same=tuple(same.items()), answers=tuple(answers.items()))


@get("/timings/{look:str}")
@in_thread
def timings_look(request: Request[Any, Any, Any], look: FromPath[str]) -> Response[str]:
    """What the files say."""
    ask = Ask(request)
    return answer(ask, Look(ask, look).page())


@post("/timings/{look:str}")
@in_thread
def act_on_look(request: Request[Any, Any, Any], look: FromPath[str]) -> Response[Any]:
    """Say what names and faults mean, take values, or forget the files."""
    ask = Ask(request)
    if ask.form.text("do") == "forget":
        ask.folder.timings.drop(look)
        return go("/timings?done=forgotten")
    found = Look(ask, look)
    if ask.form.text("do") == "say":
        ask.folder.timings.keep(Held(found.held.reads, found.said()), look)
        return go(f"/timings/{look}")
    return _take(found)


def _take(found: Look) -> Response[Any]:
    ask, looked = found.ask, found.looked
    chosen = frozenset(line.number for line in looked.lines if ask.form.text(f"take-{line.number}"))
    reason = ask.form.text("reason")
    faults = []
    if not chosen:
        faults.append(Wrong(field="values", words=message(N_("Tick a value to take."))))
    if not ask.form.text("confirmed"):
        words = message(N_("Look at what each column was taken for, and confirm it."))
        faults.append(Wrong(field="confirmed", words=words))
    if not reason:
        faults.append(Wrong(field="reason", words=message(N_("Say in a few words why."))))
    elif len(reason) > LONGEST_REASON:
        words = message(N_("Say it in at most {most} characters."), most=LONGEST_REASON)
        faults.append(Wrong(field="reason", words=words))
    if faults:
        return answer(ask, found.page(tuple(faults), chosen=chosen), 422)
    try:
        with ask.folder.at_desk(ask.person()) as (desk, people, moment):
            take(ask.folder.path, desk, looked, chosen, reason=reason, people=people, moment=moment)
    except NothingToTake:
        words = message(N_("Nothing was taken: answer first what is asked above."))
        return answer(ask, found.page((Wrong(field="values", words=words),), chosen=chosen), 409)
    except NotTaken as error:
        return answer(ask, found.page(not_taken=error.faults, chosen=chosen), 422)
    except CannotChange as error:
        return answer(ask, found.page((Wrong(field="values", words=error.said),), chosen=chosen), 409)
    ask.folder.timings.drop(found.name)
    return go(f"/timings?done=taken-{len(chosen)}")
