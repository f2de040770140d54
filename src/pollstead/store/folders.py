"""Find out whether a folder is shared over a network or kept alike on several computers.

SQLite needs locks that a network file system may not give (sqlite.org, "How To Corrupt An SQLite
Database File", section 2.1, from memory), and a program that synchronizes a folder copies the
database while it is being written. What is found is evidence, named as such; nothing found does
not show that a folder is on this computer alone.
"""

from __future__ import annotations

import contextvars
import fnmatch
import importlib.resources
import os
from collections.abc import Callable, Iterable
from pathlib import Path, PurePosixPath
from typing import Final

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.store.refusal import Refusal

MARKS_VARIABLE: Final = "POLLSTEAD_SYNC_MARKS"
_MARKS_FILE: Final = "synchronized_folder_marks.txt"
# File system types as the Linux kernel writes them in /proc/mounts (proc_pid_mounts(5)).
NETWORK_TYPES: Final = frozenset(
    "afs ceph cifs coda davfs gfs2 lustre ncpfs nfs nfs4 ocfs2 orangefs smb2 smb3 smbfs".split()
)
# Shared folders of a virtual machine and file systems run by a program; a machine's own root may be one.
SHARED_TYPES: Final = frozenset({"9p", "fuse", "vboxsf", "virtiofs"})
# Words in the names of extended attributes (xattr(7)) that a program leaves on what it keeps alike.
_LABEL_WORDS: Final = ("sync", "cloud")
DRIVE_REMOTE: Final = 4  # what GetDriveTypeW of the Windows API gives for a network drive
# File attributes by which Windows marks what is fetched from elsewhere or pinned (winnt.h).
RECALL_ATTRIBUTES: Final = 0x0008_0000 | 0x0010_0000 | 0x0040_0000


_anyway: contextvars.ContextVar[bool] = contextvars.ContextVar("stores anyway", default=False)


class Mount(Value, frozen=True, kw_only=True):
    """One mounted file system: where, and its type."""

    point: str
    kind: str


class Marks(Value, frozen=True, kw_only=True):
    """Patterns of names that a synchronizing program leaves behind."""

    hidden: tuple[str, ...]
    copies: tuple[str, ...]


class Computer:
    """What a computer says about its folders; a test gives its own answers."""

    def __init__(
        self,
        *,
        mounts: Callable[[], tuple[Mount, ...]] | None = None,
        drive_type: Callable[[str], int] | None = None,
        attributes: Callable[[Path], int] | None = None,
        marks: Marks | None = None,
        labels: Callable[[Path], tuple[str, ...]] | None = None,
    ) -> None:
        self.mounts = mounts or _mounts_here
        self.drive_type = drive_type or _drive_type_here
        self.attributes = attributes or _attributes_here
        self.labels = labels or _labels_here
        self.marks = marks or read_marks(os.environ.get(MARKS_VARIABLE, ""))


def shared_or_synchronized(folder: Path, around: Computer | None = None) -> tuple[Message, ...]:
    """Each sign that `folder` is not on this computer alone; empty where none was found.

    Reads mounts and names only. `folder` need not exist; what is above it is looked at.
    """
    around = around or Computer()
    resolved = folder.resolve()
    found = [
        sign
        for sign in (_network_path(str(folder), around), _network_mount(resolved, around.mounts()))
        if sign is not None
    ]
    found.extend(_marks_of(resolved, around))
    return tuple(found)


def make_stores_anyway(anyway: bool) -> None:
    """Choose for this run whether a store is made in a shared folder: the command line's ``--anyway``."""
    _anyway.set(anyway)


def refuse_shared(folder: Path, around: Computer | None = None) -> tuple[Message, ...]:
    """The signs found, for a caller that goes on; `Refusal` with them unless ``--anyway`` was given."""
    signs = shared_or_synchronized(folder, around)
    if signs and not _anyway.get():
        raise Refusal(
            message(
                N_(
                    "No store is made in {folder}: it seems to be shared or synchronized. There the record "
                    "can be damaged or split in two. Choose a folder on this computer's own disk and copy "
                    "it by: pollstead backup FOLDER TO. If you are sure, add --anyway."
                ),
                folder=str(folder),
            ),
            signs,
        )
    return signs


def read_marks(more: str = "") -> Marks:
    """The patterns shipped, with those that an office added, separated by semicolons."""
    text = (importlib.resources.files("pollstead.store") / "data" / _MARKS_FILE).read_text(encoding="utf-8")
    kinds: dict[str, list[str]] = {"hidden": [], "copy": []}
    for line in text.splitlines():
        if line.strip() and not line.startswith("#"):
            kind, _, pattern = line.partition(" ")
            kinds[kind].append(pattern.strip().casefold())
    kinds["hidden"].extend(part.strip().casefold() for part in more.split(";") if part.strip())
    return Marks(hidden=tuple(kinds["hidden"]), copies=tuple(kinds["copy"]))


