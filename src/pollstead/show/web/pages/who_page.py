"""Who works here: choose a name and a role; and the choice of language."""

from __future__ import annotations

from typing import Any, ClassVar, Final

from litestar import Request, Response, get, post

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.show.web.badges import signed_in
from pollstead.show.web.capabilities import ROLE_WORDS, Role
from pollstead.show.web.open_folder import person_id
from pollstead.show.web.pages.frame import Ask, Page, answer, go, in_thread, own_address
from pollstead.show.web.who import LANGUAGE_COOKIE, PERSON, Who, own_cookie
from pollstead.show.words import languages

LONGEST_NAME: Final = 80


class Choice(Value, frozen=True, kw_only=True):
    """A person or role to choose; `chosen` is what was chosen before or typed just now."""

    id: str
    name: str
    words: str = ""
    chosen: bool = False


class FieldFault(Value, frozen=True, kw_only=True):
    """Something in a form that needs another look: which field, and the words."""

    field: str
    words: Message


class WhoPage(Page, frozen=True, kw_only=True):
    """Names and roles to choose from."""

    template: ClassVar[str] = "who.html"

    office: tuple[Choice, ...]
    at_sites: tuple[Choice, ...]
    roles: tuple[Choice, ...]
    typed: str
    next: str
    renamed: bool
    faults: tuple[FieldFault, ...]
    fault_of: tuple[str, ...]


def who_page(ask: Ask, next_address: str, faults: tuple[FieldFault, ...] = ()) -> WhoPage:
    """The page, with what was typed kept."""
    posted = bool(faults)
    person = ask.form.text("person") if posted else (ask.who.person if ask.who else "")
    role = ask.form.text("role") if posted else (ask.who.role.value if ask.who else "")
    people = sorted(ask.folder.people(), key=lambda p: (p.name, p.id))
    choices = [
        (p, Choice(id=person_id(p), name=p.name, words=p.role, chosen=person_id(p) == person)) for p in people
    ]
    return WhoPage(
        **ask.frame(N_("Who is working here?")),
        office=tuple(choice for p, choice in choices if not p.site),
        at_sites=tuple(choice for p, choice in choices if p.site),
        roles=tuple(
            Choice(id=r.value, name=words, words=does, chosen=r.value == role)
            for r, (words, does) in ROLE_WORDS.items()
        ),
        typed=ask.form.text("name") if posted else "",
        next=next_address,
        renamed=ask.old_role,
        faults=faults,
        fault_of=tuple(fault.field for fault in faults),
    )


@get("/who")
@in_thread
def who(request: Request[Any, Any, Any]) -> Response[str]:
    """The page where a name is chosen."""
    ask = Ask(request)
    return answer(ask, who_page(ask, own_address(ask.query.get("next", "/"))))


@post("/who")
@in_thread
def choose_who(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take the choice; a name that is in no table gets an id, and stays out of signed fields."""
    ask = Ask(request)
    person, name, role = (ask.form.text(field) for field in ("person", "name", "role"))
    next_address = own_address(ask.form.text("next") or "/")
    known = {person_id(p) for p in ask.folder.people()}
    faults = []
    if not name and not person:
        faults.append(
            FieldFault(field="person", words=message(N_("Choose your name in the list, or type it.")))
        )
    elif not name and (person not in known or not PERSON.fullmatch(person)):
        faults.append(FieldFault(field="person", words=message(N_("Choose a name of the list."))))
    if len(name) > LONGEST_NAME or "\n" in name:
        faults.append(
            FieldFault(
                field="name",
                words=message(
                    N_("Type a name of at most {most} characters, in one line."), most=LONGEST_NAME
                ),
            )
        )
    if role not in set(Role):
        faults.append(
            FieldFault(field="role-first", words=message(N_("Choose the role in which you work now.")))
        )
    if faults:
        return answer(ask, who_page(ask, next_address, tuple(faults)), status=422)
    chosen = _same_name(ask, name) or ask.folder.add_person(name) if name else person
    # Who chooses the warehouse works at the scan station; the first page plans.
    response = go("/scan" if next_address == "/" and role == Role.WAREHOUSE else next_address)
    return signed_in(response, Who(person=chosen, role=Role(role)))


def _same_name(ask: Ask, name: str) -> str:
    """The id of the person of exactly this name, so that one person does not get two ids."""
    return next((person_id(p) for p in ask.folder.people() if p.name == name), "")


@post("/language")
@in_thread
def choose_language(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take the choice of language and go back to where it was made."""
    ask = Ask(request)
    language = ask.form.text("language")
    response = go(ask.form.text("next") or "/")
    if language in languages():
        response.cookies.append(own_cookie(LANGUAGE_COOKIE, language))
    return response
