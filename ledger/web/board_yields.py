"""How many pieces a board yields: the page and the API."""

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import board_yields
from ledger.board_yields import BoardDraft, Yield
from ledger.database import reading
from ledger.errors import Refusal
from ledger.reckoning.boards import yield_drawn
from ledger.reckoning.lengths import Unit
from ledger.web.answers import status_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here
from ledger.web.mount_views import offcut_said, size_json
from ledger.web.pages import render
from ledger.web.sentences import Slips
from ledger.web.shapes import Shape
from ledger.web.sign_in import Bearer, Signed

pages = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["mounts"])


class BoardShape(Shape, BoardDraft):
    """A board, and the piece wanted from it, every length as it is written at the bench."""


@pages.get("/mounts/boards")
def asked(request: Request, who: Signed) -> Response:
    """The form."""
    return _page(request, blank({"unit": "mm"}))


@pages.post("/mounts/boards")
def answered(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    """What the board yields, over the form."""
    try:
        shape = sent.read(BoardShape)
        with reading(house.engine) as session:
            found = board_yields.work_out(session, shape)
    except (Refusal, Slips) as no:
        return _page(request, sent.refused("Not worked out", no), status=status_of(no))
    return _page(request, sent.again(), _result(found, shape.unit))


def _page(request: Request, form: Form, result: dict[str, Any] | None = None, status: int = 200) -> Response:
    unit: Unit = "in" if form.values.get("unit") == "in" else "mm"
    return render(
        request, "mounts/boards.html", status, form=form, result=result, action="/mounts/boards",
        usual=dict(zip(("margin", "gap"), board_yields.USUAL[unit], strict=True)),
    )  # fmt: skip


def _result(found: Yield, unit: Unit) -> dict[str, Any]:
    best, turned = found.found, found.found.turned
    straight = f"All as they are: {best.straight}."
    return {
        "great": str(len(best.layout.placed)),
        "words": f"pieces of {found.piece.said(unit)} from {found.board.said(unit)}",
        "beside": straight if turned is None else f"{straight} All turned: {turned}.",
        "proved": "No cuts right across give more." if best.proved else "The best found; more may be possible.",
        "view": yield_drawn(found.board, best, unit),
        "left_over": [(offcut_said(row), str(how_many)) for row, how_many in found.left_over],
    }


@api.post("/board-yields")
def by_program(house: Here, who: Bearer, shape: BoardShape) -> dict[str, Any]:
    """How many pieces a board yields, and each piece of board left over; nothing is kept."""
    with reading(house.engine) as session:
        found = board_yields.work_out(session, shape)
    return {
        "board": size_json(found.board),
        "piece": size_json(found.piece),
        "straight": found.found.straight,
        "turned": found.found.turned,
        "best": len(found.found.layout.placed),
        "proved": found.found.proved,
        "offcuts": [{"offcut_id": row.id, "best": how_many} for row, how_many in found.left_over],
    }
