"""Costs through the API: write one down, strike one."""

from datetime import date
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import costs, studio
from ledger.costs import Basis, CostDraft
from ledger.database import Book, reading
from ledger.tables import Cost
from ledger.web import answers
from ledger.web.house import Here, House
from ledger.web.sales_api import last_number
from ledger.web.shapes import Amount, Id, Shape, WhyShape, amount, day
from ledger.web.sign_in import Bearer

api = APIRouter(prefix="/api", tags=["costs"])
NO_TARGET = "studio"


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


def cost_json(cost: Cost, currency: str) -> dict[str, Any]:
    """A cost as the API gives it."""
    target = getattr(cost, f"{cost.basis}_id") if cost.basis != NO_TARGET else None
    return {
        "id": cost.id, "basis": cost.basis, "target_id": target, "own_labour": cost.own_labour,
        "amount": amount(cost.amount_minor, currency), "spent_on": day(cost.spent_on), "note": cost.note,
        "struck": cost.struck_at is not None, "sheet_plan_id": cost.sheet_plan_id,
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
def one_cost(house: Here, who: Bearer, cost_id: Id) -> dict[str, Any]:
    """One cost."""
    return _cost(house, f"/{cost_id}")


@api.post("/costs/{cost_id}/strike", status_code=201)
def strike_by_program(request: Request, house: Here, who: Bearer, cost_id: Id, shape: WhyShape) -> Response:
    """A cost written down by mistake counts nowhere."""

    def act(book: Book) -> str:
        costs.strike(book, cost_id, shape.why)
        return f"/api/costs/{cost_id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _cost(house, done.path))
