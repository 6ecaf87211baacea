"""Sheet plans through the API: one worked out and kept, read, accepted."""

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import sheets, studio
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.reckoning.sheet_layout import Placed
from ledger.sheets import PlanDraft, PlanView
from ledger.web import answers
from ledger.web.house import Here, House
from ledger.web.sales_api import Limit, last_number
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import After, Id, day, mm
from ledger.web.sheet_form import EDGES, AcceptShape, PlanShape, accepted_field, as_typed, for_a_program
from ledger.web.sign_in import Bearer

api = APIRouter(prefix="/api", tags=["sheet plans"])


def plan_json(seen: PlanView) -> dict[str, Any]:
    """A kept plan as the API gives it."""
    planned, job, sheet = seen.planned, seen.planned.job, seen.planned.job.sheet
    return {
        "id": seen.id,
        "name": seen.name,
        "made_on": day(seen.made_on),
        "accepted_on": day(seen.accepted_on),
        "sheet": {"width_mm": mm(sheet.width_um), "height_mm": mm(sheet.height_um)},
        "margins": {f"{edge}_mm": mm(getattr(sheet, f"{edge}_um")) for edge in EDGES},
        "gutter_mm": mm(job.gutter_um),
        "bleed_mm": mm(job.bleed_um),
        "cutting": planned.cutting,
        "widest_cut_mm": mm(job.widest_cut_um) if job.widest_cut_um else None,
        "least_strip_mm": mm(job.least_strip_um),
        "pieces": [
            {
                "width_mm": mm(wanted.width_um), "height_mm": mm(wanted.height_um), "may_turn": wanted.may_turn,
                "quantity": wanted.quantity, "size_id": made_for.size_id if made_for else None, "planned": count,
            }
            for wanted, made_for, count in zip(job.wanted, seen.sizes, planned.counts, strict=True)
        ],
        "sheets": planned.count,
        "proved": planned.proved,
        "layouts": [
            {"times": times, "placed": [_placed_json(each) for each in layout.placed]}
            for layout, times in planned.sheets
        ],
        "runs": [run.id for run in seen.runs],
    }  # fmt: skip


def _placed_json(placed: Placed) -> dict[str, Any]:
    return {
        "piece": placed.wanted, "x_mm": mm(placed.x_um), "y_mm": mm(placed.y_um), "width_mm": mm(placed.width_um),
        "height_mm": mm(placed.height_um), "turned": placed.turned,
    }  # fmt: skip


def _plan(house: House, path: str) -> dict[str, Any]:
    with reading(house.engine) as session:
        return plan_json(sheets.view(session, last_number(path)))


@api.post("/sheet-plans", status_code=201)
def keep(request: Request, house: Here, who: Bearer, shape: PlanShape) -> Response:
    """Work a plan out and keep it; `mix` chooses among the mixes worth having, by how many of each piece it has."""
    try:
        asked = shape.asked()
        found, planned = asked.answer()  # before the one writer's door is opened
        if shape.mix and planned.counts != shape.mix:
            others = "; ".join(str(list(each.counts)) for each in found.choices)
            raise Slips([Slip("mix", f"That mix is not among those worth having: {others}.")])

        def act(book: Book) -> str:
            draft = PlanDraft(name=shape.name, planned=planned, size_ids=asked.size_ids)
            return f"/api/sheet-plans/{sheets.keep(book, draft).id}"

        done = house.record(who, act, answers.repeat_of(request, shape))
    except (Refusal, Slips) as no:
        raise as_typed(no, for_a_program) from None
    return answers.made(done, _plan(house, done.path))


@api.get("/sheet-plans")
def every(house: Here, who: Bearer, after: After = 0, limit: Limit = 50) -> dict[str, Any]:
    """The plans in the order they were kept."""
    with reading(house.engine) as session:
        found = sheets.listing(session, after, limit + 1)
    items = [plan_json(seen) for seen in found[:limit]]
    return {"items": items, "next": found[limit - 1].id if len(found) > limit else None}


@api.get("/sheet-plans/{plan_id}")
def one(house: Here, who: Bearer, plan_id: Id) -> dict[str, Any]:
    """One plan: what was asked for, and where every piece lies."""
    return _plan(house, f"/{plan_id}")


@api.post("/sheet-plans/{plan_id}/accept", status_code=201)
def accept(request: Request, house: Here, who: Bearer, plan_id: Id, shape: AcceptShape) -> Response:
    """The sheets were bought: a printing for each size of an edition, with its part of what they cost."""

    def act(book: Book) -> str:
        sheets.accept(book, plan_id, shape.draft(studio.currency(book.session)))
        return f"/api/sheet-plans/{plan_id}"

    try:
        done = house.record(who, act, answers.repeat_of(request, shape))
    except Refusal as no:
        raise as_typed(no, accepted_field) from None
    return answers.made(done, _plan(house, done.path))
