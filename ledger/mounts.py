"""Mount plans: worked out from a draft, kept as they were asked, and said in words.

A plan is kept as its draft, every figure as it was typed, in one column of canonical JSON: some forty figures, of
which any one plan uses a dozen, are only ever read together, and the plan is reckoned again from them. Beside it
stand the columns a plan is found by.
"""

import json
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from ledger import journal, mount_stock
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.mount_drafts import Asked, MountDraft, asked, field_of, filled
from ledger.mount_stock import FrameDraft, RebateDraft
from ledger.paper import faces
from ledger.reckoning.boards import fall_out, smallest_offcut
from ledger.reckoning.canonical import canonical
from ledger.reckoning.mount_floats import FloatMount, FloatPlan, Frameless, float_plan, frameless_plan
from ledger.reckoning.mount_geometry import window_plan
from ledger.reckoning.mount_parts import Size
from ledger.reckoning.mount_plan import Cutter, WindowMount, WindowPlan
from ledger.reckoning.mount_shapes import Plan
from ledger.reckoning.texts import tidy
from ledger.tables import MountPlan, Offcut
from ledger.tables import Size as SizeRow

SAME_SIZE_UM = 1_600
"""How far a plan’s picture may be from the size it is made for: a reading by a ruler in sixteenths of an inch."""


@dataclass(frozen=True)
class Worked:
    """A draft with its texts tidied and its usual figures filled in, and the plan it comes to."""

    draft: MountDraft
    plan: Plan


@dataclass(frozen=True)
class Kept(Worked):
    """A plan that is kept."""

    row: MountPlan


@dataclass(frozen=True)
class Unreckoned:
    """A plan that is kept and that the sums of today refuse."""

    draft: MountDraft
    row: MountPlan
    why: str


def work_out(session: Session, draft: MountDraft) -> Worked:
    """The plan of a draft. Writes nothing. Raises Refusal with the field that cannot be, or cannot be printed."""
    worked = _reckoned(session, draft)
    if draft.size_id is not None:
        _check_made_for(size_of(session, draft.size_id), worked.plan.asked)
    return worked


def _reckoned(session: Session, draft: MountDraft) -> Worked:
    sold_as = tidy(draft.frame.sold_as, "The label", limit=80, needed=False, field="frame.sold_as")
    tidied = {
        "title": tidy(draft.title, "The title", limit=120, field="title"),
        "note": tidy(draft.note, "The note", limit=300, needed=False, field="note"),
        "frame": draft.frame.model_copy(update={"sold_as": sold_as}),
    }
    draft = filled(draft.model_copy(update=tidied))
    faces.check_text(draft.title, "The title", italic=True, field="title")
    named = "frame_ids" if draft.outer == "borders" else "frame_id"
    frames = {each: mount_stock.as_measured(mount_stock.frame_row(session, each, named)) for each in draft.frames_named}
    cutter = Cutter()
    if draft.cutter_id is not None:
        row = mount_stock.cutter(session, draft.cutter_id, "cutter_id")
        cutter = Cutter(scale="face" if row.scale == "face" else "back", offset_um=row.offset_um)
    wanted = asked(draft, frames, cutter)
    try:
        if isinstance(wanted, WindowMount):
            return Worked(draft, window_plan(wanted))
        return Worked(draft, float_plan(wanted) if isinstance(wanted, FloatMount) else frameless_plan(wanted))
    except Refusal as no:
        raise Refusal(no.message, field=field_of(draft, no.field)) from None


def _check_made_for(size: SizeRow, wanted: Asked) -> None:
    """A plan made for a size is of its image, or for a print shown whole of its sheet. Raises Refusal."""
    image = Size(size.image_w_um, size.image_h_um)
    fits = [image]
    if not isinstance(wanted, WindowMount) and size.sheet_w_um and size.sheet_h_um:
        fits.append(Size(size.sheet_w_um, size.sheet_h_um))
    given = wanted.image if isinstance(wanted, WindowMount) else _whole(wanted)
    if not any(_as_near(given, each) for each in fits):
        said = " or ".join(each.said(wanted.unit) for each in fits)
        raise Refusal(
            f"That size of the edition is {said}, and this plan is for {given.said(wanted.unit)}. "
            "Write the size’s own figures, or plan it for no edition.",
            field="image",
        )


def _whole(wanted: FloatMount | Frameless) -> Size:
    return wanted.print if isinstance(wanted, FloatMount) else wanted.finished


def _as_near(one: Size, other: Size) -> bool:
    return max(abs(one.width_um - other.width_um), abs(one.height_um - other.height_um)) <= SAME_SIZE_UM


def size_of(session: Session, size_id: int) -> SizeRow:
    """The size a plan is made for. Raises Refusal."""
    size = session.get(SizeRow, size_id)
    if size is None:
        raise Refusal(f"No size has the number {size_id}.", field="size_id")
    return size


def keep(book: Book, draft: MountDraft) -> MountPlan:
    """Keep a plan as it was asked, and its frame where that was asked too. Raises Refusal."""
    draft = work_out(book.session, draft).draft
    if draft.keep_frame and draft.measures_frame:
        draft = draft.model_copy(update={"frame_id": _keep_frame(book, draft), "frame": RebateDraft()})
    record: dict[str, Any] = draft.model_dump(mode="json", exclude_none=True, exclude={"keep_frame"})
    row = MountPlan(
        title=draft.title,
        kind=draft.kind,
        unit=draft.unit,
        size_id=draft.size_id,
        cutter_id=draft.cutter_id,
        asked=canonical(record),
        made_on=book.today,
    )
    book.session.add(row)
    book.session.flush()
    facts = {"mount_plan": row.id, "size": row.size_id or 0, "cutter": row.cutter_id or 0}
    journal.sealed(book, "mount_planned", facts, *_touched(book, row, "mount_planned"), person={"asked": record})
    return row


