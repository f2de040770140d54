"""Words for the numbers of a report over test decks, and for what would explain one that differs."""

from __future__ import annotations

from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.decks import BallotFace, Cell, DeckSet, FaceContest, Line, Mistake, MistakeKind
from pollstead.reconcile.decks.runs import DeckState

LINE_WORDS = {
    Line.WRITE_INS: N_("Write-in votes, all lines"),
    Line.OVERVOTED: N_("Ballots overvoted here"),
    Line.UNDERVOTES: N_("Undervotes"),
    Line.BALLOTS: N_("Ballots read"),
    Line.BLANK: N_("Ballots without any mark"),
    Line.LIFETIME: N_("Lifetime counter moved by"),
}
"""The words of every line but a choice, which has the name on the ballot."""

STATE_WORDS = {
    DeckState.NOT_READ: ("ring", N_("no deck read yet")),
    DeckState.SOME: ("half", N_("some decks still to be read")),
    DeckState.DIFFERS: ("diamond", N_("report differs")),
    DeckState.CHANGED: ("diamond", N_("ballots changed since")),
    DeckState.ONE_PERSON: ("half", N_("compared by one person")),
    DeckState.MATCHED: ("square", N_("matched")),
}
"""The shape and the words of a state."""


def contest_of(decks: DeckSet, contest: str) -> FaceContest | None:
    """A contest by its id, as the first face has it."""
    return next((found for face in decks.faces if (found := face.contest(contest)) is not None), None)


def choice_name(decks: DeckSet, contest: str, choice: str) -> str:
    """The name of a choice as it stands on the ballot; its id where the ballots have it no more."""
    found = contest_of(decks, contest)
    if found is None or choice not in found.choices:
        return choice
    return found.names[found.choices.index(choice)]


def contest_words(decks: DeckSet, contest: str) -> str:
    """The title of a contest; its id where the ballots have it no more."""
    found = contest_of(decks, contest)
    return contest if found is None else found.words


def cell_of_id(text: str) -> Cell | None:
    """The cell that an event names by its id; None where this version knows no such line."""
    from pollstead.plan.terms.decks import LINE_WORDS as IDS

    lines = {word: line for line, word in IDS.items()}
    parts = text.split("/")
    if len(parts) == 1 and parts[0] in lines:
        return Cell(line=lines[parts[0]])
    if len(parts) >= 2 and parts[1] in lines:
        return Cell(line=lines[parts[1]], contest=parts[0], choice=parts[2] if len(parts) > 2 else "")
    return None


def cell_words(decks: DeckSet, cell: Cell) -> Message:
    """A number of the report in words: contest and choice, or contest and line."""
    if cell.line is Line.CHOICE:
        return message(
            N_("{contest}: {choice}"),
            contest=contest_words(decks, cell.contest),
            choice=choice_name(decks, cell.contest, cell.choice),
        )
    if not cell.contest:
        return message(LINE_WORDS[cell.line])
    lines = {
        Line.WRITE_INS: N_("{contest}: write-in votes"),
        Line.OVERVOTED: N_("{contest}: ballots overvoted"),
        Line.UNDERVOTES: N_("{contest}: undervotes"),
    }
    return message(lines[cell.line], contest=contest_words(decks, cell.contest))


def mistake_words(decks: DeckSet, mistake: Mistake) -> Message:
    """What a device may have wrong, as a possible explanation; never what it is."""
    contest = contest_words(decks, mistake.contest)
    face = next((f for f in decks.faces if f.key in mistake.faces), None)
    found = None if face is None else face.contest(mistake.contest)
    styles = ", ".join(mistake.faces)
    if mistake.kind is MistakeKind.SWAPPED:
        first = choice_name(decks, mistake.contest, mistake.first)
        if not mistake.second:
            return message(
                N_("{contest}: {first} and a write-in line are swapped (style {styles})"),
                contest=contest,
                first=first,
                styles=styles,
            )
        return message(
            N_("{contest}: {first} and {second} are swapped (style {styles})"),
            contest=contest,
            first=first,
            second=choice_name(decks, mistake.contest, mistake.second),
            styles=styles,
        )
    if mistake.kind is MistakeKind.DEAD:
        return message(
            N_("{contest}: position {position} ({name}) is not read (style {styles})"),
            contest=contest,
            position=mistake.first,
            name=_at(face, found, int(mistake.first)),
            styles=styles,
        )
    if mistake.kind is MistakeKind.VOTE_FOR:
        return message(
            N_("{contest}: the device allows {number} marks, the ballot {right} (style {styles})"),
            contest=contest,
            number=mistake.first,
            right=found.vote_for if found is not None else 0,
            styles=styles,
        )
    if mistake.kind is MistakeKind.ROTATION:
        return message(
            N_("{contest}: the list is rotated by {number} on the device, {right} on paper (style {styles})"),
            contest=contest,
            number=mistake.first,
            right=found.rotation if found is not None else 0,
            styles=styles,
        )
    if mistake.kind is MistakeKind.CONTESTS:
        return message(
            N_("{first} and {second} are swapped (style {styles})"),
            first=contest_words(decks, mistake.first),
            second=contest_words(decks, mistake.second),
            styles=styles,
        )
    return message(N_("The ballots of two styles are read as one another's: {styles}"), styles=styles)


def _at(face: BallotFace | None, contest: FaceContest | None, position: int) -> str:
    """Who stands at a position of a face; empty for a write-in line."""
    if face is None or contest is None or position > len(contest.choices):
        return "-"
    return contest.names[(position - 1 + contest.rotation) % len(contest.choices)]
