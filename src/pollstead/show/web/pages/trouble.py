"""Pages for what cannot be done: not found, not allowed, changed meanwhile, broken. Words and a next step."""

from __future__ import annotations

import sys
import traceback
from typing import Any, ClassVar

from litestar import Request, Response
from litestar.exceptions import HTTPException

from pollstead.election.words import N_, Message, message
from pollstead.show.web.open_folder import Clash
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, bare_shell
from pollstead.store.trouble import StoreTrouble

SAID = {
    400: (N_("This request cannot be read."), N_("Go back, reload the page and send it again.")),
    403: (N_("Your role does not do this."), N_("Change your role, or ask somebody who has it.")),
    404: (N_("There is no such page."), N_("Check the address, or begin with the sites.")),
    405: (N_("This page cannot be used in this way."), N_("Begin with the sites.")),
    409: (N_("Something changed meanwhile."), N_("Reload the page, look at it again, then decide.")),
}
BROKEN = (
    N_("This page could not be made; the fault is in this program. Nothing was changed."),
    N_(
        "Go back and try again. The terminal where the app runs says more; send its last lines to the office."
    ),
)


class TroublePage(Page, frozen=True, kw_only=True):
    """What was found, and what comes next."""

    template: ClassVar[str] = "trouble.html"

    what: Message
    next_step: Message
    link: str


def trouble_page(ask: Ask, what: Message, next_step: Message, link: str) -> TroublePage:
    """The page for one trouble."""
    return TroublePage(**ask.frame(N_("This cannot be done now")), what=what, next_step=next_step, link=link)


def on_trouble(request: Request[Any, Any, Any], error: Trouble) -> Response[str]:
    """A page for a trouble that a page named."""
    ask = Ask(request)
    params = {name: value if isinstance(value, int) else str(value) for name, value in error.params.items()}
    page = trouble_page(ask, message(error.what, **params), message(error.next_step, **params), error.link)
    return answer(ask, page, status=error.status)


def on_clash(request: Request[Any, Any, Any], error: Clash) -> Response[str]:
    """A page for a folder in which nothing can be written; what the store said stands on it."""
    ask = Ask(request)
    what = message(N_("Nothing was recorded: {said}."), said=str(error))
    page = trouble_page(ask, what, message(N_("Correct that in the folder, then try again.")), "/")
    return answer(ask, page, status=409)


def on_store_trouble(request: Request[Any, Any, Any], error: StoreTrouble) -> Response[str]:
    """A page in the store's own words, where its file is damaged, the disk full or another program busy.

    Its frame asks the store for nothing, because the store could not answer that either.
    """
    ask = Ask(request)
    page = TroublePage(
        title=ask.speak.plain(N_("This cannot be done now")),
        shell=bare_shell(ask.path),
        what=error.said,
        next_step=message(N_("Then load this page again. What was recorded before stays in the record.")),
        link="/",
    )
    return answer(ask, page, status=503)


def on_http_error(request: Request[Any, Any, Any], error: HTTPException) -> Response[str]:
    """A page for what the router refused."""
    ask = Ask(request)
    what, next_step = SAID.get(error.status_code, SAID[400])
    link = "/who" if error.status_code == 403 else "/"
    page = trouble_page(ask, message(what), message(next_step), link)
    return answer(ask, page, status=error.status_code)


def on_broken(request: Request[Any, Any, Any], error: Exception) -> Response[str]:
    """A page for a fault of ours: no detail on the page, all of it in the terminal."""
    traceback.print_exception(error, file=sys.stderr)
    ask = Ask(request)
    page = trouble_page(ask, message(BROKEN[0]), message(BROKEN[1]), "/")
    return answer(ask, page, status=500)
