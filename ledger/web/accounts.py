"""Settings, 'Who opens the book': the accounts, their passwords, and tokens for programs."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import accounts, clock, sign_ins
from ledger.accounts import Who
from ledger.database import housekeeping, reading
from ledger.errors import Refusal
from ledger.web.answers import see, status_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.shapes import Id
from ledger.web.sign_in import Signed, session_of, without_passwords

router = APIRouter(prefix="/settings/accounts", include_in_schema=False)
HOME = "/settings/accounts"


def _page(
    request: Request,
    house: House,
    who: Who,
    *,
    form: Form | None = None,
    status: int = 200,
    token: str = "",
    address: str = "",
) -> Response:
    with reading(house.engine) as session:
        tokens = [token for token in sign_ins.tokens_of(session, who.account_id) if token.ended_at is None]
        everybody = accounts.everybody(session)
    return render(
        request,
        "accounts/accounts.html",
        status,
        form=form or blank(),
        who=who,
        everybody=everybody,
        tokens=tokens,
        new_token=token,
        new_address=address,
    )


@router.get("")
def page(request: Request, house: Here, who: Signed) -> Response:
    return _page(request, house, who)


@router.post("/tokens")
def new_token(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    try:
        with housekeeping(house.engine) as session:
            token = sign_ins.new_token(session, who.account_id, sent.text("label"), clock.now())
    except Refusal as refusal:
        form = sent.refused("Not made", refusal)
        return _page(request, house, who, form=form, status=status_of(refusal))
    return _page(request, house, who, token=token, status=201)


@router.post("/tokens/{token_id}/end")
def end_token(house: Here, who: Signed, token_id: Id) -> Response:
    with housekeeping(house.engine) as session:
        sign_ins.end_token(session, who.account_id, token_id, clock.now())
    return see(HOME)


@router.post("/invite")
def invite(request: Request, house: Here, who: Signed) -> Response:
    with housekeeping(house.engine) as session:
        secret = sign_ins.offer_first_sign_in(session, clock.now())
    address = f"{house.hosts.origin(request.scope)}/first/{secret}"
    return _page(request, house, who, address=address, status=201)


@router.post("/sessions/end")
def end_other_sessions(request: Request, house: Here, who: Signed) -> Response:
    with housekeeping(house.engine) as session:
        sign_ins.end_sessions(session, who.account_id, but=session_of(request, house))
    return see(HOME)


@router.post("/password")
def change_password(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    new = sent.text("password")
    try:
        with housekeeping(house.engine) as session:
            accounts.count_try(session, who.name, f"page of {who.account_id}", clock.now())
            credentials = accounts.credentials_of(session, who.name)
        if not accounts.proven(credentials, sent.text("present")):
            raise Refusal("This is not your present password.", field="present")
        accounts.check_password(new, who.name)
        if new != sent.text("again"):
            raise Refusal("The two are not the same. Type both again.", field="again")
        password_hash = accounts.hash_password(new)
    except Refusal as refusal:
        form = without_passwords(sent.refused("Not changed", refusal))
        return _page(request, house, who, form=form, status=status_of(refusal))
    with housekeeping(house.engine) as session:
        accounts.set_password(session, who.account_id, password_hash)
    return see("/sign-in")


@router.post("/{account_id}/close")
def close_account(house: Here, who: Signed, account_id: Id) -> Response:
    with housekeeping(house.engine) as session:
        accounts.remove_account(session, account_id)
    return see(HOME)