def read_mounts(text: str) -> tuple[Mount, ...]:
    """The mounts of a text in the form of /proc/mounts, where a space in a path is written ``\\040``."""
    mounts = []
    for line in text.splitlines():
        fields = line.split()
        if len(fields) >= 3:
            mounts.append(Mount(point=_unescaped(fields[1]), kind=fields[2]))
    return tuple(mounts)


# Where systems put what is plugged in (Filesystem Hierarchy Standard 3.0, /media and /mnt; from memory).
_PLUGGED_IN: Final = ("/media/", "/run/media/", "/mnt/", "/Volumes/")


def second_places(mounts: tuple[Mount, ...] | None = None) -> tuple[str, ...]:
    """Folders that are mounted where sticks and second disks are, as places to propose for copies."""
    found = _mounts_here() if mounts is None else mounts
    return tuple(sorted({mount.point for mount in found if mount.point.startswith(_PLUGGED_IN)}))


def _unescaped(path: str) -> str:
    for code, sign in (("\\040", " "), ("\\011", "\t"), ("\\012", "\n"), ("\\134", "\\")):
        path = path.replace(code, sign)
    return path


def _network_path(folder: str, around: Computer) -> Message | None:
    """A path of another computer (``\\\\server\\share``) or on a drive letter that stands for one."""
    plain = folder.replace("/", "\\")
    if plain.startswith("\\\\") and not plain.startswith(("\\\\?\\", "\\\\.\\")):
        return message(N_("{folder} is a path of another computer."), folder=folder)
    if plain.upper().startswith("\\\\?\\UNC\\"):
        return message(N_("{folder} is a path of another computer."), folder=folder)
    letter = plain.removeprefix("\\\\?\\")[:2]
    is_drive = len(letter) == 2 and letter[0].isalpha() and letter[1] == ":"
    if is_drive and around.drive_type(letter + "\\") == DRIVE_REMOTE:
        return message(N_("Drive {drive} is on another computer."), drive=letter.upper())
    return None


def _network_mount(resolved: Path, mounts: Iterable[Mount]) -> Message | None:
    """The mount that holds the folder, where its type is one of a network or a shared folder."""
    path = PurePosixPath(resolved.as_posix())
    holding = [mount for mount in mounts if path.is_relative_to(mount.point)]
    if not holding:
        return None
    # The longest path holds the folder; of two on one path the later hides the earlier.
    mount = max(enumerate(holding), key=lambda pair: (len(pair[1].point), pair[0]))[1]
    shared = mount.kind in SHARED_TYPES or mount.kind.startswith("fuse.")
    if mount.kind in NETWORK_TYPES or (shared and mount.point != "/"):
        return message(
            N_("{point} is a network or shared file system (type {kind})."),
            point=mount.point,
            kind=mount.kind,
        )
    return None


def _marks_of(resolved: Path, around: Computer) -> list[Message]:
    found = []
    for above in (resolved, *resolved.parents):
        for name in _names(above):
            if _fits(name, around.marks.hidden):
                found.append(
                    message(
                        N_("{path} is there, as programs leave it that synchronize folders."),
                        path=str(above / name),
                    )
                )
        label = next((one for one in around.labels(above) if _tells(one)), None)
        if label is not None:
            found.append(
                message(
                    N_("{path} carries the label {label}, as programs leave it that synchronize folders."),
                    path=str(above),
                    label=label,
                )
            )
        if around.attributes(above) & RECALL_ATTRIBUTES:
            found.append(
                message(
                    N_("The system says that {path} is kept in step with another place."), path=str(above)
                )
            )
    found.extend(
        message(
            N_("{path} looks like the second copy of a file that two computers changed at once."),
            path=str(resolved / name),
        )
        for name in _names(resolved)
        if _fits(name, around.marks.copies)
    )
    return found


def _fits(name: str, patterns: tuple[str, ...]) -> bool:
    folded = name.casefold()
    return any(fnmatch.fnmatchcase(folded, pattern) for pattern in patterns)


def _tells(label: str) -> bool:
    """Whether the name of an extended attribute speaks of keeping folders alike; the system's own do not."""
    space, _, name = label.partition(".")
    return space == "user" and any(word in name.casefold() for word in _LABEL_WORDS)


def _names(folder: Path) -> tuple[str, ...]:
    """The names in a folder; none where it is not there or may not be read."""
    try:
        return tuple(sorted(os.listdir(folder)))
    except OSError:
        return ()


def _mounts_here() -> tuple[Mount, ...]:
    try:
        return read_mounts(Path("/proc/self/mounts").read_text(encoding="utf-8", errors="surrogateescape"))
    except OSError:
        return ()


def _drive_type_here(root: str) -> int:
    import ctypes

    system = getattr(ctypes, "windll", None)
    return 0 if system is None else int(system.kernel32.GetDriveTypeW(root))


def _attributes_here(path: Path) -> int:
    try:
        return int(getattr(path.stat(), "st_file_attributes", 0))
    except OSError:
        return 0


def _labels_here(path: Path) -> tuple[str, ...]:
    listed = getattr(os, "listxattr", None)  # Linux alone
    try:
        return () if listed is None else tuple(sorted(listed(path)))
    except OSError:
        return ()
