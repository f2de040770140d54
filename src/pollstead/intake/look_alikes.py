"""Ids, serials and places that people would confuse, and ids whose zeros in front may be lost."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence

from rapidfuzz import fuzz
from rapidfuzz import utils as text_forms

from pollstead.election.county import Device, PastCount, Precinct, Site
from pollstead.election.identity import look_alike_key
from pollstead.election.notice import Notice, Place
from pollstead.election.words import N_, message
from pollstead.intake.notices import due_before, open_item
from pollstead.intake.tables import EQUIPMENT, OFFICIAL, SITES
from pollstead.intake.taken import Taken

SAME_PLACE = 90
"""How alike (0 to 100) the names or addresses of two sites must be for the question to be asked."""

MOST_COMPARED = 6_000
"""Above this many places only equal spellings are asked about: pairs grow with the square."""

_HOUSE_NUMBER = re.compile(r"\s*([0-9]+)")


def look_alike_names(taken: Taken) -> Iterator[Notice]:
    """Ids or serials that differ only by signs people confuse, such as O and zero, I and one."""
    lists: tuple[tuple[str, str, str, str, list[tuple[int, str]]], ...] = (
        ("sites.csv", "id", "site id", SITES, [(n, s.id) for n, s in taken.of(Site)]),
        ("precincts.csv", "id", "precinct id", OFFICIAL, [(n, p.id) for n, p in taken.of(Precinct)]),
        ("devices.csv", "id", "device id", EQUIPMENT, [(n, d.id) for n, d in taken.of(Device)]),
        ("devices.csv", "serial", "serial", EQUIPMENT, [(n, d.serial) for n, d in taken.of(Device)]),
    )
    for file, column, what, owner, names in lists:
        groups: dict[str, dict[str, int]] = defaultdict(dict)
        for number, name in names:
            groups[look_alike_key(name)].setdefault(name, number)
        for spellings in groups.values():
            if len(spellings) < 2:
                continue
            first, second = sorted(spellings)[:2]
            yield open_item(
                "look-alike",
                f"{file}/{column}/{first}",
                message(
                    N_(
                        "{what} {first} (row {first_row}) and {second} (row {second_row}) are easily confused"
                    ),
                    what=what,
                    first=first,
                    first_row=spellings[first],
                    second=second,
                    second_row=spellings[second],
                ),
                place=Place(file=file, row=spellings[second], column=column),
                found=f"{first}, {second}",
                wanted="names that nobody confuses",
                remedy=message(N_("Read both again: is one of them a typing error?")),
                owner=owner,
                due=due_before(taken.election_day, 30),
                depends=(first, second),
            )


def lost_zeros(taken: Taken) -> Iterator[Notice]:
    """Ids that are equal but for zeros in front, within a list or between a list and past counts."""
    precincts = [(n, p.id) for n, p in taken.of(Precinct)]
    sites = [(n, s.id) for n, s in taken.of(Site)]
    known = {name for _, name in (*precincts, *sites)}
    past = [(n, row.unit) for n, row in taken.of(PastCount) if row.unit not in known]
    for file, column, names in (
        ("sites.csv", "id", sites),
        ("precincts.csv", "id", precincts),
        ("devices.csv", "serial", [(n, d.serial) for n, d in taken.of(Device)]),
        ("history.csv", "unit", past),
    ):
        against = names if file != "history.csv" else [*names, *precincts, *sites]
        groups: dict[str, dict[str, int]] = defaultdict(dict)
        for number, name in against:
            groups[_without_zeros(name)].setdefault(name, number)
        first_row = {name: number for number, name in reversed(names)}
        for name, number in first_row.items():
            fuller = [other for other in groups[_without_zeros(name)] if len(other) > len(name)]
            if not fuller:
                continue
            wanted = max(fuller, key=len)
            yield open_item(
                "lost-zeros",
                f"{file}/{column}/{name}",
                message(
                    N_("{found} in row {row} of {file} may be {wanted} without its zeros"),
                    found=name,
                    row=number,
                    file=file,
                    wanted=wanted,
                ),
                place=Place(file=file, row=number, column=column),
                found=name,
                wanted=wanted,
                remedy=message(N_("Format the column as text in the spreadsheet and type the zeros again.")),
                owner=OFFICIAL,
                due=due_before(taken.election_day, 60),
                depends=(name, wanted),
            )
        yield from _mixed_lengths(taken, file, column, names)


def _without_zeros(name: str) -> str:
    return re.sub(r"(?<![0-9])0+(?=[0-9])", "", name)


def _mixed_lengths(
    taken: Taken, file: str, column: str, names: Sequence[tuple[int, str]]
) -> Iterator[Notice]:
    """One notice where most all-digit names have zeros in front and one length, and some are shorter."""
    digits = [(number, name) for number, name in names if name.isascii() and name.isdigit()]
    padded = [name for _, name in digits if name.startswith("0")]
    if file == "history.csv" or not padded:
        return
    usual = max(len(name) for name in padded)
    short = [(number, name) for number, name in digits if len(name) < usual]
    if short:
        number, name = short[0]
        yield open_item(
            "id-lengths-differ",
            f"{file}/{column}",
            message(
                N_("{count} entries of {column} in {file} are shorter than {usual} digits, {found} first"),
                count=len(short),
                column=column,
                file=file,
                usual=usual,
                found=name,
            ),
            place=Place(file=file, row=number, column=column),
            found=name,
            wanted=name.rjust(usual, "0"),
            remedy=message(N_("Look whether zeros in front were lost.")),
            owner=OFFICIAL,
            due=due_before(taken.election_day, 60),
        )


def alike_places(places: Sequence[tuple[str, str]]) -> list[tuple[int, int]]:
    """Pairs of (name, address) that may be one building, as indexes into `places`.

    Two places are asked about when their addresses are alike and carry the same house number, or
    when their names are alike and the addresses do not speak against it. Measured by rapidfuzz's
    token-sort ratio after lower-casing.
    """
    names = [text_forms.default_process(name) for name, _ in places]
    addresses = [text_forms.default_process(_spelled(address)) for _, address in places]
    numbers = [_house_number(address) for _, address in places]
    pairs = []
    if len(places) > MOST_COMPARED:
        first: dict[tuple[str, str], int] = {}
        for j, key in enumerate(zip(names, addresses, strict=True)):
            i = first.setdefault(key, j)
            if i != j:
                pairs.append((i, j))
        return pairs
    for i in range(len(places)):
        for j in range(i + 1, len(places)):
            if numbers[i] and numbers[j] and numbers[i] != numbers[j]:
                continue
            both = bool(addresses[i] and addresses[j])
            address_alike = both and (
                fuzz.token_sort_ratio(addresses[i], addresses[j], score_cutoff=SAME_PLACE) > 0
            )
            name_alike = fuzz.token_sort_ratio(names[i], names[j], score_cutoff=SAME_PLACE) > 0
            if address_alike or (name_alike and not (numbers[i] and numbers[j])):
                pairs.append((i, j))
    return pairs


_SPELLED = {
    "st": "street",
    "ave": "avenue",
    "rd": "road",
    "dr": "drive",
    "ln": "lane",
    "blvd": "boulevard",
    "ct": "court",
    "pl": "place",
    "sq": "square",
    "hwy": "highway",
}


def _spelled(address: str) -> str:
    return " ".join(_SPELLED.get(w.strip(".,").lower(), w) for w in address.split())


def _house_number(address: str) -> str:
    found = _HOUSE_NUMBER.match(address)
    return found[1] if found else ""


def same_building(taken: Taken) -> Iterator[Notice]:
    """Two sites that may be one building; a pair that a person has called different is left alone."""
    rows = taken.of(Site)
    settled = {frozenset(pair) for pair in taken.different}
    for i, j in alike_places([(s.name, s.address) for _, s in rows]):
        (_, first), (number, second) = rows[i], rows[j]
        if first.id == second.id or frozenset((first.id, second.id)) in settled:
            continue
        yield open_item(
            "same-building",
            f"site/{first.id}+{second.id}",
            message(
                N_("Are {first} ({first_name}) and {second} ({second_name}) the same building?"),
                first=first.id,
                first_name=first.name,
                second=second.id,
                second_name=second.name,
            ),
            place=Place(file="sites.csv", row=number, column="name"),
            found=f"{first.name}, {first.address} / {second.name}, {second.address}",
            remedy=message(N_("Make them one row, or say in mapping.toml that they are different.")),
            owner=SITES,
            due=due_before(taken.election_day, 90),
            depends=(first.name, first.address, second.name, second.address),
        )
