"""What stands at the bench for mounts: frames by their rebate, cutters by a test cut, board that is left over."""

import re
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session, col, select

from ledger import journal
from ledger.database import Book
from ledger.errors import Refusal
from ledger.reckoning import lengths, mount_frames, mount_parts
from ledger.reckoning.lengths import Unit
from ledger.reckoning.mount_marks import cutter_from_test
from ledger.reckoning.texts import tidy
from ledger.tables import Frame, MountCutter, MountPlan, Offcut

Figure = Annotated[str, Field(max_length=40)]
Words = Annotated[str, Field(max_length=400)]
TYPED = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True, coerce_numbers_to_str=True)


class RebateDraft(BaseModel):
    """A frame by its rebate, each direction measured at one end or at both; its label is a note only."""

    model_config = TYPED
    sold_as: Words = ""
    width_a: Figure = ""
    width_b: Figure = ""
    height_a: Figure = ""
    height_b: Figure = ""
    depth: Figure = ""


class FrameDraft(RebateDraft):
    """A frame measured, to be had for plans to come."""

    unit: Unit = "mm"


class CutterDraft(BaseModel):
    """One test cut on a scrap: what the scale was set to, the border then measured on the back and on the face, how
    far past the corner the cut had to run, and how thick the scrap was.
    """

    model_config = TYPED
    name: Words
    unit: Unit = "mm"
    set: Figure
    back: Figure
    face: Figure
    past: Figure
    board: Figure


class OffcutDraft(BaseModel):
    """Board that is left over, and the plan whose window it fell out of, if it did."""

    model_config = TYPED
    size: Figure
    unit: Unit = "mm"
    board: Words = ""
    mount_plan_id: int | None = None


def rebate(draft: RebateDraft, unit: Unit, at: str = "") -> mount_frames.Frame:
    """The frame as measured. Raises Refusal, its fields under `at`."""

    def measured(*names: str) -> tuple[int, ...]:
        typed = [(getattr(draft, name), f"{at}{name}") for name in names]
        return tuple(lengths.parse(text, unit, field=field, side=True) for text, field in typed if text)

    return mount_frames.Frame(
        widths_um=measured("width_a", "width_b"),
        heights_um=measured("height_a", "height_b"),
        sold_as=draft.sold_as,
        depth_um=thickness(draft.depth, f"{at}depth") if draft.depth else None,
    )


def thickness(typed: str, field: str) -> int:
    """Micrometres of a board, a glass or a frame’s depth. Raises Refusal."""
    return lengths.parse(typed, "in" if re.search(r"in|[\"″”]", typed) else "mm", field=field)


def add_frame(book: Book, draft: FrameDraft) -> Frame:
    """Keep a frame’s rebate. Raises Refusal where only its label is known."""
    sold_as = tidy(draft.sold_as, "The label", limit=80, needed=False, field="sold_as")
    measured = rebate(draft.model_copy(update={"sold_as": sold_as}), draft.unit)
    try:
        measured.rebate("frame")
    except Refusal as no:
        raise Refusal(no.message, field="width_a" if "width" in (no.field or "") else "height_a") from None
    if measured.depth_um == 0:
        raise Refusal("A frame is more than 0 deep. Measure it, or leave it empty.", field="depth")
    widths, heights = (*measured.widths_um, None), (*measured.heights_um, None)
    frame = Frame(
        sold_as=sold_as,
        unit=draft.unit,
        width_a_um=measured.widths_um[0],
        width_b_um=widths[1],
        height_a_um=measured.heights_um[0],
        height_b_um=heights[1],
        depth_um=measured.depth_um,
        measured_on=book.today,
    )
    book.session.add(frame)
    book.session.flush()
    facts = {"frame": frame.id, "widths": list(measured.widths_um), "heights": list(measured.heights_um)}
    journal.sealed(book, "frame_measured", facts, person={"sold_as": sold_as})
    return frame


def strike_frame(book: Book, frame_id: int) -> Frame:
    """A frame is not to be had any more; plans made with it stand. Raises Refusal."""
    frame = frame_row(book.session, frame_id)
    if frame.struck_at is not None:
        raise Refusal("That frame was taken off the list already.")
    frame.struck_at = book.at
    book.session.add(frame)
    journal.sealed(book, "frame_struck", {"frame": frame_id})
    return frame


def frame_row(session: Session, frame_id: int, field: str | None = None) -> Frame:
    """Raises Refusal: missing, or of the field that names it."""
    frame = session.get(Frame, frame_id)
    if frame is None:
        raise Refusal(f"No frame has the number {frame_id}.", field=field, missing=field is None)
    return frame


def as_measured(row: Frame) -> mount_frames.Frame:
    """A kept frame as the reckoning takes it."""
    widths, heights = (row.width_a_um, row.width_b_um), (row.height_a_um, row.height_b_um)
    return mount_frames.Frame(
        widths_um=tuple(um for um in widths if um),
        heights_um=tuple(um for um in heights if um),
        sold_as=row.sold_as,
        depth_um=row.depth_um,
    )


