"""Labels for the backs of prints: each alone, or on a sheet as its packet measures."""

from typing import Literal

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import papers
from ledger.errors import Refusal
from ledger.paper.label import LabelSheet
from ledger.reckoning import numbering
from ledger.web.certificates import pdf_answer, views_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here
from ledger.web.pages import render
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, Mm, Shape
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)
MEASURES = (
    "page_w_mm", "page_h_mm", "label_w_mm", "label_h_mm", "left_mm", "top_mm", "gap_x_mm", "gap_y_mm",
)  # fmt: skip


class Labels(Shape):
    """A sheet of labels, in mm as its packet gives it, and the first free place."""

    certificate: tuple[Id, ...] | Id
    on: Literal["single", "sheet"] = "single"
    page_w_mm: Mm = 210_000
    page_h_mm: Mm = 297_000
    label_w_mm: Mm = 70_000
    label_h_mm: Mm = 42_000
    left_mm: Mm = 0
    top_mm: Mm = 0
    gap_x_mm: Mm = 0
    gap_y_mm: Mm = 0
    start: int = 1

    @property
    def certificate_ids(self) -> tuple[int, ...]:
        return (self.certificate,) if isinstance(self.certificate, int) else self.certificate


@pages.get("/certificates/labels")
def labels_form(request: Request, house: Here, who: Signed) -> Response:
    """Labels for the backs: each alone, or on a sheet as its packet measures."""
    ids = [each for each in request.query_params.getlist("id") if each.isdecimal()][:500]
    return _labels_page(
        request,
        blank(
            {
                "certificate": ids,
                "on": "single" if len(ids) == 1 else "sheet",
                "page_w_mm": "210",
                "page_h_mm": "297",
                "label_w_mm": "70",
                "label_h_mm": "42.3",
                "left_mm": "0",
                "top_mm": "0",
                "gap_x_mm": "0",
                "gap_y_mm": "0",
                "start": "1",
            }
        ),
    )


def _labels_page(request: Request, form: Form, status: int = 200) -> Response:
    chosen = form.values.get("certificate", [])
    ids = [chosen] if isinstance(chosen, str) else chosen
    said = numbering.words(len(ids)) if ids else "no"
    return render(
        request,
        "certificates/labels.html",
        status,
        form=form,
        ids=ids,
        how_many=f"{said} label{'s' if len(ids) != 1 else ''}",
    )


@pages.post("/certificates/labels")
def labels(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    """The labels as a PDF."""
    try:
        shape = sent.read(Labels)
        sheet = LabelSheet(*(getattr(shape, name) / 1000 for name in MEASURES)) if shape.on == "sheet" else None
        views = views_of(house, shape.certificate_ids)
        return pdf_answer(papers.labels_pdf([view.snapshot for view in views], sheet, shape.start), "labels")
    except (Refusal, Slips) as no:
        return _labels_page(request, sent.refused("Not printed", no), 422)
