"""A folder as the chapters of the office book ask for it: names for ids, moments in words, the rules."""

from __future__ import annotations

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.rules import REGISTRY, ParameterType, Rule, RuleLevel
from pollstead.election.words import N_
from pollstead.intake.cells import CellKind, write_cell
from pollstead.plan.terms.version import KindTotal, PlanVersion
from pollstead.record.event import Person
from pollstead.show.packet.wording import Say, short_digest
from pollstead.show.web.open_folder import OpenFolder, person_id

LEVELS = {
    RuleLevel.LAW: N_("law"),
    RuleLevel.DIRECTIVE: N_("directive"),
    RuleLevel.POLICY: N_("policy"),
    RuleLevel.ASSUMED: N_("assumed"),
}


class Telling:
    """One folder, one language, one moment."""

    def __init__(self, folder: OpenFolder, election: Election, say: Say) -> None:
        self.folder = folder
        self.election = election
        self.say = say
        self.digest = folder.current_digest()
        self.version: PlanVersion | None = folder.version(self.digest) if self.digest else None
        self.folded = folder.fold()
        self.events = folder.store.events.all()
        self._names = {person_id(person): person.name for person in folder.people() if person.name}

    def when(self, utc_ms: int) -> str:
        """A moment on the county's clock."""
        return self.say.moment(Instant(utc_ms=utc_ms), self.election.zone_name)

    def who(self, people: tuple[Person, ...]) -> str:
        """The people of an event by name, the author first."""
        return ", ".join(self.name(person.person) for person in people)

    def name(self, person: str) -> str:
        """A person's name; the id where no name is known."""
        return self._names.get(person, person)

    def type_name(self, type_id: str) -> str:
        """A station type as people call it."""
        return next((t.name for t in self.election.station_types if t.id == type_id), type_id)

    def site_name(self, site: str) -> str:
        """A site's id and name."""
        plain = site.removeprefix("site/")
        return next(
            (f"{s.id} {s.name}" for s in self.election.sites if s.id.removeprefix("site/") == plain), plain
        )

    def totals(self) -> tuple[KindTotal, ...]:
        """What the plan needs in all."""
        return () if self.version is None else self.version.totals

    def plan_words(self, digest: str = "") -> str:
        """A plan version by number and digest, and whether somebody approved it."""
        wanted = digest or self.digest
        if not wanted:
            return self.say(N_("There is no plan version yet."))
        ordered = [line.digest for line in reversed(self.folder.versions())]
        number = str(ordered.index(wanted) + 1) if wanted in ordered else "?"
        approved = self.folder.approvals().get(wanted)
        state = (
            self.say(
                N_("approved by {who}, {when}"),
                who=self.who(approved.people),
                when=self.when(approved.utc_ms),
            )
            if approved is not None
            else self.say(N_("not approved yet"))
        )
        return self.say(
            N_("Version {number}, digest {digest}, {state}"),
            number=number,
            digest=short_digest(wanted),
            state=state,
        )

    def rules(self) -> tuple[tuple[str, str, str, str], ...]:
        """Each rule: its words, the county's value with its level, who confirmed it, who decides."""
        return tuple(self._rule(rule) for rule in REGISTRY)

    def _rule(self, rule: Rule) -> tuple[str, str, str, str]:
        setting = self.election.rules.setting(rule.id)
        said = setting.confirmed_by.strip()
        confirmed = self.name(said if said.startswith("person/") else f"person/{said}") if said else ""
        confirmed = confirmed.removeprefix("person/")
        if confirmed and setting.effective_from is not None:
            confirmed = f"{confirmed}, {setting.effective_from.isoformat()}"
        if rule.type is ParameterType.SHARE and isinstance(setting.value, int):
            value = f"{write_cell(CellKind.PERCENT, setting.value)} %"
        else:
            value = f"{setting.value} {rule.unit}".strip()
        return (
            self.say(rule.words),
            f"{value} ({self.say(LEVELS[setting.level])})",
            confirmed or self.say(N_("nobody yet")),
            self.say(rule.who_decides),
        )
