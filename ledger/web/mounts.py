"""Mount plans: the list, the form with what it comes to, the kept plan, and its papers."""

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import clock, editions, mount_drafts, mount_stock, mounts
from ledger.database import Book, Session, reading
from ledger.editions import EditionFacts, SizeFacts
from ledger.errors import Refusal
from ledger.mount_drafts import MountDraft
from ledger.mounts import Kept, Unreckoned
from ledger.paper.mount_drawing import PAPERS_MM, Paper, render_cards, render_true_size
from ledger.reckoning import dates
from ledger.reckoning.lengths import Unit, typeset
from ledger.reckoning.measures import millimetres
from ledger.reckoning.mount_cards import cards
from ledger.reckoning.mount_shapes import views
from ledger.tables import MountPlan
from ledger.web import answers, as_shown
from ledger.web.answers import status_of
from ledger.web.certificates import PDF
from ledger.web.forms import Form, Posted, Sent, blank
from ledger.web.house import Here, House
from ledger.web.mount_stock import frame_said
from ledger.web.mount_views import choices, page_of
from ledger.web.mounts_api import MountShape
from ledger.web.pages import render
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, WhyShape, read_id
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)
FOLDED = {
    "board": ("board", "cut", "boards", "strip", "smaller", "board_sheet", "cutter_id"),
    "glass": ("glazing", "fillet", "backing"),
    "float": ("lip", "spacer", "inset", "print", "undermount"),
    "bare": ("bleed", "undersize"),
}
"""Parts of the form that are folded away until something in them is typed, chosen or refused."""
FRESH = {
    "unit": "mm", "kind": "window", "opening": "overlap", "outer": "frame", "placing": "equal", "cut": "bevel",
    "boards": "single",
}  # fmt: skip


@pages.get("/mounts")
def every(request: Request, house: Here, who: Signed) -> Response:
    """The plans that stand, newest first."""
    with reading(house.engine) as session:
        rows = [_listed(row) for row in mounts.listing(session)]
    return render(request, "mounts/list.html", rows=rows)


def _listed(row: MountPlan) -> dict[str, str]:
    kind = {"window": "Window mount", "float": "Float", "board": "On board"}[row.kind]
    return {"href": f"/mounts/{row.id}", "title": row.title, "words": f"{kind}, {dates.said(row.made_on)}"}


@pages.get("/mounts/new")
def new(
    request: Request,
    house: Here,
    who: Signed,
    edition: Id | None = None,
    size: Id | None = None,
    like: Id | None = None,
) -> Response:
    """The form: empty, filled from a size of an edition, or as an earlier plan was asked."""
    with reading(house.engine) as session:
        values, notes = _like(session, like) if like else (FRESH | _at_hand(session), [])
        if edition:
            facts = editions.facts(session, edition, clock.today())
            chosen = next((each for each in facts.sizes if each.id == size), facts.sizes[0])
            values |= _from_size(facts, chosen)
    return _form_page(request, house, blank(values), notes=notes)


def _at_hand(session: Session) -> dict[str, str]:
    """What a new plan is made with unless something else is chosen: the cutter at hand, and the frame if it is one."""
    cutter, frames = mount_stock.cutter_at_hand(session), mount_stock.frames(session)
    return {"cutter_id": str(cutter.id) if cutter else "", "frame_id": str(frames[0].id) if len(frames) == 1 else ""}


def _like(session: Session, plan_id: int) -> tuple[dict[str, Any], list[str]]:
    """An earlier plan as the form holds it, with what stands at the bench now; and what is not as it was, said."""
    draft, notes = mounts.draft_of(mounts.get(session, plan_id)), []
    values = _typed(draft)
    if draft.cutter_id and (newer := mount_stock.calibrated_since(session, draft.cutter_id)):
        values["cutter_id"] = str(newer.id)
        notes.append(
            f"{newer.name} was calibrated again on {dates.said(newer.calibrated_on)}; its newest figures stand here."
        )
    gone = [each for each in draft.frames_named if mount_stock.frame_row(session, each).struck_at is not None]
    for frame_id in gone:
        said = frame_said(mount_stock.frame_row(session, frame_id))
        notes.append(f"Its frame is not to be had any more and was left out: {said}. Choose another.")
    return values, notes


