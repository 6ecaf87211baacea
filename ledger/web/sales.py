"""Sales: the list, recording one, one sale with what may happen to it afterwards, and the lines as a table."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import buyers, clock, exchange, occasions, pieces, pricing, reports, sales, studio
from ledger.accounts import Who
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.pricing import Reckoned
from ledger.reckoning import dates, money
from ledger.sales import SaleView
from ledger.web import answers, sale_form, sale_words
from ledger.web.answers import status_of
from ledger.web.forms import Form, Posted, Sent, blank
from ledger.web.house import Here, House
from ledger.web.line_acts import BY_SLUG, LineAct
from ledger.web.pages import render
from ledger.web.sale_form import NAMES, Asked, SaleForm, arranged
from ledger.web.sale_shapes import NamedShape, ReceiptShape, bare_field, line_id
from ledger.web.sale_sum import unit_of
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, Shape
from ledger.web.sign_in import Signed
from ledger.web.spreadsheets import csv_answer

pages = APIRouter(include_in_schema=False)
A_PAGE = 50


@pages.get("/sales")
def every(request: Request, house: Here, who: Signed, before: Id | None = None) -> Response:
    """What stands open, and the sales as they were made, the last first."""
    today = clock.today()
    with reading(house.engine) as session:
        found = sales.listing(session, before=before, limit=A_PAGE + 1)
        currency = studio.currency(session)
        prints = pieces.those(session, (line.piece_id for seen in found for line in seen.lines))
        owed = reports.owed(session, today) if before is None else []
        waiting = sales.orders(session) if before is None else []
        ways = bool(occasions.channels(session))
    rows = [sale_words.row(seen, prints, currency) for seen in found[:A_PAGE]]
    return render(
        request, "sales/list.html",
        days=sale_words.by_day(rows),
        owed=[sale_words.owed_row(each, currency) for each in owed],
        orders=[sale_words.order_row(seen, prints_of) for seen, prints_of in waiting],
        older_href=f"/sales?before={found[A_PAGE - 1].sale.id}" if len(found) > A_PAGE else "",
        newer=before is not None, ways=ways,
        csv={"from": date(today.year, 1, 1).isoformat(), "to": today.isoformat()},
    )  # fmt: skip


@pages.get("/sales/lines.csv")
def lines_csv(request: Request, house: Here, who: Signed) -> Response:
    """Every sale line of some days, for a spreadsheet; left out: this year so far."""
    return csv_answer(house, request, exchange.sales_csv, "sales")


# Recording


@pages.get("/sales/new")
def new(request: Request, house: Here, who: Signed, piece: Id | None = None, consignment: Id | None = None) -> Response:
    """The form with its defaults, worked out already where the print is known."""
    with reading(house.engine) as session:
        values = sale_form.first_values(session, clock.today(), piece, consignment)
    form = blank(values)
    if piece is None or not values.get("channel"):
        return _form_page(request, house, form)
    return _worked_out(request, house, Posted(dict(values), {}, form.key, "", request.url.path))


@pages.post("/sales/new")
def sent(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    """Work it out, show a further choice, or record it."""
    typed = arranged(sent)
    if sent.step == "record":
        return _recorded(request, house, who, typed)
    if sent.step == "print":
        return _worked_out(request, house, typed, Asked(print=True))
    if re.fullmatch(r"number-[0-9]{1,3}", sent.step):
        return _worked_out(request, house, typed, Asked(number=int(sent.step[7:])))
    return _worked_out(request, house, typed)


def _worked_out(request: Request, house: House, typed: Posted, asked: Asked | None = None) -> Response:
    """The form with its sum. A further choice asked for is not kept waiting by what is not right yet."""
    try:
        with reading(house.engine) as session:
            shape = typed.read(SaleForm, studio.currency(session))
            reckoned = pricing.work_out(session, shape.draft(session))
    except (Refusal, Slips) as no:
        if asked:
            return _form_page(request, house, typed.again(), asked=asked)
        return _refused(request, house, typed, no, "Not worked out")
    return _form_page(request, house, typed.again(), reckoned, asked=asked)


def _recorded(request: Request, house: House, who: Who, typed: Posted) -> Response:
    def act(book: Book) -> str:
        shape = typed.read(SaleForm, studio.currency(book.session))
        return f"/sales/{sales.record(book, shape.draft(book.session)).id}"

    try:
        done = house.record(who, act, typed.repeat)
    except (Refusal, Slips) as no:
        return _refused(request, house, typed, no, "Not recorded")
    return answers.see(done.path)


def _refused(request: Request, house: House, typed: Posted, no: Refusal | Slips, verdict: str) -> Response:
    status = status_of(no) if isinstance(no, Refusal) else 422
    fault = bare_field(no, NAMES) if isinstance(no, Refusal) else no
    # A print that cannot be sold has no field of its own until another may be chosen in its place.
    named = re.fullmatch(r"lines\.([0-9]+)\.piece_id", no.field or "") if isinstance(no, Refusal) else None
    asked = Asked(number=int(named[1])) if named else None
    return _form_page(request, house, typed.refused(verdict, fault), asked=asked, status=status)


def _form_page(
    request: Request, house: House, form: Form, reckoned: Reckoned | None = None, *, asked: Asked | None = None,
    status: int = 200,
) -> Response:  # fmt: skip
    with reading(house.engine) as session:
        values = sale_form.page_values(session, form, clock.today(), reckoned, asked or Asked())
    return render(request, "sales/record.html", status, action="/sales/new", form=form, **values)


# One sale


@pages.get("/sales/{sale_id}")
def one(request: Request, house: Here, who: Signed, sale_id: Id) -> Response:
    return _page(request, house, sale_id, blank(_receipt_values()))


def _receipt_values() -> dict[str, str]:
    return {"how": "transfer", "given": "came_in", "on": clock.today().isoformat()}


def _page(request: Request, house: House, sale_id: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        shown = sale_words.page(session, sales.view(session, sale_id), clock.today())
    return render(
        request, "sales/one.html", status,
        sale=shown, form=form, action=f"/sales/{sale_id}", ways=sale_words.WAYS,
    )  # fmt: skip


class ReceiptForm(ReceiptShape):
    """A payment on its form: came in, or was given back."""

    given: str = "came_in"


@pages.post("/sales/{sale_id}/receipts")
def receive(request: Request, house: Here, who: Signed, sale_id: Id, sent: Sent) -> Response:
    """Money arrived for this sale, or was given back."""

    def act(book: Book) -> str:
        currency = studio.currency(book.session)
        shape = sent.read(ReceiptForm, currency)
        amount = shape.amount.minor(currency, "amount")
        draft = shape.draft(currency).model_copy(
            update={"amount_minor": -amount if shape.given == "given_back" else amount}
        )
        sales.add_receipt(book, sale_id, draft)
        return f"/sales/{sale_id}"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        fault = bare_field(no, {"received_on": "on"}) if isinstance(no, Refusal) else no
        return _left(request, house, sale_id, sent.refused("Not written down", fault), no)
    return answers.see(done.path)


def _left(request: Request, house: House, sale_id: int, form: Form, no: Refusal | Slips) -> Response:
    """The sale as it was, with what is to be put right."""
    if isinstance(no, Refusal) and no.missing:
        raise no
    form = replace(form, values=_receipt_values() | dict(form.values))
    return _page(request, house, sale_id, form, status_of(no))


@pages.post("/sales/{sale_id}/buyer")
def name_buyer(request: Request, house: Here, who: Signed, sale_id: Id, sent: Sent) -> Response:
    """The buyer, learnt later."""
    try:
        done = house.record(who, naming(sent.read(NamedShape), "", sale_id), sent.repeat)
    except (Refusal, Slips) as no:
        return _left(request, house, sale_id, sent.refused("Not named", no), no)
    return answers.see(done.path)


def naming(shape: NamedShape, prefix: str, sale_id: int) -> Callable[[Book], str]:
    """Naming the buyer of a sale, for both doors."""

    def act(book: Book) -> str:
        try:
            return f"{prefix}/sales/{buyers.name_buyer(book, sale_id, shape.draft()).id}"
        except Refusal as no:
            raise bare_field(no, {"buyer": "name"}) from no

    return act


@pages.get("/sales/{sale_id}/lines/{n}/{slug}")
def act_form(request: Request, house: Here, who: Signed, sale_id: Id, n: int, slug: str) -> Response:
    """The form of one act on one line."""
    form = blank({"refund_how": "transfer", "paper_came_back": "true"})
    return _act_page(request, house, sale_id, n, known(slug), form)


@pages.post("/sales/{sale_id}/lines/{n}/{slug}")
def act_sent(request: Request, house: Here, who: Signed, sale_id: Id, n: int, slug: str, sent: Sent) -> Response:
    """Carry out one act on one line."""
    act = known(slug)
    try:
        with reading(house.engine) as session:
            currency = studio.currency(session)
        done = house.record(who, doing(act, "", sale_id, n, sent.read(act.shape, currency)), sent.repeat)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        fault = bare_field(no, {"amount": "refund", "received_on": "on"}) if isinstance(no, Refusal) else no
        status = status_of(no) if isinstance(no, Refusal) else 422
        return _act_page(request, house, sale_id, n, act, sent.refused(act.no, fault), status)
    return answers.see(done.path)


def known(slug: str) -> LineAct:
    """The act at an address. Raises Refusal (missing)."""
    if slug not in BY_SLUG:
        raise Refusal("There is nothing at this address.", missing=True)
    return BY_SLUG[slug]


def doing(act: LineAct, prefix: str, sale_id: int, n: int, shape: Shape) -> Callable[[Book], str]:
    """The act on a line, for both doors; its result is found at the sale."""

    def do(book: Book) -> str:
        act.act(book, line_id(book.session, sale_id, n), shape)
        return f"{prefix}/sales/{sale_id}"

    return do


def _act_page(
    request: Request, house: House, sale_id: int, n: int, act: LineAct, form: Form, status: int = 200
) -> Response:
    with reading(house.engine) as session:
        view: SaleView = sales.view(session, sale_id)
        line = line_id(session, sale_id, n)
        seen = pieces.view(session, next(each.piece_id for each in view.lines if each.id == line))
        currency = studio.currency(session)
        instead = sale_words.instead(session, seen)
    asks_number = any(field.control == "numbers" for field in act.fields)
    fields = [
        {
            "control": "select" if field.control == "numbers" else field.control,
            "name": field.name, "label": field.label, "help": field.help,
            "options": instead if field.control == "numbers"
            else [{"value": value, "words": words, "more": ""} for value, words in field.options],
        }
        for field in act.fields
    ]  # fmt: skip
    return render(
        request, "sales/act.html", status,
        piece={"shown": seen.shown, "title": seen.title}, act=act, fields=fields, form=form,
        button=act.button.format(seen.shown), none_free=asks_number and not instead,
        sale_href=f"/sales/{sale_id}", action=f"/sales/{sale_id}/lines/{n}/{act.slug}",
        sold=f"Sold on {dates.said(view.sale.sold_on)} for {money.shown(sale_words.gross_of(view, line), currency)}.",
        unit=unit_of(currency),
    )  # fmt: skip
