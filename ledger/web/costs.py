"""Costs: the list, the form with the one thing each was spent on, striking one; printings; and the API of both."""

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import Field
from starlette.responses import Response

from ledger import clock, costs, editions, exchange, occasions, pieces, runs, sales, studio, works
from ledger.costs import Basis, CostDraft
from ledger.database import Book, Session, reading
from ledger.errors import Refusal
from ledger.reckoning import dates, money
from ledger.runs import RunDraft
from ledger.tables import Cost, Run
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.sale_form import unit_of
from ledger.web.sale_shapes import Id
from ledger.web.sales import csv_answer
from ledger.web.sales_api import last_number
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import Amount, Shape, amount, day
from ledger.web.sign_in import Bearer, Signed

pages = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["costs"])
LABELS = {"what": "Spent on what", "spent_on": "On which day", "own_labour": "Own time", "why": "Why"}
NO_TARGET = "studio"
Count = Annotated[int, Field(ge=0, le=999_999)]


class CostShape(Shape):
    """What was spent, and on which one thing; the studio has no target."""

    basis: Basis
    target_id: Id | None = None
    own_labour: bool = False
    amount: Amount
    spent_on: date
    note: str = ""

    def draft(self, currency: str) -> CostDraft:
        """Raises Slips."""
        return CostDraft(
            basis=self.basis,
            target_id=self.target_id,
            own_labour=self.own_labour,
            amount_minor=self.amount.minor(currency, "amount"),
            spent_on=self.spent_on,
            note=self.note,
        )


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
        if basis not in (*costs.TARGETS, NO_TARGET) or (basis != NO_TARGET and not target.isdigit()):
            raise Slips([Slip("what", "Choose what it was spent on.")])
        return CostDraft(
            basis=basis,
            target_id=int(target) if target.isdigit() else None,
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


# Costs


@pages.get("/costs")
def every(request: Request, house: Here, who: Signed, on: str = "") -> Response:
    """The costs written down last, and the form for the next. `on` names what it was spent on: 'piece 12'."""
    values = {"spent_on": clock.today().isoformat(), "what": on}
    return _page(request, house, blank(values))


def _page(request: Request, house: House, form: Form, status: int = 200) -> Response:
    today = clock.today()
    with reading(house.engine) as session:
        currency = studio.currency(session) if studio.find_studio(session) else "GBP"
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
    options += [
        (f"sale {seen.sale.id}", f"Sale of {dates.said(seen.sale.sold_on)}, {seen.channel.name}")
        for seen in sales.listing(session, limit=20)
    ]
    options.append((NO_TARGET, "The whole studio: in no edition's sum"))
    basis, _, target = chosen.partition(" ")
    if basis == "piece" and target.isdigit() and len(target) < 16:
        options.insert(1, (chosen, f"Print: {pieces.titled(session, int(target))}"))
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
        form = sent.refused("Not written down", fault, LABELS)
        return _page(request, house, form, status_of(fault) if isinstance(fault, Refusal) else 422)
    return answers.see(done.path)


class WhyShape(Shape):
    """Why a cost is struck."""

    why: str = ""


@pages.get("/costs/{cost_id}/strike")
def strike_form(request: Request, house: Here, who: Signed, cost_id: int) -> Response:
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
def strike(request: Request, house: Here, who: Signed, cost_id: int, sent: Sent) -> Response:
    """A cost written down by mistake counts nowhere."""

    def act(book: Book) -> str:
        costs.strike(book, cost_id, sent.read(WhyShape).why)
        return "/costs"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        form = sent.refused("Not struck", no, LABELS)
        return _strike_page(request, house, cost_id, form, status_of(no) if isinstance(no, Refusal) else 422)
    return answers.see(done.path)


# Printings


class RunForm(Shape):
    """One printing: sheets bought for it, prints good and spoilt."""

    made_on: date
    sheets: Count
    good: Count
    spoilt: Count = 0
    note: str = ""

    def draft(self, edition_id: int) -> RunDraft:
        return RunDraft(
            edition_id=edition_id, made_on=self.made_on, sheets=self.sheets, good=self.good, spoilt=self.spoilt,
            note=self.note,
        )  # fmt: skip


class RunShape(RunForm):
    """One printing of an edition, as a program says it."""

    edition_id: Id


@pages.get("/editions/{edition_id}/runs")
def printings(request: Request, house: Here, who: Signed, edition_id: int) -> Response:
    """The printings of an edition, and the form for the next."""
    return _runs_page(request, house, edition_id, blank({"made_on": clock.today().isoformat(), "spoilt": "0"}))


def _runs_page(request: Request, house: House, edition_id: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        facts = editions.facts(session, edition_id, clock.today())
        found = runs.of_edition(session, edition_id)
    rows = [
        {
            "on": dates.said(run.made_on), "sheets": str(run.sheets), "good": str(run.good), "spoilt": str(run.spoilt),
            "note": run.note, "cost_href": f"/costs?on=run+{run.id}",
        }
        for run in found
    ]  # fmt: skip
    return render(
        request, "costs/runs.html", status, form=form, title=facts.work.title, edition_href=f"/editions/{edition_id}",
        rows=rows, action=f"/editions/{edition_id}/runs",
    )  # fmt: skip


@pages.post("/editions/{edition_id}/runs")
def record_run(request: Request, house: Here, who: Signed, edition_id: int, sent: Sent) -> Response:
    def act(book: Book) -> str:
        runs.record(book, sent.read(RunForm).draft(edition_id))
        return f"/editions/{edition_id}/runs"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        form = sent.refused("Not written down", no, {"made_on": "Printed on"})
        return _runs_page(request, house, edition_id, form, status_of(no) if isinstance(no, Refusal) else 422)
    return answers.see(done.path)


# The API


def cost_json(cost: Cost, currency: str) -> dict[str, Any]:
    """A cost as the API gives it."""
    target = getattr(cost, f"{cost.basis}_id") if cost.basis != NO_TARGET else None
    return {
        "id": cost.id, "basis": cost.basis, "target_id": target, "own_labour": cost.own_labour,
        "amount": amount(cost.amount_minor, currency), "spent_on": day(cost.spent_on), "note": cost.note,
        "struck": cost.struck_at is not None,
    }  # fmt: skip


def _cost(house: House, path: str) -> dict[str, Any]:
    with reading(house.engine) as session:
        return cost_json(costs.get(session, last_number(path)), studio.currency(session))


@api.post("/costs", status_code=201)
def add_by_program(request: Request, house: Here, who: Bearer, shape: CostShape) -> Response:
    """Write down a cost."""

    def act(book: Book) -> str:
        return f"/api/costs/{costs.add(book, shape.draft(studio.currency(book.session))).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _cost(house, done.path))


@api.get("/costs/{cost_id}")
def one_cost(house: Here, who: Bearer, cost_id: int) -> dict[str, Any]:
    """One cost."""
    return _cost(house, f"/{cost_id}")


@api.post("/costs/{cost_id}/strike", status_code=201)
def strike_by_program(request: Request, house: Here, who: Bearer, cost_id: int, shape: WhyShape) -> Response:
    """A cost written down by mistake counts nowhere."""

    def act(book: Book) -> str:
        costs.strike(book, cost_id, shape.why)
        return f"/api/costs/{cost_id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _cost(house, done.path))


def _run(house: House, path: str) -> dict[str, Any]:
    with reading(house.engine) as session:
        run = runs.get(session, last_number(path))
    return {
        "id": run.id, "edition_id": run.edition_id, "made_on": day(run.made_on), "sheets": run.sheets,
        "good": run.good, "spoilt": run.spoilt, "note": run.note,
    }  # fmt: skip


@api.post("/runs", status_code=201)
def record_run_by_program(request: Request, house: Here, who: Bearer, shape: RunShape) -> Response:
    """Write down one printing."""

    def act(book: Book) -> str:
        return f"/api/runs/{runs.record(book, shape.draft(shape.edition_id)).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _run(house, done.path))


@api.get("/runs/{run_id}")
def one_run(house: Here, who: Bearer, run_id: int) -> dict[str, Any]:
    """One printing."""
    return _run(house, f"/{run_id}")
