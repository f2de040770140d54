"""Test decks as values: ballots as a device must read them, marks, decks, and what a deck must give.

A *ballot face* is what one ballot style shows in one precinct or in all of its precincts. A *position* is a
place to mark within a contest, counted from 1 at the top; write-in lines come after the choices.
"""

from __future__ import annotations

import enum
from types import MappingProxyType

from pollstead.election.values import Value, require


class FaceContest(Value, frozen=True, kw_only=True):
    """A contest on a face. `choices` and `names` are in the order of a list that is not rotated.

    `rotation` choices go from the top of that list to its end.
    """

    id: str
    words: str
    vote_for: int
    choices: tuple[str, ...]
    names: tuple[str, ...]
    write_in_lines: int = 0
    rotation: int = 0

    def __post_init__(self) -> None:
        require(len(self.choices) == len(self.names), f"{self.id}: each choice needs a name")
        require(self.positions >= 1, f"{self.id}: a contest needs a choice or a write-in line")

    @property
    def positions(self) -> int:
        """How many places to mark it has."""
        return len(self.choices) + self.write_in_lines


class BallotFace(Value, frozen=True, kw_only=True):
    """One ballot: `key` is its style, or style/precinct where the precinct has ballots of its own."""

    key: str
    style: str
    precinct: str = ""
    contests: tuple[FaceContest, ...]

    def contest(self, contest_id: str) -> FaceContest | None:
        """The contest with this id, or None where the face has none."""
        return next((one for one in self.contests if one.id == contest_id), None)


class Mark(Value, frozen=True, kw_only=True):
    """A mark on a ballot: a position of a contest."""

    contest: str
    position: int


class BallotPurpose(enum.StrEnum):
    """What a test ballot is for."""

    VOTES = "votes"
    OVERVOTED = "overvoted"
    BLANK = "blank"


class DeckBallot(Value, frozen=True, kw_only=True):
    """One ballot of a deck, by its number from 1."""

    number: int
    purpose: BallotPurpose
    marks: tuple[Mark, ...] = ()

    def positions(self, contest: str) -> tuple[int, ...]:
        """The positions marked in a contest, from the top."""
        return tuple(sorted(mark.position for mark in self.marks if mark.contest == contest))


class Deck(Value, frozen=True, kw_only=True):
    """The test deck of one face: its ballots, the least that any such deck needs, and why."""

    face: str
    ballots: tuple[DeckBallot, ...]
    bound: int
    bound_by: tuple[str, ...] = ()


class DeckSet(Value, frozen=True, kw_only=True):
    """A county's faces and their decks, in the same order. Empty where no ballot is described."""

    faces: tuple[BallotFace, ...] = ()
    decks: tuple[Deck, ...] = ()

    def __post_init__(self) -> None:
        keys = tuple(face.key for face in self.faces)
        require(keys == tuple(deck.face for deck in self.decks), "each face needs its deck, in one order")

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys of all faces."""
        return tuple(face.key for face in self.faces)

    def only(self, keys: tuple[str, ...]) -> DeckSet:
        """The decks of some faces, in the order of all; those that are not here are left out."""
        chosen = [at for at, face in enumerate(self.faces) if face.key in keys]
        return DeckSet(
            faces=tuple(self.faces[at] for at in chosen), decks=tuple(self.decks[at] for at in chosen)
        )

    @property
    def ballots(self) -> int:
        """How many ballots all decks have."""
        return sum(len(deck.ballots) for deck in self.decks)


class Line(enum.StrEnum):
    """What a number of a report counts."""

    CHOICE = "votes for a choice"
    WRITE_INS = "write-in votes"
    OVERVOTED = "ballots overvoted"
    UNDERVOTES = "undervotes"
    BALLOTS = "ballots read"
    BLANK = "ballots blank"
    LIFETIME = "lifetime counter moved by"


class Cell(Value, frozen=True, kw_only=True):
    """Names one number of a report: a line, its contest ("" for the whole report), its choice."""

    line: Line
    contest: str = ""
    choice: str = ""

    @property
    def id(self) -> str:
        """The cell as one word of an event: ``governor/choice/2``, ``governor/overvoted``, ``ballots``."""
        word = LINE_WORDS[self.line]
        return "/".join(filter(None, (self.contest, word, self.choice)))


LINE_WORDS = MappingProxyType(
    {
        Line.CHOICE: "choice",
        Line.WRITE_INS: "write-ins",
        Line.OVERVOTED: "overvoted",
        Line.UNDERVOTES: "undervotes",
        Line.BALLOTS: "ballots",
        Line.BLANK: "blank",
        Line.LIFETIME: "lifetime",
    }
)
"""Lines as single words, in events and in files."""


class Total(Value, frozen=True, kw_only=True):
    """One number of a report."""

    cell: Cell
    count: int


class Results(Value, frozen=True, kw_only=True):
    """What a report shows after decks were read, each number once, in the order of the ballot."""

    totals: tuple[Total, ...]

    def of(self, cell: Cell) -> int | None:
        """The number of a cell; None where the report has no such line."""
        return next((total.count for total in self.totals if total.cell == cell), None)

    @property
    def ballots(self) -> int:
        """Ballots read."""
        return self.of(Cell(line=Line.BALLOTS)) or 0


class MistakeKind(enum.StrEnum):
    """A way in which a device's definition can be wrong, or a position can be dead."""

    SWAPPED = "two positions swapped"
    DEAD = "position not read"
    VOTE_FOR = "wrong vote-for number"
    ROTATION = "rotation not as on the ballot"
    CONTESTS = "two contests swapped"
    STYLES = "read as another style"


class Mistake(Value, frozen=True, kw_only=True):
    """One mistake of a device on one face: where, and what it did.

    `first` and `second` are choice ids, positions, numbers or contests, as the kind says. `faces` are the
    faces on which it is made.
    """

    kind: MistakeKind
    faces: tuple[str, ...]
    contest: str = ""
    first: str = ""
    second: str = ""


class Mistaken(Value, frozen=True, kw_only=True):
    """What a report would show under a mistake."""

    mistake: Mistake
    results: Results


class Misread(Value, frozen=True, kw_only=True):
    """A mistake on the report over several decks, and by how much each number that it changes differs."""

    mistake: Mistake
    changes: tuple[Total, ...]
