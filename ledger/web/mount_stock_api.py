"""Frames, cutters and board left over, through the API."""

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import mount_stock
from ledger.database import reading
from ledger.mount_stock import CutterDraft, FrameDraft, OffcutDraft
from ledger.tables import Frame, MountCutter, Offcut
from ledger.web import answers
from ledger.web.house import Here
from ledger.web.sales_api import last_number
from ledger.web.shapes import Id, Shape, day, mm
from ledger.web.sign_in import Bearer

api = APIRouter(prefix="/api", tags=["mounts"])


class FrameShape(Shape, FrameDraft):
    """A frame by its rebate, measured in its unit; depth in millimetres."""


class CutterShape(Shape, CutterDraft):
    """One test cut, measured in its unit; past and board in millimetres."""


class OffcutShape(Shape, OffcutDraft):
    """A piece of board that is left over."""

    mount_plan_id: Id | None = None


class Nothing(Shape):
    """An act that needs no words."""


def _frame_json(row: Frame) -> dict[str, Any]:
    found = mount_stock.as_measured(row)
    return {
        "id": row.id, "sold_as": row.sold_as, "unit": row.unit, "widths_mm": [mm(um) for um in found.widths_um],
        "heights_mm": [mm(um) for um in found.heights_um],
        "depth_mm": mm(row.depth_um) if row.depth_um else None, "measured_on": day(row.measured_on),
        "struck": row.struck_at is not None,
    }  # fmt: skip


def _cutter_json(row: MountCutter) -> dict[str, Any]:
    return {
        "id": row.id, "name": row.name, "scale": row.scale, "offset_mm": mm(row.offset_um),
        "calibrated_on": day(row.calibrated_on),
    }  # fmt: skip


def _offcut_json(row: Offcut) -> dict[str, Any]:
    return {
        "id": row.id, "board": row.board, "unit": row.unit, "width_mm": mm(row.width_um),
        "height_mm": mm(row.height_um), "mount_plan_id": row.mount_plan_id, "kept_on": day(row.kept_on),
        "used": row.used_at is not None,
    }  # fmt: skip


@api.post("/frames", status_code=201)
def add_frame_by_program(request: Request, house: Here, who: Bearer, shape: FrameShape) -> Response:
    """Keep a frame’s rebate."""
    done = house.record(
        who, lambda book: f"/api/frames/{mount_stock.add_frame(book, shape).id}", answers.repeat_of(request, shape)
    )
    return answers.made(done, one_frame(house, who, last_number(done.path)))


@api.get("/frames/{frame_id}")
def one_frame(house: Here, who: Bearer, frame_id: Id) -> dict[str, Any]:
    """One frame."""
    with reading(house.engine) as session:
        return _frame_json(mount_stock.frame_row(session, frame_id))


@api.get("/frames")
def every_frame(house: Here, who: Bearer) -> dict[str, Any]:
    """The frames to be had."""
    with reading(house.engine) as session:
        return {"items": [_frame_json(row) for row in mount_stock.frames(session)], "next": None}


@api.post("/frames/{frame_id}/strike", status_code=201)
def strike_frame_by_program(request: Request, house: Here, who: Bearer, frame_id: Id, shape: Nothing) -> Response:
    """A frame is not to be had any more."""
    done = house.record(
        who, lambda book: f"/api/frames/{mount_stock.strike_frame(book, frame_id).id}",
        answers.repeat_of(request, shape),
    )  # fmt: skip
    return answers.made(done, one_frame(house, who, frame_id))


@api.post("/mount-cutters", status_code=201)
def add_cutter_by_program(request: Request, house: Here, who: Bearer, shape: CutterShape) -> Response:
    """Calibrate a cutter by a test cut."""
    done = house.record(
        who, lambda book: f"/api/mount-cutters/{mount_stock.add_cutter(book, shape).id}",
        answers.repeat_of(request, shape),
    )  # fmt: skip
    return answers.made(done, one_cutter(house, who, last_number(done.path)))


@api.get("/mount-cutters/{cutter_id}")
def one_cutter(house: Here, who: Bearer, cutter_id: Id) -> dict[str, Any]:
    """One cutter, as one test cut showed it."""
    with reading(house.engine) as session:
        return _cutter_json(mount_stock.cutter(session, cutter_id))


@api.get("/mount-cutters")
def every_cutter(house: Here, who: Bearer) -> dict[str, Any]:
    """Every cutter as last calibrated."""
    with reading(house.engine) as session:
        return {"items": [_cutter_json(row) for row in mount_stock.cutters(session)], "next": None}


@api.post("/offcuts", status_code=201)
def keep_offcut_by_program(request: Request, house: Here, who: Bearer, shape: OffcutShape) -> Response:
    """Keep a piece of board for another mount."""
    done = house.record(
        who, lambda book: f"/api/offcuts/{mount_stock.keep_offcut(book, shape).id}", answers.repeat_of(request, shape)
    )
    return answers.made(done, one_offcut(house, who, last_number(done.path)))


@api.get("/offcuts/{offcut_id}")
def one_offcut(house: Here, who: Bearer, offcut_id: Id) -> dict[str, Any]:
    """One piece of board."""
    with reading(house.engine) as session:
        return _offcut_json(mount_stock.offcut(session, offcut_id))


@api.get("/offcuts")
def every_offcut(house: Here, who: Bearer) -> dict[str, Any]:
    """The pieces of board not used yet."""
    with reading(house.engine) as session:
        return {"items": [_offcut_json(row) for row in mount_stock.offcuts(session)], "next": None}


@api.post("/offcuts/{offcut_id}/use", status_code=201)
def use_offcut_by_program(request: Request, house: Here, who: Bearer, offcut_id: Id, shape: Nothing) -> Response:
    """A piece of board was used, or thrown away."""
    done = house.record(
        who, lambda book: f"/api/offcuts/{mount_stock.use_offcut(book, offcut_id).id}",
        answers.repeat_of(request, shape),
    )  # fmt: skip
    return answers.made(done, one_offcut(house, who, offcut_id))
