"""The fleet beyond single devices: carts, and what becomes of early-vote devices on election day."""

from __future__ import annotations

import enum

from pollstead.election.values import Value, require


class EarlyDevices(enum.StrEnum):
    """What a county does with a device that counted early ballots when election day comes."""

    APART = "kept apart"
    AGAIN = "deployed again"
    STAYS = "stays in use"


class EarlyUse(Value, frozen=True, kw_only=True):
    """A person's decision for one kind of device, at one site or (blank) everywhere, with the reason."""

    device_kind: str
    site: str = ""
    use: str
    reason: str

    def __post_init__(self) -> None:
        known = [use.value for use in EarlyDevices]
        require(self.use in known, f"use must be one of {', '.join(known)}, got {self.use!r}")
        require(bool(self.reason.strip()), f"the decision about {self.device_kind} needs a reason")


class Cart(Value, frozen=True, kw_only=True):
    """A cart or case with its tag, the site it is at home at, and how many devices it holds.

    `padlocked` says that it is shut by a padlock; whoever holds the key is a matter of the site.
    """

    id: str
    tag: str = ""
    site: str = ""
    places: int | None = None
    padlocked: bool | None = None

    def __post_init__(self) -> None:
        require(self.places is None or self.places >= 1, f"places must be 1 or more, got {self.places}")
