"""Printings of an edition: the page with the form for the next, and the API."""

from collections.abc import Callable
from datetime import date
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import clock, editions, runs, works
from ledger import spares as spare_prints
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.reckoning import dates
from ledger.runs import CountDraft, RunDraft
from ledger.spares import Fate, FateDraft
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.forms import Form, Posted, Sent, blank
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
    size_id: Id | None = None

    def draft(self, edition_id: int) -> RunDraft:
        return RunDraft(
            edition_id=edition_id, made_on=self.made_on, sheets=self.sheets, good=self.good, spoilt=self.spoilt,
            note=self.note, size_id=self.size_id,
        )  # fmt: skip


class RunShape(RunForm):
    """One printing of an edition, as a program says it."""

    edition_id: Id


class CountShape(Shape):
    """What came back from the cutter. Without `good`, all that are not spoilt; `why` there are more than planned."""

    good: Whole | None = None
    spoilt: Whole = 0
    why: str = ""

    def draft(self) -> CountDraft:
        return CountDraft(good=self.good, spoilt=self.spoilt, why=self.why)


class FateShape(Shape):
    """What became of so many good prints without a number."""

    fate: Fate
    how_many: Whole
    note: str = ""

    def draft(self) -> FateDraft:
        return FateDraft(fate=self.fate, how_many=self.how_many, note=self.note)


@pages.get("/editions/{edition_id}/runs")
def printings(request: Request, house: Here, who: Signed, edition_id: Id) -> Response:
    """The printings of an edition, and the form for the next."""
    return _runs_page(request, house, edition_id, blank({"made_on": clock.today().isoformat(), "spoilt": "0"}))


def _runs_page(request: Request, house: House, edition_id: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        facts = editions.facts(session, edition_id, clock.today())
        found = runs.of_edition(session, edition_id)
        spares = spare_prints.by_run(session, edition_id)
        left_over = spare_prints.left_over(session, edition_id)
    several = len(facts.sizes) > 1
    labels = {each.id: each.label for each in facts.sizes}
    rows = [
        {
            "on": dates.said(run.made_on), "sheets": str(run.sheets), "good": str(run.good), "spoilt": str(run.spoilt),
            "note": run.note, "size": labels.get(run.size_id or 0, "") if several else "",
            "spare": str(spares[run.id or 0]), "href": f"/runs/{run.id}", "cost_href": f"/costs?on=run+{run.id}",
            "count_words": "Count again" if spare_prints.counted(run) else "Count what came back",
        }
        for run in found
    ]  # fmt: skip
    return render(
        request, "costs/runs.html", status, form=form, title=facts.work.title, edition_href=f"/editions/{edition_id}",
        rows=rows, action=f"/editions/{edition_id}/runs", plan_href=f"/sheets/plan?edition={edition_id}",
        left_over=left_over,
        sizes=[{"value": each.id, "words": each.label} for each in facts.sizes] if several else [],
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


def fates() -> list[dict[str, str]]:
    """The options of what became of spares."""
    return [{"value": fate, "words": words.capitalize(), "more": ""} for fate, words in spare_prints.FATES.items()]


# One printing: counted, and what became of its spares


@pages.get("/runs/{run_id:int}")
def printing(request: Request, house: Here, who: Signed, run_id: Id) -> Response:
    """One printing: what came back from the cutter, and what became of good prints without a number."""
    with reading(house.engine) as session:
        run = runs.get(session, run_id)
    values = {"good": str(run.good), "spoilt": str(run.spoilt)} if spare_prints.counted(run) else {}
    return _printing_page(request, house, run_id, blank(values))


def _printing_page(request: Request, house: House, run_id: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        run = runs.get(session, run_id)
        edition = editions.get(session, run.edition_id)
        title = works.get(session, edition.work_id).title
        spare = spare_prints.by_run(session, run.edition_id)[run_id]
        settled = spare_prints.settled(session, run_id)
    return render(
        request, "costs/run.html", status, form=form, title=title, on=dates.said(run.made_on), note=run.note,
        printings_href=f"/editions/{run.edition_id}/runs", planned=run.planned, sheets=run.sheets,
        counted=dates.said(run.counted_on) if run.counted_on else "", good=run.good, spoilt=run.spoilt, spare=spare,
        settled=[
            f"{each.how_many:,} {spare_prints.FATES[each.fate]} on {dates.said(each.settled_on)}"
            + (f": {each.note}" if each.note else "")
            for each in settled
        ],
        fates=fates(), waiting=not spare_prints.counted(run),
        plan_href=f"/sheets/{run.plan_id}" if run.plan_id else "", count_action=f"/runs/{run_id}/count",
        spares_action=f"/runs/{run_id}/spares", struck=run.struck_at is not None,
    )  # fmt: skip


@pages.post("/runs/{run_id:int}/count")
def count(request: Request, house: Here, who: Signed, run_id: Id, sent: Sent) -> Response:
    """Write down what came back from the cutter."""
    return _done(
        request, house, who, run_id, sent, lambda book: runs.count(book, run_id, sent.read(CountShape).draft())
    )


@pages.post("/runs/{run_id:int}/spares")
def spares(request: Request, house: Here, who: Signed, run_id: Id, sent: Sent) -> Response:
    """Write down what became of good prints without a number."""

    def deed(book: Book) -> object:
        return spare_prints.settle(book, runs.standing(book.session, run_id), sent.read(FateShape).draft())

    return _done(request, house, who, run_id, sent, deed)


def _done(
    request: Request, house: House, who: Signed, run_id: int, sent: Posted, deed: Callable[[Book], object]
) -> Response:
    def act(book: Book) -> str:
        deed(book)
        return f"/runs/{run_id}"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        form = sent.refused("Not written down", no)
        return _printing_page(request, house, run_id, form, status_of(no))
    return answers.see(done.path)


def _run(house: House, path: str) -> dict[str, Any]:
    with reading(house.engine) as session:
        run = runs.get(session, last_number(path))
        spare = spare_prints.by_run(session, run.edition_id)[run.id or 0]
    return {
        "id": run.id, "edition_id": run.edition_id, "made_on": day(run.made_on), "sheets": run.sheets,
        "good": run.good, "spoilt": run.spoilt, "note": run.note, "size_id": run.size_id, "plan_id": run.plan_id,
        "planned": run.planned, "counted_on": day(run.counted_on), "spares": spare,
        "struck": run.struck_at is not None,
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


@api.post("/runs/{run_id}/count", status_code=201)
def count_by_program(request: Request, house: Here, who: Bearer, run_id: Id, shape: CountShape) -> Response:
    """Write down what came back from the cutter; done again, it puts the count right."""

    def act(book: Book) -> str:
        return f"/api/runs/{runs.count(book, run_id, shape.draft()).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _run(house, done.path))


@api.post("/runs/{run_id}/spares", status_code=201)
def spares_by_program(request: Request, house: Here, who: Bearer, run_id: Id, shape: FateShape) -> Response:
    """Write down what became of good prints without a number."""

    def act(book: Book) -> str:
        return f"/api/runs/{spare_prints.settle(book, runs.standing(book.session, run_id), shape.draft()).run_id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _run(house, done.path))
