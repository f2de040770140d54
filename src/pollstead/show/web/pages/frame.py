"""What all pages share: the frame around them, how a request is read, how it is answered."""

from __future__ import annotations

import asyncio
import functools
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING, Any, ClassVar, Final, ParamSpec, TypeVar

from pollstead.election.values import Value
from pollstead.record.event import Means
from pollstead.show.web.capabilities import ROLE_WORDS, Capability
from pollstead.show.web.copy_line import CopyLine, copy_line
from pollstead.show.web.forms import Form
from pollstead.show.web.names import names_read_once
from pollstead.show.web.navigation import Link, pages_at, parts_at
from pollstead.show.web.who import Who
from pollstead.show.web.wording import Speaker, render, speaker
from pollstead.show.words import ENGLISH, PSEUDO, PSEUDO_RTL, languages

if TYPE_CHECKING:
    from litestar import Request, Response

    from pollstead.show.web.open_folder import OpenFolder

P = ParamSpec("P")
R = TypeVar("R")

_LANGUAGE_NAMES: Final = {
    ENGLISH: "English",
    PSEUDO: "[Ļöñĝéŕ ţéšţ ŵôŕđš]",
    PSEUDO_RTL: "[Ŕîĝĥţ-ţô-ļéƒţ ţéšţ]",
}


class LanguageChoice(Value, frozen=True, kw_only=True):
    """A language by its tag and its own name."""

    tag: str
    name: str


class Shell(Value, frozen=True, kw_only=True):
    """The frame: county, election, who is here, links and languages."""

    county: str
    election: str
    practice: bool
    invented: bool
    person: str
    second: str = ""
    by_badge: bool = False
    role_words: str
    path: str
    parts: tuple[Link, ...]
    links: tuple[Link, ...]
    languages: tuple[LanguageChoice, ...]
    copy: CopyLine | None = None


class Page(Value, frozen=True, kw_only=True):
    """Base of what a page shows: its title in the reader's language, its frame, its fields.

    `template` names the one template that renders it; a test holds the template's names and the
    fields equal.
    """

    template: ClassVar[str] = ""

    title: str
    shell: Shell


class Ask:
    """One request as pages see it: the folder, who asks, in which language, what was typed."""

    def __init__(self, request: Request[Any, Any, Any]) -> None:
        state = request.scope["state"]
        self.folder: OpenFolder = request.app.state.folder
        self.who: Who | None = state["who"]
        self.old_role: bool = state["old_role"]
        self.language: str = state["language"]
        self.form: Form = state["form"]
        self.path: str = request.url.path
        query = request.scope["query_string"].decode("ascii", "replace")
        self.address: str = f"{self.path}?{query}" if query else self.path
        self.query = request.query_params
        self.speak: Speaker = speaker(self.language)

    def may(self, capability: Capability) -> bool:
        """Whether the person asking holds `capability`."""
        return self.who is not None and self.who.may(capability)

    def person(self) -> Who:
        """The person asking; the guard has seen to it that there is one on such routes."""
        assert self.who is not None  # noqa: S101 - routes that come here need a capability
        return self.who

    def shell(self) -> Shell:
        """The frame of this request's page."""
        return make_shell(self.folder, self.who, self.address, self.path)

    def frame(self, english: str, **params: object) -> dict[str, Any]:
        """`title` and `shell` of a page: ``CountyPage(**ask.frame(N_("…")), …)``."""
        return {"title": self.speak.plain(english, **params), "shell": self.shell()}


def make_shell(folder: OpenFolder, who: Who | None, address: str, path: str) -> Shell:
    """The frame for one person at one address."""
    election = folder.election()
    role = who.role if who else None
    return Shell(
        county=election.county if election else "",
        election=election.name if election else "",
        practice=folder.practice(),
        invented=election.invented if election else False,
        person=folder.person_name(who.person) if who else "",
        second=folder.person_name(who.second) if who and who.second else "",
        by_badge=who is not None and who.means is Means.CODE,
        role_words=ROLE_WORDS[who.role][0] if who else "",
        path=address if len(address) <= 500 else "/",
        parts=parts_at(path, role),
        links=pages_at(path, role),
        languages=tuple(LanguageChoice(tag=t, name=_LANGUAGE_NAMES.get(t, t)) for t in languages()),
        copy=copy_line(folder),
    )


def bare_shell(path: str) -> Shell:
    """A frame without county or person, for a page that is shown while the store cannot be read."""
    return Shell(
        county="",
        election="",
        practice=False,
        invented=False,
        person="",
        role_words="",
        path=path if len(path) <= 500 else "/",
        parts=parts_at("", None),
        links=(),
        languages=tuple(LanguageChoice(tag=t, name=_LANGUAGE_NAMES.get(t, t)) for t in languages()),
    )


def fields_of(page: Page) -> dict[str, Any]:
    """The page's fields as the template's names."""
    return {name: getattr(page, name) for name in page.__struct_fields__}


def answer(ask: Ask, page: Page, status: int = 200) -> Response[str]:
    """The page as an HTML answer in the reader's language."""
    from litestar import MediaType, Response

    html = render(type(page).template, ask.language, fields_of(page))
    return Response(content=html, status_code=status, media_type=MediaType.HTML)


def part(ask: Ask, template: str, page: Page) -> Response[str]:
    """A piece of a page, for a page that is open already to take in."""
    from litestar import MediaType, Response

    html = render(template, ask.language, fields_of(page))
    return Response(content=html, status_code=200, media_type=MediaType.HTML)


def go(address: str) -> Response[Any]:
    """Send the browser on after a form was taken, so that a reload sends nothing twice."""
    from litestar.response import Redirect

    return Redirect(path=own_address(address), status_code=303)


def own_address(address: str) -> str:
    """`address` where it is a path of this app, else the first page; never another website."""
    fine = (
        address.startswith("/")
        and not address.startswith("//")
        and "\\" not in address
        and address.isprintable()
    )
    return address if fine and len(address) <= 500 else "/"


def in_thread(page: Callable[P, R]) -> Callable[P, Awaitable[R]]:
    """Make a page's function one that runs in a thread, so that the server goes on answering meanwhile.

    Litestar's own ``sync_to_thread`` wraps a function twice where one path has several methods.
    """

    @functools.wraps(page)
    async def threaded(*args: P.args, **kwargs: P.kwargs) -> R:
        return await asyncio.to_thread(shown, *args, **kwargs)

    def shown(*args: P.args, **kwargs: P.kwargs) -> R:
        with names_read_once():
            return page(*args, **kwargs)

    return threaded


class Trouble(Exception):
    """Something asked for cannot be done; the page says what was found and what comes next."""

    def __init__(self, status: int, what: str, next_step: str, link: str = "/", **params: object) -> None:
        super().__init__(what.format_map(params) if params else what)
        self.status = status
        self.what = what
        self.next_step = next_step
        self.link = link
        self.params = params
