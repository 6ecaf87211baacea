"""How an answer is phrased. The only place that knows status codes, for pages and for the API alike."""

import logging
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any
from urllib.parse import urlencode

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.types import Scope

from ledger import repeats
from ledger.accounts import TryLater
from ledger.errors import Refusal
from ledger.repeats import UsedKey
from ledger.web import sentences
from ledger.web.house import Done, Repeat
from ledger.web.pages import render
from ledger.web.sentences import Slip, Slips

log = logging.getLogger(__name__)

SAID = {
    400: "The request could not be read.",
    403: "This was sent from another site, so it was not carried out. Open the page here and send it again.",
    404: "There is nothing at this address.",
    405: "This address does not take that kind of request.",
    413: "This is larger than what is taken here.",
    421: "This ledger does not answer under that name.",
    500: "Something went wrong here, and nothing was recorded. It was written to the log.",
}
# The names in RFC 9110, section 15; older Pythons have older ones.
TITLES = {413: "Content Too Large", 422: "Unprocessable Content"}


class SignInFirst(Exception):
    """A page was asked for by somebody who is not signed in."""


class NotOpenYet(Exception):
    """A page was asked for before the book was opened: its first page says whose it is."""


class TokenNeeded(Exception):
    """The API was asked without a token that stands."""


@dataclass(frozen=True)
class Said:
    """An answer that says no: its status, what is so and what to do, and the fields it is about."""

    status: int
    message: str
    slips: tuple[Slip, ...] = ()
    headers: Mapping[str, str] | None = None


def status_of(refusal: Refusal | Slips) -> int:
    """404 where the thing does not exist, 429 for too often, 422 for what cannot be read or a key used before,
    else 409."""
    if isinstance(refusal, Slips):
        return HTTPStatus.UNPROCESSABLE_ENTITY
    if refusal.missing:
        return HTTPStatus.NOT_FOUND
    if isinstance(refusal, TryLater):
        return HTTPStatus.TOO_MANY_REQUESTS
    if isinstance(refusal, UsedKey):
        return HTTPStatus.UNPROCESSABLE_ENTITY
    return HTTPStatus.CONFLICT


def said_of_refusal(refusal: Refusal) -> Said:
    slips = (Slip(sentences.field_name(refusal.field), refusal.message),) if refusal.field else ()
    wait = {"Retry-After": str(refusal.seconds)} if isinstance(refusal, TryLater) else None
    return Said(status_of(refusal), refusal.message, slips, wait)


def said_of_slips(slips: Iterable[Slip]) -> Said:
    found = tuple(slips)
    return Said(HTTPStatus.UNPROCESSABLE_ENTITY, sentences.headline("Not taken", len(found)), found)


def is_api(scope: Scope) -> bool:
    """Whether a program is asking, and so gets JSON."""
    path: str = scope["path"]
    return path == "/api" or path.startswith("/api/")


def problem(said: Said) -> Response:
    """An answer of RFC 9457, with the fields it is about."""
    body = {
        "type": "about:blank",
        "title": TITLES.get(said.status) or HTTPStatus(said.status).phrase,
        "status": said.status,
        "detail": said.message,
        "errors": [{"field": slip.field, "message": slip.message} for slip in said.slips],
    }
    return JSONResponse(body, said.status, headers=said.headers, media_type="application/problem+json")


def no(request: Request, said: Said) -> Response:
    """The answer that says no, as whoever asks can read it."""
    if is_api(request.scope):
        return problem(said)
    response = render(request, "refused.html", said.status, said=said)
    response.headers.update(said.headers or {})
    return response


def plain_no(request: Request, status: int, message: str = "") -> Response:
    """The answer of a guard, before any room is entered: it looks nothing up."""
    said = Said(status, message or SAID[status])
    if is_api(request.scope):
        return problem(said)
    return Response(said.message + "\n", said.status, media_type="text/plain")


def repeat_of(request: Request, shape: BaseModel | None = None) -> Repeat | None:
    """What an API request with an Idempotency-Key is known by again; None without one. Raises Slips."""
    key = request.headers.get("idempotency-key")
    if key is None:
        return None
    if not re.fullmatch(r"[\x21-\x7e]{1,200}", key):
        raise Slips([Slip("Idempotency-Key", "Write 1 to 200 letters, figures or signs, without a space.")])
    body = shape.model_dump_json() if shape else ""
    return Repeat(key, repeats.fingerprint([request.method, request.url.path, body]))


def made(done: Done, body: object) -> Response:
    """What an API act made: 201 and where it is; 200, read again, when an earlier request made it."""
    if done.again:
        return JSONResponse(body, 200, headers={"Location": done.path, "Idempotency-Replayed": "true"})
    return JSONResponse(body, 201, headers={"Location": done.path})


def see(path: str) -> Response:
    """After a form: the page of the thing done, asked for afresh so that reloading sends nothing twice."""
    return RedirectResponse(path, HTTPStatus.SEE_OTHER)


def _http(request: Request, fault: HTTPException) -> Response:
    message = SAID.get(fault.status_code, str(fault.detail))
    return no(request, Said(fault.status_code, message, headers=fault.headers))


def _malformed(request: Request, fault: RequestValidationError) -> Response:
    errors = fault.errors()
    if any(error["loc"][0] == "path" for error in errors):
        return no(request, Said(HTTPStatus.NOT_FOUND, SAID[404]))
    return no(request, said_of_slips(sentences.slips_of(errors, drop=1)))


def _unsigned(request: Request, _fault: SignInFirst) -> Response:
    if request.method in ("GET", "HEAD"):
        path = request.url.path + (f"?{request.url.query}" if request.url.query else "")
        return see(f"/sign-in?{urlencode({'next': path})}")
    return no(
        request,
        Said(
            HTTPStatus.UNAUTHORIZED,
            "You were signed out, and nothing was recorded. Sign in on another page, then go back and send this "
            "again: all you typed is still in it.",
        ),
    )


def _unknown_token(request: Request, _fault: TokenNeeded) -> Response:
    return no(
        request,
        Said(
            HTTPStatus.UNAUTHORIZED,
            "Send a token that stands, as 'Authorization: Bearer ...'. Tokens are made under Settings.",
            headers={"WWW-Authenticate": "Bearer"},
        ),
    )


def _unforeseen(request: Request, fault: Exception) -> Response:
    log.error("unforeseen on %s %s", request.method, request.url.path, exc_info=fault)
    return plain_no(request, 500)


def install(app: FastAPI) -> None:
    """Teach the application to phrase every refusal."""
    handlers: dict[type[Exception], Callable[[Request, Any], Response]] = {
        Refusal: lambda request, refusal: no(request, said_of_refusal(refusal)),
        Slips: lambda request, fault: no(request, said_of_slips(fault.slips)),
        RequestValidationError: _malformed,
        HTTPException: _http,
        SignInFirst: _unsigned,
        NotOpenYet: lambda _request, _fault: see("/settings/studio"),
        TokenNeeded: _unknown_token,
        Exception: _unforeseen,
    }
    for kind, handler in handlers.items():
        app.add_exception_handler(kind, handler)
