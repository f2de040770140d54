"""``pollstead why``: where a number of the plan comes from. Thin: read, print."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated, Any

import cyclopts
import msgspec

from pollstead.cli.county import Refused, digest_named, refuse, store_of, tell, version_of
from pollstead.election.words import N_, message
from pollstead.plan.terms.version import PlanVersion
from pollstead.show.why import Answer, answer_about
from pollstead.show.words import fill, text

FORMAT = "pollstead why 1"

app = cyclopts.App(name="why", help=text(N_("Say where a number of the plan comes from.")))


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
    as_json: Annotated[
        bool, cyclopts.Parameter(name="--json", negative=(), help=text(N_("Print JSON.")))
    ] = False,
) -> int:
    """Print the reasons for the numbers of SUBJECT, such as site/S01, with the figures behind each.

    FIELD keeps those whose name begins with it. Returns 1 where the plan has no such subject.
    """
    try:
        with store_of(folder) as store:
            plan = version_of(store, digest_named(store, version))
        answer = reasons_for(plan, subject, field)
    except Refused as refused:
        return tell(refused)
    if as_json:
        json.dump(_object(answer), sys.stdout, ensure_ascii=False, indent=2)
        print()
    else:
        print_answer(answer)
    return 0


def reasons_for(plan: PlanVersion, subject: str, field: str = "") -> Answer:
    """Everything that the plan says about `subject`; a bare site id means the site. May refuse."""
    found = answer_about(plan, subject)
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
