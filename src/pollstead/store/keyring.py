"""Private keys of this computer, as files beside the store, never inside it.

A copy of the database, an export or a backup of the record therefore never carries a key. The
files are readable by their owner alone where the system knows such a thing; a passphrase and
hardware keys are not here yet.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Final

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)

KEYS_FOLDER: Final = "keys"
_NAME = re.compile(r"[a-z0-9][a-z0-9._-]{0,63}")


class Keyring:
    """The keys in ``FOLDER/keys``: one PEM file (PKCS 8) for each name."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / KEYS_FOLDER

    def path(self, name: str) -> Path:
        """Where the key called `name` is kept."""
        if not _NAME.fullmatch(name):
            raise ValueError(f"a key name must be of a-z, 0-9, dot, dash and underscore, got {name!r}")
        return self.folder / f"{name}.pem"

    def load(self, name: str) -> Ed25519PrivateKey | None:
        """The key called `name`, or None; raises ValueError when the file holds something else."""
        path = self.path(name)
        if not path.exists():
            return None
        try:
            key = load_pem_private_key(path.read_bytes(), password=None)
        except ValueError as error:
            raise ValueError(f"{path} must hold an Ed25519 key in PEM form: {error}") from error
        if not isinstance(key, Ed25519PrivateKey):
            raise ValueError(f"{path} must hold an Ed25519 key, found {type(key).__name__}")
        return key

    def create(self, name: str, key: Ed25519PrivateKey | None = None) -> Ed25519PrivateKey:
        """Make and keep a key called `name`; raises ValueError when there is one already."""
        made = Ed25519PrivateKey.generate() if key is None else key
        pem = made.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        self.folder.mkdir(mode=0o700, exist_ok=True)
        path = self.path(name)
        try:
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except FileExistsError as error:
            raise ValueError(f"{path} holds a key already; keys are never overwritten") from error
        with os.fdopen(handle, "wb") as stream:
            stream.write(pem)
            stream.flush()
            os.fsync(stream.fileno())
        return made
