"""The web app: its routes, the guard before each, and the gate around all of it."""

from __future__ import annotations

import asyncio
from contextlib import asynccontextmanager
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from litestar import Litestar, Response
from litestar.connection import ASGIConnection
from litestar.exceptions import HTTPException, NotAuthorizedException, PermissionDeniedException
from litestar.handlers import BaseRouteHandler
from litestar.static_files import create_static_files_router

from pollstead.show.web.capabilities import may, needed
from pollstead.show.web.gate import Gate
from pollstead.show.web.open_folder import Clash, OpenFolder
from pollstead.show.web.pages.frame import Trouble, go
from pollstead.show.web.pages.trouble import (
    on_broken,
    on_clash,
    on_http_error,
    on_store_trouble,
    on_trouble,
)
from pollstead.show.web.routes import ROUTES_OF_PAGES
from pollstead.store.trouble import StoreTrouble
from pollstead.work.copying import CopyKeeper
from pollstead.work.foreman import Foreman

if TYPE_CHECKING:
    from collections.abc import AsyncIterator


def check_capability(connection: ASGIConnection[Any, Any, Any, Any], handler: BaseRouteHandler) -> None:
    """Refuse what the table of routes does not give to the person asking, and what it does not list."""
    capability = needed(str(connection.scope.get("method", "")), connection.scope["path_template"])
    if capability is None:
        raise PermissionDeniedException("this route stands in no line of the table of routes")
    who = connection.scope["state"]["who"]
    if may(who.role if who else None, capability):
        return
    if who is None:
        raise NotAuthorizedException("no name was chosen yet")
    raise PermissionDeniedException(f"{who.role.value} does not hold {capability.value}")


def _choose_name_first(request: Any, error: NotAuthorizedException) -> Response[Any]:
    from urllib.parse import quote

    path = request.url.path if request.method == "GET" else "/"
    return go(f"/who?next={quote(path)}")


def make_app(folder: OpenFolder, foreman: Foreman, port: int) -> Litestar:
    """The app for one folder, answering to 127.0.0.1 and localhost at `port` alone.

    The caller opens and closes `folder`; `foreman` is started and stopped with the app.
    """
    static = create_static_files_router(
        path="/static",
        directories=[str(files("pollstead.show").joinpath("static"))],
        guards=[check_capability],
    )
    app = Litestar(
        route_handlers=[*ROUTES_OF_PAGES, static],
        guards=[check_capability],
        lifespan=[_living],
        openapi_config=None,
        exception_handlers={
            Trouble: on_trouble,
            Clash: on_clash,
            StoreTrouble: on_store_trouble,
            NotAuthorizedException: _choose_name_first,
            HTTPException: on_http_error,
            Exception: on_broken,
        },
    )
    stand_on(app, folder, foreman)
    # Around everything, the answers "not found" included.
    app.asgi_handler = Gate(app.asgi_handler, port)
    return app


def stand_on(app: Litestar, folder: OpenFolder, foreman: Foreman) -> None:
    """Let an app that is not running serve `folder`; `foreman` and a keeper of its copies live with it."""
    app.state.folder = folder
    app.state.foreman = foreman
    app.state.keeper = CopyKeeper(folder.store, folder.path, clock=folder.clock)


@asynccontextmanager
async def _living(app: Litestar) -> AsyncIterator[None]:
    folder: OpenFolder = app.state.folder
    foreman: Foreman = app.state.foreman
    keeper: CopyKeeper = app.state.keeper
    await asyncio.to_thread(folder.end_half_done)
    foreman.start()
    keeper.start()
    try:
        yield
    finally:
        foreman.stop()
        await asyncio.to_thread(keeper.stop)
