"""Sheet plans: the list, a job worked out on one page, a plan kept, its cut list, and accepting it."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import clock, sheets, sheets_bought, studio
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.paper.sheet_drawing import SheetPlan, render_plan
from ledger.reckoning import dates
from ledger.reckoning.money import plain
from ledger.reckoning.sheet_layout import MOST_SIZES
from ledger.reckoning.sheet_plan import Planned
from ledger.reckoning.sheet_sizes import ROLLS_UM
from ledger.reckoning.sheet_steps import CAUTION, repeated
from ledger.reckoning.sheet_words import proof_said, sizes_said
from ledger.sheets import PlanDraft, PlanView
from ledger.web import answers, as_shown
from ledger.web.answers import status_of
from ledger.web.forms import Form, Posted, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.sale_sum import unit_of
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, WhyShape
from ledger.web.sheet_form import NAMED, OWN, AcceptShape, Asked, PlanForm, as_typed, bought_field, on_the_form
from ledger.web.sheet_said import (
    bench_of,
    bought_said,
    facts,
    for_words,
    layouts,
    on_their_side,
    result_of,
    sheets_said,
    values_of,
    values_of_sizes,
)
from ledger.web.sign_in import Signed

pages = APIRouter(prefix="/sheets", include_in_schema=False)
USUAL = {
    "sheet": "A3", "unit": "mm", "left": "5", "top": "5", "right": "5", "bottom": "5", "gutter": "4", "bleed": "0",
    "cutting": "guillotine", "least_strip": "0",
}  # fmt: skip
MIX_GONE = "The mix chosen before is none of those worth having now. The one proposed is shown."


@pages.get("")
def every(request: Request, house: Here, who: Signed) -> Response:
    """The plans kept, the newest first."""
    with reading(house.engine) as session:
        rows = [_row(seen) for seen in sheets.newest(session)]
    return render(request, "sheets/list.html", rows=rows)


def _row(seen: PlanView) -> dict[str, str]:
    planned = seen.planned
    accepted = f"Accepted on {dates.said(seen.accepted_on)}." if seen.accepted_on else "Not accepted yet."
    return {
        "href": f"/sheets/{seen.id}", "name": seen.name, "on": dates.said(seen.made_on), "accepted": accepted,
        "words": f"{sizes_said(planned.job, planned.counts, planned.unit)} on {sheets_said(planned)}",
    }  # fmt: skip


# A job worked out


@pages.get("/plan")
def plan_form(
    request: Request, house: Here, who: Signed, edition: Id | None = None, again: Id | None = None
) -> Response:
    """The form: empty, with the sizes of an edition, or as a kept plan had it."""
    with reading(house.engine) as session:
        if again:
            values = values_of(sheets.view(session, again), studio.currency(session))
        else:
            sizes = [each for each in sheets.for_sizes(session) if each.edition_id == edition]
            values = USUAL | values_of_sizes(sizes)
    return _plan_page(request, house, blank(values))


def _plan_page(
    request: Request, house: House, form: Form, result: dict[str, Any] | None = None, status: int = 200, note: str = ""
) -> Response:
    with reading(house.engine) as session:
        unit = unit_of(studio.currency(session))
        sizes = [{"value": "", "words": "No edition"}] + [
            {"value": each.size_id, "words": for_words(each)} for each in sheets.for_sizes(session)
        ]
    sheets_sold = [*NAMED, *ROLLS_UM]
    return render(
        request, "sheets/plan.html", status, form=form, result=result, unit=unit, sizes=sizes, note=note,
        sheets=[{"value": name, "words": name} for name in sheets_sold] + [{"value": OWN, "words": "Another size"}],
        rows=form.rows("wanted"), most=MOST_SIZES, length_unit=str(form.values.get("unit", "mm")),
    )  # fmt: skip


@pages.post("/plan")
def planned(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    """Work a job out, give one more block for a size, or keep the plan that is shown."""
    on_show, sent = as_shown.taken_from(sent)
    if sent.step == "another_size":
        return _plan_page(request, house, sent.again("wanted"))
    result = None
    try:
        with reading(house.engine) as session:
            asked = sent.read(PlanForm, studio.currency(session)).asked(session)
            sheets.check_sizes(session, asked.job, asked.size_ids)
        # Worked out before the one writer's door is opened: nobody waits for it.
        found, chosen = asked.answer()
        with reading(house.engine) as session:
            result = result_of(session, asked, found, chosen)
        if sent.step == "keep" and on_show == result["digest"]:
            return _keep(house, who, sent, asked, chosen)
    except (Refusal, Slips) as no:
        fault = as_typed(no, on_the_form)
        form = sent.refused("Not kept" if sent.step == "keep" else "Not worked out", fault)
        return _plan_page(request, house, form, result, status_of(fault))
    form = _named(house, sent, asked, chosen)
    gone = "" if asked.has_mix(chosen) else MIX_GONE
    return _plan_page(request, house, form, result, note=as_shown.CHANGED if sent.step == "keep" else gone)


def _named(house: House, sent: Posted, asked: Asked, chosen: Planned) -> Form:
    """The form once more, with a name proposed unless one was written that is not the one proposed before."""
    form = sent.again()
    if sent.text("name") != sent.text("proposed"):
        return replace(form, values={**form.values, "proposed": ""})
    otherwise = sizes_said(chosen.job, chosen.counts, chosen.unit)
    with reading(house.engine) as session:
        name = sheets.proposed_name(session, asked.size_ids, otherwise, clock.today())
    return replace(form, values={**form.values, "name": name, "proposed": name})


def _keep(house: House, who: Signed, sent: Posted, asked: Asked, chosen: Planned) -> Response:
    def act(book: Book) -> str:
        draft = PlanDraft(
            name=sent.text("name"), planned=chosen, size_ids=asked.size_ids, sheet_minor=asked.price_minor
        )
        return f"/sheets/{sheets.keep(book, draft).id}"

    return answers.see(house.record(who, act, sent.repeat).path)


# A plan kept


@pages.get("/{plan_id:int}")
def one(request: Request, house: Here, who: Signed, plan_id: Id) -> Response:
    """A kept plan: its drawing, its cut list, and the form to accept it or the printings it led to."""
    return _one_page(request, house, plan_id)


def _one_page(request: Request, house: House, plan_id: int, form: Form | None = None, status: int = 200) -> Response:
    with reading(house.engine) as session:
        seen = sheets.view(session, plan_id)
        currency = studio.currency(session)
        bought = bought_said(session, seen) if seen.accepted_on else None
    planned = seen.planned
    drawn = layouts(planned, seen.sizes)
    for place, layout in enumerate(drawn, 1):
        layout["pdf"] = f"/sheets/{plan_id}/cuts-{place}.pdf"
    return render(
        request, "sheets/one.html", status, form=form or blank(_accept_values(seen, currency)), unit=unit_of(currency),
        name=seen.name, layouts=drawn, how=drawn[0]["how"], caution=CAUTION, facts=facts(planned),
        here=f"/sheets/{plan_id}",
        said=f"{_row(seen)['words']}. {proof_said(planned)}",
        bought=bought, accepted=_row(seen)["accepted"], for_edition=any(seen.sizes),
        made_for=[for_words(each) for each in seen.sizes if each], again_href=f"/sheets/plan?again={plan_id}",
        costs_href=f"/costs?plan={plan_id}#written",
    )  # fmt: skip


def _accept_values(seen: PlanView, currency: str) -> dict[str, str]:
    price = plain(seen.sheet_minor, currency) if seen.sheet_minor is not None else ""
    return {
        "sheets": str(seen.planned.count), "sheet_price": price, "delivery": "0", "made_on": clock.today().isoformat()
    }  # fmt: skip


@pages.get("/{plan_id:int}/cuts-{place:int}.pdf")
def cuts_pdf(house: Here, who: Signed, plan_id: Id, place: int) -> Response:
    """The drawing of one layout to scale and its cuts, to take to the bench."""
    with reading(house.engine) as session:
        seen = sheets.view(session, plan_id)
    planned = seen.planned
    if not 1 <= place <= len(planned.sheets):
        raise Refusal("This plan has no such sheet.", missing=True)
    layout, times = planned.sheets[place - 1]
    words = f"{sizes_said(planned.job, layout.counts, planned.unit)}. {facts(planned)} {repeated(times)}".rstrip()
    paper = SheetPlan(
        seen.name, words, planned.job.sheet, planned.cuts(place - 1), bench_of(planned, seen.sizes),
        on_their_side(planned, place - 1, seen.sizes),
    )  # fmt: skip
    return Response(
        render_plan(paper), media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="cuts-{plan_id}-{place}.pdf"'},
    )  # fmt: skip


@pages.post("/{plan_id:int}/accept")
def accept(request: Request, house: Here, who: Signed, sent: Sent, plan_id: Id) -> Response:
    """The sheets were bought: a printing for each edition, and its part of what they cost."""

    def deed(book: Book) -> None:
        currency = studio.currency(book.session)
        sheets_bought.accept(book, plan_id, sent.read(AcceptShape, currency).draft(currency))

    return _done(request, house, who, sent, plan_id, deed, "Not accepted")


@pages.post("/{plan_id:int}/take-back")
def take_back(request: Request, house: Here, who: Signed, sent: Sent, plan_id: Id) -> Response:
    """The plan was accepted by mistake: its printings and costs are struck."""

    def deed(book: Book) -> None:
        sheets_bought.take_back(book, plan_id, sent.read(WhyShape).why)

    return _done(request, house, who, sent, plan_id, deed, "Not taken back")


def _done(
    request: Request, house: House, who: Signed, sent: Posted, plan_id: int, deed: Callable[[Book], None], verdict: str
) -> Response:
    def act(book: Book) -> str:
        deed(book)
        return f"/sheets/{plan_id}"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        return _one_page(request, house, plan_id, sent.refused(verdict, as_typed(no, bought_field)), status_of(no))
    return answers.see(done.path)