def _keep_frame(book: Book, draft: MountDraft) -> int | None:
    try:
        return mount_stock.add_frame(book, FrameDraft(**draft.frame.model_dump(), unit=draft.unit)).id
    except Refusal as no:
        raise Refusal(no.message, field=f"frame.{no.field}") from None


def _touched(book: Book, row: MountPlan, kind: str, why: str = "") -> list[Touched]:
    if row.size_id is None:
        return []
    edition_id = size_of(book.session, row.size_id).edition_id
    return [Touched(kind, book.today, edition_id=edition_id, text=why or row.title)]


def strike(book: Book, plan_id: int, why: str) -> MountPlan:
    """Strike a plan: it stays in the record and is offered no more. Raises Refusal."""
    row = get(book.session, plan_id)
    reason = tidy(why, "The reason", limit=300, field="why")
    if row.struck_at is not None:
        raise Refusal("That plan was struck already.")
    row.struck_at = book.at
    book.session.add(row)
    touched = _touched(book, row, "mount_struck", reason)
    journal.sealed(book, "mount_struck", {"mount_plan": plan_id}, *touched, person={"why": reason})
    return row


def get(session: Session, plan_id: int) -> MountPlan:
    """Raises Refusal (missing)."""
    row = session.get(MountPlan, plan_id)
    if row is None:
        raise Refusal(f"No mount plan has the number {plan_id}.", missing=True)
    return row


def draft_of(row: MountPlan) -> MountDraft:
    """What was asked."""
    return MountDraft.model_validate(json.loads(row.asked))


def kept(session: Session, plan_id: int) -> Kept:
    """A kept plan, reckoned again. Raises Refusal, missing or where it cannot be reckoned any more."""
    found = seen(session, plan_id)
    if isinstance(found, Unreckoned):
        raise Refusal(found.why)
    return found


def seen(session: Session, plan_id: int) -> Kept | Unreckoned:
    """A kept plan, reckoned again as far as it can be. Raises Refusal (missing)."""
    row = get(session, plan_id)
    draft = draft_of(row)
    try:
        worked = _reckoned(session, draft)
    except Refusal as no:
        return Unreckoned(draft, row, f"This plan cannot be reckoned any more: {no.message}")
    return Kept(worked.draft, worked.plan, row)


def listing(session: Session) -> list[MountPlan]:
    """The plans that stand, newest first."""
    return list(
        session.exec(select(MountPlan).where(col(MountPlan.struck_at).is_(None)).order_by(col(MountPlan.id).desc()))
    )


def for_size(session: Session, size_id: int) -> list[MountPlan]:
    """The plans that stand and may be the mounting of a size: made for it, or for none."""
    return [each for each in listing(session) if each.size_id in (None, size_id)]


def offered(session: Session, plan_id: int, size_id: int) -> str:
    """The words of a plan that is to be the mounting of a size’s offer. Raises Refusal."""
    row = session.get(MountPlan, plan_id)
    if row is None or row.struck_at is not None or row.size_id not in (None, size_id):
        raise Refusal(
            "That is no mount plan of this size, or it was struck. Choose another, or none.",
            field="offer.mount_plan_id",
        )
    found = seen(session, plan_id)
    if isinstance(found, Unreckoned):
        raise Refusal(found.why, field="offer.mount_plan_id")
    return words(found.plan)


def standing_words(session: Session, plan_id: int) -> str:
    """What a plan that was offered says; '' where it was struck, and so can be offered no more."""
    found = seen(session, plan_id)
    return "" if isinstance(found, Unreckoned) or found.row.struck_at else words(found.plan)


def words(plan: Plan) -> str:
    """The mounting as a label says it: 'window mount 300 × 250 mm, window 162 × 122 mm'."""
    if isinstance(plan, WindowPlan):
        double = "double " if len(plan.boards) > 1 else ""
        return f"{double}window mount {plan.mount.said(plan.unit)}, window {plan.inner.window.said(plan.unit)}"
    if isinstance(plan, FloatPlan):
        return f"floated on a spacer, {plan.sight.said(plan.unit)} inside the frame"
    return f"mounted on board, {plan.asked.finished.said(plan.unit)}"


def boards_of(plan: Plan) -> list[tuple[str, Size]]:
    """What is cut from board, by name, the largest first."""
    if isinstance(plan, WindowPlan):
        return [(board.name, board.size) for board in plan.boards]
    return [("undermount", plan.backing)] if isinstance(plan, FloatPlan) else [("board", plan.board)]


def serving(session: Session, plan: Plan) -> list[tuple[str, Offcut]]:
    """For each board of a plan the smallest piece at hand that it can be cut from, no piece twice; by the board’s
    name, the largest first.
    """
    at_hand, found = mount_stock.offcuts(session), []
    for name, size in boards_of(plan):
        at = smallest_offcut([Size(each.width_um, each.height_um) for each in at_hand], size)
        if at is not None:
            found.append((name, at_hand.pop(at)))
    return found


def left_over(plan: Plan) -> list[tuple[str, Size]]:
    """What the windows of a plan give back, by the board they are cut from."""
    if not isinstance(plan, WindowPlan):
        return []
    found = [(board.name, fall_out(board.window)) for board in plan.boards]
    return [(name, size) for name, size in found if size is not None]
