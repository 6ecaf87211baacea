"""The files of a kept sheet plan for the lab: what is amiss with them, what to order, and the files themselves."""

import shutil
import tempfile
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from pydantic import Field
from starlette.background import BackgroundTask
from starlette.responses import FileResponse, Response

from ledger import lab_sheet, pictures, sheets, works
from ledger.database import Session, reading
from ledger.errors import Refusal
from ledger.lab_sheet import Kind, LabSheet, LaidPicture, Written
from ledger.pictures import EXTENSIONS
from ledger.reckoning.lab_marks import Box, lay
from ledger.reckoning.sheet_layout import Placed
from ledger.sheets import For, PlanView
from ledger.web.answers import status_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, Shape
from ledger.web.sign_in import Bearer, Signed

pages = APIRouter(prefix="/sheets", include_in_schema=False)
api = APIRouter(prefix="/api", tags=["sheet plans"])
ENDINGS = {"tiff": ".tif", "jpeg": ".jpg", "pdf": ".pdf"}


class LabForm(Shape):
    """Which file: of which layout, in what form and profile, with how many pixels an inch."""

    kind: Kind = "tiff"
    ppi: Annotated[int, Field(ge=72, le=1200)] = 300
    profile: Literal["sRGB", "own"] = "sRGB"
    place: Annotated[int, Field(ge=1)] = 1


USUAL = LabForm()


@pages.get("/{plan_id:int}/lab")
def files(request: Request, house: Here, who: Signed, plan_id: Id) -> Response:
    """What to know before a file is made, what to write to the lab with it, and the form that makes one."""
    values = {name: str(value) for name, value in USUAL.model_dump().items()}
    return _page(request, house, plan_id, blank(values), USUAL)


def _page(
    request: Request, house: House, plan_id: int, form: Form, wanted: LabForm | None, status: int = 200
) -> Response:
    """The page; without its order note where what is wanted cannot be read."""
    with reading(house.engine) as session:
        seen = sheets.view(session, plan_id)
        places = range(1, len(seen.planned.sheets) + 1)
        amiss = [said for place in places for said in _shortcomings(house, session, seen, place)]
        sheet = _sheet(house, session, seen, wanted)[0] if wanted else None
    order = []
    if sheet and wanted:
        try:
            written = lab_sheet.foretold(sheet, wanted.kind)
            order = _order_note(sheet, written, seen, wanted).splitlines()
            amiss += written.notes
        except Refusal as no:
            amiss.append(no.message)
    return render(
        request, "sheets/lab.html", status, form=form, name=seen.name, plan_href=f"/sheets/{plan_id}",
        amiss=list(dict.fromkeys(amiss)), action=f"/sheets/{plan_id}/lab", order=order,
        places=[{"value": place, "words": f"Sheet {place}"} for place in places] if len(places) > 1 else [],
    )  # fmt: skip


def _shortcomings(house: House, session: Session, seen: PlanView, place: int) -> list[str]:
    sheet, missing = _sheet(house, session, seen, LabForm(place=place))
    return [*missing, *lab_sheet.shortcomings(sheet)]


@pages.post("/{plan_id:int}/lab")
def made(request: Request, house: Here, who: Signed, plan_id: Id, sent: Sent) -> Response:
    """One file for the lab, or first the order note that goes with it."""
    wanted = None
    try:
        wanted = sent.read(LabForm)
        if sent.step == "order_note":
            return _page(request, house, plan_id, sent.again(), wanted)
        return _file(*_sheet_of(house, plan_id, wanted), wanted)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        return _page(request, house, plan_id, sent.refused("Not made", no), None, status_of(no))


@api.get("/sheet-plans/{plan_id}/order-note")
def order_note(house: Here, who: Bearer, plan_id: Id, wanted: Annotated[LabForm, Query()]) -> dict[str, Any]:
    """What to write to the lab with a file, and what is not as one would wish; nothing is made."""
    with reading(house.engine) as session:
        seen = sheets.view(session, plan_id)
        sheet, missing = _sheet(house, session, seen, wanted)
    written = lab_sheet.foretold(sheet, wanted.kind)
    return {
        "order_note": _order_note(sheet, written, seen, wanted),
        "bits": written.bits or None,
        "profile": written.profile,
        "amiss": [*missing, *lab_sheet.shortcomings(sheet), *written.notes],
    }


