"""The office book of a folder as it is now: what is decided, frozen, open and due, and how to take over."""

from __future__ import annotations

from pollstead.election.instants import Instant
from pollstead.election.words import N_
from pollstead.show.book.chapters import changed_lately, due_dates, fixed_values, frozen, open_items
from pollstead.show.book.content import Block, Book, Cautions, Chapter, Column, Lines, Said, Steps
from pollstead.show.book.keeping import copies_and_keys
from pollstead.show.book.telling import Telling
from pollstead.show.cautions import Place, for_place
from pollstead.show.packet.wording import Say
from pollstead.show.web.open_folder import OpenFolder

MOST_OF_A_ROLE = 10
"""A role that more people hold (reserves, drivers) is a list of its own, not a contact of the office."""


def office_book(folder: OpenFolder, *, language: str, phones: bool, paper: str = "letter") -> Book:
    """The book of a folder at this moment; with `phones`, telephone numbers of the office stand in it.

    Raises ValueError where the folder's tables cannot be read.
    """
    election = folder.election()
    if election is None:
        raise ValueError("county.toml and sites.csv cannot be read; see: pollstead check FOLDER")
    say = Say(language)
    telling = Telling(folder, election, say)
    now = Instant(utc_ms=folder.clock())
    chapters = (
        Chapter(title=say(N_("What this is")), blocks=_what_this_is(telling)),
        Chapter(title=say(N_("Taking over, step by step")), blocks=_taking_over(say)),
        Chapter(title=say(N_("The election")), blocks=_election(telling)),
        Chapter(title=say(N_("Whom to call in the office")), blocks=_contacts(telling, phones)),
        Chapter(title=say(N_("Who decides what")), blocks=_who_decides(telling)),
        Chapter(title=say(N_("What is open, by who sees to it")), blocks=open_items(telling)),
        Chapter(title=say(N_("Dates that are due")), blocks=due_dates(telling)),
        Chapter(title=say(N_("What is frozen")), blocks=frozen(telling)),
        Chapter(title=say(N_("Decided by people, and why")), blocks=fixed_values(telling)),
        Chapter(title=say(N_("Changed lately")), blocks=changed_lately(telling)),
        Chapter(title=say(N_("Copies and keys")), blocks=copies_and_keys(telling)),
        Chapter(title=say(N_("Caution")), blocks=(_cautions(say),)),
    )
    return Book(
        title=say(N_("Office book")),
        county=f"{election.county} · {election.name}",
        as_of=say(N_("As of {when}"), when=say.moment(now, election.zone_name)),
        page=say(N_("Page {page} of {pages}"), page="{page}", pages="{pages}"),
        unofficial=say(N_("Unofficial, staff use")),
        practice=say(N_("PRACTICE · not a real election")) if folder.practice() else "",
        invented=say(N_("Invented county: no real place, people or numbers")) if election.invented else "",
        language=language,
        right_to_left=say.right_to_left,
        paper=paper,
        timestamp=now.utc_ms // 1000,
        chapters=chapters,
    )


def _what_this_is(telling: Telling) -> tuple[Block, ...]:
    say = telling.say
    return (
        Said(
            words=say(
                N_(
                    "For whoever takes this work over, today or at 5 in the morning of election day. It says "
                    "what is decided and by whom, what is frozen, what is open and who sees to it, and where "
                    "everything is. It is a picture of one moment: print it again after a change."
                )
            )
        ),
        Said(words=say(N_("It decides nothing. The election official and counsel decide what law asks."))),
        Said(words=say(N_("Folder: {folder}"), folder=str(telling.folder.path.resolve()))),
    )


