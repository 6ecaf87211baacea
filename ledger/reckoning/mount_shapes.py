"""A mount plan as shapes to draw: its front, a section through one edge, and each board as it lies on the bench."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ledger.reckoning.drawing import (
    Dimension,
    Kind,
    Note,
    Shape,
    View,
    borders_measured,
    borders_said,
    chain,
    from_edge,
    rectangle,
    within,
)
from ledger.reckoning.lengths import said, shown, thickness_said
from ledger.reckoning.mount_floats import FloatPlan, FramelessPlan
from ledger.reckoning.mount_frames import PRINT_UM
from ledger.reckoning.mount_marks import MarkOut, lean_said, mark_out, past_said, sheet_behind
from ledger.reckoning.mount_parts import Edges, Size
from ledger.reckoning.mount_plan import CutBoard, WindowPlan

Plan = WindowPlan | FloatPlan | FramelessPlan

SHOWN_BORDER_UM, SHOWN_INSIDE_UM = 14_000, 10_000
NOTE_PITCH_UM = 1_700
TICK_UM = 2_500
ARROW_OFF_UM = 2_000


def views(plan: Plan) -> tuple[View, ...]:
    """Front, section, and each board as it lies on the bench; a bare board has only its front."""
    if isinstance(plan, WindowPlan):
        return _window_front(plan), _window_section(plan), *(window_back(plan, board) for board in plan.boards)
    if isinstance(plan, FloatPlan):
        return _float_front(plan), _float_section(plan), undermount_view(plan)
    return (frameless_front(plan),)


def _window_front(plan: WindowPlan) -> View:
    unit, seen, inner = plan.unit, plan.boards[0], plan.inner
    shapes = [rectangle("edge", 0, 0, seen.size)]
    step = (plan.mount.width_um - inner.size.width_um) // 2  # an under-board is smaller than the mount
    for board, shift in ((seen, 0), (inner, step)) if len(plan.boards) > 1 else ((seen, 0),):
        shapes += _opening(board, board.borders.less(-shift), plan.asked.board.run_um)
    past, borders = plan.asked.opening.past, inner.borders.less(-step)
    left, top = borders.left_um + past.left_um, borders.top_um + past.top_um
    # Under an overlap the image’s edge is behind the board.
    shapes.append(rectangle("hidden" if past.left_um < 0 else "image", left, top, plan.asked.image))
    under, paper = plan.paper_under, plan.asked.paper
    if under is not None and paper is not None:
        sheet = (borders.left_um - under.left_um, borders.top_um - under.top_um)
        shapes.append(rectangle("hidden", *sheet, paper.size))
    return View(
        name="front",
        title=f"Front, {seen.size.said(unit)}",
        desc=f"Mount {seen.size.said(unit)}, window {seen.window.said(unit)}, picture {plan.asked.image.said(unit)}. "
        f"Borders: {borders_said(seen.borders, unit)}.",
        size=seen.size,
        shapes=tuple(shapes),
        dimensions=borders_measured(seen.borders, seen.window, seen.size, unit),
        how="Dashed: what lies behind the board." if any(shape.kind == "hidden" for shape in shapes) else "",
    )


def _opening(board: CutBoard, borders: Edges, run_um: int) -> list[Shape]:
    """The window’s back edge, its face edge, and the mitres of the bevel between them."""
    back, face = within("bevel", borders, board.window), within("bevel", borders.less(run_um), board.face)
    if not run_um:
        return [back]
    return [face, back, *(Shape("bevel", corner, False) for corner in zip(face.points, back.points, strict=True))]


def window_back(plan: WindowPlan, board: CutBoard) -> View:
    """A board face down, with its pencil lines and cuts."""
    unit, marks = plan.unit, mark_out(board, plan.past_corner_um)
    name = "back" if len(plan.boards) == 1 else f"back of the {board.name}"
    (near, far), (upper, lower) = marks.from_left_um, marks.from_top_um
    how = f"{lean_said(plan.asked.board)}. Start and stop at the ticks, {past_said(plan.past_corner_um, unit)}."
    behind = _sheet_behind(plan) if board is plan.inner else ()
    return View(
        name=name,
        title=f"{name.capitalize()}, face down, {board.size.said(unit)}",
        desc=f"Face down, top edge away from you. Lines {shown(near, unit)} and {said(far, unit)} from your left, "
        f"{shown(upper, unit)} and {said(lower, unit)} from the top.",
        size=board.size,
        shapes=(*_marked(marks), *behind),
        dimensions=(*from_edge("top", marks.from_left_um, unit), *from_edge("left", marks.from_top_um, unit)),
        notes=(
            Note(board.size.width_um // 2, upper * 3 // 4, "TOP"),  # clear of the figures along the edge
            Note(near // 2, upper * 3 // 4, "left"),
        ),
        how=f"{how} Dashed: the sheet." if behind else how,
    )


def _sheet_behind(plan: WindowPlan) -> tuple[Shape, ...]:
    place, paper = sheet_behind(plan), plan.asked.paper
    return (rectangle("hidden", *place, paper.size),) if place and paper else ()


def _marked(marks: MarkOut) -> tuple[Shape, ...]:
    """The board, pencil lines from edge to edge, and on them the cuts with a tick where each starts and stops."""
    (left, right), (top, foot), past = marks.from_left_um, marks.from_top_um, marks.past_corner_um
    width, height = marks.board.width_um, marks.board.height_um
    return (
        rectangle("edge", 0, 0, marks.board),
        *(Shape("line", ((x, 0), (x, height)), False) for x in (left, right)),
        *(Shape("line", ((0, y), (width, y)), False) for y in (top, foot)),
        *(Shape("cut", ((x, top - past), (x, foot + past)), False) for x in (left, right)),
        *(Shape("cut", ((left - past, y), (right + past, y)), False) for y in (top, foot)),
        *(_tick(x, y, 0, TICK_UM) for x in (left - past, right + past) for y in (top, foot)),
        *(_tick(x, y, TICK_UM, 0) for x in (left, right) for y in (top - past, foot + past)),
    )


def _tick(x: int, y: int, across: int, down: int) -> Shape:
    return Shape("bevel", ((x - across, y - down), (x + across, y + down)), False)


@dataclass(frozen=True)
class _Layer:
    """A layer of the section: from where to where, how thick, and how far its face edge stands back of its back."""

    kind: Kind
    words: str
    thickness_um: int
    start_um: int
    end_um: int
    lean_um: int = 0


def _section(layers: Sequence[_Layer], width: int, desc: str) -> View:
    """Layers from the glass back, true in thickness, their outer border cut short."""
    shapes: list[Shape] = []
    notes: list[Note] = []
    y, free = 0, 0
    for layer in layers:
        foot = y + layer.thickness_um
        start, end, lean = layer.start_um, layer.end_um, layer.lean_um
        shapes.append(Shape(layer.kind, ((start, y), (end - lean, y), (end, foot), (start, foot))))
        if lean:
            shapes += _arrow(end + ARROW_OFF_UM, foot, lean)
        middle = (y + foot) // 2
        free = max(middle, free)
        words = f"{layer.words} {thickness_said(layer.thickness_um)}"
        shapes.append(Shape("leader", ((min(end, width), middle), (width + NOTE_PITCH_UM, free)), False))
        notes.append(Note(width + NOTE_PITCH_UM, free, words, "start"))
        y, free = foot, free + NOTE_PITCH_UM
    return View(
        name="section",
        title="Section through one edge",
        desc=desc,
        size=Size(width, y),
        shapes=tuple(shapes),
        notes=tuple(notes),
    )


def _arrow(x: int, foot: int, lean: int) -> tuple[Shape, Shape]:
    """The blade’s way beside a bevel of 45 degrees: in from the back, out under the border."""
    tip, head = (x - lean, foot - lean), lean // 2
    barbs = ((tip[0] + head, tip[1]), tip, (tip[0], tip[1] + head))
    return Shape("cut", ((x, foot), tip), False), Shape("cut", barbs, False)


def _window_section(plan: WindowPlan) -> View:
    asked = plan.asked
    width = SHOWN_BORDER_UM + SHOWN_INSIDE_UM
    under = plan.paper_under.left_um if plan.paper_under else 5_000
    strip = asked.double.strip_um if asked.double and len(plan.boards) > 1 else 0
    layers = [_Layer("glass", "glazing", asked.build.glazing_um, 0, width)]
    if asked.build.fillet_um:
        layers.append(_Layer("board", "fillet", asked.build.fillet_um, 0, 3_000))
    for number, board in enumerate(plan.boards):
        end = SHOWN_BORDER_UM + number * strip
        layers.append(_Layer("board", board.name, asked.board.thickness_um, 0, end, asked.board.run_um))
    start = max(0, SHOWN_BORDER_UM + strip - under)
    layers.append(_Layer("print", "print", PRINT_UM, start, width))
    layers.append(_Layer("board", "backing", asked.build.backing_um, 0, width))
    desc = plan.depth.said
    if asked.board.cut == "bevel":
        desc += f" The bevel shows {thickness_said(asked.board.slope_um)} of core and opens towards the glass."
    how = "The arrow is the blade: in from the back, its point leaning out." if asked.board.run_um else ""
    return replace(_section(layers, width, desc), how=how)


def _float_front(plan: FloatPlan) -> View:
    unit, lip = plan.unit, plan.asked.lip_um
    gaps = plan.gaps.less(-lip)
    return View(
        name="front",
        title=f"Front, rebate {plan.rebate.said(unit)}",
        desc=f"Print {plan.asked.print.said(unit)} floating in a sight of {plan.sight.said(unit)}. "
        f"Gaps: {borders_said(plan.gaps, unit)}. The spacer behind it is {plan.spacer.said(unit)}.",
        size=plan.rebate,
        shapes=(
            rectangle("hidden", 0, 0, plan.rebate),
            rectangle("edge", lip, lip, plan.sight),
            within("image", gaps, plan.asked.print),
            within("hidden", gaps.less(-plan.asked.inset_um), plan.spacer),
        ),
        dimensions=(
            *chain("top", _stops(lip, plan.gaps.left_um, plan.asked.print.width_um, plan.sight.width_um), unit),
            *chain("left", _stops(lip, plan.gaps.top_um, plan.asked.print.height_um, plan.sight.height_um), unit),
            Dimension("bottom", 0, plan.rebate.width_um, shown(plan.rebate.width_um, unit)),
            Dimension("right", 0, plan.rebate.height_um, shown(plan.rebate.height_um, unit)),
        ),
        how="Dashed: the frame’s rebate, and the spacer behind the print.",
    )


def _stops(lip: int, gap: int, inner: int, outer: int) -> tuple[int, int, int, int]:
    return lip, lip + gap, lip + gap + inner, lip + outer


def _float_section(plan: FloatPlan) -> View:
    asked = plan.asked
    edge = SHOWN_BORDER_UM
    width = edge + asked.inset_um + SHOWN_INSIDE_UM
    air = plan.fillet_um - asked.spacer_um - asked.print_um
    layers = [
        _Layer("glass", "glazing", asked.build.glazing_um, 0, width),
        _Layer("board", "fillet and air", air, 0, 3_000),
        _Layer("print", "print", asked.print_um, edge, width),
        _Layer("board", "spacer", asked.spacer_um, edge + asked.inset_um, width),
        _Layer("board", "undermount", asked.undermount_um, 0, width),
        _Layer("board", "backing", asked.build.backing_um, 0, width),
    ]
    return _section(layers, width, plan.depth.said)


def undermount_view(plan: FloatPlan) -> View:
    """Where the spacer goes: on the face of the undermount, the print’s edge around it."""
    unit, borders = plan.unit, plan.spacer_borders
    return View(
        name="undermount",
        title=f"Undermount, face up, {plan.backing.said(unit)}",
        desc=f"Face up, top edge away from you. The spacer, {plan.spacer.said(unit)}, lies in from the edges: "
        f"{borders_said(borders, unit)}.",
        size=plan.backing,
        shapes=(
            rectangle("edge", 0, 0, plan.backing),
            within("board", borders, plan.spacer),
            within("hidden", borders.less(plan.asked.inset_um), plan.asked.print),
        ),
        dimensions=borders_measured(borders, plan.spacer, plan.backing, unit),
        notes=(Note(plan.backing.width_um // 2, borders.top_um + plan.spacer.height_um // 8, "TOP"),),
        how="The spacer goes on the face, where it is drawn. Dashed: the print over it.",
    )


def frameless_front(plan: FramelessPlan) -> View:
    """The print with the cut, the board behind it, and what stays clear of the cut."""
    unit, whole = plan.unit, plan.print_file

    def centred(kind: Kind, size: Size) -> Shape:
        return rectangle(kind, (whole.width_um - size.width_um) // 2, (whole.height_um - size.height_um) // 2, size)

    bleed = plan.asked.bleed_um
    return View(
        name="front",
        title=f"Front, {plan.asked.finished.said(unit)}",
        desc=f"Print file {plan.print_file.said(unit)}, cut to {plan.asked.finished.said(unit)} on a board of "
        f"{plan.board.said(unit)}. Keep what matters within {plan.detail.said(unit)}.",
        size=whole,
        shapes=(
            centred("image", plan.print_file),
            centred("cut", plan.asked.finished),
            centred("hidden", plan.board),
            centred("line", plan.detail),
        ),
        dimensions=(
            Dimension("top", bleed, whole.width_um - bleed, shown(plan.asked.finished.width_um, unit)),
            Dimension("left", bleed, whole.height_um - bleed, shown(plan.asked.finished.height_um, unit)),
            Dimension("bottom", 0, whole.width_um, shown(whole.width_um, unit)),
            Dimension("right", 0, whole.height_um, shown(whole.height_um, unit)),
        ),
        how=f"{'Trim on the heavy line' if bleed else 'Dashed: the board'}. Keep what matters within the fine line.",
    )