def _typed(draft: MountDraft) -> dict[str, Any]:
    """A draft as the form holds it."""
    values = draft.model_dump(mode="json", exclude_none=True)
    frame = values.pop("frame")
    return (
        values
        | {f"frame.{name}": typed for name, typed in frame.items()}
        | {"frame_ids": [str(each) for each in draft.frame_ids]}
    )


def _from_size(facts: EditionFacts, size: SizeFacts) -> dict[str, str]:
    def sides(width: int, height: int) -> str:
        return f"{millimetres(width)} x {millimetres(height)} mm"

    title = facts.work.title if len(facts.sizes) == 1 else f"{facts.work.title}, {size.label}"
    values = {"title": title, "size_id": str(size.id), "image": sides(size.image_w_um, size.image_h_um)}
    if size.sheet_w_um and size.sheet_h_um:
        values["sheet"] = sides(size.sheet_w_um, size.sheet_h_um)
    return values


def _form_page(
    request: Request,
    house: House,
    form: Form,
    result: dict[str, Any] | None = None,
    status: int = 200,
    notes: Sequence[str] = (),
) -> Response:
    typed = form.values
    with reading(house.engine) as session:
        context = {
            "made_for": _made_for(session, str(typed.get("size_id", ""))),
            "frames": choices(mount_stock.frames(session), frame_said, "One I measure below"),
            "cutters": choices(mount_stock.cutters(session), lambda row: row.name, "Not calibrated"),
        }
        fresh = FRESH | _at_hand(session)
    ticked = typed.get("frame_ids", [])
    folded = {
        name: not any(form.messages.get(each) or typed.get(each, "") not in ("", fresh.get(each)) for each in names)
        and {"float": "float", "bare": "board"}.get(name) != typed.get("kind")
        for name, names in FOLDED.items()
    }
    return render(
        request, "mounts/plan.html", status, form=form, result=result, action="/mounts/new", folded=folded, notes=notes,
        ticked=[ticked] if isinstance(ticked, str) else ticked,
        usual=mount_drafts.usual("in" if typed.get("unit") == "in" else "mm"), **context,
    )  # fmt: skip


def _made_for(session: Session, size_id: str) -> dict[str, Any] | None:
    """The edition a plan is made for, and links to plan for its other sizes."""
    known = read_id(size_id)
    if known is None:
        return None
    try:
        edition_id = mounts.size_of(session, known).edition_id
    except Refusal:
        return None
    facts = editions.facts(session, edition_id, clock.today())
    here = f"/mounts/new?edition={edition_id}"
    return {
        "title": facts.work.title,
        "href": f"/editions/{edition_id}",
        "sizes": [
            {"words": each.label, "href": f"{here}&size={each.id}", "now": str(each.id) == size_id}
            for each in facts.sizes
        ],
    }


