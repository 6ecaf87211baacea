"""Mount plans through the API: keep one as it is asked, read what it comes to, strike it."""

from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import Field, model_validator
from starlette.responses import Response

from ledger import mounts
from ledger.database import Book, reading
from ledger.mount_drafts import MountDraft
from ledger.web import answers
from ledger.web.channels import paged
from ledger.web.house import Here
from ledger.web.mount_views import as_json, plan_json
from ledger.web.sales_api import Limit, last_number
from ledger.web.shapes import After, Id, Shape, WhyShape
from ledger.web.sign_in import Bearer

api = APIRouter(prefix="/api", tags=["mounts"])


class MountShape(Shape, MountDraft):
    """What is asked for a mount, every length as it is written at the bench: 12.5, "8 1/16", "150 x 100 mm"."""

    size_id: Id | None = None
    frame_id: Id | None = None
    frame_ids: Annotated[tuple[Id, ...], Field(max_length=60)] = ()
    cutter_id: Id | None = None

    @model_validator(mode="before")
    @classmethod
    def _ticked(cls, value: Any) -> Any:
        # A form sends one tick alone, and several together.
        if isinstance(value, dict) and isinstance(value.get("frame_ids"), str):
            return {**value, "frame_ids": [value["frame_ids"]]}
        return value


@api.post("/mount-plans", status_code=201)
def keep(request: Request, house: Here, who: Bearer, shape: MountShape) -> Response:
    """Work a mount out and keep its plan."""

    def act(book: Book) -> str:
        return f"/api/mount-plans/{mounts.keep(book, shape).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, one(house, who, last_number(done.path)))


@api.post("/mount-plans/work-out")
def work_out(house: Here, who: Bearer, shape: MountShape) -> dict[str, Any]:
    """What a mount comes to; nothing is kept."""
    with reading(house.engine) as session:
        worked = mounts.work_out(session, shape)
        serving = [{"board": board, "offcut_id": row.id} for board, row in mounts.serving(session, worked.plan)]
    return {**plan_json(worked.plan), "offcuts": serving}


@api.get("/mount-plans")
def every(house: Here, who: Bearer, after: After = 0, limit: Limit = 50) -> dict[str, Any]:
    """The plans that stand, in the order they were kept."""
    with reading(house.engine) as session:
        found, next_ = paged(mounts.listing(session)[::-1], after, limit)
        return {"items": [as_json(mounts.seen(session, row.id or 0)) for row in found], "next": next_}


@api.get("/mount-plans/{plan_id}")
def one(house: Here, who: Bearer, plan_id: Id) -> dict[str, Any]:
    """One plan: what was asked, and what it comes to."""
    with reading(house.engine) as session:
        return as_json(mounts.seen(session, plan_id))


@api.post("/mount-plans/{plan_id}/strike", status_code=201)
def strike(request: Request, house: Here, who: Bearer, plan_id: Id, shape: WhyShape) -> Response:
    """A plan made in error is offered no longer."""

    def act(book: Book) -> str:
        return f"/api/mount-plans/{mounts.strike(book, plan_id, shape.why).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, one(house, who, plan_id))
