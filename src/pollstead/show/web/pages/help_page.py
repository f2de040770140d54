"""Help: what the words, marks and numbers of these pages mean, and every caution in one place."""

from __future__ import annotations

from typing import Any, ClassVar

from litestar import Request, Response, get

from pollstead.election.words import N_
from pollstead.show.cautions import CAUTIONS, Caution
from pollstead.show.web.pages.frame import Ask, Page, answer, in_thread


class HelpPage(Page, frozen=True, kw_only=True):
    """Explanations and cautions."""

    template: ClassVar[str] = "help.html"

    cautions: tuple[Caution, ...]


@get("/help")
@in_thread
def help_page(request: Request[Any, Any, Any]) -> Response[str]:
    """The page of explanations."""
    ask = Ask(request)
    shown = tuple(caution for caution in CAUTIONS if "{" not in caution.words)
    return answer(ask, HelpPage(**ask.frame(N_("What do these pages mean?")), cautions=shown))
