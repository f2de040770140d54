"""The canvass as its pages need it: every day reconciled, the county table as a version, names by role."""

from __future__ import annotations

from pollstead.election.words import N_
from pollstead.reconcile.canvass import days_of_canvass, table_of_days
from pollstead.reconcile.counts.canvass_version import CanvassVersion
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import days_now
from pollstead.show.web.pages.frame import Ask, Trouble
from pollstead.work.canvass import Frozen, NotKept, frozen_versions, load_version, version_now


class Canvass:
    """The canvass of one request: `version` is what is shown, `frozen` the kept one that it is, if any."""

    def __init__(self, ask: Ask, digest: str = "") -> None:
        self.ask = ask
        try:
            days = days_now(ask.folder)
        except ValueError:
            raise Trouble(
                409, N_("There is no plan version yet."), N_("Make one first."), "/versions"
            ) from None
        self.days, self.election, self.folded = days, days.election, days.folded
        self.dates = days_of_canvass(days.version, days.observations())
        self.table = table_of_days(tuple(map(days.report, self.dates)), days.election, days.folded)
        self.kept: tuple[Frozen, ...] = frozen_versions(self.folded)
        self.now: CanvassVersion = version_now(self.table, self.election, self.folded)
        self.frozen: Frozen | None = next(
            (one for one in self.kept if digest and one.digest.startswith(digest)), None
        )
        if digest and self.frozen is None:
            raise Trouble(404, N_("There is no such version."), N_("This page lists every one."), "/canvass")
        self.version = self.now if self.frozen is None else self.load(self.frozen.digest)

    def load(self, digest: str) -> CanvassVersion:
        """A kept version; Trouble where its numbers are on another computer."""
        try:
            return load_version(self.ask.folder.store, digest)
        except NotKept:
            raise Trouble(
                404,
                N_("The numbers of this version are not kept on this computer."),
                N_("Open it where it was kept, or bring that computer's copy here."),
                "/canvass",
            ) from None

    def name_of(self, person: str) -> str:
        """A person's name where this role sees names, else the id."""
        sees = self.ask.may(Capability.SEE_PEOPLE)
        return self.ask.folder.person_name(person) if sees and person else person.removeprefix("person/")
