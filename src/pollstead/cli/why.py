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
from pollstead.plan.terms.part import Figure, Reason
from pollstead.plan.terms.version import PlanVersion
from pollstead.show.words import fill, text

FORMAT = "pollstead why 1"
PACKING = "packing"

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


class Answer:
    """What the plan says of one subject: reasons, assumptions and notices."""

    def __init__(self, subject: str, reasons: list[Reason], assumed: list[Any], notices: list[Any]) -> None:
        self.subject = subject
        self.reasons = reasons
        self.assumed = assumed
        self.notices = notices


def reasons_for(plan: PlanVersion, subject: str, field: str = "") -> Answer:
    """Everything that the plan says about `subject`; a bare site id means the site. May refuse."""
    sites = {site.site for site in plan.sites}
    if subject in sites:
        subject = f"site/{subject}"
    reasons = [r for r in plan.reasons if r.subject == subject]
    assumed = [a for a in plan.assumptions if a.subject == subject]
    for site in plan.sites:
        if subject == f"site/{site.site}":
            reasons += [*site.reasons, *_packing_reasons(site.site, site.packing)]
            assumed += site.assumptions
        devices = {p.device for s in site.stations if s.id == subject for p in s.parts if p.device}
        reasons += [r for r in plan.reasons if r.subject in devices]
    notices = [n for n in plan.notices if n.subject == subject]
    if not reasons and not assumed and not notices:
        known = ", ".join(sorted(f"site/{site}" for site in sites)[:5])
        refuse(
            N_("The plan says nothing of {subject}. It has, for example: {known}"),
            subject=subject,
            known=known,
        )
    if field:
        fields = sorted({r.field for r in reasons} | {a.field for a in assumed})
        reasons = [r for r in reasons if r.field.startswith(field)]
        assumed = [a for a in assumed if a.field.startswith(field)]
        notices = []
        if not reasons and not assumed:
            refuse(
                N_("The plan has no reason {field} for {subject}. It has: {fields}"),
                field=field,
                subject=subject,
                fields=", ".join(fields),
            )
    return Answer(subject, reasons, assumed, notices)


def _packing_reasons(site: str, lines: tuple[Any, ...]) -> list[Reason]:
    """The packing list's own reasons in the common form."""
    return [
        Reason(
            subject=f"site/{site}",
            field=f"{PACKING} {line.item}",
            text=part,
            figures=(Figure(name=line.item, value=f"{line.quantity:,}", unit=line.unit),),
        )
        for line in lines
        for part in line.why
    ]


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
