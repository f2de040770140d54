"""What every request passes first: loopback checks, size, who is asking; and what every answer carries.

The app listens on this computer only, but a page of any website can send requests here from the
same browser. So the Host must be ours (against names that are re-pointed to 127.0.0.1), and a
request that changes something must come from our own pages (Sec-Fetch-Site, Origin).
"""

from __future__ import annotations

import html
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING, Any

from litestar.enums import ScopeType

from pollstead.show.web.forms import LARGEST_BODY_BYTES, BadForm, Form, read_form
from pollstead.show.web.uploads import takes_files
from pollstead.show.web.who import LANGUAGE_COOKIE, WHO_COOKIE, from_cookie, has_old_role
from pollstead.show.words import ENGLISH, languages

if TYPE_CHECKING:
    from litestar.types import ASGIApp, Message, Receive, Scope, Send

CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = (
    (b"content-security-policy", CONTENT_POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=(), payment=(), usb=()"),
)
SAFE = frozenset({"GET", "HEAD"})
LOOPBACK_NAMES = ("127.0.0.1", "localhost")


def own_hosts(port: int) -> frozenset[str]:
    """The Host headers that name this app."""
    return frozenset(f"{name}:{port}" for name in LOOPBACK_NAMES)


class Gate:
    """An ASGI app around the web app: refuses what did not come from our own pages."""

    def __init__(self, app: ASGIApp, port: int) -> None:
        self._app = app
        self._hosts = own_hosts(port)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on, or answer it with a refusal."""
        if scope["type"] != ScopeType.HTTP:
            return
        headers = {name.lower(): value for name, value in scope["headers"]}
        state: dict[str, Any] = scope["state"]
        method = str(scope.get("method", ""))
        who, state["language"] = _cookies(headers.get(b"cookie", b""))
        state["who"], state["old_role"] = from_cookie(who), has_old_role(who)
        state["form"] = Form({})

        async def answer(message: Message) -> None:
            if message["type"] == "http.response.start":
                kept = [*message["headers"], *HEADERS]
                if not scope["path"].startswith("/static/"):
                    kept.append((b"cache-control", b"no-store"))
                message["headers"] = kept
            await send(message)

        refusal = self._refusal(method, headers)
        if refusal is None and takes_files(method, str(scope["path"])):
            # The page reads its file itself, within the bound that its route has.
            await self._app(scope, receive, answer)
            return
        if refusal is None and method not in SAFE:
            try:
                state["form"] = await _read(headers, receive)
            except BadForm as error:
                refusal = (
                    400,
                    f"This form could not be read: {error}. Go back, reload the page and send it again.",
                )
        if refusal is not None:
            await _refuse(answer, *refusal)
            return
        await self._app(scope, receive, answer)

    def _refusal(self, method: str, headers: dict[bytes, bytes]) -> tuple[int, str] | None:
        host = headers.get(b"host", b"").decode("latin-1").lower()
        if host not in self._hosts:
            wanted = " or ".join(sorted(self._hosts))
            return 421, f"This app answers only to the address {wanted}. Open that address in your browser."
        if method in SAFE:
            return None
        if method != "POST":
            return 405, "This app takes only reading (GET) and sending forms (POST)."
        site = headers.get(b"sec-fetch-site", b"").decode("latin-1")
        origin = headers.get(b"origin", b"").decode("latin-1").lower()
        if site and site not in ("same-origin", "none"):
            return 403, "This request came from another website, so nothing was changed."
        if origin and origin not in {f"http://{name}" for name in self._hosts}:
            return 403, "This request came from another website, so nothing was changed."
        if not site and not origin:
            return 403, "This request does not say which page it came from, so nothing was changed."
        return None


def _cookies(header: bytes) -> tuple[str, str]:
    """What the cookies of name and language hold; another language than ours counts as English."""
    jar: SimpleCookie = SimpleCookie()
    try:
        jar.load(header.decode("latin-1"))
    except CookieError:
        return "", ENGLISH
    who = jar[WHO_COOKIE].value if WHO_COOKIE in jar else ""
    language = jar[LANGUAGE_COOKIE].value if LANGUAGE_COOKIE in jar else ENGLISH
    return who, language if language in languages() else ENGLISH


async def _read(headers: dict[bytes, bytes], receive: Receive) -> Form:
    body = b""
    while True:
        message = await receive()
        if message["type"] != "http.request":
            raise BadForm("the browser stopped sending half-way")
        body += message.get("body", b"")
        if len(body) > LARGEST_BODY_BYTES:
            raise BadForm(f"a form must be at most {LARGEST_BODY_BYTES:,} bytes")
        if not message.get("more_body", False):
            return read_form(headers.get(b"content-type", b"").decode("latin-1"), body)


async def _refuse(send: Any, status: int, words: str) -> None:
    # Plain HTML without our templates: the request may come from anywhere.
    page = (
        "<!doctype html><html lang=en-US><meta charset=utf-8><title>Not taken</title>"
        f"<h1>This was not taken</h1><p>{html.escape(words)}</p>"
    ).encode()
    headers = [(b"content-type", b"text/html; charset=utf-8"), (b"content-length", str(len(page)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": page, "more_body": False})
