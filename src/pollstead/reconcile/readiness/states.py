"""What *Ready to open?* says: questions with their evidence, calls with what they settle."""

from __future__ import annotations

import enum

from pollstead.election.values import Value
from pollstead.election.words import N_, Message
from pollstead.record.event import Means


class ReadyState(enum.StrEnum):
    """What is known of one question; nothing is good by default."""

    GOOD = "known good"
    BAD = "known bad"
    UNKNOWN = "not known"


STATE_WORDS = (N_("known good"), N_("known bad"), N_("not known"))


class Level(enum.StrEnum):
    """Which of a weight's four shares is used: as the state, and apart where evidence is old."""

    GOOD = "good"
    OLD = "old"
    UNKNOWN = "unknown"
    BAD = "bad"


class Evidence(Value, frozen=True, kw_only=True):
    """Why something counts as known: an event with who, how and when, or (event "") a table or the plan.

    `utc_ms` is None where a table tells no date.
    """

    source: str
    event: str = ""
    people: tuple[str, ...] = ()
    means: tuple[Means, ...] = ()
    utc_ms: int | None = None


class Whom(Value, frozen=True, kw_only=True):
    """Who settles a question: a person of the tables, or (person "") the office at its own desk."""

    person: str = ""
    role: str


class ReadyItem(Value, frozen=True, kw_only=True):
    """One question of a site: what is known of it, by what evidence, and the act that settles it.

    `id` tells the questions of one site apart (``opener-call/P013``); `question` names its weight. `old`
    says that good evidence is there, from before the present call-back window; the state is *not known*
    then. `group` and `member` say which causes must come together: a door stays shut only when nobody
    of the group ``door`` comes, and people of one member share a phone or a key.
    """

    id: str
    question: str
    words: str
    state: ReadyState
    text: Message
    whom: Whom
    old: bool = False
    evidence: tuple[Evidence, ...] = ()
    remedy: Message | None = None
    group: str = ""
    member: str = ""

    @property
    def level(self) -> Level:
        """Which share of the weight applies."""
        if self.state is ReadyState.GOOD:
            return Level.GOOD
        if self.state is ReadyState.BAD:
            return Level.BAD
        return Level.OLD if self.old else Level.UNKNOWN


class Share(Value, frozen=True, kw_only=True):
    """One question's part in a site's risk: its share of the model, parts per million, by its level."""

    item: str
    level: Level
    ppm: int


class SiteReady(Value, frozen=True, kw_only=True):
    """One site: its questions, the model's risk that it opens late, and that risk times its voters.

    `risk_ppb` is in parts per 1,000,000,000; `stake_micro` in millionths of a voter. Only the order of
    sites is claimed, not how often a site opens late.
    """

    site: str
    name: str
    voters: int
    items: tuple[ReadyItem, ...]
    shares: tuple[Share, ...]
    risk_ppb: int
    stake_micro: int

    @property
    def ready(self) -> bool:
        """Whether every question is known to be good."""
        return all(item.state is ReadyState.GOOD for item in self.items)

    @property
    def open_items(self) -> tuple[ReadyItem, ...]:
        """The questions that are not known to be good."""
        return tuple(item for item in self.items if item.state is not ReadyState.GOOD)


class Ask(Value, frozen=True, kw_only=True):
    """What a call asks in one sentence, of one site or of several at once, and what either answer settles.

    `sites` and `names` go together; `items` are the questions of those sites that the answer settles.
    """

    question: str
    sites: tuple[str, ...]
    names: tuple[str, ...]
    items: tuple[str, ...]
    words: Message
    yes: Message
    no: Message


class Call(Value, frozen=True, kw_only=True):
    """One call (or, where `person` is empty, one act at the desk) and all that it would settle.

    `worth_micro` is the risk times voters that it takes away when every answer is good, in millionths of a
    voter; `minutes` its work. `stays` says whether it is among the first ten whatever weights are halved or
    doubled. `attempts` counts calls in this window that reached nobody. `from_min`, `to_min`: reachable.
    """

    person: str
    role: str
    asks: tuple[Ask, ...]
    minutes: int
    worth_micro: int
    phones: tuple[str, ...] = ()
    from_min: int | None = None
    to_min: int | None = None
    attempts: int = 0
    stays: bool = False

    @property
    def sites(self) -> tuple[str, ...]:
        """The sites it is about, each once."""
        return tuple(dict.fromkeys(site for ask in self.asks for site in ask.sites))

    @property
    def names(self) -> tuple[str, ...]:
        """The names of its sites, each once."""
        return tuple(dict.fromkeys(name for ask in self.asks for name in ask.names))

    @property
    def key(self) -> str:
        """What tells calls apart: the person, or the role and question of an act at the desk."""
        return self.person or f"{self.role}|{self.asks[0].question}"


class ReadyList(Value, frozen=True, kw_only=True):
    """Every site, the most at stake first; every call in the order to make it; the acts at the desk.

    `people` are the same people and all others who can be asked, each with every question, known or not.
    """

    sites: tuple[SiteReady, ...]
    calls: tuple[Call, ...]
    desk: tuple[Call, ...]
    people: tuple[Call, ...]
    window: str
    now_ms: int

    @property
    def ten(self) -> tuple[Call, ...]:
        """The first ten calls."""
        return self.calls[:10]
