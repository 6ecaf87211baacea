"""Cuts followed one by one, on the sheet they are of: the pieces they give, and the lines they draw."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ledger.reckoning.sheet_cuts import WASTE, WHOLE, Cut, Rect, pinwheel_ends
from ledger.reckoning.sheet_layout import Pinwheel, Sheet


@dataclass(frozen=True)
class CutLine:
    """Where on the sheet a cut lies: from x1, y1 to x2, y2; its number is that of the cut."""

    number: int
    x1_um: int
    y1_um: int
    x2_um: int
    y2_um: int


@dataclass(frozen=True)
class Shapes:
    """What a drawing of a cut sheet is made of: its pieces by name, left, top, right and bottom, and its cuts."""

    pieces: dict[str, Rect]
    lines: tuple[CutLine, ...]


def replay(sheet: Sheet, cuts: Sequence[Cut]) -> dict[str, Rect]:
    """The pieces that come of following the cuts, by name, as edges on the sheet.

    Raises ValueError where a cut is of a part that is not there, or does not go through it.
    """
    return shapes(sheet, cuts).pieces


def shapes(sheet: Sheet, cuts: Sequence[Cut]) -> Shapes:
    """The pieces and the lines of the cuts. Raises ValueError as `replay` does."""
    whole = WHOLE if any(cut.part == WHOLE for cut in cuts) else "1"
    parts: dict[str, Rect] = {whole: (0, 0, sheet.width_um, sheet.height_um)}
    lines = tuple(_line(cut, rect) for cut, rect in _followed(parts, cuts))
    return Shapes(parts, lines)


def _followed(parts: dict[str, Rect], cuts: Sequence[Cut]) -> Iterator[tuple[Cut, Rect]]:
    """Each cut with the part it is of, as that lies on the sheet; `parts` holds what there is at that moment."""
    for cut in cuts:
        if cut.part not in parts:
            raise ValueError(f"cut {cut.number} is of {cut.part}, which is not there")
        rect = parts[cut.part]
        if cut.runs_um is None:
            del parts[cut.part]
            parts |= {name: part for name, part in _parted(cut, rect) if name != WASTE}
        elif cut.frees:
            del parts[cut.part]
            parts |= _freed(cuts, cut, rect)
        yield cut, rect


def _line(cut: Cut, rect: Rect) -> CutLine:
    x0, y0, x1, y1 = rect
    if cut.edge == "left":
        start, end = cut.runs_um or (0, y1 - y0)
        return CutLine(cut.number, x0 + cut.set_um, y0 + start, x0 + cut.set_um, y0 + end)
    start, end = cut.runs_um or (0, x1 - x0)
    return CutLine(cut.number, x0 + start, y0 + cut.set_um, x0 + end, y0 + cut.set_um)


def _parted(cut: Cut, rect: Rect) -> tuple[tuple[str, Rect], tuple[str, Rect]]:
    x0, y0, x1, y1 = rect
    upright = cut.edge == "left"
    at = cut.set_um + (x0 if upright else y0)
    if not (x0 if upright else y0) < at < (x1 if upright else y1):
        raise ValueError(f"cut {cut.number} does not go through {cut.part}")
    near, far = ((x0, y0, at, y1), (at, y0, x1, y1)) if upright else ((x0, y0, x1, at), (x0, at, x1, y1))
    return ((cut.stays, near), (cut.falls, far)) if cut.stop else ((cut.stays, far), (cut.falls, near))


def _freed(cuts: Sequence[Cut], last: Cut, rect: Rect) -> dict[str, Rect]:
    x1, y1, x2, y2 = [cut.set_um for cut in cuts if cut.part == last.part and cut.runs_um]
    pin = Pinwheel(x1, y1, x2, y2, ())
    left, top, right, bottom = rect
    ends = pinwheel_ends(pin, right - left, bottom - top)
    return {
        name: (left + x, top + y, left + end_x, top + end_y)
        for name, (x, y), (end_x, end_y) in zip(last.frees, pin.corners_um, ends, strict=True)
        if name != WASTE
    }
