"""Why: where a number of the plan comes from, and what the record says of a thing, question by question."""

from __future__ import annotations

from typing import Any, ClassVar

from litestar import Request, Response, get

from pollstead.election.county import Assumption
from pollstead.election.notice import Notice
from pollstead.election.words import N_
from pollstead.plan.terms.part import Reason
from pollstead.show.web.life_view import LifeSeen, life_seen
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, in_thread
from pollstead.show.why import answer_about

LONGEST = 200


class WhyPage(Page, frozen=True, kw_only=True):
    """What the plan says of one subject, or the box that asks for one."""

    template: ClassVar[str] = "why.html"

    subject: str
    about: str
    link: str
    field: str
    fields: tuple[str, ...]
    reasons: tuple[Reason, ...]
    assumptions: tuple[Assumption, ...]
    notices: tuple[Notice, ...]
    digest: str
    sites: tuple[tuple[str, str], ...]
    record: LifeSeen
    zone: str


def why_page(ask: Ask) -> WhyPage:
    """The page for the subject and field of the address; raises Trouble before there is a plan."""
    version = ask.folder.current()
    if version is None:
        raise Trouble(
            409,
            N_("There is no plan yet, so there is no number to explain."),
            N_("Make a plan on the page Jobs."),
            "/jobs",
        )
    subject, field = ask.query.get("subject", "")[:LONGEST], ask.query.get("field", "")[:LONGEST]
    found = answer_about(version, subject)
    narrowed = found.of_field(field) if field else found
    if field and narrowed.is_empty:
        narrowed, field = found, ""
    parts = found.subject.split("/")
    names = {f"site/{plan.site}": plan.name for plan in version.sites}
    site = f"site/{parts[1]}" if len(parts) > 1 else ""
    return WhyPage(
        **ask.frame(N_("Why this number?")),
        subject=found.subject,
        about=names.get(found.subject, names.get(site, "")),
        link=f"/{site}" if site in names else "",
        field=field,
        fields=found.fields,
        reasons=narrowed.reasons,
        assumptions=narrowed.assumed,
        notices=narrowed.notices,
        digest=ask.folder.current_digest(),
        sites=tuple(sorted(names.items())),
        record=life_seen(ask, subject),
        zone=ask.folder.zone_name,
    )


@get("/why")
@in_thread
def why(request: Request[Any, Any, Any]) -> Response[str]:
    """The page of reasons."""
    ask = Ask(request)
    return answer(ask, why_page(ask))
