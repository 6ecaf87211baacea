"""Costs: the list, the form with the one thing each was spent on, striking one, and the table."""

from datetime import date
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import clock, costs, exchange, occasions, pieces, recipes, runs, sales, sheets, studio
from ledger.costs import CostDraft
from ledger.database import Book, Session, reading
from ledger.errors import Refusal
from ledger.reckoning import dates, money
from ledger.spent_on import SpentOn
from ledger.tables import Cost
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.costs_api import NO_TARGET
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.recipes import finished_rows
from ledger.web.sale_sum import unit_of
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import Amount, Id, Shape, WhyShape, read_id
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


@pages.get("/costs")
def every(request: Request, house: Here, who: Signed, on: str = "", plan: Id | None = None) -> Response:
    """The costs written down last, or those of a sheet plan, and the form for the next.

    `on` names what it was spent on: 'piece 12'.
    """
    values = {"spent_on": clock.today().isoformat(), "what": on}
    return _page(request, house, blank(values), plan_id=plan)


def _page(request: Request, house: House, form: Form, status: int = 200, plan_id: int | None = None) -> Response:
    today = clock.today()
    with reading(house.engine) as session:
        currency = studio.currency(session)
        names = SpentOn(session)
        found = costs.lately(session, sheet_plan_id=plan_id)
        plan = {"name": sheets.get(session, plan_id).name, "href": f"/sheets/{plan_id}"} if plan_id else None
        rows = [_row(cost, names, currency) for cost in found]
        choices = _choices(session, names, str(form.values.get("what", "")))
        finished = [] if plan_id else finished_rows(session, recipes.lately(session), currency)
    return render(
        request, "costs/list.html", status, form=form, action="/costs", rows=rows, choices=choices, finished=finished,
        plan=plan, unit=unit_of(currency), csv={"from": date(today.year, 1, 1).isoformat(), "to": today.isoformat()},
    )  # fmt: skip


def _row(cost: Cost, names: SpentOn, currency: str) -> dict[str, Any]:
    return {
        "on": dates.said(cost.spent_on),
        "words": names.of(cost),
        "note": cost.note,
        "own": cost.own_labour,
        "amount": money.bare(cost.amount_minor, currency),
        "struck": cost.struck_at is not None,
        "strike_href": "" if cost.struck_at else f"/costs/{cost.id}/strike",
    }


def _choices(session: Session, names: SpentOn, chosen: str) -> list[dict[str, str]]:
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
    options += [
        (f"sale {seen.sale.id}", names.sale(seen))
        for seen in sales.listing(session, limit=20)
        if any(line.outcome == "sold" for line in seen.lines)
    ]
    options.append((NO_TARGET, "The whole studio: in no edition’s sum"))
    basis, _, target = chosen.partition(" ")
    piece_id = read_id(target)
    if basis == "piece" and piece_id is not None:
        options.insert(1, (chosen, f"Print: {pieces.titled(session, piece_id)}"))
    return [{"value": value, "words": words} for value, words in options]


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
        row = _row(costs.get(session, cost_id), SpentOn(session), currency)
    return render(
        request, "costs/strike.html", status, form=form, cost=row, unit=unit_of(currency),
        action=f"/costs/{cost_id}/strike", back={"href": "/costs", "words": "Costs"},
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
