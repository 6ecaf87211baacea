"""What is pencilled on the back of a mount and set on the cutter, and a test cut that tells how a cutter measures.

Board is marked and cut face down, its top edge away from the maker: left and right are then mirrored.
"""

from dataclasses import dataclass
from typing import Literal

from ledger.errors import Refusal
from ledger.reckoning.lengths import Unit, from_steps, said, shown, thickness_said, written_steps
from ledger.reckoning.mount_parts import Size
from ledger.reckoning.mount_plan import CutBoard, Cutter, WindowPlan

CAUTIONS = (
    "Blade: a dull one tears the core. Change it often, cut away from you, with the other hand behind the edge.",
    "Glass: carry it on edge, wear gloves, tape a cracked sheet before you move it.",
    "Adhesive: nothing that cannot be undone touches a limited print. Hinge it with paper and paste.",
)
"""Common practice, no source."""


SCALE_OFF_UM = 500  # more than this is a stop set wrong, not an edge measured


@dataclass(frozen=True, kw_only=True)
class MarkOut:
    """The four pencil lines as the board lies face down: two from its left edge, two from its top edge."""

    board: Size
    from_left_um: tuple[int, int]
    from_top_um: tuple[int, int]
    past_corner_um: int

    @property
    def mirrored(self) -> "MarkOut":
        """The same lines with the board turned over sideways."""
        near, far = self.from_left_um
        return MarkOut(
            board=self.board,
            from_left_um=(self.board.width_um - far, self.board.width_um - near),
            from_top_um=self.from_top_um,
            past_corner_um=self.past_corner_um,
        )


def front_lines(board: CutBoard, past_corner_um: int) -> MarkOut:
    """Where the window’s back edge lies, seen from the front."""
    left, top = board.borders.left_um, board.borders.top_um
    return MarkOut(
        board=board.size,
        from_left_um=(left, left + board.window.width_um),
        from_top_um=(top, top + board.window.height_um),
        past_corner_um=past_corner_um,
    )


def mark_out(board: CutBoard, past_corner_um: int) -> MarkOut:
    """The lines for the back, face down."""
    return front_lines(board, past_corner_um).mirrored


@dataclass(frozen=True, kw_only=True)
class MountCard:
    """A card for the bench, one board: four numbers, and sentences beside them."""

    board: str
    size: str
    from_left: tuple[str, str]
    from_top: tuple[str, str]
    unit: Unit
    past_corner: str
    scale: str
    sums: tuple[str, ...]
    marks: MarkOut


def cards(plan: WindowPlan) -> tuple[MountCard, ...]:
    """A card for each board, from the glass back."""
    return tuple(_card(plan, board) for board in plan.boards)


def _card(plan: WindowPlan, board: CutBoard) -> MountCard:
    unit, marks = plan.unit, mark_out(board, plan.past_corner_um)
    back = board.borders.mirrored
    across, left = _sum(back.left_um, board.window.width_um, board.size.width_um, unit)
    down, top = _sum(back.top_um, board.window.height_um, board.size.height_um, unit)
    return MountCard(
        board=board.name,
        size=board.size.said(unit),
        from_left=left,
        from_top=top,
        unit=unit,
        past_corner=_past(plan.past_corner_um, unit),
        scale=_scale(plan, board),
        sums=(across, down),
        marks=marks,
    )


def _past(um: int, unit: Unit) -> str:
    if um == 0:
        return "Start and stop at each corner."
    size = thickness_said(abs(um)) if unit == "mm" else f"{said(abs(um), unit)} ({thickness_said(abs(um))})"
    return f"Start and stop {size} {'past' if um > 0 else 'before'} each corner."


def _sum(border: int, window: int, whole: int, unit: Unit) -> tuple[str, tuple[str, str]]:
    """'69 + 162 + 69 = 300' and the two lines; the last border is what the written figures leave of the whole."""
    first, middle, total = (written_steps(um, unit) for um in (border, window, whole))
    parts = " + ".join(from_steps(steps, unit) for steps in (first, middle, total - first - middle))
    lines = from_steps(first, unit), from_steps(first + middle, unit)
    return f"{parts} = {from_steps(total, unit)}", lines


def _scale(plan: WindowPlan, board: CutBoard) -> str:
    """The cutter’s stops, in the order of the board face down."""
    settings: dict[int, list[str]] = {}
    for edge, um in board.scale.mirrored.named():
        settings.setdefault(um, []).append(edge)
    said_so = ", ".join(f"{shown(um, plan.unit)} {' and '.join(edges)}" for um, edges in settings.items())
    edge = "face edge" if plan.asked.cutter.scale == "face" else "back line"
    return f"Cutter’s scale, which measures the {edge}: {said_so}."


def cutter_from_test(*, set_um: int, back_um: int, face_um: int, past_um: int, board_um: int, unit: Unit) -> Cutter:
    """The cutter as one test cut on a scrap shows it.

    `set_um` is what its scale was set to, `back_um` and `face_um` the border then measured on either side, `past_um`
    how far past the corner the cut had to run for the piece to fall out clean. Raises Refusal where the scale agrees
    with neither side.
    """
    off: dict[Literal["back", "face"], int] = {"back": abs(set_um - back_um), "face": abs(set_um - face_um)}
    scale = min(off, key=lambda edge: off[edge])
    if off[scale] > SCALE_OFF_UM:
        raise Refusal(
            f"The scale was set to {said(set_um, unit)}, and the border measures {said(back_um, unit)} on the back and "
            f"{said(face_um, unit)} on the face. Set the cutter’s stop right first, then cut the test again.",
            field="set_um",
        )
    return Cutter(scale=scale, offset_um=past_um - board_um)
