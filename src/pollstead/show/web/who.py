"""Who works at this computer: a person's id and role, chosen by name, carried in a cookie.

The name is chosen, not checked: there is no password, and every event says ``name_only``; where a badge was
scanned it says ``code``, which a copied badge would say as well.
"""

from __future__ import annotations

import base64
import binascii
import re
from typing import Annotated, Final, TypeVar

import msgspec
from litestar.datastructures import Cookie
from msgspec import Meta

from pollstead.election.values import Value
from pollstead.record.event import Means
from pollstead.show.web.capabilities import OLD_ROLES, Capability, Role, may

WHO_COOKIE = "pollstead_who"
# No session ends within a day's work; a name chosen in the morning still stands at night.
COOKIE_S: Final = 24 * 3600
LANGUAGE_COOKIE = "pollstead_language"
PERSON = re.compile(r"person/[A-Za-z0-9][A-Za-z0-9._-]{0,63}")

_LONGEST = 400


class Who(Value, frozen=True, kw_only=True, omit_defaults=True):
    """The person of a request: the id that events name, the role, and how the name was given.

    `means` is ``code`` where a badge was scanned; `second` is the other one of a pair of badges, or empty.
    """

    person: Annotated[str, Meta(pattern=r"^person/[A-Za-z0-9][A-Za-z0-9._-]{0,63}\Z")]
    role: Role
    means: Means = Means.NAME_ONLY
    second: Annotated[str, Meta(pattern=r"^(person/[A-Za-z0-9][A-Za-z0-9._-]{0,63})?\Z")] = ""

    def may(self, capability: Capability) -> bool:
        """Whether this person holds `capability`."""
        return may(self.role, capability)


class _OldWho(Value, frozen=True, kw_only=True):
    """A cookie's content whatever its role is called."""

    person: str
    role: str


_decoder = msgspec.json.Decoder(Who, strict=True)
_old_decoder = msgspec.json.Decoder(_OldWho, strict=True)


def to_cookie(who: Who) -> str:
    """The cookie's value for `who`."""
    return base64.urlsafe_b64encode(msgspec.json.encode(who)).decode("ascii")


def own_cookie(name: str, value: str) -> Cookie:
    """A cookie of this app alone, for a day's work."""
    return Cookie(key=name, value=value, max_age=COOKIE_S, httponly=True, samesite="strict", path="/")


def who_cookie(who: Who) -> Cookie:
    """The cookie that says who works here."""
    return own_cookie(WHO_COOKIE, to_cookie(who))


def from_cookie(text: str) -> Who | None:
    """The person in a cookie; None when it is absent, damaged or of another shape."""
    return _read(text, _decoder)


def has_old_role(text: str) -> bool:
    """Whether a cookie holds a role under a name that roles had once, so that it must be chosen again."""
    found = _read(text, _old_decoder)
    return found is not None and found.role in OLD_ROLES


_T = TypeVar("_T")


def _read(text: str, decoder: msgspec.json.Decoder[_T]) -> _T | None:
    if not text or len(text) > _LONGEST:
        return None
    try:
        return decoder.decode(base64.b64decode(text.encode("ascii"), altchars=b"-_", validate=True))
    except (UnicodeEncodeError, binascii.Error, msgspec.DecodeError):
        return None
