"""Make a county folder step by step: read the tables, propose, say what is still open, write.

Nothing is written before every question is answered, and then the folder appears whole.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import msgspec

from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.station_type import SiteKind, StationType
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.builder import Facts
from pollstead.intake.export import table_text, write_folder
from pollstead.intake.folder import read_folder
from pollstead.intake.foreign import ForeignTable, read_foreign
from pollstead.intake.mapping import (
    FLEET,
    NOTHING,
    Proposal,
    filled_down,
    is_of,
    only_where,
    propose,
)
from pollstead.intake.mapping_file import mapping_text
from pollstead.intake.open_items import PAST_DAY
from pollstead.intake.options import Options, parse_date, parse_given, parse_kind, parse_zone
from pollstead.intake.shipped import shipped_names, shipped_text, shipped_types
from pollstead.intake.start import Start, build, last_general_election
from pollstead.intake.synonyms import COLUMNS, device_words
from pollstead.intake.tables import MAPPING_FILE, STATION_TYPES_FILE, TABLES
from pollstead.intake.telling import Told, fault_line, made_lines, proposal_lines, start_lines


class Question(Value, frozen=True, kw_only=True):
    """What is still open, how an option settles it, and what Enter (or ``--yes``) would take."""

    key: str
    subject: tuple[str, ...] = ()
    text: Message
    settle: Message
    proposal: str = ""


class Making:
    """A county folder in the making: `look`, then `answer` what `questions` ask, then `write`."""

    def __init__(self, folder: Path, options: Options, today: dt.date | None = None) -> None:
        self.folder = folder
        self.today = today
        self.options = options
        self.faults: list[Notice] = []
        self.questions: tuple[Question, ...] = ()
        self._said: set[tuple[str, int]] = set()
        self._tables: tuple[ForeignTable, ...] | None = None
        self._proposals: tuple[Proposal, ...] = ()
        self._start: Start | None = None

    def look(self) -> tuple[Told, ...]:
        """Read the tables, propose, and find what is still open.

        Raises ValueError where an option names a file, column or place that is not there.
        """
        told: list[Told] = []
        if self.folder.exists() and (not self.folder.is_dir() or any(self.folder.iterdir())):
            raise FileExistsError(f"{self.folder} already holds something; name a new folder")
        if self._tables is None:
            self._tables = self._read()
            told += [fault_line(notice) for notice in self.faults]
        types, _ = self._types()
        words = device_words(types)
        self._check_files()
        self._proposals = tuple(self._propose(table, words) for table in self._tables)
        for proposal in self._proposals:
            told += proposal_lines(proposal)
        self.questions = self._open()
        if not self.questions and not self.faults:
            self._start = self._build(types, words)
            told += start_lines(self._start)
            self.questions = self._alike(self._start)
        return self._new(told)

    def answer(self, question: Question, answer: str) -> None:
        """Take an answer; raises ValueError saying what is expected where it cannot be read."""
        options = self.options
        said = 1 if answer else 0
        answer = answer or question.proposal
        if not answer and question.key != "mapping":
            raise ValueError("an answer is needed")
        changes: dict[str, object] = {}
        if question.key == "mapping":
            if said:
                given = (*options.given, parse_given(f"{question.subject[0]}:{answer}"))
                changes["given"] = given
            else:
                changes["confirmed"] = (*options.confirmed, question.subject[0])
        elif question.key == "alike":
            word = answer.casefold()
            if word not in ("same", "different"):
                raise ValueError(f"expected same or different, got {answer!r}")
            first, second = question.subject
            before = options.same if word == "same" else options.different
            changes[word] = (*before, (first, second))
        elif question.key in ("election_day", "past_election"):
            changes[question.key] = parse_date(question.key, answer)
        elif question.key == "zone":
            changes["zone"] = parse_zone(answer)
        elif question.key == "kind":
            changes["kind"] = parse_kind(answer)
        else:
            changes[question.key] = answer
        self.options = msgspec.structs.replace(options, typed=options.typed + said, **changes)

    def write(self) -> tuple[Told, ...]:
        """Write the folder, read it back, and say what was made and what each further list would add."""
        start, options = self._start, self.options
        if start is None:
            raise ValueError("nothing to write: look() first and answer every question")
        more = [(STATION_TYPES_FILE, shipped_text(options.kind))]
        if self._proposals:
            more.append((MAPPING_FILE, self._mapping(start)))
        else:
            more += [(table.file, table_text(table, ())) for table in TABLES]
        write_folder(start.election, self.folder, more_files=tuple(more))
        intake = read_folder(self.folder, self.today)
        self.faults = list(intake.faults) if self._proposals else []
        told = [Told(text=line) for line in made_lines(self.folder, start.election, options.typed)]
        told += [fault_line(notice) for notice in self.faults]
        items = [
            n for n in intake.of_kind(NoticeKind.OPEN_ITEM) if n.rule in ("list-not-there", "same-building")
        ]
        told += [Told(text=n.text) for n in intake.of_kind(NoticeKind.OPEN_ITEM) if n.rule == PAST_DAY]
        adds = [n for n in items if n.rule == "list-not-there"]
        if adds:
            told.append(Told(text=message(N_("What each further list would add:"))))
            told += [Told(text=notice.text, depth=1) for notice in adds]
        asks = len(items) - len(adds)
        if asks:
            told.append(
                Told(
                    text=message(
                        N_("{count} pairs of places may be one building; pollstead check names them"),
                        count=asks,
                    )
                )
            )
        return self._new(told)

    def _mapping(self, start: Start) -> str:
        pairs = tuple((_site_id(start, a), _site_id(start, b)) for a, b in self.options.different)
        return mapping_text(self._proposals, self.options.wheres, self.options.same, pairs, start.left_out)

    def _new(self, told: list[Told]) -> tuple[Told, ...]:
        """The lines that were not said before, so that a second look does not repeat them."""
        fresh = [line for line in told if (line.text.english(), line.depth) not in self._said]
        self._said |= {(line.text.english(), line.depth) for line in told}
        return tuple(fresh)

    def _read(self) -> tuple[ForeignTable, ...]:
        found: list[ForeignTable] = []
        for path in self.options.tables:
            tables, faults = read_foreign(Path(path))
            self.faults += faults
            found += tables
        return tuple(found)

    def _check_files(self) -> None:
        tables = self._tables or ()
        options = self.options
        named = [g.file for g in options.given] + [w.file for w in options.wheres]
        for file in [*named, *(Path(file).name for file, _ in options.fill_down)]:
            if not any(is_of(file, table) for table in tables) and not self.faults:
                names = ", ".join(table.name for table in tables) or "none"
                raise ValueError(f"no table is called {file!r}; the tables are: {names}")

    def _types(self) -> tuple[tuple[StationType, ...], tuple[SiteKind, ...]]:
        return shipped_types(self.options.kind) if self.options.kind else ((), ())

    def _propose(self, table: ForeignTable, words: dict[str, tuple[str, ...]]) -> Proposal:
        chosen = only_where(table, self.options.wheres)
        if not chosen.rows:
            wanted = "; ".join(f"{w.column}={w.value}" for w in self.options.wheres if is_of(w.file, table))
            raise ValueError(f"no row of {table.name} has {wanted}")
        down = tuple(column for file, column in self.options.fill_down if is_of(Path(file).name, table))
        return propose(filled_down(chosen, down), self.options.given, words, len(table.rows))

    def _open(self) -> tuple[Question, ...]:
        options = self.options
        questions = [q for proposal in self._proposals if (q := _mapping_question(proposal, options))]
        for key, value, text, settle in (
            ("county", options.county, N_("What is the county called?"), "--county NAME"),
            (
                "election_day",
                options.election_day,
                N_("When is election day (such as 2026-11-03)?"),
                "--election-day DATE",
            ),
            ("zone", options.zone, N_("Which time zone (such as America/New_York)?"), "--zone ZONE"),
            ("kind", options.kind, N_("Which kind of site?"), "--kind A, B, C, D or E"),
        ):
            if not value:
                names = "; ".join(f"{letter}: {words}" for letter, words in shipped_names())
                asked = message(N_("{question} {choices}"), question=text, choices=names)
                questions.append(
                    Question(
                        key=key,
                        text=asked if key == "kind" else message(text),
                        settle=message(N_("Say it by {option}"), option=settle),
                    )
                )
        ballots = any(proposal.theirs("ballots") for proposal in self._proposals)
        if ballots and options.past_election is None and options.election_day and not options.yes:
            likely = last_general_election(options.election_day).isoformat()
            questions.append(
                Question(
                    key="past_election",
                    text=message(N_("Which election are the past ballots from?")),
                    settle=message(
                        N_("Say it by --past-election DATE; --yes takes {proposal}, marked as assumed"),
                        proposal=likely,
                    ),
                    proposal=likely,
                )
            )
        return tuple(questions)

    def _build(self, types: tuple[StationType, ...], words: dict[str, tuple[str, ...]]) -> Start:
        options = self.options
        day = options.election_day
        if day is None:
            raise ValueError("election day is not known")
        facts = Facts(
            county=options.county,
            name=options.name or f"Election of {day.isoformat()}",
            election_day=day,
            zone=options.zone,
            past_election=options.past_election or last_general_election(day),
            past_election_assumed=options.past_election is None,
            opens_min=options.opens_min,
            closes_min=options.closes_min,
            same=options.same,
        )
        return build(self._proposals, facts, types, self._types()[1], words)

    def _alike(self, start: Start) -> tuple[Question, ...]:
        if self.options.yes:
            return ()
        settled = {frozenset((_site_id(start, a), _site_id(start, b))) for a, b in self.options.different}
        names = {site.id: f"{site.name}, {site.address}" for site in start.election.sites}
        return tuple(
            Question(
                key="alike",
                subject=(first, second),
                text=message(
                    N_("Same building or different? {first}: {first_name} / {second}: {second_name}"),
                    first=first,
                    first_name=names[first],
                    second=second,
                    second_name=names[second],
                ),
                settle=message(
                    N_("Say --same {first}={second} or --different {first}={second}; --yes keeps them apart"),
                    first=first,
                    second=second,
                ),
                proposal="different",
            )
            for first, second in start.alike
            if frozenset((first, second)) not in settled
        )


def _site_id(start: Start, named: str) -> str:
    """The id of a site named by its id or whole name; raises ValueError where there is none or several."""
    found = [s.id for s in start.election.sites if named == s.id or named.casefold() == s.name.casefold()]
    if len(found) != 1:
        raise ValueError(f"{len(found)} places are called {named!r}; give the id")
    return found[0]


def _mapping_question(proposal: Proposal, options: Options) -> Question | None:
    table = proposal.table
    if proposal.purpose == NOTHING:
        return Question(
            key="mapping",
            subject=(table.name,),
            text=message(
                N_("What is in {file}? Its columns are: {columns}"),
                file=table.name,
                columns=", ".join(table.header[:30]),
            ),
            settle=message(
                N_("Say it by --map {file}:our_column=their column; our columns are {ours}"),
                file=table.name,
                ours=", ".join((*COLUMNS, FLEET + "KIND")),
            ),
        )
    if options.yes or proposal.settled or table.name in options.confirmed:
        return None
    return Question(
        key="mapping",
        subject=(table.name,),
        text=message(
            N_("Is {file} read rightly? Type our_column=their column to change it."), file=table.name
        ),
        settle=message(
            N_("Accept it by --yes, or say each column by --map {file}:our_column=their column"),
            file=table.name,
        ),
    )
