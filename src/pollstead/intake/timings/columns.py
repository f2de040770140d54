"""What each column of a file of timings holds; a column that is none of these keeps the file out.

Such a column may be about a voter, and nothing about a voter comes in. So headings are not guessed from
afar: each is one of the words below, or a person says what it holds.
"""

from __future__ import annotations

import enum
from collections import Counter
from collections.abc import Mapping

from pollstead.election.notice import Notice, Place
from pollstead.election.timings import TimingKind
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.notices import cannot_read
from pollstead.intake.synonyms import plain


class Role(enum.StrEnum):
    """What a column holds."""

    TIME = "time"
    DATE = "date"
    SITE = "site"
    STATION = "station"
    IN_LINE = "people in line"
    CHECK_INS = "check-ins"
    CHECK_INS_BEFORE = "check-ins of the hour before"
    CHECK_INS_SO_FAR = "check-ins so far"
    STATIONS_OPEN = "stations open"
    STATION_TYPE = "station type"
    STEP = "step"
    SECONDS = "seconds"
    START = "start"
    END = "end"
    STILL_GOING = "still going"


WORDS: dict[Role, str] = {
    Role.TIME: "time|check-in time|check in time|checked in at|time of check-in|timestamp|time stamp"
    "|date and time|datetime|date time|moment|hour|reported at|hour beginning|hour starting",
    Role.DATE: "date|day|election date|operating day",
    Role.SITE: "site|site id|site name|polling place|polling place id|polling place name"
    "|polling location|location|location id|location name|voting location|vote center|place|precinct",
    Role.STATION: "station|station id|check-in station|check-in station id|station number|station no"
    "|table|tablet|device|device id",
    Role.IN_LINE: "people in line|in line|line|line length|voters in line|people waiting|waiting|queue",
    Role.CHECK_INS: "check-ins|checkins|check ins|checked in|check-ins this hour|check-ins in the hour",
    Role.CHECK_INS_BEFORE: "check-ins of the hour before|check-ins last hour"
    "|check-ins in the last hour|check-ins since the last report|check-ins past hour",
    Role.CHECK_INS_SO_FAR: "check-ins so far|total check-ins|check-ins total|cumulative check-ins"
    "|checked in so far|running total",
    Role.STATIONS_OPEN: "stations open|open stations|stations|check-in stations|check-in stations open",
    Role.STATION_TYPE: "station type|type of station|kind of station",
    Role.STEP: "step|what|activity|task",
    Role.SECONDS: "seconds|sec|secs|s|seconds taken|service time seconds|duration seconds|duration s",
    Role.START: "start|started|from|begin|start time",
    Role.END: "end|ended|to|stop|stopped|end time",
    Role.STILL_GOING: "still going|censored|unfinished|not finished|still there",
}
"""What offices call each column (common practice, no source; varies by county)."""

_ROLE_OF = {plain(word): role for role, words in WORDS.items() for word in words.split("|")}

MAY_HOLD: dict[TimingKind, tuple[Role, ...]] = {
    TimingKind.CHECK_IN_TIMES: (Role.TIME, Role.DATE, Role.SITE, Role.STATION),
    TimingKind.LINE_COUNTS: (
        Role.TIME,
        Role.DATE,
        Role.SITE,
        Role.IN_LINE,
        Role.CHECK_INS,
        Role.CHECK_INS_BEFORE,
        Role.CHECK_INS_SO_FAR,
        Role.STATIONS_OPEN,
    ),
    TimingKind.SAMPLES: (
        Role.DATE,
        Role.SITE,
        Role.STATION_TYPE,
        Role.STEP,
        Role.SECONDS,
        Role.START,
        Role.END,
        Role.STILL_GOING,
    ),
}


class Header(Value, frozen=True, kw_only=True):
    """A header that may come in: its row, and the place of each role."""

    row: int
    kind: TimingKind
    headings: tuple[str, ...]
    places: tuple[tuple[Role, int], ...]

    def place(self, role: Role) -> int | None:
        """Where a role's cells stand."""
        return dict(self.places).get(role)

    @property
    def used(self) -> tuple[tuple[str, str], ...]:
        """Each heading with what it was taken for."""
        return tuple((self.headings[place], role.value) for role, place in self.places)


