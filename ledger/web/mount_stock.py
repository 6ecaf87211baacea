"""Frames, cutters and board left over: the page of each, with the form for the next."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, cast

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import mount_stock
from ledger.database import Book, Session, reading
from ledger.errors import Refusal
from ledger.reckoning import dates, lengths
from ledger.reckoning.lengths import Unit
from ledger.tables import Frame, MountCutter, Offcut
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.mount_stock_api import CutterShape, FrameShape, OffcutShape
from ledger.web.pages import render
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, Shape
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class Kind:
    """One kind of thing kept at the bench: its page, and how its rows are said."""

    template: str
    shape: type[Shape]
    add: Callable[[Book, Any], Any]
    listing: Callable[[Session], Sequence[Any]]
    row: Callable[[Any], dict[str, str]]


def unit_of(row: Frame | Offcut) -> Unit:
    """The unit a row was typed in."""
    return cast(Unit, row.unit)


def frame_said(row: Frame) -> str:
    """'30 x 25, rebate 302 × 252 mm', the smaller measure of each direction."""
    size = mount_stock.as_measured(row).rebate("frame").said(unit_of(row))
    return f"{row.sold_as}, rebate {size}" if row.sold_as else f"Rebate {size}"


def _frame_row(row: Frame) -> dict[str, str]:
    unit, found = unit_of(row), mount_stock.as_measured(row)
    measures = [" and ".join(lengths.shown(um, unit) for um in ums) for ums in (found.widths_um, found.heights_um)]
    depth = f", {lengths.thickness_said(row.depth_um)} deep" if row.depth_um else ""
    return {
        "name": row.sold_as or "Without a label",
        "words": f"Wide {measures[0]}, high {measures[1]} {unit}{depth}. Measured {dates.said(row.measured_on)}.",
        "href": f"/mounts/frames/{row.id}/strike",
    }


def _cutter_row(row: MountCutter) -> dict[str, str]:
    runs = "just as far as the board is thick"
    if row.offset_um:
        more = "further" if row.offset_um > 0 else "less"
        runs = f"{lengths.thickness_said(abs(row.offset_um))} {more} than the board is thick"
    said = f"Its scale measures the border on the {row.scale}; past a corner it runs {runs}."
    return {"name": row.name, "words": f"{said} Tested {dates.said(row.calibrated_on)}.", "href": ""}


def _offcut_row(row: Offcut) -> dict[str, str]:
    size = lengths.size_said(row.width_um, row.height_um, unit_of(row))
    return {
        "name": size,
        "words": f"{row.board}. Kept {dates.said(row.kept_on)}." if row.board else f"Kept {dates.said(row.kept_on)}.",
        "href": f"/mounts/offcuts/{row.id}/use",
    }


KINDS = {
    "frames": Kind("mounts/frames.html", FrameShape, mount_stock.add_frame, mount_stock.frames, _frame_row),
    "cutters": Kind("mounts/cutters.html", CutterShape, mount_stock.add_cutter, mount_stock.cutters, _cutter_row),
    "offcuts": Kind("mounts/offcuts.html", OffcutShape, mount_stock.keep_offcut, mount_stock.offcuts, _offcut_row),
}


def _page(request: Request, house: House, name: str, form: Form, status: int = 200) -> Response:
    kind = KINDS[name]
    with reading(house.engine) as session:
        rows = [kind.row(row) for row in kind.listing(session)]
    return render(request, kind.template, status, form=form, rows=rows, action=f"/mounts/{name}")


def _add(request: Request, house: House, who: Signed, name: str, sent: Sent) -> Response:
    kind = KINDS[name]

    def act(book: Book) -> str:
        kind.add(book, sent.read(kind.shape))
        return f"/mounts/{name}"

    try:
        return answers.see(house.record(who, act, sent.repeat).path)
    except (Refusal, Slips) as no:
        form = sent.refused("Not written down", no)
        return _page(request, house, name, form, status_of(no))


@pages.get("/mounts/frames")
def frames(request: Request, house: Here, who: Signed) -> Response:
    """The frames to be had, and the form for another."""
    return _page(request, house, "frames", blank({"unit": "mm"}))


@pages.post("/mounts/frames")
def add_frame(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    return _add(request, house, who, "frames", sent)


@pages.post("/mounts/frames/{frame_id}/strike")
def strike_frame(house: Here, who: Signed, frame_id: Id, sent: Sent) -> Response:
    """A frame is not to be had any more."""

    def act(book: Book) -> str:
        mount_stock.strike_frame(book, frame_id)
        return "/mounts/frames"

    return answers.see(house.record(who, act, sent.repeat).path)


@pages.get("/mounts/cutters")
def cutters(request: Request, house: Here, who: Signed) -> Response:
    """The cutters as calibrated, and the form for a test cut."""
    return _page(request, house, "cutters", blank({"unit": "mm"}))


@pages.post("/mounts/cutters")
def add_cutter(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    return _add(request, house, who, "cutters", sent)


@pages.get("/mounts/offcuts")
def offcuts(request: Request, house: Here, who: Signed) -> Response:
    """The board that is left over, and the form for another piece."""
    return _page(request, house, "offcuts", blank({"unit": "mm"}))


@pages.post("/mounts/offcuts")
def keep_offcut(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    return _add(request, house, who, "offcuts", sent)


@pages.post("/mounts/offcuts/{offcut_id}/use")
def use_offcut(house: Here, who: Signed, offcut_id: Id, sent: Sent) -> Response:
    """A piece of board was used, or thrown away."""

    def act(book: Book) -> str:
        mount_stock.use_offcut(book, offcut_id)
        return "/mounts/offcuts"

    return answers.see(house.record(who, act, sent.repeat).path)