def _taking_over(say: Say) -> tuple[Block, ...]:
    return (
        Steps(
            items=(
                say(
                    N_(
                        "Find out who hands over, who is told, and from what hour you answer the phone. "
                        "Write it here."
                    )
                ),
                say(
                    N_(
                        "Open the app on the office's computer: pollstead serve FOLDER. Choose your own "
                        "name and role."
                    )
                ),
                say(
                    N_(
                        "Read the foot of any page: when was the last good copy? Make one now, on the "
                        "page Copies."
                    )
                ),
                say(
                    N_(
                        "Find the key of the office and the stick. The last chapter but one says what is "
                        "on this computer."
                    )
                ),
                say(
                    N_(
                        "Compare the head of the record with the one printed last: pollstead record "
                        "verify FOLDER."
                    )
                ),
                say(
                    N_("Read what is open, yours first, then whatever is due before the next operating day.")
                ),
                say(
                    N_(
                        "Read what is frozen. Change none of it by hand: a change voids sheets and must "
                        "reach the sites."
                    )
                ),
                say(
                    N_(
                        "Call each person in the list of contacts once, so that you know the numbers are "
                        "right."
                    )
                ),
                say(N_("Ask the election official which decisions are yours, and which are not.")),
            )
        ),
    )


def _election(telling: Telling) -> tuple[Block, ...]:
    say, election = telling.say, telling.election
    days = sorted({hours.date for site in election.sites for hours in site.hours} | {election.election_day})
    voters = sum(precinct.registered or 0 for precinct in election.precincts)
    rows = [
        (say(N_("Election day")), say.date(election.election_day)),
        (say(N_("Operating days")), ", ".join(say.date(day) for day in days)),
        (say(N_("Sites")), str(len(election.sites))),
        (say(N_("Precincts")), str(len(election.precincts))),
        (say(N_("Registered voters in them")), f"{voters:,}"),
        (say(N_("Devices by serial")), str(len(election.devices))),
    ]
    for total in telling.totals():
        words = say(N_("{planned} planned, {spares} held back"), planned=total.planned, spares=total.spares)
        if total.short:
            words = say(N_("{words}, {short} too few"), words=words, short=total.short)
        rows.append((say(N_("Devices: {kind}"), kind=total.kind), words))
    rows.append((say(N_("Plan shown now")), telling.plan_words()))
    return (_pairs(say, rows),)


def _pairs(say: Say, rows: list[tuple[str, str]]) -> Lines:
    return Lines(
        columns=(Column(title=say(N_("What")), width_mm=60), Column(title=say(N_("Is")))),
        rows=tuple(rows),
        none="",
    )


def _contacts(telling: Telling, phones: bool) -> tuple[Block, ...]:
    say, election = telling.say, telling.election
    holders: dict[str, int] = {}
    for person in election.people:
        holders[person.role] = holders.get(person.role, 0) + 1
    of_sites = {one for site in election.sites for one in (*site.openers, site.contact)}
    rows = tuple(
        (person.role or "-", person.name, (person.phone or say(N_("not told"))) if phones else "")
        for person in sorted(election.people, key=lambda p: (p.role, p.name))
        if not person.site and person.id not in of_sites and holders[person.role] <= MOST_OF_A_ROLE
    )
    columns = (
        Column(title=say(N_("Role")), width_mm=55),
        Column(title=say(N_("Name"))),
        Column(title=say(N_("Phone")), width_mm=45),
    )
    left_out = say(N_("Telephone numbers were left out of this print."))
    return (
        *(() if phones else (Said(words=left_out),)),
        Lines(
            columns=columns, rows=rows, none=say(N_("No table names people of the office: people.csv would."))
        ),
        Said(words=say(N_("People of sites and buildings stand on each site's packet and page."))),
    )


def _who_decides(telling: Telling) -> tuple[Block, ...]:
    say = telling.say
    columns = (
        Column(title=say(N_("Rule"))),
        Column(title=say(N_("County's value")), width_mm=38),
        Column(title=say(N_("Confirmed by")), width_mm=38),
        Column(title=say(N_("Decides")), width_mm=30),
    )
    words = N_(
        "A rule that nobody has confirmed stands as assumed: ask the one who decides, and write it into "
        "rules.toml."
    )
    return (
        Said(words=say(words)),
        Lines(columns=columns, rows=telling.rules(), none=say(N_("There are no rules."))),
    )


def _cautions(say: Say) -> Cautions:
    return Cautions(
        title=say(N_("Caution")), items=tuple(say(one.words) for one in for_place(Place.OFFICE_BOOK))
    )
