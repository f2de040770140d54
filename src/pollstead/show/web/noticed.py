"""Where a notice stands, and what the number that differs most likely is."""

from __future__ import annotations

from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import all_days, days_now, held_back, plan_in_use
from pollstead.show.web.likely import Likely, likely_of
from pollstead.show.web.pages.frame import Ask


class Where(Value, frozen=True, kw_only=True):
    """The site that a notice is about: its id without prefix and its name, both empty for none."""

    site: str = ""
    name: str = ""


class Places:
    """The site of each notice: of a site, or of a station, device or closure that stands at one."""

    def __init__(self, ask: Ask) -> None:
        self._names: dict[str, str] = {}
        self._of_thing: dict[str, str] = {}
        version = ask.folder.current()
        for plan in version.sites if version is not None else ():
            site = plan.site.removeprefix("site/")
            self._names[site] = plan.name
            for station in plan.stations:
                self._of_thing.update({part.device: site for part in station.parts if part.device})

    def of(self, notice: Notice) -> Where:
        """Where a notice is; a device that another one replaced is where it stood by the plan shown."""
        kind, _, rest = notice.subject.partition("/")
        named = next((part for part in (notice.subject, *rest.split("/")[:1]) if part in self._names), "")
        thing = "/".join(("device", *rest.split("/")[:2])) if kind in ("device", "closure") else ""
        site = self._of_thing.get(thing, "") if thing else named
        return Where(site=site, name=self._names.get(site, ""))


def likely_by_key(ask: Ask) -> dict[str, tuple[Likely, ...]]:
    """What each number that differs most likely is, by the notice's key, as the page of its entry says it.

    Nothing while a second person has still to read it, whoever asks.
    """
    if not ask.folder.current_digest():
        return {}
    election, version, _ = plan_in_use(ask.folder)
    days, may_see = days_now(ask.folder), ask.may(Capability.SEE_EXPECTED)
    found: dict[str, tuple[Likely, ...]] = {}
    for site in (one for date in all_days(version, election) for one in days.report(date).sites):
        waiting = held_back(site)
        for result in site.results:
            if result.notice is not None and result.diagnoses and result.notice.key not in waiting:
                found[result.notice.key] = likely_of(result, site, may_see=may_see)
    return found