def frames(session: Session) -> list[Frame]:
    """The frames to be had, in the order they were measured."""
    return list(session.exec(select(Frame).where(col(Frame.struck_at).is_(None)).order_by(col(Frame.id))))


def add_cutter(book: Book, draft: CutterDraft) -> MountCutter:
    """Calibrate a cutter by a test cut; calibrated again under its name, the last time counts. Raises Refusal."""
    name = tidy(draft.name, "The cutter’s name", limit=80, field="name")

    def measured(field: str) -> int:
        return lengths.parse(getattr(draft, field), draft.unit, field=field)

    try:
        found = cutter_from_test(
            set_um=measured("set"),
            back_um=measured("back"),
            face_um=measured("face"),
            past_um=thickness(draft.past, "past"),
            board_um=thickness(draft.board, "board"),
            unit=draft.unit,
        )
    except Refusal as no:
        raise Refusal(no.message, field=(no.field or "").removesuffix("_um")) from None
    cutter = MountCutter(name=name, scale=found.scale, offset_um=found.offset_um, calibrated_on=book.today)
    book.session.add(cutter)
    book.session.flush()
    facts = {"cutter": cutter.id, "scale": cutter.scale, "offset": cutter.offset_um}
    journal.sealed(book, "cutter_calibrated", facts, person=draft.model_dump())
    return cutter


def cutter(session: Session, cutter_id: int, field: str | None = None) -> MountCutter:
    """Raises Refusal: missing, or of the field that names it."""
    row = session.get(MountCutter, cutter_id)
    if row is None:
        raise Refusal(f"No cutter has the number {cutter_id}.", field=field, missing=field is None)
    return row


def cutters(session: Session) -> list[MountCutter]:
    """Every cutter as last calibrated, by name."""
    rows = session.exec(select(MountCutter).order_by(col(MountCutter.id)))
    return sorted({row.name: row for row in rows}.values(), key=lambda row: row.name)


def cutter_at_hand(session: Session) -> MountCutter | None:
    """The cutter a new plan is meant for: that of the last plan made with one, else the one last calibrated."""
    used = select(MountPlan.cutter_id).where(col(MountPlan.cutter_id).is_not(None)).order_by(col(MountPlan.id).desc())
    last = session.exec(used).first()
    if last is not None:
        return calibrated_since(session, last) or cutter(session, last)
    return session.exec(select(MountCutter).order_by(col(MountCutter.id).desc())).first()


def calibrated_since(session: Session, cutter_id: int) -> MountCutter | None:
    """The newest row of a cutter’s name, where it was calibrated again since this one."""
    name = cutter(session, cutter_id).name
    newer = select(MountCutter).where(MountCutter.name == name, col(MountCutter.id) > cutter_id)
    return session.exec(newer.order_by(col(MountCutter.id).desc())).first()


def keep_offcut(book: Book, draft: OffcutDraft) -> Offcut:
    """Keep a piece of board for another mount. Raises Refusal."""
    width, height = lengths.parse_size(draft.size, draft.unit, field="size")
    mount_parts.check_size(mount_parts.Size(width, height), "A piece of board", "size")
    if draft.mount_plan_id is not None and book.session.get(MountPlan, draft.mount_plan_id) is None:
        raise Refusal(f"No mount plan has the number {draft.mount_plan_id}.", field="mount_plan_id")
    offcut = Offcut(
        board=tidy(draft.board, "The board", limit=80, needed=False, field="board"),
        unit=draft.unit,
        width_um=width,
        height_um=height,
        mount_plan_id=draft.mount_plan_id,
        kept_on=book.today,
    )
    book.session.add(offcut)
    book.session.flush()
    facts = {"offcut": offcut.id, "width": width, "height": height, "mount_plan": draft.mount_plan_id or 0}
    journal.sealed(book, "offcut_kept", facts, person={"board": offcut.board})
    return offcut


def use_offcut(book: Book, offcut_id: int) -> Offcut:
    """A piece of board was used, or thrown away. Raises Refusal."""
    row = offcut(book.session, offcut_id)
    if row.used_at is not None:
        raise Refusal("That piece of board was used already.")
    row.used_at = book.at
    book.session.add(row)
    journal.sealed(book, "offcut_used", {"offcut": offcut_id})
    return row


def offcut(session: Session, offcut_id: int) -> Offcut:
    """Raises Refusal (missing)."""
    row = session.get(Offcut, offcut_id)
    if row is None:
        raise Refusal(f"No piece of board has the number {offcut_id}.", missing=True)
    return row


def offcuts(session: Session) -> list[Offcut]:
    """The pieces of board not used yet, in the order they were kept."""
    return list(session.exec(select(Offcut).where(col(Offcut.used_at).is_(None)).order_by(col(Offcut.id))))
