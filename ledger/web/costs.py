"""Costs: the list, the form with the one thing each was spent on, striking one, and the table."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import clock, costs, editions, exchange, occasions, pieces, runs, sales, studio, works
from ledger.costs import CostDraft
from ledger.database import Book, Session, reading
from ledger.errors import Refusal
from ledger.pieces import PieceView
from ledger.reckoning import dates, money
from ledger.sales import SaleView
from ledger.tables import Cost, Run
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.costs_api import NO_TARGET, WhyShape
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.sale_sum import unit_of
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import Amount, Id, Shape, read_id
from ledger.web.sign_in import Signed
from ledger.web.spreadsheets import csv_answer

pages = APIRouter(include_in_schema=False)


class CostForm(Shape):
    """The form: basis and target are chosen as one thing, such as 'run 4'."""

    what: str
    own_labour: str = ""
    amount: Amount
    spent_on: date
    note: str = ""

    def draft(self, currency: str) -> CostDraft:
        """Raises Slips where nothing is chosen."""
        basis, _, target = self.what.partition(" ")
        target_id = read_id(target)
        if basis not in (*costs.TARGETS, NO_TARGET) or (basis != NO_TARGET and target_id is None):
            raise Slips([Slip("what", "Choose what it was spent on.")])
        return CostDraft(
            basis=basis,
            target_id=target_id,
            own_labour=bool(self.own_labour),
            amount_minor=self.amount.minor(currency, "amount"),
            spent_on=self.spent_on,
            note=self.note,
        )


class Names:
    """What costs were spent on, in words, each looked up once."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.titles = {each.id or 0: each.title for each in works.listing(session)}
        self.editions = {each.id or 0: (self.titles[each.work_id], each.ordinal) for each in editions.listing(session)}

    def edition(self, edition_id: int) -> str:
        title, ordinal = self.editions.get(edition_id) or (self._withdrawn(edition_id), 1)
        return title if ordinal == 1 else f"{title}, edition {ordinal}"

    def _withdrawn(self, edition_id: int) -> str:
        return self.titles[editions.get(self.session, edition_id).work_id]

    def run(self, run: Run) -> str:
        return f"Printing of {dates.said(run.made_on)}, {self.edition(run.edition_id)}"

    def of(self, cost: Cost) -> str:
        """'Printing of 2 March 2024, Forty Minutes of Road'."""
        if cost.run_id is not None:
            return self.run(runs.get(self.session, cost.run_id))
        if cost.edition_id is not None:
            return f"Edition: {self.edition(cost.edition_id)}"
        if cost.occasion_id is not None:
            return occasions.get(self.session, cost.occasion_id).name
        if cost.sale_id is not None:
            return f"Sale of {dates.said(sales.get(self.session, cost.sale_id).sold_on)}"
        if cost.piece_id is not None:
            return f"Print: {pieces.titled(self.session, cost.piece_id)}"
        return "The whole studio"


@pages.get("/costs")
def every(request: Request, house: Here, who: Signed, on: str = "") -> Response:
    """The costs written down last, and the form for the next. `on` names what it was spent on: 'piece 12'."""
    values = {"spent_on": clock.today().isoformat(), "what": on}
    return _page(request, house, blank(values))


def _page(request: Request, house: House, form: Form, status: int = 200) -> Response:
    today = clock.today()
    with reading(house.engine) as session:
        currency = studio.currency(session)
        names = Names(session)
        found = costs.lately(session)
        rows = [_row(cost, names, currency) for cost in found]
        choices = _choices(session, names, str(form.values.get("what", "")))
    return render(
        request, "costs/list.html", status, form=form, action="/costs", rows=rows, choices=choices,
        unit=unit_of(currency), csv={"from": date(today.year, 1, 1).isoformat(), "to": today.isoformat()},
    )  # fmt: skip


