"""What a copy of a county folder holds: its page of facts, its list of files, and how both are checked.

A copy is a folder of its own::

    README.txt       what this is, in plain words
    copy.json        what it is a copy of, when it was made, the head of the record in it
    files.sha256     the SHA-256 of every other file, as ``sha256sum --check`` reads it (GNU coreutils)
    county/          pollstead.db, the tables, and what else was asked for
"""

from __future__ import annotations

import contextlib
import enum
import hashlib
import os
import re
from pathlib import Path, PurePosixPath
from typing import Final

import msgspec

from pollstead.election.canonical import canonical_bytes
from pollstead.election.values import Value, require
from pollstead.election.words import N_, Message, message
from pollstead.record.tree import Head
from pollstead.store.copy_database import database_troubles
from pollstead.store.refusal import Refusal

LAYOUT: Final = "pollstead-copy-1"
FACTS_NAME: Final = "copy.json"
LIST_NAME: Final = "files.sha256"
README_NAME: Final = "README.txt"
COUNTY: Final = "county"
COPY_PREFIX: Final = "copy-"
_LINE = re.compile(r"([0-9a-f]{64})  (.+)")
_BLOCK: Final = 1 << 20


class Occasion(enum.StrEnum):
    """Why a copy was made: somebody asked for it, or something had changed."""

    ASKED = "asked"
    CHANGE = "change"


class CopyFacts(Value, frozen=True, kw_only=True):
    """What ``copy.json`` says. `source` is the id of the folder that was copied, `record` the record's id.

    `record` is empty, and `county` and `election` with it, where no record had begun. `office_key`:
    whether the private key of the office is in the copy. `state` is the digest of what was there.
    `unsteady` names files that were being changed while they were copied.
    """

    layout: str = LAYOUT
    source: str
    occasion: Occasion
    made_utc_ms: int
    record: str
    county: str
    election: str
    practice: bool
    head: Head
    packets: bool
    office_key: bool
    state: str
    unsteady: tuple[str, ...]

    def __post_init__(self) -> None:
        require(self.layout == LAYOUT, f"a copy's layout must be {LAYOUT}, got {self.layout!r}")

    def to_bytes(self) -> bytes:
        """The canonical bytes, one line feed at the end."""
        return canonical_bytes(msgspec.to_builtins(self)) + b"\n"


class ListedFile(Value, frozen=True, kw_only=True):
    """One line of the list: the path inside the copy, with ``/``, and the SHA-256 of the bytes."""

    path: str
    sha256: str


class Copy(Value, frozen=True, kw_only=True):
    """A copy as read: its name, its facts, its files."""

    name: str
    facts: CopyFacts
    files: tuple[ListedFile, ...]


def read_copy(folder: Path) -> Copy:
    """The facts and the list of a copy; raises `Refusal` naming the file that cannot be read."""
    try:
        lines = (folder / LIST_NAME).read_bytes().decode("utf-8").removesuffix("\n").split("\n")
        files = tuple(_listed(number, line) for number, line in enumerate(lines, 1))
    except (OSError, ValueError) as error:
        raise _unreadable(folder, LIST_NAME, error) from error
    try:
        facts = msgspec.json.decode((folder / FACTS_NAME).read_bytes(), type=CopyFacts)
    except (OSError, ValueError) as error:
        raise _unreadable(folder, FACTS_NAME, error) from error
    return Copy(name=folder.name, facts=facts, files=files)


def _unreadable(folder: Path, name: str, error: Exception) -> Refusal:
    return Refusal(
        message(
            N_("{copy} is not a copy that can be read: {file}: {why}"),
            copy=str(folder),
            file=name,
            why=str(error),
        )
    )


def _listed(number: int, line: str) -> ListedFile:
    found = _LINE.fullmatch(line)
    if found is None:
        raise ValueError(f"line {number} must be a SHA-256, two spaces and a path, got {line!r}")
    return ListedFile(path=inside(found[2]), sha256=found[1])


def inside(path: str) -> str:
    """`path` where it stays inside the folder it is read in; raises ValueError for any other."""
    parts = PurePosixPath(path).parts
    good = bool(parts) and not path.startswith("/") and "\\" not in path and ":" not in path
    if not good or any(part in ("..", ".") or not part.isprintable() for part in parts):
        raise ValueError(f"a path must stay inside the copy and be of plain signs, got {path!r}")
    return path


def list_bytes(files: tuple[ListedFile, ...]) -> bytes:
    """The list of files, one a line, by path."""
    lines = (f"{file.sha256}  {file.path}\n" for file in sorted(files, key=lambda file: file.path))
    return "".join(lines).encode("utf-8")


def copies_in(folder: Path) -> tuple[Copy, ...]:
    """The copies in `folder` whose facts and list can be read, the newest first."""
    found = []
    for path in folder.iterdir():
        if path.name.startswith(COPY_PREFIX) and path.is_dir():
            with contextlib.suppress(Refusal):
                found.append(read_copy(path))
    return tuple(sorted(found, key=lambda copy: (copy.facts.made_utc_ms, copy.name), reverse=True))


def digest_of_file(path: Path) -> str:
    """The SHA-256 of a file's bytes as they are on the disk, in hexadecimal."""
    digest = hashlib.sha256()
    with path.open("rb", buffering=0) as stream:
        if hasattr(os, "posix_fadvise"):
            # Read back from the disk or stick, not from what the system still remembers of the writing.
            with contextlib.suppress(OSError):
                os.posix_fadvise(stream.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        while block := stream.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()


def file_troubles(folder: Path, files: tuple[ListedFile, ...]) -> tuple[Message, ...]:
    """Each listed file that is not there, cannot be read, or has other bytes than its line says."""
    troubles = []
    for file in files:
        try:
            found = digest_of_file(folder / file.path)
        except OSError as error:
            troubles.append(
                message(
                    N_("{file} is in {list} and cannot be read: {why}"),
                    file=file.path,
                    list=LIST_NAME,
                    why=error.strerror or str(error),
                )
            )
            continue
        if found != file.sha256:
            troubles.append(
                message(
                    N_("{file} does not match its line in {list}: expected {expected}, found {found}"),
                    file=file.path,
                    list=LIST_NAME,
                    expected=file.sha256[:12],
                    found=found[:12],
                )
            )
    return tuple(troubles)


def check_copy(folder: Path) -> Copy:
    """A copy of which every file, the database and the head check.

    Raises `Refusal` that names each file that does not.
    """
    copy = read_copy(folder)
    troubles = list(file_troubles(folder, copy.files))
    listed = {file.path for file in copy.files}
    for wanted in (FACTS_NAME, f"{COUNTY}/pollstead.db"):
        if wanted not in listed:
            troubles.append(message(N_("{file} is not in {list}"), file=wanted, list=LIST_NAME))
    if not troubles:
        troubles.extend(database_troubles(folder / COUNTY / "pollstead.db", copy.facts.head))
    if troubles:
        raise Refusal(message(N_("{copy} does not check:"), copy=str(folder)), tuple(troubles))
    return copy
