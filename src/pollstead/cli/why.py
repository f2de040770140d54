"""``pollstead why``: where a number of the plan comes from, and what the record says of a thing. Thin."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts
import msgspec

from pollstead.cli.county import Refused, digest_named, refuse, store_of, tell, version_of
from pollstead.cli.options import AsJson
from pollstead.election.words import N_, message
from pollstead.plan.terms.version import PlanVersion
from pollstead.reconcile.custody.life import has_life
from pollstead.show.why import Answer, answer_about
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.reconcile.custody.life import Life
    from pollstead.show.life_words import Told
    from pollstead.store.opening import Store

FORMAT = "pollstead why 1"

app = cyclopts.App(
    name="why", help=text(N_("Say where a number of the plan comes from, and what became of a thing."))
)


@app.default
def why(
    folder: Path,
    subject: str,
    field: str = "",
    /,
    *,
    version: Annotated[
        str, cyclopts.Parameter(help=text(N_("A plan version: number or digest; the newest if not given.")))
    ] = "",
    numbers: Annotated[
        bool,
        cyclopts.Parameter(
            negative=(), help=text(N_("Print seal numbers too: keep the output where the numbers are kept."))
        ),
    ] = False,
    as_json: AsJson = False,
) -> int:
    """Print the reasons for the numbers of SUBJECT, such as site/S01, with the figures behind each.

    SUBJECT may be a thing too: a serial, tag, memory device, cart or closure. Then the record answers who had
    it, when, where, under which seals. FIELD keeps the reasons whose name begins with it. Returns 1 where
    neither plan nor record knows the subject.
    """
    try:
        with store_of(folder) as store:
            plan = version_of(store, digest_named(store, version))
            asked = has_life(subject) and not field
            life, zone = life_in(store, plan, subject) if asked else (None, "")
            lived = life is not None and bool(life.entries)
            life, kept_back = without_waiting(store, life) if life is not None and lived else (life, 0)
        answer = reasons_for(plan, subject, field, known_otherwise=lived)
    except Refused as refused:
        return tell(refused)
    if as_json:
        content = _object(answer)
        content["record"] = record_object(life, numbers=numbers, kept_back=kept_back)
        json.dump(content, sys.stdout, ensure_ascii=False, indent=2)
        print()
        return 0
    print_answer(answer)
    if life is not None and lived:
        print_life(life, zone, numbers=numbers)
        if kept_back:
            words = N_("Not shown, because a second person has still to read it independently: {n}.")
            print("\n" + fill(message(words, n=kept_back)))
    return 0


def without_waiting(store: Store, life: Life) -> tuple[Life, int]:
    """The life without what a second person has still to read, and of how many entries that is.

    Nobody says a name at the command line, so that nobody's own entry is told apart.
    """
    from pollstead.cli.reconcile import read_dates
    from pollstead.show.web.waiting import dates_among, waiting_among

    read = read_dates(store, dates_among(life.entries))
    days = {(site.site, report.date): site for report in read.reports for site in report.sites}
    waiting = waiting_among(life.entries, lambda site, date: days.get((site, date)), read.election)
    kept = tuple(entry for entry in life.entries if entry.event not in waiting)
    return msgspec.structs.replace(life, entries=kept), len({e.event for e in life.entries} & waiting)


def life_in(store: Store, plan: PlanVersion, code: str) -> tuple[Life | None, str]:
    """What the record says of the thing that a code means, with the county's zone; None without a record."""
    from pollstead.cli.reconcile import facts_then
    from pollstead.reconcile.custody.life import about, life_of, with_reasons

    election = facts_then(store, plan)
    if store.header() is None:
        return None, election.zone_name
    folded = store.fold(private=True)
    life = life_of(folded, about(election, code))
    return with_reasons(life, store.sides.fields_of(life.corrections)), election.zone_name


def print_life(life: Life, zone: str, *, numbers: bool) -> None:
    """Print every step with its number, then each question with the steps that answer it.

    People are named by id.
    """
    from pollstead.show.life_words import told_life

    told = told_life(life, _short, numbers=numbers, people=True)
    print("\n" + fill(message(N_("What the record says of {thing}:"), thing=told.thing)))
    for step in told.steps:
        print(f"{step.number:5}  {line_of(step, zone)}")
    print()
    for answer in told.questions:
        steps = ", ".join(map(str, answer.steps))
        none = text(N_("The record does not say.") if answer.is_open else N_("None."))
        print(
            f"{text(answer.words)} " + (fill(message(N_("Steps: {steps}."), steps=steps)) if steps else none)
        )
    if not numbers:
        print("\n" + text(N_("Seal numbers are left out; --numbers prints them.")))


