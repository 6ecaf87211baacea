"""Who is asking: signing in and out, the first account, the cookie of a page and the token of a program."""

from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from ledger import accounts, clock, sign_ins
from ledger.accounts import Credentials, Who
from ledger.database import housekeeping, reading
from ledger.errors import Refusal
from ledger.web.answers import Said, SignInFirst, TokenNeeded, no, see, status_of
from ledger.web.forms import STILL_HERE, Form, Sent, blank
from ledger.web.house import Here, House, network
from ledger.web.pages import render

router = APIRouter(include_in_schema=False)
GONE = (
    "This address was used already, or is more than a day old. Ask for another where the ledger runs: "
    "print-ledger account add."
)
UNLIKE = "That address and password do not belong together."


def cookie_name(secure: bool) -> str:
    """The prefix makes browsers refuse the cookie unless it is Secure, for the whole host and no other."""
    return "__Host-session" if secure else "session"


def session_of(request: Request, house: House) -> str:
    """The secret in this request's cookie; '' without one."""
    return request.cookies.get(cookie_name(house.hosts.secure(request.scope)), "")


def page_reader(request: Request, house: Here) -> Who:
    """Who is signed in on this page. Raises SignInFirst."""
    secret, now = session_of(request, house), clock.now()
    if not secret:
        raise SignInFirst
    with reading(house.engine) as session:
        who = sign_ins.signed_in(session, secret, now)
        stale = sign_ins.seen_long_ago(session, secret, now)
    if who is None:
        raise SignInFirst
    if stale:
        with housekeeping(house.engine) as session:
            sign_ins.seen(session, secret, now)
    return who


def token_reader(request: Request, house: Here) -> Who:
    """Whose token a program showed; a cookie opens nothing here. Raises TokenNeeded."""
    kind, _, secret = request.headers.get("authorization", "").partition(" ")
    if kind.lower() != "bearer" or not secret:
        raise TokenNeeded
    with reading(house.engine) as session:
        who = sign_ins.token_holder(session, secret.strip())
    if who is None:
        raise TokenNeeded
    return who


Signed = Annotated[Who, Depends(page_reader)]
Bearer = Annotated[Who, Depends(token_reader)]


def without_passwords(form: Form) -> Form:
    """A refused form that gives back the e-mail address alone, and does not claim more."""
    kept = {"email": form.values["email"]} if "email" in form.values else {}
    return replace(form, values=kept, headline=form.headline.replace(STILL_HERE, "."))


def own_path(path: str) -> str:
    """A page of this ledger to go on to; the first page for anything that would lead elsewhere."""
    safe = path.startswith("/") and not path.startswith("//") and "\\" not in path and path.isprintable()
    return path if safe else "/"


def _welcome(request: Request, house: House, secret: str, path: str) -> Response:
    response = see(path)
    secure = house.hosts.secure(request.scope)
    response.set_cookie(
        cookie_name(secure),
        secret,
        max_age=int(sign_ins.LASTS.total_seconds()),
        path="/",
        secure=secure,
        httponly=True,
        samesite="lax",
    )
    return response


def _title_page(request: Request, form: Form, onward: str, refusal: str = "", status: int = 200) -> Response:
    return render(
        request,
        "sign_in/sign_in.html",
        status,
        action="/sign-in",
        next=onward,
        form=replace(form, headline=refusal),
        check_href="/c",
    )


@router.get("/sign-in", name="sign_in")
def title_page(request: Request, next: str = "/") -> Response:
    return _title_page(request, blank(), own_path(next))


@router.post("/sign-in")
def sign_in(request: Request, house: Here, sent: Sent) -> Response:
    email, password, onward = sent.text("email"), sent.text("password"), own_path(sent.text("next"))
    form = replace(sent.again(), values={"email": email})
    try:
        secret = _prove(house, email, password, network(request), session_of(request, house))
    except Refusal as refusal:
        return _title_page(request, form, onward, refusal.message, status_of(refusal))
    if secret is None:
        return _title_page(request, form, onward, UNLIKE, 401)
    return _welcome(request, house, secret, onward)


def _prove(house: House, email: str, password: str, caller: str, earlier: str) -> str | None:
    """The secret of a new session; None where name and password do not belong together.

    The slow comparison stands between two transactions, or it would keep the one writer waiting.
    """
    with housekeeping(house.engine) as session:
        accounts.count_try(session, email, caller, clock.now())
        credentials = accounts.credentials_of(session, email)
    if not accounts.proven(credentials, password) or credentials is None:
        return None
    with housekeeping(house.engine) as session:
        sign_ins.close_session(session, earlier)
        return sign_ins.open_session(
            session, credentials, caller, clock.now(), better_hash=_better(credentials, password)
        )


def _better(credentials: Credentials, password: str) -> str | None:
    """A new hash where the old one was made with weaker figures than today's."""
    weak = accounts.hasher.check_needs_rehash(credentials.password_hash)
    return accounts.hash_password(password) if weak else None


@router.post("/sign-out")
def sign_out(request: Request, house: Here) -> Response:
    with housekeeping(house.engine) as session:
        sign_ins.close_session(session, session_of(request, house))
    response = see("/sign-in")
    secure = house.hosts.secure(request.scope)
    response.delete_cookie(cookie_name(secure), path="/", secure=secure, httponly=True, samesite="lax")
    return response


def _first_page(request: Request, form: Form, status: int = 200) -> Response:
    return render(
        request, "sign_in/first.html", status, action=request.url.path, form=form, least=accounts.LEAST_LETTERS
    )


@router.get("/first/{secret}")
def first_page(request: Request, house: Here, secret: str) -> Response:
    with reading(house.engine) as session:
        stands = sign_ins.first_sign_in_stands(session, secret, clock.now())
    if not stands:
        return no(request, Said(404, GONE))
    return _first_page(request, blank())


@router.post("/first/{secret}")
def first_account(request: Request, house: Here, secret: str, sent: Sent) -> Response:
    email, password = sent.text("email"), sent.text("password")
    try:
        accounts.check_password(password, email)
        if password != sent.text("again"):
            raise Refusal("The two are not the same. Type both again.", field="again")
        with reading(house.engine) as session:
            if not sign_ins.first_sign_in_stands(session, secret, clock.now()):
                raise Refusal(GONE, missing=True)
        password_hash = accounts.hash_password(password)
        with housekeeping(house.engine) as session:
            who = sign_ins.use_first_sign_in(session, secret, email, password_hash, clock.now())
            opened = sign_ins.open_session_for(session, who, clock.now())
    except Refusal as refusal:
        if refusal.missing:
            return no(request, Said(404, GONE))
        form = without_passwords(sent.refused("Not made", refusal))
        return _first_page(request, form, status_of(refusal))
    return _welcome(request, house, opened, "/")