@pages.post("/mounts/new")
def plan(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    """Work the plan out and show it over the form; pressed so, keep it."""
    on_show, sent = as_shown.taken_from(sent)
    try:
        shape = sent.read(MountShape)
        with reading(house.engine) as session:
            worked = mounts.work_out(session, shape)
            # What it is called, and whether the frame is kept beside it, change nothing that was shown.
            digest = as_shown.digest(worked.draft.model_dump_json(exclude={"keep_frame", "title", "note"}))
            result = {**page_of(session, worked), "digest": digest, "measures_frame": worked.draft.measures_frame}
        if sent.step == "keep" and on_show == digest:
            return _keep(house, who, shape, sent)
    except (Refusal, Slips) as no:
        return _form_page(request, house, sent.refused("Not worked out", no), status=status_of(no))
    return _form_page(
        request, house, sent.again(), result, notes=[as_shown.CHANGED] if sent.step == "keep" else ()
    )  # fmt: skip


def _keep(house: House, who: Signed, shape: MountShape, sent: Posted) -> Response:
    done = house.record(who, lambda book: f"/mounts/{mounts.keep(book, shape).id}", sent.repeat)
    return answers.see(done.path)


@pages.get("/mounts/{plan_id:int}")
def one(request: Request, house: Here, who: Signed, plan_id: Id) -> Response:
    """A kept plan: its card first, to be read at the bench."""
    return _one_page(request, house, plan_id, blank())


def _one_page(request: Request, house: House, plan_id: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        kept = mounts.seen(session, plan_id)
        result = None if isinstance(kept, Unreckoned) else page_of(session, kept)
        edition_id = mounts.size_of(session, kept.row.size_id).edition_id if kept.row.size_id else 0
        newer = mount_stock.calibrated_since(session, kept.row.cutter_id) if kept.row.cutter_id else None
    here = f"/mounts/{plan_id}"
    return render(
        request, "mounts/one.html", status, form=form, result=result, here=here,
        calibrated=dates.said(newer.calibrated_on) if newer else "",
        title=kept.draft.title, note=kept.draft.note, made=dates.said(kept.row.made_on),
        unreckoned=kept.why if isinstance(kept, Unreckoned) else "",
        struck=kept.row.struck_at is not None, papers=_papers(kept.draft.unit), left_over=_left_over(kept),
        edition_href=f"/editions/{edition_id}" if edition_id else "",
        offer_href=f"/editions/{edition_id}/offer?size={kept.row.size_id}&mount={plan_id}" if edition_id else "",
    )  # fmt: skip


def _papers(unit: Unit) -> list[tuple[str, str]]:
    """The papers a drawing is printed on, those of the plan’s own unit first: address and name."""
    return [
        (name, name.capitalize()) for name in sorted(PAPERS_MM, key=lambda name: name.startswith("a") == (unit == "in"))
    ]


def _left_over(kept: Kept | Unreckoned) -> list[dict[str, str]]:
    """What the windows give back, each to be kept for another mount by one press; nothing of a struck plan."""
    if isinstance(kept, Unreckoned) or kept.row.struck_at:
        return []
    unit = kept.draft.unit
    return [
        {
            "words": f"From the {board}",
            "size": size.said(unit),
            "said": typeset(size.said(unit)),
            "key": blank().key,
            "unit": unit,
        }
        for board, size in mounts.left_over(kept.plan)
    ]


@pages.post("/mounts/{plan_id:int}/strike")
def strike(request: Request, house: Here, who: Signed, plan_id: Id, sent: Sent) -> Response:
    """A plan made in error, or not wanted any more, is offered no longer."""

    def act(book: Book) -> str:
        mounts.strike(book, plan_id, sent.read(WhyShape).why)
        return f"/mounts/{plan_id}"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        return _one_page(request, house, plan_id, sent.refused("Not struck", no), status_of(no))
    return answers.see(done.path)


@pages.get("/mounts/{plan_id:int}/card.pdf")
def card(house: Here, who: Signed, plan_id: Id) -> Response:
    """The card for the bench, a side for each board."""
    kept = _kept(house, plan_id)
    return _paper(render_cards(kept.draft.title, cards(kept.plan)), f"mount-{plan_id}-card")


@pages.get("/mounts/{plan_id:int}/{paper}.pdf")
def true_size(house: Here, who: Signed, plan_id: Id, paper: Paper) -> Response:
    """The cards, and the drawing at true size over as many sheets as it takes."""
    kept = _kept(house, plan_id)
    pdf = render_true_size(kept.draft.title, views(kept.plan), cards(kept.plan), paper)
    return _paper(pdf, f"mount-{plan_id}-{paper}")


def _kept(house: House, plan_id: int) -> Kept:
    with reading(house.engine) as session:
        return mounts.kept(session, plan_id)


def _paper(data: bytes, name: str) -> Response:
    return Response(data, media_type=PDF, headers={"Content-Disposition": f'inline; filename="{name}.pdf"'})
