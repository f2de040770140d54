"""Write files so that they are there whole or not at all, and outlast a power cut."""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Mapping
from pathlib import Path


def new_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Make a folder of these files beside its place, then rename it; an empty folder gives way."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    beside = folder.parent / f".{folder.name}.{secrets.token_hex(4)}.new"
    beside.mkdir()
    try:
        for name, data in files.items():
            write_synced(beside / name, data)
        if folder.exists():
            folder.rmdir()
        beside.rename(folder)
    finally:
        if beside.exists():
            shutil.rmtree(beside)


def write_synced(path: Path, data: bytes) -> None:
    """Write one file; when this returns, its bytes are on the disk."""
    with path.open("wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def sync_folder(folder: Path) -> None:
    """Make renames inside `folder` outlast a power cut, where the system can do that for a folder."""
    if os.name == "nt":  # pragma: no cover - a folder cannot be opened there
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
