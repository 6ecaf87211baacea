"""Sheet plans through the API: one worked out, kept, read, accepted, and taken back."""

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import costs, sheets, sheets_bought, studio
from ledger.database import Book, Session, reading
from ledger.errors import Refusal
from ledger.reckoning.sheet_layout import Placed
from ledger.reckoning.sheet_plan import Answer, Planned
from ledger.reckoning.sheet_steps import steps
from ledger.sheets import Bought, PlanDraft, PlanView
from ledger.web import answers
from ledger.web.costs_api import cost_json
from ledger.web.house import Here, House
from ledger.web.sales_api import Limit, last_number
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import After, Id, WhyShape, amount, day, mm
from ledger.web.sheet_form import (
    EDGES,
    AcceptShape,
    Asked,
    LayoutShape,
    PlanShape,
    as_typed,
    bought_field,
    for_a_program,
)
from ledger.web.sheet_said import bench_of, result_of
from ledger.web.sign_in import Bearer

api = APIRouter(prefix="/api", tags=["sheet plans"])


def plan_json(session: Session, seen: PlanView) -> dict[str, Any]:
    """A kept plan as the API gives it."""
    currency = studio.currency(session)
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
        **_planned_json(planned, seen.sizes),
        "sheet_price": amount(seen.sheet_minor, currency) if seen.sheet_minor is not None else None,
        "bought": _bought_json(seen.bought, currency) if seen.bought else None,
        "costs": [cost_json(cost, currency) for cost in costs.of_sheet_plan(session, seen.id)],
        "runs": [run.id for run in seen.runs],
    }  # fmt: skip


def _bought_json(bought: Bought, currency: str) -> dict[str, Any]:
    return {
        "sheets": bought.sheets, "delivery": amount(bought.delivery_minor, currency), "made_on": day(bought.printed_on)
    }  # fmt: skip


def _planned_json(planned: Planned, for_what: Sequence[object | None]) -> dict[str, Any]:
    bench = bench_of(planned, for_what)
    return {
        "sheets": planned.count,
        "proved": planned.proved,
        "layouts": [
            {
                "times": times,
                "placed": [_placed_json(each) for each in layout.placed],
                "cuts": [
                    " ".join((f"{step.part}:", step.do, step.comes)).strip()
                    for step in steps(planned.cuts(place), bench)
                ],
            }
            for place, (layout, times) in enumerate(planned.sheets)
        ],
    }


def _placed_json(placed: Placed) -> dict[str, Any]:
    return {
        "piece": placed.wanted, "x_mm": mm(placed.x_um), "y_mm": mm(placed.y_um), "width_mm": mm(placed.width_um),
        "height_mm": mm(placed.height_um), "turned": placed.turned,
    }  # fmt: skip


def _plan(house: House, path: str) -> dict[str, Any]:
    with reading(house.engine) as session:
        return plan_json(session, sheets.view(session, last_number(path)))


def _worked_out(house: House, shape: LayoutShape) -> tuple[Asked, Answer, Planned]:
    """Raises Slips and Refusal."""
    with reading(house.engine) as session:
        asked = shape.asked(studio.currency(session))
        sheets.check_sizes(session, asked.job, asked.size_ids)
    found, planned = asked.answer()  # before the one writer's door is opened
    if not asked.has_mix(planned):
        others = "; ".join(str(list(each.counts)) for each in found.choices)
        raise Slips([Slip("mix", f"That mix is not among those worth having: {others}.")])
    return asked, found, planned


@api.post("/sheet-layouts")
def work_out(house: Here, who: Bearer, shape: LayoutShape) -> dict[str, Any]:
    """Work a plan out without keeping it: what the page says of it, and every mix worth having, that asked for first.

    `print_costs` says what a print of each size bears of a sheet, where `sheet_price` is given.
    """
    try:
        asked, found, planned = _worked_out(house, shape)
    except (Refusal, Slips) as no:
        raise as_typed(no, for_a_program) from None
    with reading(house.engine) as session:
        told = result_of(session, asked, found, planned)
    return {
        "said": told["said"], "beside": told["beside"], "unlocks": told["unlocks"], "print_costs": told["costs"],
        "pictures": [each["words"] for each in told["pixels"]],
        "choices": [
            {"mix": each.counts, **_planned_json(each, asked.size_ids)}
            for each in sorted(found.choices, key=lambda each: each is not planned)
        ],
    }  # fmt: skip


@api.post("/sheet-plans", status_code=201)
def keep(request: Request, house: Here, who: Bearer, shape: PlanShape) -> Response:
    """Work a plan out and keep it; `mix` chooses among the mixes worth having, by how many of each piece it has."""
    try:
        asked, _, planned = _worked_out(house, shape)

        def act(book: Book) -> str:
            draft = PlanDraft(name=shape.name, planned=planned, size_ids=asked.size_ids, sheet_minor=asked.price_minor)
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
        items = [plan_json(session, seen) for seen in found[:limit]]
    return {"items": items, "next": found[limit - 1].id if len(found) > limit else None}


@api.get("/sheet-plans/{plan_id}")
def one(house: Here, who: Bearer, plan_id: Id) -> dict[str, Any]:
    """One plan: what was asked for, and where every piece lies."""
    return _plan(house, f"/{plan_id}")


@api.post("/sheet-plans/{plan_id}/accept", status_code=201)
def accept(request: Request, house: Here, who: Bearer, plan_id: Id, shape: AcceptShape) -> Response:
    """The sheets were bought: a printing for each size of an edition, with its part of what they cost."""

    def act(book: Book) -> str:
        sheets_bought.accept(book, plan_id, shape.draft(studio.currency(book.session)))
        return f"/api/sheet-plans/{plan_id}"

    try:
        done = house.record(who, act, answers.repeat_of(request, shape))
    except Refusal as no:
        raise as_typed(no, bought_field) from None
    return answers.made(done, _plan(house, done.path))


@api.post("/sheet-plans/{plan_id}/take-back", status_code=201)
def take_back(request: Request, house: Here, who: Bearer, plan_id: Id, shape: WhyShape) -> Response:
    """The plan was accepted by mistake: its printings and costs are struck, and it can be accepted again."""

    def act(book: Book) -> str:
        sheets_bought.take_back(book, plan_id, shape.why)
        return f"/api/sheet-plans/{plan_id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _plan(house, done.path))
