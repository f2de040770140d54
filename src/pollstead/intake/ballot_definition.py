"""Read contests, choices and ballots from a ballot definition in the open NIST format, SP 1500-20 version 1.

The draft's JSON schema is public (usnistgov/BallotDefinition). What a test deck does not need is passed over:
layout, offices, parties, people. All faults are told at once, each with its place in the file.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from typing import Any, Final

from pollstead.election.ballots import BallotContest, Choice, Contest
from pollstead.election.notice import Notice, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.notices import cannot_read

PREFIX: Final = "BallotDefinition."
COVERED: Final = ("CandidateContest", "BallotMeasureContest", "RetentionContest")
VARIATIONS: Final = ("majority", "n-of-m", "plurality", "super-majority")
"""Ways of voting in which each mark is a vote and no mark ranks another."""
_PART = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
DEEPEST = 12
LARGEST_BYTES = 50_000_000


class Definition(Value, frozen=True, kw_only=True):
    """The three tables, and what is wrong with the file; with faults the tables are empty."""

    contests: tuple[Contest, ...] = ()
    choices: tuple[Choice, ...] = ()
    ballot_contests: tuple[BallotContest, ...] = ()
    faults: tuple[Notice, ...] = ()


def read_ballot_definition(data: bytes, file: str) -> Definition:
    """The tables of a ballot definition; `file` names it in faults."""
    reader = _Reader(file)
    try:
        if len(data) > LARGEST_BYTES:
            raise ValueError(f"larger than {LARGEST_BYTES} bytes")
        root = json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        reader.not_taken("", N_("The file is no JSON that can be read"), str(error), "JSON in UTF-8")
        return Definition(faults=tuple(reader.faults))
    reader.take(root)
    if reader.faults:
        return Definition(faults=tuple(reader.faults))
    return Definition(
        contests=tuple(reader.contests.values()),
        choices=tuple(choice for one in reader.choices.values() for choice in one),
        ballot_contests=tuple(reader.ballots),
    )


class _Reader:
    """One file while it is read."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.faults: list[Notice] = []
        self.contests: dict[str, Contest] = {}
        self.choices: dict[str, list[Choice]] = {}
        self.options: dict[str, tuple[str, ...]] = {}
        self.ballots: list[BallotContest] = []
        self.candidates: dict[str, str] = {}
        self.units: dict[str, str] = {}

    def not_taken(self, where: str, words: str, found: object = "", wanted: str = "", **params: str) -> None:
        """Note a fault at a path of the file."""
        self.faults.append(
            cannot_read(
                "ballot-definition",
                Place(file=self.file, column=where or None),
                message(words, **params),
                found=found,
                wanted=wanted,
                remedy=message(N_("Correct the file where it was made, or fill in the tables by hand.")),
            )
        )

    def take(self, root: object) -> None:
        """Read the whole file."""
        kind = _of(root, "@type")
        if kind != f"{PREFIX}BallotDefinition":
            self.not_taken("@type", N_("This is not a ballot definition"), kind, f"{PREFIX}BallotDefinition")
            return
        elections = _list(root, "Election")
        if len(elections) != 1:
            words = N_("The file must hold one election")
            self.not_taken("Election", words, len(elections), "1")
            return
        election = elections[0]
        for unit in _list(root, "GpUnit"):
            self.units[str(_of(unit, "@id"))] = _external(unit) or str(_of(unit, "@id"))
        for candidate in _list(election, "Candidate"):
            self.candidates[str(_of(candidate, "@id"))] = _words(_of(candidate, "BallotName"))
        for number, contest in enumerate(_list(election, "Contest")):
            self._contest(contest, f"Election[0].Contest[{number}]")
        styles = _list(election, "BallotStyle")
        named = Counter(_external(style) for style in styles)
        for number, style in enumerate(styles):
            self._style(style, f"Election[0].BallotStyle[{number}]", named)
        if not styles:
            self.not_taken("Election[0].BallotStyle", N_("The file has no ballot style"), 0, "1 or more")

    def _contest(self, contest: object, where: str) -> None:
        kind = str(_of(contest, "@type")).removeprefix(PREFIX)
        name = str(_of(contest, "@id"))
        before = len(self.faults)
        if kind not in COVERED:
            words = N_("Contest {contest} is of a kind for which no deck is made")
            self.not_taken(f"{where}.@type", words, kind, ", ".join(COVERED), contest=name)
            return
        if not _PART.fullmatch(name):
            self.not_taken(f"{where}.@id", N_("The id of a contest does not fit"), name, _PART.pattern)
        if name in self.contests:
            self.not_taken(f"{where}.@id", N_("Contest {contest} stands twice"), name, "once", contest=name)
        variation = _of(contest, "VoteVariation")
        if variation is not None and variation not in VARIATIONS:
            words = N_("Contest {contest} is voted in a way for which no deck is made")
            self.not_taken(f"{where}.VoteVariation", words, variation, ", ".join(VARIATIONS), contest=name)
        vote_for = _of(contest, "VotesAllowed") if kind == "CandidateContest" else 1
        if not isinstance(vote_for, int) or isinstance(vote_for, bool) or not 1 <= vote_for <= 60:
            words = N_("Contest {contest}: the number of votes allowed does not fit")
            self.not_taken(f"{where}.VotesAllowed", words, vote_for, "1 to 60", contest=name)
        made, write_ins = self._options(contest, name, where)
        words_of = _words(_of(contest, "BallotTitle")) or str(_of(contest, "Name") or "")
        if len(self.faults) == before:
            self.contests[name] = Contest(
                id=name, words=words_of or name, vote_for=int(str(vote_for)), write_in_lines=write_ins
            )
            self.choices[name] = made

    def _options(self, contest: object, name: str, where: str) -> tuple[list[Choice], int]:
        """The choices in order, and how many write-in lines."""
        listed = list(enumerate(_list(contest, "ContestOption")))
        if all(isinstance(_of(option, "SequenceOrder"), int) for _, option in listed):
            listed.sort(key=lambda one: _whole(one[1], "SequenceOrder"))
        made: list[Choice] = []
        ids: list[str] = []
        write_ins = 0
        for number, option in listed:
            here = f"{where}.ContestOption[{number}]"
            option_id = str(_of(option, "@id"))
            if _of(option, "IsWriteIn") is True:
                write_ins += 1
                continue
            if not _PART.fullmatch(option_id) or option_id in ids:
                words = N_("The id of a choice of contest {contest} does not fit, or stands twice")
                self.not_taken(f"{here}.@id", words, option_id, _PART.pattern, contest=name)
                continue
            text = self._option_words(option, here, name)
            ids.append(option_id)
            if text:
                made.append(Choice(contest=name, id=option_id, order=len(made) + 1, words=text))
        if not listed:
            words = N_("Contest {contest} has no choice and no write-in line")
            self.not_taken(f"{where}.ContestOption", words, 0, "1 or more", contest=name)
        self.options[name] = tuple(ids)
        return made, write_ins

    def _option_words(self, option: object, where: str, contest: str) -> str:
        """What stands on the ballot for a choice: candidates by name, other choices by their words."""
        names = [str(one) for one in _list(option, "CandidateIds")]
        unknown = [one for one in names if one not in self.candidates]
        if unknown:
            words = N_("A choice of contest {contest} names candidates that the file does not list")
            self.not_taken(f"{where}.CandidateIds", words, ", ".join(unknown), contest=contest)
            return ""
        text = " / ".join(self.candidates[one] for one in names) or _words(_of(option, "Selection"))
        if not text:
            words = N_("A choice of contest {contest} has no name and no words")
            self.not_taken(where, words, "", "CandidateIds, Selection", contest=contest)
        return text

    def _style(self, style: object, where: str, named: Counter[str]) -> None:
        name = _external(style)
        if not name or " " in name:
            words = N_("A ballot style has no short name without blanks")
            self.not_taken(f"{where}.ExternalIdentifier", words, name, "a short name")
            return
        precincts = [""]
        if named[name] > 1:
            precincts = [self.units.get(str(one), str(one)) for one in _list(style, "GpUnitIds")]
        ordered = _ordered(style, f"{where}.OrderedContent")
        if not ordered:
            words = N_("Ballot style {style} has no contests")
            self.not_taken(f"{where}.OrderedContent", words, 0, "1 or more", style=name)
        for order, (row, here) in enumerate(ordered, start=1):
            contest = str(_of(row, "ContestId"))
            if contest not in self.options:
                words = N_("Ballot style {style} has a contest that the file does not describe")
                self.not_taken(f"{here}.ContestId", words, contest, style=name)
                continue
            rotation = self._rotation(row, contest, here, name)
            for precinct in precincts:
                self.ballots.append(
                    BallotContest(
                        style=name, precinct=precinct, contest=contest, order=order, rotation=rotation
                    )
                )

    def _rotation(self, row: object, contest: str, where: str, style: str) -> int:
        """How far the list of choices is rotated here; a fault where it is in another order."""
        base = self.options[contest]
        told = [str(one) for one in _list(row, "OrderedContestOptionIds")]
        here = tuple(one for one in told if one in base)
        if not here:
            return 0
        if here[0] in base:
            rotation = base.index(here[0])
            if here == base[rotation:] + base[:rotation]:
                return rotation
        words = N_("Ballot style {style}: the choices of {contest} are in an order that is no rotation")
        wanted = ", ".join(base)
        found = ", ".join(here)
        self.not_taken(f"{where}.OrderedContestOptionIds", words, found, wanted, style=style, contest=contest)
        return 0