def role_of(heading: str, said: Mapping[str, Role]) -> Role | None:
    """What a heading holds: as a person said, else as one of the words; None where it is none of them."""
    told = {plain(theirs): role for theirs, role in said.items()}
    return told.get(plain(heading)) or _ROLE_OF.get(plain(heading))


def is_header(row: list[str], said: Mapping[str, Role]) -> bool:
    """Whether a row looks like a header: at least two headings that are known, all different."""
    filled = [cell for cell in row if cell]
    known = [role for cell in filled if (role := role_of(cell, said)) is not None]
    return len(known) >= 2 or (len(known) == len(filled) == 1)


def kind_of(roles: list[Role]) -> TimingKind:
    """What a file with these columns is."""
    if {Role.SECONDS, Role.START, Role.END, Role.STEP, Role.STILL_GOING} & set(roles):
        return TimingKind.SAMPLES
    counts = (Role.IN_LINE, Role.CHECK_INS, Role.CHECK_INS_BEFORE, Role.CHECK_INS_SO_FAR, Role.STATIONS_OPEN)
    return TimingKind.LINE_COUNTS if set(counts) & set(roles) else TimingKind.CHECK_IN_TIMES


def read_header(
    file: str, number: int, row: list[str], said: Mapping[str, Role]
) -> tuple[Header | None, TimingKind, list[Notice]]:
    """The header with its columns, or every reason why the file may not come in."""
    while row and not row[-1]:
        row = row[:-1]
    roles = [role_of(cell, said) if cell else None for cell in row]
    kind = kind_of([role for role in roles if role is not None])
    allowed, faults = MAY_HOLD[kind], []
    wanted = ", ".join(role.value for role in allowed)
    for place, (heading, role) in enumerate(zip(row, roles, strict=True), 1):
        if role in allowed:
            continue
        faults.append(
            cannot_read(
                "timings-column",
                Place(file=file, row=number, column=heading or f"column {place}"),
                message(
                    N_(
                        "{file} has the column {column}, which may not come in: nothing about a voter is kept"
                    ),
                    file=file,
                    column=heading or f"column {place}",
                ),
                found=heading or "a column without a heading",
                wanted=wanted,
                remedy=message(N_("Delete this column from a copy of the file, then send the copy.")),
            )
        )
    known = [role for role in roles if role in allowed and role is not None]
    for role, times in Counter(known).items():
        if times > 1:
            faults.append(
                _lacks(
                    file, number, N_("{file} has two columns for one thing"), role.value, N_("one of each")
                )
            )
    faults += _missing(file, number, kind, set(known))
    if faults:
        return None, kind, faults
    places = tuple((role, place) for place, role in enumerate(roles) if role is not None)
    return Header(row=number, kind=kind, headings=tuple(row), places=places), kind, []


def _missing(file: str, number: int, kind: TimingKind, known: set[Role]) -> list[Notice]:
    """What a file of this kind must have and does not."""
    said = ", ".join(role.value for role in known)
    needs: list[tuple[bool, str]] = []
    if kind is TimingKind.CHECK_IN_TIMES:
        needs = [(Role.TIME in known, "time"), (bool({Role.SITE, Role.STATION} & known), "site or station")]
    elif kind is TimingKind.LINE_COUNTS:
        needs = [(Role.TIME in known, "time"), (Role.SITE in known, "site")]
        counted = {Role.CHECK_INS, Role.CHECK_INS_BEFORE, Role.CHECK_INS_SO_FAR}
        needs.append((len(counted & known) <= 1, "check-ins told in one way"))
    else:
        spans = {Role.START, Role.END} & known
        needs = [
            (bool({Role.STEP, Role.STATION_TYPE} & known), "step or station type"),
            (Role.SECONDS in known or len(spans) == 2, "seconds, or start and end"),
            (not (Role.SECONDS in known and spans), "seconds, or start and end, not both"),
        ]
    return [
        _lacks(file, number, N_("{file} lacks a column, or has one too many"), said, wanted)
        for there, wanted in needs
        if not there
    ]


def _lacks(file: str, number: int, words: str, found: str, wanted: str) -> Notice:
    return cannot_read(
        "timings-columns",
        Place(file=file, row=number),
        message(words, file=file),
        found=found,
        wanted=wanted,
        remedy=message(N_("Name the columns as the guide to timings does, then send the file again.")),
    )
