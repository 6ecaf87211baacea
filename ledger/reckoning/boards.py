"""Board: how many pieces one yields, which offcut serves a mount, and what a cut window gives back.

Common practice, no source.
"""

from collections.abc import Sequence

from ledger.errors import Refusal
from ledger.reckoning.drawing import View, rectangle
from ledger.reckoning.lengths import Unit, next_step, said
from ledger.reckoning.mount_parts import Size
from ledger.reckoning.sheet_layout import MOST_SIDES, Job, Sheet, Wanted
from ledger.reckoning.sheet_one import OneSize, one_size

SQUARED_OFF_UM = 2_000


def board_yield(board: Size, piece: Size, *, margin_um: int, gap_um: int, unit: Unit) -> OneSize:
    """The most pieces a board gives by cuts right across, turned where that gives more; `margin_um` is lost along
    each edge and `gap_um` with each cut. Raises Refusal, in the unit asked in.
    """
    _check_room(board, piece, margin_um, unit)
    sheet = Sheet(board.width_um, board.height_um, margin_um, margin_um, margin_um, margin_um)
    return one_size(Job(sheet, (Wanted(piece.width_um, piece.height_um),), gap_um))


def _check_room(board: Size, piece: Size, margin_um: int, unit: Unit) -> None:
    room = board.grown(-2 * margin_um)
    if min(room.width_um, room.height_um) <= 0:
        raise Refusal(
            f"{said(margin_um, unit)} lost along each edge leaves nothing of a board of {board.said(unit)}. "
            "Write less.",
            field="margin",
        )
    if not (room.holds(piece) or room.turned.holds(piece)):
        raise Refusal(
            f"A piece of {piece.said(unit)} does not fit the {room.said(unit)} that can be used of this board. "
            "Find a larger board, or make the piece smaller.",
            field="piece",
        )
    least_um = -(-(room.width_um + room.height_um) // MOST_SIDES)
    if min(piece.width_um, piece.height_um) < least_um:
        raise Refusal(
            f"A piece of {piece.said(unit)} is too small to lay out on so large a board. Make its sides "
            f"{said(next_step(least_um, unit), unit)} or more, or cut a strip of the board first and ask for that.",
            field="piece",
        )


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
