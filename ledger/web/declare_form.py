"""The form of the promise: what stands in it, and what it says beside what was typed."""

from collections.abc import Mapping
from typing import Any

from fastapi import Request
from pydantic import TypeAdapter, ValidationError
from starlette.responses import Response

from ledger import studio, works
from ledger.database import reading
from ledger.promises import LABELS
from ledger.reckoning import answers as disclosure
from ledger.reckoning.money import bare, shown
from ledger.web import plates
from ledger.web.disclosing import question
from ledger.web.forms import Form
from ledger.web.house import House
from ledger.web.pages import render
from ledger.web.plates import Plate
from ledger.web.shapes import Mm, read_id

HERE = "/editions/new"
TITLE = "typed_title"

STYLES = (
    ("", "As is usual"), ("of_count", "7/25"), ("roman_of_count", "VII/XXV"), ("roman", "VII"),
    ("serial", "No. 7"), ("unnumbered", "Without a number"),
)  # fmt: skip
FATES = (
    ("", "Choose"), ("sold", "Sold"), ("given", "Given away"), ("in_hand", "In hand"), ("missing", "Missing"),
    ("destroyed", "Destroyed"), ("withdrawn", "Never made"),
)  # fmt: skip
PROOFS = ("AP", "PP", "HC", "BAT", "EP", "TP")


def _options(pairs: Any) -> list[dict[str, str]]:
    return [{"value": value, "words": words} for value, words in pairs]


def page(request: Request, house: House, form: Form, status: int = 200, said: str = "") -> Response:
    with reading(house.engine) as session:
        kept_in = studio.currency(session)
        of_book = [(str(work.id), work.title) for work in works.listing(session)]
    values = form.values
    chosen = str(values.get("work_id", ""))
    sizes = form.rows("sizes")
    return render(
        request, "editions/declare.html", status,
        action=HERE, key=form.key, form=form,
        unit=shown(0, kept_in).removesuffix(bare(0, kept_in)).strip(),
        works=_options([("", "A new picture"), *of_book]),
        picture=plate(house, values, read_id(chosen), str(values.get("work.title", ""))),
        picture_said=_picture_said(house, values, said), picture_ref=values.get("picture_ref", ""),
        classes=_options([("", "None"), *((kind, f"{LABELS[kind]} ({kind})") for kind in PROOFS)]),
        styles=_options(STYLES), outside_rows=len(form.rows("outside")),
        sizes=[
            {"steps": len(form.rows(f"sizes.{at}.offer.prices")), "quality": _quality(house, values, at)}
            for at in sizes
        ],
        answers=[
            question(item) for item in disclosure.ASKED
        ],
        range_rows=len(form.rows("begun.ranges", least=0)), range_as=_options(FATES),
        range_classes=_options([("", "the numbers"), *((kind, kind) for kind in PROOFS)]),
        range_sizes=_options([("", "Not known"), *_size_names(values, len(sizes))]),
    )  # fmt: skip


def _size_names(values: Mapping[str, Any], how_many: int) -> list[tuple[str, str]]:
    names = [str(values.get(f"sizes.{at}.label", "")).strip() for at in range(how_many)]
    return [(name, name) for name in dict.fromkeys(names) if name]


def _pixels(house: House, values: Mapping[str, Any]) -> tuple[int, int] | None:
    upload = plates.read_ref(str(values.get("picture_ref", "")))
    if upload is not None:
        return upload.width_px, upload.height_px
    work_id = read_id(str(values.get("work_id", "")))
    if work_id is None:
        return None
    with reading(house.engine) as session:
        kept = works.pictures_of(session).get(work_id)
    return (kept.width_px, kept.height_px) if kept else None


def plate(house: House, values: Mapping[str, Any], work_id: int | None, title: str) -> Plate | None:
    upload = plates.read_ref(str(values.get("picture_ref", "")))
    if upload is not None:
        return plates.plate_of_upload(upload, title)
    with reading(house.engine) as session:
        return plates.plate(works.pictures_of(session).get(work_id or 0), title or "The picture chosen")


def _picture_said(house: House, values: Mapping[str, Any], copyright_line: str) -> str:
    pixels = _pixels(house, values)
    if pixels is None:
        return ""
    said = f"{pixels[0]:,} × {pixels[1]:,} pixels."
    return f"{said} The file says: {copyright_line}" if copyright_line else said


_MM = TypeAdapter(Mm)


def _quality(house: House, values: Mapping[str, Any], at: int) -> str:
    pixels = _pixels(house, values)
    try:
        width, height = (
            _MM.validate_python(values.get(f"sizes.{at}.image.{side}_mm", "")) for side in ("width", "height")
        )
    except ValidationError:
        return ""
    if pixels is None or not width or not height:
        return ""
    return plates.quality(*pixels, width, height)
