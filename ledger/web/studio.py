"""Settings: the book opened on its first page, the studio's lines, and the tax standing."""

from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import studio
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.reckoning import answers as disclosure
from ledger.reckoning import dates
from ledger.studio import StudioDraft
from ledger.web import answers
from ledger.web.answers import NotOpenYet
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here
from ledger.web.pages import render
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import Percent, Shape, percent_said
from ledger.web.sign_in import Signed

pages = APIRouter(prefix="/settings", include_in_schema=False)
HOME = "/settings/studio"


@dataclass(frozen=True)
class Choice:
    """One way to answer, and a line about it."""

    value: str
    words: str
    more: str = ""


PAPERS = (Choice("a5", "A5", "210 × 148 mm"), Choice("a4", "A4", "297 × 210 mm"))
TAX_BY = (
    Choice("line", "For each print", "Rounded print by print."),
    Choice("invoice", "For the whole sale", "Rounded once, then shared over its prints."),
)
REGISTERED = (Choice("yes", "Registered"), Choice("no", "Not registered, or no longer"))


class Opening(Shape):
    """What a book cannot be opened without, and what goes on its first papers."""

    maker_name: str
    name_as_signed: str = ""
    address: str
    contact_line: str = ""
    place: str
    currency: str
    paper: Literal["a5", "a4"] = "a5"


class Lines(Shape):
    """The studio's lines as they can be changed; a box left empty means no."""

    maker_name: str
    name_as_signed: str = ""
    address: str
    contact_line: str = ""
    place: str
    paper: Literal["a5", "a4"]
    tax_by: Literal["line", "invoice"]
    works_cap: int
    particulars: bool = False
    fixed_sentence: bool = False
    care_line: str = ""


class Tax(Shape):
    """From which day the maker is registered, or no longer is."""

    from_on: date | None = None
    registered: bool
    number: str = ""
    rate: Percent = 0


def open_book(request: Request, house: Here) -> None:
    """Every page of a book that is not open yet leads to its first one. Raises NotOpenYet.

    A program is told so by the act it asks for.
    """
    if answers.is_api(request.scope):
        return
    with reading(house.engine) as session:
        opened = studio.find_studio(session) is not None
    if not opened and request.url.path != HOME:
        raise NotOpenYet


@pages.get("")
def everything(request: Request, house: Here, who: Signed) -> Response:
    """What can be set."""
    with reading(house.engine) as session:
        whose = studio.the_studio(session)
        address = studio.present_address(session)
        rules = studio.tax_standings(session)
    links = [
        {
            "href": HOME,
            "words": "The studio’s lines",
            "help": f"{whose.maker_name}, {whose.place}. Papers {whose.paper.upper()}, amounts in {whose.currency}.",
        },
        {
            "href": "/settings/address",
            "words": "Public address",
            "help": f"Certificates carry {address}." if address else "None yet: certificates carry no QR code.",
        },
        {"href": "/settings/tax", "words": "Tax", "help": _said(rules[0]) if rules else "Not registered."},
        {
            "href": "/settings/channels",
            "words": "Ways of selling",
            "help": "Fairs, your own web page, galleries: what each takes.",
        },
        {
            "href": "/settings/accounts",
            "words": "Who opens the book",
            "help": "Accounts, your password, and tokens for programs.",
        },
    ]
    return render(request, "studio/settings.html", links=links)


def _said(rule: Any) -> str:
    day = dates.said(rule.from_on)
    if not rule.registered:
        return f"Not registered from {day}."
    number = f", number {rule.number}" if rule.number else ""
    return f"Registered from {day}, {percent_said(rule.rate_bp)} %{number}."


# The first page, and the lines


@pages.get("/studio")
def lines(request: Request, house: Here, who: Signed) -> Response:
    with reading(house.engine) as session:
        whose = studio.find_studio(session)
    if whose is None:
        return _first_page(request, blank({"currency": "GBP", "paper": "a5"}))
    boxes = {name: "yes" if getattr(whose, name) else "" for name in ("particulars", "fixed_sentence")}
    return _lines_page(request, blank(whose.model_dump(exclude=set(boxes)) | boxes), whose.currency)


def _first_page(request: Request, form: Form, status: int = 200) -> Response:
    return render(request, "studio/open.html", status, form=form, papers=PAPERS)


def _lines_page(request: Request, form: Form, currency: str, status: int = 200) -> Response:
    return render(
        request, "studio/lines.html", status,
        form=form, papers=PAPERS, tax_by=TAX_BY, currency=currency, fixed_sentence=disclosure.FIXED_SENTENCE,
    )  # fmt: skip


@pages.post("/studio")
def write_lines(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    """Open the book; or change the lines of one that is open."""
    with reading(house.engine) as session:
        whose = studio.find_studio(session)
    try:
        draft = _opening(sent) if whose is None else _changed(sent, whose.currency)
        done = house.record(who, _writing(draft, fresh=whose is None), sent.repeat)
    except (Refusal, Slips) as fault:
        status = answers.status_of(fault)
        if whose is None:
            return _first_page(request, sent.refused("Not opened", fault), status)
        return _lines_page(request, sent.refused("Not changed", fault), whose.currency, status)
    return answers.see(done.path)


def _opening(sent: Sent) -> StudioDraft:
    shape = sent.read(Opening)
    return StudioDraft(**shape.model_dump() | {"currency": shape.currency.upper()})


def _changed(sent: Sent, currency: str) -> StudioDraft:
    return StudioDraft(currency=currency, **sent.read(Lines).model_dump())


def _writing(draft: StudioDraft, *, fresh: bool) -> Any:
    def act(book: Book) -> str:
        if fresh:
            studio.open_studio(book, draft)
            return "/"
        studio.change_studio(book, draft)
        return "/settings"

    return act


# Tax


@pages.get("/tax")
def tax(request: Request, house: Here, who: Signed) -> Response:
    return _tax_page(request, house, blank())


def _tax_page(request: Request, house: Here, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        rules = studio.tax_standings(session)
    return render(
        request, "studio/tax.html", status,
        form=form, registered=REGISTERED, rules=[{"words": _said(rule)} for rule in rules],
    )  # fmt: skip


@pages.post("/tax")
def set_tax(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    try:
        shape = sent.read(Tax)
        if shape.from_on is None:
            raise Slips([Slip("from_on", "Choose the day from which this holds.")])
        done = house.record(who, _setting(shape.from_on, shape), sent.repeat)
    except (Refusal, Slips) as fault:
        form = sent.refused("Not written down", fault)
        return _tax_page(request, house, form, answers.status_of(fault))
    return answers.see(done.path)


def _setting(from_on: date, shape: Tax) -> Any:
    def act(book: Book) -> str:
        try:
            studio.set_tax(book, from_on, registered=shape.registered, number=shape.number, rate_bp=shape.rate)
        except Refusal as refusal:
            if refusal.field != "rate_bp":
                raise
            raise Refusal(refusal.message, field="rate") from None
        return "/settings/tax"

    return act
