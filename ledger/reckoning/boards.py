"""Board: how many pieces one yields, which offcut serves a mount, and what a cut window gives back.

Common practice, no source.
"""

from collections.abc import Sequence

from ledger.reckoning.drawing import View, rectangle
from ledger.reckoning.lengths import Unit
from ledger.reckoning.mount_parts import Size
from ledger.reckoning.sheet_layout import Job, Sheet, Wanted
from ledger.reckoning.sheet_one import OneSize, one_size

SQUARED_OFF_UM = 2_000


def board_yield(board: Size, piece: Size, *, margin_um: int, gap_um: int) -> OneSize:
    """The most pieces a board gives by cuts right across, turned where that gives more; `margin_um` is lost along
    each edge and `gap_um` with each cut. Raises Refusal.
    """
    sheet = Sheet(board.width_um, board.height_um, margin_um, margin_um, margin_um, margin_um)
    return one_size(Job(sheet, (Wanted(piece.width_um, piece.height_um),), gap_um))


def yield_drawn(board: Size, found: OneSize, unit: Unit) -> View:
    """The board with its pieces as they lie."""
    how_many = len(found.layout.placed)
    return View(
        name="board",
        title=f"Board, {board.said(unit)}",
        desc=f"{how_many} {'piece' if how_many == 1 else 'pieces'}, cut right across.",
        size=board,
        shapes=(
            rectangle("edge", 0, 0, board),
            *(
                rectangle("image", each.x_um, each.y_um, Size(each.width_um, each.height_um))
                for each in found.layout.placed
            ),
        ),
    )


def smallest_offcut(offcuts: Sequence[Size], mount: Size) -> int | None:
    """Which of the offcuts, by its place, is the smallest by area that holds the mount, turned if need be.

    Of equals the earlier; None where none serves.
    """
    serving = [
        (each.width_um * each.height_um, at)
        for at, each in enumerate(offcuts)
        if each.holds(mount) or each.turned.holds(mount)
    ]
    return min(serving)[1] if serving else None


def fall_out(window: Size) -> Size | None:
    """What the board cut out of a window gives once squared; None where nothing worth keeping is left."""
    usable = window.grown(-SQUARED_OFF_UM)
    return usable if min(usable.width_um, usable.height_um) > 0 else None
