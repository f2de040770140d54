"""Where a number of the plan comes from: reasons with figures, assumptions and notices of one subject."""

from __future__ import annotations

from typing import Final

from pollstead.election.county import Assumption
from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.plan.terms.part import Figure, Reason
from pollstead.plan.terms.version import PackingLine, PlanVersion

PACKING: Final = "packing"


class Answer(Value, frozen=True, kw_only=True):
    """What the plan says of one subject."""

    subject: str
    reasons: tuple[Reason, ...]
    assumed: tuple[Assumption, ...]
    notices: tuple[Notice, ...]

    @property
    def is_empty(self) -> bool:
        """Whether the plan says nothing of it."""
        return not (self.reasons or self.assumed or self.notices)

    @property
    def fields(self) -> tuple[str, ...]:
        """The fields of which something is said, in order."""
        return tuple(sorted({r.field for r in self.reasons} | {a.field for a in self.assumed}))

    def of_field(self, field: str) -> Answer:
        """What is said of the fields whose name begins with `field`; notices are about no field."""
        return Answer(
            subject=self.subject,
            reasons=tuple(r for r in self.reasons if r.field.startswith(field)),
            assumed=tuple(a for a in self.assumed if a.field.startswith(field)),
            notices=(),
        )


def answer_about(plan: PlanVersion, subject: str) -> Answer:
    """Everything that the plan says about `subject`; a bare site id means the site."""
    if subject in {site.site for site in plan.sites}:
        subject = f"site/{subject}"
    reasons = [r for r in plan.reasons if r.subject == subject]
    assumed = [a for a in plan.assumptions if a.subject == subject]
    for site in plan.sites:
        if subject == f"site/{site.site}":
            reasons += [*site.reasons, *_packing_reasons(site.site, site.packing)]
            assumed += site.assumptions
        devices = {p.device for s in site.stations if s.id == subject for p in s.parts if p.device}
        if devices:
            reasons += [r for r in plan.reasons if r.subject in devices]
    notices = [n for n in plan.notices if n.subject == subject]
    return Answer(subject=subject, reasons=tuple(reasons), assumed=tuple(assumed), notices=tuple(notices))


def _packing_reasons(site: str, lines: tuple[PackingLine, ...]) -> list[Reason]:
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
