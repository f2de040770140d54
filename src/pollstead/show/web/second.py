"""The second person of a pair: typed by name or id at the desk, never the person who is entering."""

from __future__ import annotations

from pollstead.election.words import N_, message
from pollstead.show.web.open_folder import person_id
from pollstead.show.web.pages.frame import Ask
from pollstead.show.web.typed import Wrong


def second_person(ask: Ask, field: str = "second", *, wanted: bool = True) -> str | Wrong:
    """The id of the person in `field`; a fault where nobody or oneself is named; may be empty."""
    typed = ask.form.text(field)
    if not typed and not wanted:
        return ""
    if not typed:
        return Wrong(field=field, words=message(N_("Name the second person: two people do this.")))
    found = named(ask, typed, field)
    if found == ask.person().person:
        return Wrong(field=field, words=message(N_("The second person must be somebody else than you.")))
    return found


def named(ask: Ask, typed: str, field: str) -> str | Wrong:
    """The id of the person whose name or id was typed or scanned, oneself included; a fault for `field`."""
    me = ask.person().person
    if typed.casefold() in (me.casefold(), me.removeprefix("person/").casefold()):
        return me
    found = [
        person_id(person)
        for person in ask.folder.people()
        if typed.casefold() in (person.name.casefold(), person.id.casefold(), person_id(person).casefold())
    ]
    if len(set(found)) != 1:
        words = (
            N_("{typed} is the name of several people: type the id, such as P014.")
            if found
            else N_("{typed} is nobody known here: type a name or an id from people.csv.")
        )
        return Wrong(field=field, words=message(words, typed=typed))
    return found[0]