@api.get("/sheet-plans/{plan_id}/lab-file", response_class=FileResponse)
def lab_file(house: Here, who: Bearer, plan_id: Id, wanted: Annotated[LabForm, Query()]) -> Response:
    """One file for the lab."""
    return _file(*_sheet_of(house, plan_id, wanted), wanted)


def _order_note(sheet: LabSheet, written: Written, seen: PlanView, wanted: LabForm) -> str:
    return lab_sheet.order_note(sheet, written, _called(seen, wanted), seen.planned.sheets[wanted.place - 1][1])


def _called(seen: PlanView, wanted: LabForm) -> str:
    return f"sheet-{seen.id}-{wanted.place}{ENDINGS[wanted.kind]}"


def _sheet_of(house: House, plan_id: int, wanted: LabForm) -> tuple[LabSheet, PlanView]:
    with reading(house.engine) as session:
        seen = sheets.view(session, plan_id)
        return _sheet(house, session, seen, wanted)[0], seen


def _file(sheet: LabSheet, seen: PlanView, wanted: LabForm) -> Response:
    folder = Path(tempfile.mkdtemp(prefix="print-ledger-sheet-"))
    name = _called(seen, wanted)
    try:
        if wanted.kind == "pdf":
            lab_sheet.write_pdf(sheet, folder / name, seen.name)
        else:
            {"tiff": lab_sheet.write_tiff, "jpeg": lab_sheet.write_jpeg}[wanted.kind](sheet, folder / name)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return FileResponse(folder / name, filename=name, background=BackgroundTask(shutil.rmtree, folder, True))


def _sheet(house: House, session: Session, seen: PlanView, wanted: LabForm) -> tuple[LabSheet, list[str]]:
    """The sheet to be drawn, and a sentence for every size without a picture. Raises Refusal (missing)."""
    planned, job = seen.planned, seen.planned.job
    if wanted.place > len(planned.sheets):
        raise Refusal("This plan has no such sheet.", missing=True)
    laid, blank_boxes, missing = [], [], []
    for placed in planned.sheets[wanted.place - 1][0].placed:
        made_for = seen.sizes[placed.wanted]
        picture = _laid(house, session, placed, made_for, job.bleed_um) if made_for else None
        if picture is None:
            called = made_for.title if made_for else f"Size {placed.wanted + 1}, of no edition"
            missing.append(f"{called}: no picture is kept of it, so its place stays white.")
            blank_boxes.append(_finished(placed))
        else:
            laid.append(picture)
    sheet, (width, height) = job.sheet, job.usable_um
    usable = Box(sheet.left_um, sheet.top_um, sheet.left_um + width, sheet.top_um + height)
    return (
        LabSheet(
            width_um=sheet.width_um, height_um=sheet.height_um, usable=usable, ppi=wanted.ppi, pictures=tuple(laid),
            blank=tuple(blank_boxes), profile=wanted.profile,
        ),
        list(dict.fromkeys(missing)),
    )  # fmt: skip


def _finished(placed: Placed) -> Box:
    return Box(placed.x_um, placed.y_um, placed.x_um + placed.width_um, placed.y_um + placed.height_um)


def _laid(house: House, session: Session, placed: Placed, made_for: For, bleed_um: int) -> LaidPicture | None:
    """The picture in the middle of its piece, at the size its edition promises."""
    picture = works.picture_of(session, made_for.work_id)
    if picture is None:
        return None
    image_w, image_h = made_for.image_um
    turned = bool(sheets.is_turned(made_for, placed.width_um, placed.height_um))
    width, height = (placed.height_um, placed.width_um) if turned else (placed.width_um, placed.height_um)
    left, top = (width - image_w) // 2, (height - image_h) // 2
    return LaidPicture(
        title=made_for.title,
        master=pictures.path_of(house.data_dir, picture.sha256, EXTENSIONS[picture.format]),
        width_px=picture.width_px,
        height_px=picture.height_px,
        piece=lay(_finished(placed), Box(left, top, left + image_w, top + image_h), turned=turned, bleed_um=bleed_um),
        turned=turned,
        caption=made_for.title,
    )
