"""What nobody has told: each missing value as an assumption, with the list that would replace it."""

from __future__ import annotations

from collections import Counter

from pollstead.election.county import Assumption, Election, Site
from pollstead.election.rules import BY_ID, RuleLevel
from pollstead.election.words import N_, Message, message

RULES_USED = (
    "wait-limit",
    "wait-risk",
    "accessible-stations",
    "accessible-share",
    "opening-line-share",
    "break-length",
    "check-in-short",
    "jam-chance",
    "curbside-share",
    "accessible-open",
    "line-patience",
    "ballot-surplus",
    "spare-share",
    "second-person-at-opening",
    "second-person-at-closing",
)
"""The county rules that shape a plan; where the county has set none, the default is an assumption."""

WITH = {
    "break-length": ("break-after-opening", "break-before-closing"),
    "check-in-short": ("check-in-short-from", "check-in-short-for"),
    "jam-chance": ("jam-time",),
    "curbside-share": ("curbside-time", "curbside-stations"),
}
"""The rules that shape a plan only where the first of them is not 0."""


def assumed_rules(election: Election) -> tuple[Assumption, ...]:
    """The rules that shape the plan and that the county has not set, with the defaults taken."""
    found = []
    used = list(RULES_USED)
    for switch, others in WITH.items():
        if election.rules.whole(switch) > 0:
            used += others
    for rule_id in used:
        setting = election.rules.setting(rule_id)
        if setting.level is RuleLevel.ASSUMED:
            rule = BY_ID[rule_id]
            found.append(
                Assumption(
                    subject=f"rule/{rule_id}",
                    field="value",
                    value=f"{setting.value} {rule.unit}".strip(),
                    why=message(N_("The county has not set this rule; the default is taken.")),
                    list_wanted="rules.toml",
                )
            )
    return tuple(found)


def kind_of(election: Election, site: Site) -> str:
    """The site's kind; where it is unknown, the kind of most sites, else the first of the table; or ""."""
    if site.kind is not None:
        return site.kind
    told = Counter(other.kind for other in election.sites if other.kind is not None)
    order = {kind.id: index for index, kind in enumerate(election.site_kinds)}
    known = [kind for kind in told if kind in order]
    if known:
        return min(known, key=lambda kind: (-told[kind], order[kind]))
    return election.site_kinds[0].id if election.site_kinds else ""


def site_gaps(election: Election, site: Site, kind_name: str, crew: int | None) -> tuple[Assumption, ...]:
    """What is not known about one site and what the plan takes instead."""
    missing: list[tuple[str, str, Message, str]] = []
    if site.kind is None:
        missing.append(
            (
                "kind",
                kind_name,
                message(N_("Which kind of site this is has not been told.")),
                "sites.csv",
            )
        )
    if site.room_width_um is None or site.room_depth_um is None:
        missing.append(
            (
                "room",
                N_("large enough"),
                message(N_("Nobody has measured the room: whether all stations fit is not checked.")),
                "sites.csv",
            )
        )
    if site.outlets is None:
        missing.append(
            (
                "outlets",
                N_("enough"),
                message(N_("Outlets are not counted: the electrical load is not checked.")),
                "sites.csv",
            )
        )
    if crew is None:
        missing.append(
            (
                "people",
                N_("4 people set up"),
                message(N_("Fewer people are named for this site than set one up.")),
                "people.csv",
            )
        )
    return tuple(
        Assumption(subject=f"site/{site.id}", field=field, value=value, why=why, list_wanted=wanted)
        for field, value, why, wanted in missing
    )


def each_once(assumptions: tuple[Assumption, ...]) -> tuple[Assumption, ...]:
    """The assumptions by subject and field, each once; the first of equals is kept."""
    kept: dict[tuple[str, str], Assumption] = {}
    for assumption in assumptions:
        kept.setdefault((assumption.subject, assumption.field), assumption)
    return tuple(kept[key] for key in sorted(kept))