def _ordered(holder: object, where: str, depth: int = 0) -> list[tuple[object, str]]:
    """Ordered contests in the order of the ballot, headings looked through."""
    found: list[tuple[object, str]] = []
    if depth > DEEPEST:
        return found
    for number, one in enumerate(_list(holder, "OrderedContent")):
        here = f"{where}[{number}]"
        if _of(one, "@type") == f"{PREFIX}OrderedHeader":
            found += _ordered(one, f"{here}.OrderedContent", depth + 1)
        else:
            found.append((one, here))
    return found


def _of(holder: object, name: str) -> Any:
    return holder.get(name) if isinstance(holder, dict) else None


def _list(holder: object, name: str) -> list[object]:
    found = _of(holder, name)
    return found if isinstance(found, list) else []


def _whole(holder: object, name: str) -> int:
    found = _of(holder, name)
    return found if isinstance(found, int) else 0


def _words(text: object) -> str:
    """The English of an internationalized text, else its first language."""
    strings = _list(text, "Text")
    best = [one for one in strings if str(_of(one, "Language") or "").lower().split("-")[0] == "en"]
    for one in (*best, *strings):
        content = _of(one, "Content")
        if isinstance(content, str) and content.strip():
            return " ".join(content.split())
    return ""


def _external(holder: object) -> str:
    """The local identifier of a thing, else its first one."""
    found = _list(holder, "ExternalIdentifier")
    local = [one for one in found if _of(one, "Type") == "local-level"]
    for one in (*local, *found):
        value = _of(one, "Value")
        if isinstance(value, str) and value:
            return value
    return ""
