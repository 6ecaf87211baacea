"""What is pencilled on the back of a mount and set on the cutter, and a test cut that tells how a cutter measures.

Board is marked and cut face down, its top edge away from the maker: left and right are then mirrored.
"""

from dataclasses import dataclass
from typing import Literal

from ledger.errors import Refusal
from ledger.reckoning.lengths import Unit, said, thickness_said
from ledger.reckoning.mount_parts import Size
from ledger.reckoning.mount_plan import Board, CutBoard, Cutter, WindowPlan

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


def sheet_behind(plan: WindowPlan) -> tuple[int, int] | None:
    """How far the sheet’s edges lie from the left and the top edge of the board next to it, face down; None where no
    sheet was named. Less than nothing where the sheet passes a smaller under-board.
    """
    if plan.paper_under is None:
        return None
    back, under = plan.inner.borders.mirrored, plan.paper_under.mirrored
    return back.left_um - under.left_um, back.top_um - under.top_um


def lean_said(board: Board) -> str:
    """Which way the blade leans."""
    if board.cut == "straight":
        return "Blade upright, on the line"
    return "Blade on the line, its point leaning out, away from the window"


def past_said(um: int, unit: Unit) -> str:
    """'1.4 mm past each corner'."""
    if um == 0:
        return "at each corner"
    size = thickness_said(abs(um)) if unit == "mm" else f"{said(abs(um), unit)} ({thickness_said(abs(um))})"
    return f"{size} {'past' if um > 0 else 'before'} each corner"


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