def _row(cost: Cost, names: Names, currency: str) -> dict[str, Any]:
    return {
        "on": dates.said(cost.spent_on),
        "words": names.of(cost),
        "note": cost.note,
        "own": cost.own_labour,
        "amount": money.bare(cost.amount_minor, currency),
        "struck": cost.struck_at is not None,
        "strike_href": "" if cost.struck_at else f"/costs/{cost.id}/strike",
    }


def _choices(session: Session, names: Names, chosen: str) -> list[dict[str, str]]:
    """What a cost may be spent on, the newest of each kind first; what was asked for stands there in any case."""
    options = [("", "Choose")]
    for edition_id in names.editions:
        for run in reversed(runs.of_edition(session, edition_id)):
            options.append((f"run {run.id}", names.run(run)))
    options += [(f"edition {edition_id}", f"Edition: {names.edition(edition_id)}") for edition_id in names.editions]
    options += [
        (f"occasion {each.id}", f"{each.name}, {dates.span(each.from_on, each.to_on)}")
        for each in occasions.listing(session)
    ]
    standing = [seen for seen in sales.listing(session, limit=20) if any(each.outcome == "sold" for each in seen.lines)]
    prints = pieces.those(session, (line.piece_id for seen in standing for line in seen.lines))
    options += [(f"sale {seen.sale.id}", _of_sale(seen, prints)) for seen in standing]
    options.append((NO_TARGET, "The whole studio: in no edition’s sum"))
    basis, _, target = chosen.partition(" ")
    piece_id = read_id(target)
    if basis == "piece" and piece_id is not None:
        options.insert(1, (chosen, f"Print: {pieces.titled(session, piece_id)}"))
    return [{"value": value, "words": words} for value, words in options]


def _of_sale(seen: SaleView, prints: Mapping[int, PieceView]) -> str:
    """'Sale of 4 May 2026: Forty Minutes of Road 7/25, to Wilhelmina Tarn'."""
    sold = [prints[line.piece_id] for line in seen.lines if line.outcome == "sold"]
    said = ", ".join(f"{each.title} {each.shown}" for each in sold[:3]) + (" and more" if len(sold) > 3 else "")
    whom = f"to {seen.buyer}" if seen.sale.buyer_id is not None else seen.channel.name
    return f"Sale of {dates.said(seen.sale.sold_on)}: {said}, {whom}"


@pages.get("/costs/costs.csv")
def costs_csv(request: Request, house: Here, who: Signed) -> Response:
    """The costs of some days, for a spreadsheet; left out: this year so far."""
    return csv_answer(house, request, exchange.costs_csv, "costs")


@pages.post("/costs")
def add(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    def act(book: Book) -> str:
        currency = studio.currency(book.session)
        costs.add(book, sent.read(CostForm, currency).draft(currency))
        return "/costs"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        fault = Refusal(no.message, field="what") if isinstance(no, Refusal) and no.field == "target_id" else no
        form = sent.refused("Not written down", fault)
        return _page(request, house, form, status_of(fault) if isinstance(fault, Refusal) else 422)
    return answers.see(done.path)


@pages.get("/costs/{cost_id}/strike")
def strike_form(request: Request, house: Here, who: Signed, cost_id: Id) -> Response:
    return _strike_page(request, house, cost_id, blank())


def _strike_page(request: Request, house: House, cost_id: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        currency = studio.currency(session)
        row = _row(costs.get(session, cost_id), Names(session), currency)
    return render(
        request, "costs/strike.html", status, form=form, cost=row, unit=unit_of(currency),
        action=f"/costs/{cost_id}/strike",
    )  # fmt: skip


@pages.post("/costs/{cost_id}/strike")
def strike(request: Request, house: Here, who: Signed, cost_id: Id, sent: Sent) -> Response:
    """A cost written down by mistake counts nowhere."""

    def act(book: Book) -> str:
        costs.strike(book, cost_id, sent.read(WhyShape).why)
        return "/costs"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        form = sent.refused("Not struck", no)
        return _strike_page(request, house, cost_id, form, status_of(no) if isinstance(no, Refusal) else 422)
    return answers.see(done.path)
