"""Which site and station type a file of timings means: exactly, or as a person said; never by guess."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from rapidfuzz import fuzz, process

from pollstead.election.station_type import StationType, VoterStep
from pollstead.election.values import Value
from pollstead.intake.counts.mapping import Role
from pollstead.intake.counts.names import NEAR_ENOUGH, NEAREST, Names, folded
from pollstead.work.count_names import known_names, sites_of_devices

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.intake.counts.mapping import NameUse
    from pollstead.plan.terms.version import PlanVersion

STEPS: dict[str, tuple[VoterStep, bool]] = {
    **dict.fromkeys(
        ("check-in", "check in", "checkin", "checking in", "sign in"), (VoterStep.CHECK_IN, False)
    ),
    **dict.fromkeys(("mark", "marking", "vote", "voting", "mark the ballot"), (VoterStep.MARK, False)),
    **dict.fromkeys(("accessible", "mark accessible", "marking accessible"), (VoterStep.MARK, True)),
    **dict.fromkeys(("cast", "casting", "scan", "scanning"), (VoterStep.CAST, False)),
    **dict.fromkeys(("mark and cast", "marking and casting"), (VoterStep.MARK_AND_CAST, False)),
}
"""Words for the voter's steps: the step, and whether at an accessible station (common practice)."""


class UnknownPlace(Value, frozen=True, kw_only=True):
    """A text that names no site or no one station type; `nearest` are ids that may be meant."""

    what: str  # "site" or "station type"
    text: str
    nearest: tuple[str, ...]


class PlaceNames:
    """Names of sites, devices and station types, with what a person said of others ("" leaves out)."""

    def __init__(
        self,
        election: Election,
        plan: PlanVersion | None,
        kept: tuple[NameUse, ...] = (),
        said: Mapping[str, str] | None = None,
    ) -> None:
        self.election = election
        self._said = {folded(theirs): ours for theirs, ours in (said or {}).items()}
        self._names = Names(known_names(election), [use for use in kept if use.role is Role.SITE])
        self._of_device = sites_of_devices(election, plan)
        self._sites = {site.id: site for site in election.sites}

    def site(self, text: str) -> str | None:
        """The site's id; "" where it is left out; None where nobody has said."""
        said = self._said.get(folded(text))
        if said is not None and (not said or said in self._sites):
            return said
        found = self._names.find(Role.SITE, text)
        if found is None:
            device = self._names.find(Role.DEVICE, text)
            found = self._of_device.get(device) if device else None
        return found

    def types_at(self, site: str) -> tuple[StationType, ...]:
        """The station types of a site's kind; of all kinds in use where no site is named."""
        kinds = [s.kind for s in self.election.sites if s.kind and site in ("", s.id)]
        ids = {use.station_type for kind in set(kinds) for use in self.election.site_kind(kind).uses}
        return tuple(one for one in self.election.station_types if one.id in ids)

    def station_type(self, text: str, site: str) -> str | None:
        """The station type's id, "" where left out, None where several or none may be meant."""
        known = {one.id for one in self.election.station_types}
        said = self._said.get(folded(text))
        if said is not None and (not said or said in known):
            return said
        if text in known:
            return text
        here = self.types_at(site)
        named = [one for one in here if folded(text) in (folded(one.id), folded(one.name))]
        step = STEPS.get(folded(text).replace(",", ""))
        if not named and step is not None:
            named = [one for one in here if one.step is step[0] and one.accessible is step[1]]
        return named[0].id if len(named) == 1 else None

    def check_in_type(self, site: str) -> StationType | None:
        """The one station type that checks voters in at a site."""
        found = [one for one in self.types_at(site) if one.step is VoterStep.CHECK_IN]
        return found[0] if len(found) == 1 else None

    def unknown_site(self, text: str) -> UnknownPlace:
        """What to ask about a site that nobody knows."""
        near = self._names.unknown(Role.SITE, text, column="", row=0, times=1).nearest
        return UnknownPlace(what="site", text=text, nearest=near)

    def unknown_type(self, text: str, site: str) -> UnknownPlace:
        """What to ask about a step or station type that may mean several, or none."""
        here = self.types_at(site)
        step = STEPS.get(folded(text))
        ids = [one.id for one in here if step is not None and one.step is step[0]]
        if not ids:
            shown = {f"{one.id} {one.name}": one.id for one in here}
            near = process.extract(
                folded(text), shown.keys(), scorer=fuzz.WRatio, limit=NEAREST, score_cutoff=NEAR_ENOUGH
            )
            ids = [shown[name] for name, _, _ in near] or [one.id for one in here]
        return UnknownPlace(what="station type", text=text, nearest=tuple(ids))
