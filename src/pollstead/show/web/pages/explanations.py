"""What may explain a site's differences: working notes of the office desk, kept when somebody saves one."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar, Final

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.next_acts import LookAgain, act_costs
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.counts.differences import RULE
from pollstead.reconcile.explain.next_act import Act, Outcome, next_acts
from pollstead.reconcile.explain.night import explain_site, has_difference
from pollstead.reconcile.explain.saved import KIND, Saved, saved_of
from pollstead.reconcile.explain.system import system_of
from pollstead.reconcile.explain.terms import Explained, Explanation, SiteNight
from pollstead.reconcile.explain.words import (
    TRAVEL,
    act_words,
    explanation_words,
    outcome_words,
    sentence,
)
from pollstead.reconcile.opening.labels import device_label
from pollstead.record.kinds.explanations import ExplanationSaved, RowOf, SavedWords
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.day import days_now
from pollstead.show.web.deciders import Deciders, deciders
from pollstead.show.web.pages.county import site_link
from pollstead.show.web.pages.entry import TypedValue, chosen_day
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.site import SiteInPlan, find_site
from pollstead.show.web.typed import Wrong

MOST_LESS_LIKELY: Final = 10
"""So many explanations that fit less well are folded below; the rest is further away."""
MOST_WORDS: Final = 2000


class ExplanationShown(Value, frozen=True, kw_only=True):
    """One explanation: its id and its sentences."""

    id: str
    words: tuple[Message, ...]


class GroupShown(Value, frozen=True, kw_only=True):
    """Explanations that the numbers cannot tell apart."""

    explanations: tuple[ExplanationShown, ...]


class OutcomeShown(Value, frozen=True, kw_only=True):
    """What may be found, and the words of the explanation that is left where it is one."""

    words: Message
    left: tuple[Message, ...]


class ActShown(Value, frozen=True, kw_only=True):
    """One thing to look at again: its code for the form, its words, what each outcome would settle."""

    code: str
    words: Message
    outcomes: tuple[OutcomeShown, ...]


class SavedShown(Value, frozen=True, kw_only=True):
    """One explanation that somebody saved, with who, when and whether it still holds."""

    saved: Saved
    name: str
    at: str


class ExplanationsPage(Page, frozen=True, kw_only=True):
    """The differences of a site with what fits, what to look at next, what was saved."""

    template: ClassVar[str] = "explanations.html"

    site: str
    link: str
    day: dt.date
    sentence: Message | None
    fitting: tuple[GroupShown, ...]
    less_likely: tuple[GroupShown, ...]
    acts: tuple[ActShown, ...]
    counted_enough: Message | None
    saved: tuple[SavedShown, ...]
    digest: str
    deciders: Deciders
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    cautions: tuple[Caution, ...]


class Desk(Value, frozen=True, kw_only=True):
    """What a request is about: the site, its day, its numbers and what explains them."""

    found: SiteInPlan
    date: dt.date
    night: SiteNight | None
    explained: Explained | None
    acts: tuple[Act, ...]
    enough: bool
    saved: tuple[Saved, ...]
    election: Election

    def label(self, device: str) -> str:
        """A device as its station is called."""
        return device_label(device, self.election)


def desk_of(ask: Ask, key: str) -> Desk:
    """The site and day of a request with what explains its differences."""
    found = find_site(ask.folder, key)
    date = chosen_day(ask, found)
    days = days_now(ask.folder)
    report = days.report(date)
    site = next((one for one in report.sites if one.site == found.plan.site), None)
    if site is None:
        raise Trouble(
            404, N_("{site} is not open on that day."), N_("Choose another day."), "/", site=found.plan.name
        )
    one = explain_site(site, report, days.folded, days.election)
    explained = None if one is None else one.explained
    times = days.election.rules.whole(RULE)
    acts: tuple[Act, ...] = ()
    if one is not None:
        acts = next_acts(one.night, one.explained, act_costs(days.election.next_acts), times)
    return Desk(
        found=found,
        date=date,
        night=None if one is None else one.night,
        explained=explained,
        acts=acts,
        enough=has_difference(site) and any(line.times_counted >= times for line in site.lines),
        saved=saved_of(days.folded, site.site, date.isoformat(), explained),
        election=days.election,
    )


def explanations_page(ask: Ask, desk: Desk, faults: tuple[Wrong, ...] = ()) -> ExplanationsPage:
    """The page; with `faults`, what was typed is kept."""
    explained = desk.explained
    groups = () if explained is None else explained.groups
    near = frozenset[str]() if explained is None else explained.near
    fit = [tuple(one for one in group.explanations if one.id in near) for group in groups]
    others = [group for group, told in zip(groups, fit, strict=True) if not told]
    names = ("explanation", "act", "outcome", "own")
    return ExplanationsPage(
        **ask.frame(N_("{site}: what may explain the difference?"), site=desk.found.plan.name),
        site=desk.found.plan.name,
        link=site_link(desk.found.site.id),
        day=desk.date,
        sentence=None if explained is None else sentence(explained),
        fitting=tuple(_shown(desk, told) for told in fit if told),
        less_likely=tuple(_shown(desk, group.explanations[:1]) for group in others[:MOST_LESS_LIKELY]),
        acts=tuple(_act_shown(act, desk) for act in desk.acts),
        counted_enough=message(TRAVEL) if desk.enough else None,
        saved=tuple(
            SavedShown(
                saved=one,
                name=ask.folder.person_name(one.person),
                at=Instant(utc_ms=one.utc_ms).local(desk.election.zone_name).strftime("%Y-%m-%d %H:%M"),
            )
            for one in reversed(desk.saved)
        ),
        digest="" if explained is None else explained.digest,
        deciders=deciders(desk.election.rules),
        typed=tuple(TypedValue(field=n, value=ask.form.text(n)) for n in names) if faults else (),
        faults=faults,
        cautions=for_place(Place.EXPLANATIONS),
    )


def _shown(desk: Desk, explanations: tuple[Explanation, ...]) -> GroupShown:
    read = {} if desk.night is None else system_of(desk.night).values
    return GroupShown(
        explanations=tuple(
            ExplanationShown(id=one.id, words=explanation_words(one, read, desk.label))
            for one in explanations
        )
    )


def _act_shown(act: Act, desk: Desk) -> ActShown:
    return ActShown(
        code=f"{act.act.name.lower()} {act.key}",
        words=act_words(act, desk.label),
        outcomes=tuple(_outcome_shown(outcome, desk) for outcome in act.outcomes),
    )


def _outcome_shown(outcome: Outcome, desk: Desk) -> OutcomeShown:
    groups = () if desk.explained is None else desk.explained.groups
    left = [e for group in groups for e in group.explanations if e.id in outcome.leaves]
    read = {} if desk.night is None else system_of(desk.night).values
    one = explanation_words(left[0], read, desk.label) if len(left) == 1 else ()
    return OutcomeShown(words=outcome_words(outcome), left=one)


def save(ask: Ask, desk: Desk) -> tuple[Wrong, ...]:
    """Record the explanation that was chosen; what does not fit is named and nothing is recorded."""
    explained = desk.explained
    if explained is None or desk.night is None or ask.form.text("digest") != explained.digest:
        raise Trouble(
            409,
            N_("The numbers changed since this page was made."),
            N_("Nothing was saved. Open the page again; it explains the numbers as they are now."),
            ask.address,
        )
    chosen = next(
        (e for g in explained.groups for e in g.explanations if e.id == ask.form.text("explanation")), None
    )
    faults: list[Wrong] = []
    if chosen is None:
        faults.append(Wrong(field="explanation-first", words=message(N_("Choose one explanation."))))
    act, _, key = ask.form.text("act").partition(" ")
    offered = {(one.act.name.lower(), one.key) for one in desk.acts}
    outcome = ask.form.text("outcome").strip()
    if act and (act, key) not in offered:
        faults.append(Wrong(field="act", words=message(N_("Choose what was looked at from the list."))))
    if outcome and not (outcome.isascii() and outcome.isdigit() and len(outcome) <= 12):
        faults.append(Wrong(field="outcome", words=message(N_("Type the number as digits, such as 412."))))
    elif outcome and not act:
        faults.append(Wrong(field="act", words=message(N_("Say what was looked at again."))))
    own = ask.form.text("own")
    if len(own) > MOST_WORDS:
        faults.append(Wrong(field="own", words=message(N_("Say it in fewer words."))))
    if faults or chosen is None:
        return tuple(faults)
    site = f"site/{desk.found.site.id.removeprefix('site/')}"
    read = system_of(desk.night).values
    said = " ".join(part.english() for part in explanation_words(chosen, read, desk.label))
    fold = ask.folder.fold()
    ask.folder.write(
        ExplanationSaved(
            digest=explained.digest,
            rows=tuple(
                RowOf(equation=d.equation, subject=d.subject, difference=d.difference)
                for d in explained.differences
            ),
            explanation=chosen.id,
            act=LookAgain[act.upper()].name.lower() if act else "",
            looked_at=key,
            outcome=int(outcome) if outcome else None,
        ),
        who=ask.person(),
        subject=site,
        site=site,
        day=desk.date.isoformat(),
        after=fold.heads(site, KIND, desk.date.isoformat()),
        private=SavedWords(words=said, own=own),
    )
    return ()


@get("/site/{site:str}/explanations")
@in_thread
def explanations(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[str]:
    """What may explain the differences of a site."""
    ask = Ask(request)
    return answer(ask, explanations_page(ask, desk_of(ask, site)))


@post("/site/{site:str}/explanations")
@in_thread
def save_explanation(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[Any]:
    """Save one explanation under the name of the person asking."""
    ask = Ask(request)
    desk = desk_of(ask, site)
    faults = save(ask, desk)
    if faults:
        return answer(ask, explanations_page(ask, desk, faults), status=422)
    return go(f"{site_link(desk.found.site.id)}/explanations?day={desk.date.isoformat()}")
