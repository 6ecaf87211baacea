"""How many pieces a board yields, and each piece of board that is left over. Nothing of it is kept."""

from contextlib import suppress
from dataclasses import dataclass

from pydantic import BaseModel
from sqlmodel import Session

from ledger import mount_stock
from ledger.errors import Refusal
from ledger.mount_stock import TYPED, Figure
from ledger.reckoning import lengths
from ledger.reckoning.boards import board_yield
from ledger.reckoning.lengths import Unit
from ledger.reckoning.mount_parts import Size
from ledger.reckoning.sheet_one import OneSize
from ledger.tables import Offcut

USUAL: dict[Unit, tuple[str, str]] = {"mm": ("5", "2"), "in": ("3/16", "1/16")}
"""What is lost along each edge of a board, and with each cut. Common practice, no source."""


class BoardDraft(BaseModel):
    """A board, and the piece wanted from it; `margin` is lost along each edge, `gap` with each cut."""

    model_config = TYPED
    unit: Unit = "mm"
    board: Figure = ""
    piece: Figure = ""
    margin: Figure = ""
    gap: Figure = ""


@dataclass(frozen=True)
class Yield:
    """What a board gives, and how many pieces each of those left over gives, the smallest first."""

    board: Size
    piece: Size
    found: OneSize
    left_over: tuple[tuple[Offcut, int], ...]


def work_out(session: Session, draft: BoardDraft) -> Yield:
    """The most pieces by cuts right across. Raises Refusal."""

    def typed(name: str) -> Size:
        return Size(*lengths.parse_size(getattr(draft, name), draft.unit, field=name))

    board, piece = typed("board"), typed("piece")
    margin_um, gap_um = (
        lengths.parse(getattr(draft, name) or usual, draft.unit, field=name)
        for name, usual in zip(("margin", "gap"), USUAL[draft.unit], strict=True)
    )
    found = board_yield(board, piece, margin_um=margin_um, gap_um=gap_um, unit=draft.unit)
    left_over = []
    for row in mount_stock.offcuts(session):
        with suppress(Refusal):  # too small for a single one
            size = Size(row.width_um, row.height_um)
            each = board_yield(size, piece, margin_um=margin_um, gap_um=gap_um, unit=draft.unit)
            left_over.append((row, len(each.layout.placed)))
    left_over.sort(key=lambda each: each[0].width_um * each[0].height_um)
    return Yield(board, piece, found, tuple(left_over))
