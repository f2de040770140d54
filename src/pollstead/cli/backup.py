"""``pollstead backup``: copy a county folder to a second folder or a stick. Thin: parse, copy, print."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import cyclopts

from pollstead.cli.county import Refused, county_folder, tell
from pollstead.election.words import N_, Message, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.store.backup import CopyMade
    from pollstead.store.refusal import Refusal

app = cyclopts.App(name="backup", help=text(N_("Copy a county folder to another place and check the copy.")))


def _flag(name: str, words: str) -> cyclopts.Parameter:
    return cyclopts.Parameter(name=name, help=text(words), negative=())


@app.default
def backup(
    folder: Path,
    to: Path | None = None,
    /,
    *,
    keep: Annotated[int, cyclopts.Parameter(help=text(N_("How many copies are kept in TO.")))] = 7,
    packets: Annotated[bool, _flag("--packets", N_("Take the printed packets along."))] = False,
    with_keys: Annotated[bool, _flag("--with-keys", N_("Take the private key of the office along."))] = False,
    set_target: Annotated[
        bool, _flag("--set", N_("Copy to TO at each change from now on; without the office's key."))
    ] = False,
    forget: Annotated[bool, _flag("--forget", N_("Copy at each change no more."))] = False,
) -> int:
    """Copy FOLDER into a new folder in TO, read the copy back, and keep the last few copies.

    Without TO, the place that was set by --set is used. Returns 1 where no good copy could be made;
    the earlier copies are then as they were.
    """
    from pollstead.store.copy_state import copy_place, copy_target, set_copy_target
    from pollstead.store.opening import open_store
    from pollstead.store.refusal import Refusal

    if keep < 1:
        print(fill(message(N_("--keep must be at least 1, got {keep}."), keep=keep)), file=sys.stderr)
        return 2
    if (forget and (to is not None or set_target)) or (set_target and to is None):
        print(text(N_("--set needs TO; --forget goes without TO.")), file=sys.stderr)
        return 2
    try:
        county_folder(folder)
        if to is None or forget:
            with open_store(folder, create=False) as store:
                target = copy_target(store)
                if forget:
                    set_copy_target(store, None)
                    print(text(N_("No copy is made at a change any more.")))
                    return 0
            if target is None:
                print(
                    text(N_("No place for copies was set. Give one: pollstead backup FOLDER TO")),
                    file=sys.stderr,
                )
                return 2
            to = Path(target.path)
        made = _copy(folder, to, keep=keep, packets=packets, with_keys=with_keys)
        if set_target:
            with open_store(folder, create=False) as store:
                set_copy_target(store, copy_place(folder, to, keep=keep, packets=packets))
    except Refused as refused:
        return tell(refused)
    except Refusal as error:
        return tell_all(error)
    except (ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    _say(made, with_keys)
    if set_target:
        print(fill(message(N_("From now on a copy goes to {to} at each change."), to=str(to))))
    return 0


def tell_all(error: Refusal) -> int:
    """Print what could not be done and each thing that was found; gives the exit code."""
    print(fill(error.said), file=sys.stderr)
    for one in error.more:
        print(f"  {fill(one)}", file=sys.stderr)
    return 1


def wall_time(utc_ms: int) -> str:
    """A time on this computer's wall clock, to the minute."""
    from datetime import UTC, datetime

    return datetime.fromtimestamp(utc_ms // 1000, tz=UTC).astimezone().strftime("%Y-%m-%d %H:%M")


def _copy(folder: Path, to: Path, *, keep: int, packets: bool, with_keys: bool) -> CopyMade:
    from pollstead.store.backup import make_copy
    from pollstead.work.clock import now_ms

    return make_copy(folder, to, utc_ms=now_ms(), keep=keep, packets=packets, with_keys=with_keys)


def _say(made: CopyMade, with_keys: bool) -> None:
    said: list[Message] = [
        message(
            N_("Copied to {path} and read back at {time}: {files} files, {kb} kB, all match."),
            path=made.path,
            time=wall_time(made.facts.made_utc_ms),
            files=made.files,
            kb=made.total_bytes // 1000,
        ),
        message(
            N_("{size} events, root {root}, log root {log_root}"),
            size=made.facts.head.size,
            root=made.facts.head.root,
            log_root=made.facts.head.log_root,
        ),
    ]
    if made.removed:
        said.append(message(N_("Older copies removed: {names}"), names=", ".join(made.removed)))
    said.extend(made.remarks)
    said.append(
        message(
            N_(
                "The copy holds the private key of the office: whoever has it can admit a computer in the "
                "office's name. Lock it away, apart from the computer."
            )
        )
        if with_keys
        else message(
            N_(
                "The private key of the office did not go along. A new computer writes only after it was "
                "admitted with that key: lock away one copy made with --with-keys."
            )
        )
    )
    said.append(
        message(N_("It holds names, telephone numbers and seal numbers: keep it where you keep the seals."))
    )
    for one in said:
        print(fill(one))
