"""A file that somebody sent, in memory: what it holds, such as names and phones, never lies on the disk.

Reading a file in a folder of temporary files would leave it there when the program is killed meanwhile.
"""

from __future__ import annotations

from pathlib import Path, PurePath

from pollstead.election.values import Value


class HeldFile(Value, frozen=True):
    """A file as it came: its name, which says its kind, and its bytes."""

    name: str
    data: bytes

    @property
    def suffix(self) -> str:
        """The end of the name in lower case, ``.csv`` or such; "" where it has none."""
        return PurePath(self.name).suffix.lower()


def held(file: Path | HeldFile) -> HeldFile:
    """The file itself, or the file at a path read whole. Raises OSError where it cannot be read."""
    return file if isinstance(file, HeldFile) else HeldFile(file.name, file.read_bytes())


def size_of(file: Path | HeldFile) -> int:
    """Its bytes, without reading it. Raises OSError where there is none."""
    return len(file.data) if isinstance(file, HeldFile) else file.stat().st_size
