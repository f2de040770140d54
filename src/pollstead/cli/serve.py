"""``pollstead serve``: the web app of a county folder, on this computer only. Thin: parse, serve, say."""

from __future__ import annotations

import socket
import sys
from pathlib import Path
from typing import Annotated

import cyclopts

from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

LOOPBACK = "127.0.0.1"
USUAL_PORT = 8734

app = cyclopts.App(name="serve", help=text(N_("Serve the web app on this computer.")))


@app.default
def serve(
    folder: Path,
    /,
    *,
    port: Annotated[
        int, cyclopts.Parameter(help=text(N_("The port; 0 takes any that is free.")))
    ] = USUAL_PORT,
) -> int:
    """Serve the pages of a county folder at 127.0.0.1 until Ctrl-C.

    Returns 0 when stopped, 1 where the folder or the port cannot be used, 2 for a port that is none.
    """
    if not 0 <= port <= 65_535:
        print(fill(message(N_("The port must be 0 to 65535, got {port}."), port=port)), file=sys.stderr)
        return 2
    if not folder.is_dir():
        print(
            fill(
                message(N_("{folder} is not a folder. Make one by: pollstead new FOLDER"), folder=str(folder))
            ),
            file=sys.stderr,
        )
        return 1
    chosen = free_port(port)
    if chosen is None:
        print(
            fill(
                message(
                    N_("Port {port} is in use. Stop the other program, or choose another port by --port."),
                    port=port,
                )
            ),
            file=sys.stderr,
        )
        return 1
    from pollstead.show.web.server import run_server

    say_shared(folder)
    try:
        open_keys(folder)
        return run_server(folder.resolve(), LOOPBACK, chosen, said=say_address)
    except ValueError as error:
        print(error, file=sys.stderr)
        return 1


def open_keys(folder: Path) -> None:
    """Ask for the passphrase of protected keys before the app begins; say where a key may not write here.

    Raises `Locked` where the passphrase is not given or does not fit.
    """
    from pollstead.store.database import DATABASE_NAME
    from pollstead.store.desk import DESK_KEY, DEVICE_KEY
    from pollstead.store.high_water import older_store, what_to_do
    from pollstead.store.keyring import Keyring
    from pollstead.store.opening import open_store
    from pollstead.store.passphrase import PASSPHRASE

    keyring = Keyring(folder)
    key = keyring.load(DESK_KEY)
    PASSPHRASE.ask_no_more()
    if key is None or not (folder / DATABASE_NAME).exists():
        return
    with open_store(folder) as store:
        device = store.settings.get(DEVICE_KEY)
        older = None if device is None else older_store(store, keyring, device.decode())
    if older is not None:
        for said in (older, *what_to_do(folder)):
            print(fill(said), file=sys.stderr)


def say_shared(folder: Path) -> None:
    """Say by which signs a folder that has a store already is shared or synchronized, if there are any."""
    from pollstead.store.database import DATABASE_NAME
    from pollstead.store.folders import shared_or_synchronized

    signs = shared_or_synchronized(folder) if (folder / DATABASE_NAME).exists() else ()
    if signs:
        print(
            fill(
                message(
                    N_(
                        "{folder} seems to be shared or synchronized, and its record can be damaged there. "
                        "Stop, and go on from a copy on this computer's own disk: pollstead backup, restore."
                    ),
                    folder=str(folder),
                )
            ),
            file=sys.stderr,
        )
        for sign in signs:
            print(f"  {fill(sign)}", file=sys.stderr)


def free_port(port: int) -> int | None:
    """`port` where it can be listened on, any free one for 0, None where it is taken."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((LOOPBACK, port))
        except OSError:
            return None
        found: int = probe.getsockname()[1]
        return found


def say_address(address: str) -> None:
    """Say where the app is and who can reach it."""
    print(fill(message(N_("The app is at {address}"), address=address)), flush=True)
    print(text(N_("It listens on this computer only. Stop it with Ctrl-C.")), flush=True)
