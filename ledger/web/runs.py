"""Printings of an edition: the page with the form for the next, and the API."""

from datetime import date
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import clock, editions, runs
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.reckoning import dates
from ledger.runs import RunDraft
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.sales_api import last_number
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, Shape, Whole, day
from ledger.web.sign_in import Bearer, Signed

pages = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["printings"])


class RunForm(Shape):
    """One printing: sheets bought for it, prints good and spoilt."""

    made_on: date
    sheets: Whole
    good: Whole
    spoilt: Whole = 0
    note: str = ""

    def draft(self, edition_id: int) -> RunDraft:
        return RunDraft(
            edition_id=edition_id, made_on=self.made_on, sheets=self.sheets, good=self.good, spoilt=self.spoilt,
            note=self.note,
        )  # fmt: skip


class RunShape(RunForm):
    """One printing of an edition, as a program says it."""

    edition_id: Id


@pages.get("/editions/{edition_id}/runs")
def printings(request: Request, house: Here, who: Signed, edition_id: Id) -> Response:
    """The printings of an edition, and the form for the next."""
    return _runs_page(request, house, edition_id, blank({"made_on": clock.today().isoformat(), "spoilt": "0"}))


def _runs_page(request: Request, house: House, edition_id: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        facts = editions.facts(session, edition_id, clock.today())
        found = runs.of_edition(session, edition_id)
    rows = [
        {
            "on": dates.said(run.made_on), "sheets": str(run.sheets), "good": str(run.good), "spoilt": str(run.spoilt),
            "note": run.note, "cost_href": f"/costs?on=run+{run.id}",
        }
        for run in found
    ]  # fmt: skip
    return render(
        request, "costs/runs.html", status, form=form, title=facts.work.title, edition_href=f"/editions/{edition_id}",
        rows=rows, action=f"/editions/{edition_id}/runs",
    )  # fmt: skip


@pages.post("/editions/{edition_id}/runs")
def record_run(request: Request, house: Here, who: Signed, edition_id: Id, sent: Sent) -> Response:
    def act(book: Book) -> str:
        runs.record(book, sent.read(RunForm).draft(edition_id))
        return f"/editions/{edition_id}/runs"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        form = sent.refused("Not written down", no)
        return _runs_page(request, house, edition_id, form, status_of(no) if isinstance(no, Refusal) else 422)
    return answers.see(done.path)


def _run(house: House, path: str) -> dict[str, Any]:
    with reading(house.engine) as session:
        run = runs.get(session, last_number(path))
    return {
        "id": run.id, "edition_id": run.edition_id, "made_on": day(run.made_on), "sheets": run.sheets,
        "good": run.good, "spoilt": run.spoilt, "note": run.note,
    }  # fmt: skip


@api.post("/runs", status_code=201)
def record_run_by_program(request: Request, house: Here, who: Bearer, shape: RunShape) -> Response:
    """Write down one printing."""

    def act(book: Book) -> str:
        return f"/api/runs/{runs.record(book, shape.draft(shape.edition_id)).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _run(house, done.path))


@api.get("/runs/{run_id}")
def one_run(house: Here, who: Bearer, run_id: Id) -> dict[str, Any]:
    """One printing."""
    return _run(house, f"/{run_id}")
