"""Make a county folder step by step: read the tables, propose, say what is still open, write.

Nothing is written before every question is answered, and then the folder appears whole.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import msgspec

from pollstead.election.county import Election
from pollstead.election.instants import parse_clock, zone
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.station_type import SiteKind, StationType
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.cells import CellFault, CellKind, read_cell
from pollstead.intake.export import table_text, write_folder
from pollstead.intake.folder import read_folder
from pollstead.intake.foreign import ForeignTable, read_foreign
from pollstead.intake.mapping import (
    FLEET,
    NOTHING,
    Given,
    Proposal,
    Where,
    filled_down,
    is_of,
    only_where,
    propose,
)
from pollstead.intake.mapping_file import mapping_text
from pollstead.intake.shipped import shipped_names, shipped_text, shipped_types
from pollstead.intake.start import Facts, Start, build, last_general_election
from pollstead.intake.synonyms import COLUMNS, MEANINGS, device_words
from pollstead.intake.tables import MAPPING_FILE, STATION_TYPES_FILE, TABLES

MOST_SHOWN = 12
DEVICES_OF_A_KIND = N_("how many devices of this kind")


class Told(Value, frozen=True, kw_only=True):
    """One line for the person, and how far it is indented."""

    text: Message
    depth: int = 0


class Question(Value, frozen=True, kw_only=True):
    """What is still open, how an option settles it, and what Enter (or ``--yes``) would take."""

    key: str
    subject: tuple[str, ...] = ()
    text: Message
    settle: Message
    proposal: str = ""


class Options(Value, frozen=True, kw_only=True):
    """What a person said on the command line or in answers."""

    tables: tuple[Path, ...] = ()
    given: tuple[Given, ...] = ()
    wheres: tuple[Where, ...] = ()
    fill_down: tuple[tuple[str, str], ...] = ()
    county: str = ""
    name: str = ""
    election_day: dt.date | None = None
    zone: str = ""
    kind: str = ""
    past_election: dt.date | None = None
    opens_min: int | None = None
    closes_min: int | None = None
    same: tuple[tuple[str, str], ...] = ()
    different: tuple[tuple[str, str], ...] = ()
    confirmed: tuple[str, ...] = ()
    yes: bool = False
    typed: int = 0

    @classmethod
    def parse(
        cls,
        *,
        tables: tuple[Path, ...] = (),
        maps: tuple[str, ...] = (),
        wheres: tuple[str, ...] = (),
        fill_down: tuple[str, ...] = (),
        county: str = "",
        name: str = "",
        election_day: str = "",
        zone: str = "",
        kind: str = "",
        past_election: str = "",
        opens: str = "",
        closes: str = "",
        same: tuple[str, ...] = (),
        different: tuple[str, ...] = (),
        yes: bool = False,
    ) -> Options:
        """Options from their texts; raises ValueError naming the option and what it should look like."""
        words = (county, name, election_day, zone, kind, past_election, opens, closes)
        lists = (maps, wheres, fill_down, same, different)
        if bool(opens) != bool(closes):
            raise ValueError("--opens and --closes belong together, got only one of them")
        return cls(
            tables=tables,
            given=tuple(_given(given) for given in maps),
            wheres=tuple(_where(where) for where in wheres),
            fill_down=tuple(_two(pair, ":", "--fill-down FILE:column") for pair in fill_down),
            county=county.strip(),
            name=name.strip(),
            election_day=_date("--election-day", election_day),
            zone=_zone(zone),
            kind=_kind(kind),
            past_election=_date("--past-election", past_election),
            opens_min=_clock("--opens", opens),
            closes_min=_clock("--closes", closes),
            same=tuple(_two(pair, "=", "--same A=B") for pair in same),
            different=tuple(_two(pair, "=", "--different A=B") for pair in different),
            yes=yes,
            typed=sum(1 for word in words if word) + sum(len(values) for values in lists),
        )


def _two(text: str, mark: str, wanted: str) -> tuple[str, str]:
    left, found, right = text.rpartition(mark) if mark == ":" else text.partition(mark)
    if not found or not left.strip() or not right.strip():
        raise ValueError(f"expected {wanted}, got {text!r}")
    return left.strip(), right.strip()


def _given(text: str) -> Given:
    left, found, theirs = text.partition("=")
    file, colon, ours = left.rpartition(":")
    ours = ours.strip()
    if not found or not colon or not (ours in COLUMNS or ours.startswith(FLEET)):
        known = ", ".join((*COLUMNS, FLEET + "KIND"))
        raise ValueError(f"expected --map FILE:our=their column, got {text!r}; ours are {known}")
    return Given(file=Path(file.strip()).name, ours=ours, theirs=theirs.strip())


def _where(text: str) -> Where:
    left, found, value = text.partition("=")
    file, colon, column = left.rpartition(":")
    if not found or not colon or not column.strip():
        raise ValueError(f"expected --where FILE:column=value, got {text!r}")
    return Where(file=Path(file.strip()).name, column=column.strip(), value=value.strip())


def _date(option: str, text: str) -> dt.date | None:
    if not text:
        return None
    try:
        value: dt.date = read_cell(CellKind.DATE, text)
    except CellFault as fault:
        raise ValueError(f"{option} must be {fault.wanted}, got {text!r}") from None
    return value


def _clock(option: str, text: str) -> int | None:
    try:
        return parse_clock(text) if text else None
    except ValueError as error:
        raise ValueError(f"{option}: {error}") from None


def _zone(text: str) -> str:
    if text:
        zone(text)
    return text


def _kind(text: str) -> str:
    if text:
        shipped_text(text)
    return text.upper()


class Making:
    """A county folder in the making: `look`, then `answer` what `questions` ask, then `write`."""

    def __init__(self, folder: Path, options: Options) -> None:
        self.folder = folder
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
            told += [_fault(notice) for notice in self.faults]
        types, _ = self._types()
        words = device_words(types)
        self._check_files()
        self._proposals = tuple(self._propose(table, words) for table in self._tables)
        for proposal in self._proposals:
            told += _proposal_lines(proposal)
        self.questions = self._open()
        if not self.questions and not self.faults:
            self._start = self._build(types, words)
            told += _start_lines(self._start)
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
                given = (*options.given, _given(f"{question.subject[0]}:{answer}"))
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
            changes[question.key] = _date(question.key, answer)
        elif question.key == "zone":
            changes["zone"] = _zone(answer)
        elif question.key == "kind":
            changes["kind"] = _kind(answer)
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
        intake = read_folder(self.folder)
        self.faults = list(intake.faults) if self._proposals else []
        told = [Told(text=line) for line in _made(self.folder, start.election, options.typed)]
        told += [_fault(notice) for notice in self.faults]
        items = [
            n for n in intake.of_kind(NoticeKind.OPEN_ITEM) if n.rule in ("list-not-there", "same-building")
        ]
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
            tables, faults = read_foreign(path)
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


def _fault(notice: Notice) -> Told:
    place = notice.place.english() if notice.place else ""
    return Told(
        text=message(
            N_("{place}: {words}; found {found}; wanted {wanted}"),
            place=place,
            words=notice.text.english(),
            found=notice.found,
            wanted=notice.wanted,
        )
    )


def _proposal_lines(proposal: Proposal) -> list[Told]:
    table = proposal.table
    lines = [
        Told(
            text=message(
                N_("{file}: {purpose}; header in row {row}, {rows} of {all} rows taken"),
                file=table.name,
                purpose=proposal.purpose,
                row=table.header_row,
                rows=len(table.rows),
                all=proposal.rows_before,
            )
        )
    ]
    for match in proposal.matches:
        said = N_("{ours} = {theirs} ({meaning}; as you said), for example {samples}")
        likely = N_("{ours} = {theirs} ({meaning}; names {likeness} % alike), for example {samples}")
        lines.append(
            Told(
                depth=1,
                text=message(
                    said if match.given else likely,
                    ours=match.ours,
                    theirs=match.theirs,
                    meaning=MEANINGS.get(match.ours, DEVICES_OF_A_KIND),
                    likeness=match.likeness,
                    samples=" | ".join(match.samples) or "-",
                ),
            )
        )
    if proposal.unused:
        names = ", ".join(proposal.unused[:MOST_SHOWN]) + (" …" if len(proposal.unused) > MOST_SHOWN else "")
        lines.append(Told(depth=1, text=message(N_("not used: {names}"), names=names)))
    for skipped in table.skipped[:MOST_SHOWN]:
        text = message(
            N_("row {row} is {why}: {text}"), row=skipped.row, why=skipped.why, text=skipped.text[:80]
        )
        lines.append(Told(depth=1, text=text))
    if len(table.skipped) > MOST_SHOWN:
        left = len(table.skipped) - MOST_SHOWN
        lines.append(Told(depth=1, text=message(N_("and {count} more rows like these"), count=left)))
    return lines


def _start_lines(start: Start) -> list[Told]:
    lines = [Told(text=line) for line in start.told]
    for left in start.left_out[:MOST_SHOWN]:
        lines.append(
            Told(
                text=message(
                    N_("{file}, row {row}: {why} ({text})"),
                    file=left.file,
                    row=left.row,
                    why=left.why,
                    text=left.text[:80],
                )
            )
        )
    if len(start.left_out) > MOST_SHOWN:
        more = len(start.left_out) - MOST_SHOWN
        lines.append(Told(text=message(N_("and {count} more; mapping.toml lists all of them"), count=more)))
    return lines


def _made(folder: Path, election: Election, typed: int) -> list[Message]:
    lines = [
        message(
            N_("{folder} made: {sites} sites, {precincts} precincts, {ballots} past ballots in person"),
            folder=str(folder),
            sites=len(election.sites),
            precincts=len(election.precincts),
            ballots=sum(count.ballots for count in election.history),
        )
    ]
    lines += [
        message(N_("{kind}: {count} in all"), kind=total.kind, count=total.count)
        for total in election.fleet_totals
    ]
    if election.devices:
        lines.append(message(N_("{count} devices by serial"), count=len(election.devices)))
    for assumption in election.assumptions:
        lines.append(
            message(
                N_("Assumed: {field} of {subject} is {value}. {why}."),
                field=assumption.field,
                subject=assumption.subject,
                value=assumption.value,
                why=assumption.why.english(),
            )
        )
    lines.append(message(N_("Values typed by hand: {count}"), count=typed))
    return lines