def line_of(step: Told, zone: str) -> str:
    """One step on one line: when, where, what, by whom, from whom to whom, how it stands, why, of what."""
    from pollstead.show.life_words import local_time

    said = ", ".join(f"{text(label) if label else ''} {value}".strip() for label, value in step.said)
    parts = [local_time(step.utc_ms, zone), step.site, text(step.kind), step.seal, said]
    who = ", ".join(step.people)
    if step.givers or step.receivers:
        hands = message(
            N_("from {givers} to {receivers}"),
            givers=", ".join(step.givers) or "-",
            receivers=", ".join(step.receivers) or "-",
        )
        who = f"{who}; {fill(hands)}"
    state = f"[{text(step.state)}]" if step.state else ""
    reason = f'"{step.reason}"' if step.reason else ""
    return "  ".join(part for part in (*parts, f"({who})", state, reason, step.subject) if part)


def record_object(life: Life | None, *, numbers: bool, kept_back: int = 0) -> dict[str, Any]:
    """The stable JSON form of a thing's life; empty where nothing was asked of the record."""
    from pollstead.show.life_words import told_life

    if life is None:
        return {"thing": "", "steps": [], "questions": [], "kept_back": 0}
    told = told_life(life, _short, numbers=numbers, people=True)
    return {
        "thing": told.thing,
        "steps": [
            {
                **msgspec.to_builtins(step),
                "said": [{"label": label, "text": value} for label, value in step.said],
                "expected": entry.expected,
            }
            for step, entry in zip(told.steps, life.entries, strict=True)
        ],
        "questions": [
            {"asked": one.asked, "words": one.words, "open": one.is_open, "steps": list(one.steps)}
            for one in told.questions
        ],
        "kept_back": kept_back,
    }


def _short(person: str) -> str:
    return person.removeprefix("person/")


def reasons_for(plan: PlanVersion, subject: str, field: str = "", *, known_otherwise: bool = False) -> Answer:
    """Everything that the plan says about `subject`; a bare site id means the site. May refuse.

    `known_otherwise` lets the answer be empty: the record knows the subject.
    """
    found = answer_about(plan, subject)
    if found.is_empty and known_otherwise:
        return found
    if found.is_empty:
        known = ", ".join(sorted(f"site/{site.site}" for site in plan.sites)[:5])
        refuse(
            N_("The plan says nothing of {subject}. It has, for example: {known}"),
            subject=found.subject,
            known=known,
        )
    if not field:
        return found
    narrowed = found.of_field(field)
    if narrowed.is_empty:
        refuse(
            N_("The plan has no reason {field} for {subject}. It has: {fields}"),
            field=field,
            subject=found.subject,
            fields=", ".join(found.fields),
        )
    return narrowed


def print_answer(answer: Answer) -> None:
    """Print reasons with their figures, then assumptions, then notices."""
    print(answer.subject)
    for reason in answer.reasons:
        print(f"\n{reason.field}: {fill(reason.text)}")
        for figure in reason.figures:
            unit = f" {figure.unit}" if figure.unit else ""
            source = f"  ({text(figure.source)})" if figure.source else ""
            print(f"    {text(figure.name)}: {figure.value}{unit}{source}")
    if answer.assumed:
        print("\n" + text(N_("Assumed:")))
    for assumption in answer.assumed:
        wanted = (
            fill(message(N_("; replaced by the list {list}"), list=assumption.list_wanted))
            if assumption.list_wanted
            else ""
        )
        print(f"    {assumption.field}: {assumption.value}. {fill(assumption.why)}{wanted}")
    if answer.notices:
        print()
    for notice in answer.notices:
        print(f"{text(notice.kind.value)}: {fill(notice.text)}")


def _object(answer: Answer) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "subject": answer.subject,
        "reasons": [
            {
                "field": reason.field,
                "text": reason.text.english(),
                "figures": [msgspec.to_builtins(figure) for figure in reason.figures],
            }
            for reason in answer.reasons
        ],
        "assumptions": [
            {"field": a.field, "value": a.value, "why": a.why.english(), "list_wanted": a.list_wanted}
            for a in answer.assumed
        ],
        "notices": [{"key": n.key, "kind": n.kind.value, "text": n.text.english()} for n in answer.notices],
    }
