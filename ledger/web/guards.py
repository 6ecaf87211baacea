"""The guards at the gate, in plain ASGI: every request passes them, whatever room it is for."""

import re
from collections.abc import Iterable
from typing import Protocol

from fastapi import Request
from starlette.datastructures import MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ledger.web.hosts import Hosts, header

MOST_BYTES = 1_000_000
MOST_PICTURE_BYTES = 1_000_000_000
PICTURE_DOORS = re.compile(r"(?:/api)?/works/[0-9]+/picture|/editions/new")
ASKS_ONLY = ("GET", "HEAD", "OPTIONS")

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; font-src 'self'; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    # Not 'no-referrer': under it browsers send 'Origin: null' with our own forms, and on a studio's plain
    # http network, where Sec-Fetch-Site is never sent, Origin is all there is to tell our own forms by.
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
_RAW = {name.lower().encode(): value.encode() for name, value in HEADERS.items()}
KEEP_HTTPS = "max-age=31536000"


class No(Protocol):
    """How a guard's refusal is phrased."""

    def __call__(self, request: Request, status: int, message: str = "") -> Response: ...


class Headers:
    """The security headers, on every answer there is, faults and files too."""

    def __init__(self, app: ASGIApp, hosts: Hosts) -> None:
        self.app = app
        self.hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                others = (each for each in message["headers"] if each[0] not in _RAW)
                message["headers"] = [*_RAW.items(), *others]
                headers = MutableHeaders(scope=message)
                if self.hosts.secure(scope):
                    headers["Strict-Transport-Security"] = KEEP_HTTPS
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        await self.app(scope, receive, with_headers)


class KnownHost:
    """Answers only under the ledger's own names, so that no other name gets into a link or a cache."""

    def __init__(self, app: ASGIApp, hosts: Hosts, no: No) -> None:
        self.app = app
        self.hosts = hosts
        self.no = no

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and not self.hosts.allows(scope):
            await self.no(Request(scope), 421)(scope, receive, send)
            return
        await self.app(scope, receive, send)


class OwnForms:
    """Carries nothing out that another site made the browser send.

    A browser says where a request comes from in Sec-Fetch-Site (Fetch Metadata, W3C), or in Origin. A program
    with a token and no cookie is no browser.
    """

    def __init__(self, app: ASGIApp, hosts: Hosts, no: No) -> None:
        self.app = app
        self.hosts = hosts
        self.no = no

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["method"] not in ASKS_ONLY and not self._own(scope):
            await self.no(Request(scope), 403)(scope, receive, send)
            return
        await self.app(scope, receive, send)

    def _own(self, scope: Scope) -> bool:
        names = [name for name, _ in scope["headers"]]
        if scope["path"].startswith("/api/") and b"cookie" not in names:
            return True
        if b"sec-fetch-site" in names:
            return header(scope, b"sec-fetch-site") == "same-origin"
        return header(scope, b"origin") == self.hosts.origin(scope)


class TooLarge(HTTPException):
    """More came than is taken; raised while the body is read."""

    def __init__(self) -> None:
        super().__init__(413)


class BoundedBody:
    """Counts a body while it is read, for its announced length may be missing or untrue."""

    def __init__(self, app: ASGIApp, no: No) -> None:
        self.app = app
        self.no = no

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        most = MOST_PICTURE_BYTES if PICTURE_DOORS.fullmatch(scope["path"]) else MOST_BYTES
        if any(not value.isdigit() or int(value) > most for value in _announced(scope)):
            await self.no(Request(scope), 413)(scope, receive, send)
            return
        arrived = 0

        async def counted() -> Message:
            nonlocal arrived
            message = await receive()
            arrived += len(message.get("body", b""))
            if arrived > most:
                raise TooLarge
            return message

        await self.app(scope, counted, send)


def _announced(scope: Scope) -> Iterable[bytes]:
    return (value for name, value in scope["headers"] if name == b"content-length")
