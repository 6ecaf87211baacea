"""Settings, the public address: read back before every certificate carries it for good."""

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import studio
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.reckoning import dates
from ledger.web import answers
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.sign_in import Signed

pages = APIRouter(prefix="/settings/address", include_in_schema=False)
HERE = "/settings/address"
READ_BACK, CARRY = "read_back", "carry"


@pages.get("")
def page(request: Request, house: Here, who: Signed) -> Response:
    return _page(request, house, blank({"url": _proposal(house)}))


def _proposal(house: House) -> str:
    """The address the settings of the program name, where certificates carry another or none; '' otherwise."""
    if not house.settings.public_url:
        return ""
    try:
        named = studio.address_from(house.settings.public_url, demo=house.demo)
    except Refusal:
        return house.settings.public_url
    with reading(house.engine) as session:
        return "" if named == studio.present_address(session) else named


def _page(request: Request, house: House, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        present = studio.present_address(session)
        former = studio.former_addresses(session)
    return render(
        request, "studio/address.html", status,
        form=form, present=present, proposal=_proposal(house),
        former=[{"url": each.url, "since": dates.said(each.from_on)} for each in former],
    )  # fmt: skip


@pages.post("")
def set_address(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    """Read the address back; on the second step, carry it from now on."""
    url = sent.text("url")
    if sent.step not in (READ_BACK, CARRY):
        return _page(request, house, sent.again())
    try:
        address = studio.address_from(url, demo=house.demo)
        with reading(house.engine) as session:
            present = studio.present_address(session)
        if sent.step == READ_BACK and address != present:
            return render(
                request,
                "studio/address_read_back.html",
                form=sent.again(),
                address=address,
                present=present,
                qr=f"{address}/c/".upper(),
            )

        def act(book: Book) -> str:
            studio.change_address(book, url, demo=house.demo)
            return HERE

        done = house.record(who, act, sent.repeat)
    except Refusal as refusal:
        return _page(request, house, sent.refused("Not set", refusal), answers.status_of(refusal))
    house.hosts.answer_to(address)
    return answers.see(done.path)
