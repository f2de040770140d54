"""What stands on Larkmoor's ballots: invented contests and people, for its 61 ballot styles.

County contests stand on every ballot, those of districts on the styles of the district. Lists of people are
rotated from style to style, questions are not: one way to do it (common practice, no source; varies by
county). Offices that only some states elect are left out.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from names import name_of

SEED = 20281108


class Office(NamedTuple):
    """A contest to be: id, words, vote for, people who stand, write-in lines; no people for a question."""

    id: str
    words: str
    vote_for: int
    people: int
    write_ins: int


COUNTY = (
    Office("governor", "Governor", 1, 5, 1),
    Office("county-executive", "County executive", 1, 3, 1),
    Office("county-clerk", "County clerk", 1, 2, 1),
    Office("sheriff", "Sheriff", 1, 2, 1),
    Office("commission-at-large", "County commission, at large", 3, 7, 3),
    Office("coroner", "Coroner", 1, 1, 1),
    Office("keep-judge", "Shall the county judge stay in office?", 1, 0, 0),
    Office("library-bond", "Library bond", 1, 0, 0),
    Office("charter-change", "Change of the county charter", 1, 0, 0),
)
DISTRICTS = (
    # How many districts, then the contest of each; styles fall into districts in the order of their numbers.
    (6, Office("commission", "County commission, district {n}", 1, 3, 1)),
    (5, Office("school-board", "School board, district {n}", 2, 5, 2)),
    (9, Office("town-council", "Town council, ward {n}", 2, 4, 2)),
    (4, Office("water-board", "Water board, division {n}", 3, 4, 0)),
    (3, Office("fire-levy", "Fire levy, district {n}", 1, 0, 0)),
)


def ballot_tables(
    folder: Path, styles: int, write: Callable[[Path, str, str, list[tuple[object, ...]]], None]
) -> None:
    """Write ``contests.csv``, ``choices.csv`` and ``ballot_contests.csv`` for styles 01 to `styles`."""
    draw = random.Random(SEED)
    contests: list[tuple[object, ...]] = []
    choices: list[tuple[object, ...]] = []
    people: dict[str, int] = {}
    standing = 0

    def add(office: Office) -> None:
        nonlocal standing
        contests.append((office.id, office.words, office.vote_for, office.write_ins))
        people[office.id] = office.people
        if not office.people:
            choices.extend(
                (office.id, choice, order, choice.capitalize())
                for order, choice in enumerate(("yes", "no"), start=1)
            )
        for order in range(1, office.people + 1):
            standing += 1
            choices.append((office.id, f"{order}", order, name_of(1_000 + standing)))

    for office in COUNTY:
        add(office)
    districts: list[tuple[str, list[int]]] = []
    for count, office in DISTRICTS:
        size = -(-styles // count)
        for number in range(1, count + 1):
            mine = [s for s in range(1, styles + 1) if (s - 1) // size == number - 1]
            if not mine:
                continue
            one = office._replace(id=f"{office.id}-{number}", words=office.words.format(n=number))
            # Some districts have one person more or less than the others.
            more = draw.choice((-1, 0, 0, 1)) if office.people else 0
            add(one._replace(people=max(office.people + more, office.vote_for) if office.people else 0))
            districts.append((one.id, mine))
    rows: list[tuple[object, ...]] = []
    for style in range(1, styles + 1):
        here = [office.id for office in COUNTY] + [name for name, mine in districts if style in mine]
        for order, name in enumerate(here, start=1):
            rotation = (style - 1) % people[name] if people[name] else 0
            rows.append((f"{style:02d}", "", name, order, rotation))
    write(folder, "contests.csv", "id,words,vote_for,write_in_lines", contests)
    write(folder, "choices.csv", "contest,id,order,words", choices)
    write(folder, "ballot_contests.csv", "style,precinct,contest,order,rotation", rows)
