"""Run the app under Granian in this process: one worker, loopback, a clean end on Ctrl-C or TERM."""

from __future__ import annotations

import asyncio
import contextlib
import signal
import threading
from collections.abc import Callable
from pathlib import Path

from sqlalchemy.exc import SQLAlchemyError

from pollstead.show.web.app import make_app
from pollstead.show.web.day import all_days, days_now
from pollstead.show.web.open_folder import OpenFolder
from pollstead.store.trouble import StoreTrouble
from pollstead.work.foreman import Foreman


def run_server(path: Path, address: str, port: int, said: Callable[[str], None]) -> int:
    """Serve the folder at `path` until stopped; `said` gets the app's address once it answers.

    Raises ValueError where the folder's store cannot be opened.
    """
    folder = OpenFolder(path)
    try:
        asyncio.run(_serve(folder, address, port, said))
    finally:
        folder.close()
    return 0


async def _serve(folder: OpenFolder, address: str, port: int, said: Callable[[str], None]) -> None:
    from granian.constants import Interfaces
    from granian.server.embed import Server

    app = make_app(folder, Foreman(folder.store, folder.path), port)
    server = Server(
        app,
        address=address,
        port=port,
        interface=Interfaces.ASGI,
        log_enabled=False,
        websockets=False,
    )
    stop: Callable[[], None] = server.stop
    loop = asyncio.get_running_loop()
    for name in (signal.SIGINT, signal.SIGTERM):
        # Windows has no such handlers; Ctrl-C raises KeyboardInterrupt there, which ends the loop.
        with contextlib.suppress(NotImplementedError):
            loop.add_signal_handler(name, stop)
    serving = asyncio.create_task(server.serve())
    # A large record takes seconds to fold and reconcile; whoever opens the first page need not wait for it.
    warming = threading.Thread(target=_warm, args=(folder,), name="warm", daemon=True)
    warming.start()
    # The code of the wait now takes a quarter of a minute to compile, once on a computer.
    folder.ahead.start()
    try:
        await _until_listening(address, port, serving)
        said(f"http://{address}:{port}/")
        await serving
    except (KeyboardInterrupt, asyncio.CancelledError):
        stop()
        await serving


def _warm(folder: OpenFolder) -> None:
    """Reconcile every day once, so that the pages find it done; what is wrong is told by the pages."""
    with contextlib.suppress(ValueError, OSError, StoreTrouble, SQLAlchemyError):
        days = days_now(folder)
        for date in all_days(days.version, days.election):
            days.report(date)


async def _until_listening(address: str, port: int, serving: asyncio.Task[None]) -> None:
    while not serving.done():
        try:
            _, writer = await asyncio.open_connection(address, port)
        except OSError:
            await asyncio.sleep(0.02)
            continue
        writer.close()
        return
