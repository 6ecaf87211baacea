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
    """What a drawing of a cut sheet is made of: its pieces by name, left, top, right and bottom, and its cuts.

    `corners` are the left top corners of the parts that are cut up later, each with the letters of those that begin
    there.
    """

    pieces: dict[str, Rect]
    lines: tuple[CutLine, ...]
    corners: dict[tuple[int, int], str]


def replay(sheet: Sheet, cuts: Sequence[Cut]) -> dict[str, Rect]:
    """The pieces that come of following the cuts, by name, as edges on the sheet.

    Raises ValueError where a cut is of a part that is not there, or does not go through it.
    """
    return shapes(sheet, cuts).pieces


def shapes(sheet: Sheet, cuts: Sequence[Cut]) -> Shapes:
    """The pieces and the lines of the cuts. Raises ValueError as `replay` does."""
    whole = WHOLE if any(cut.part == WHOLE for cut in cuts) else "1"
    parts: dict[str, Rect] = {whole: (0, 0, sheet.width_um, sheet.height_um)}
    lines, lettered = [], dict[str, tuple[int, int]]()
    for cut, rect in _followed(parts, cuts):
        lines.append(_line(cut, rect))
        for name in (cut.stays, cut.falls, *cut.frees):
            if name.isupper() and name in parts:
                lettered.setdefault(name, parts[name][:2])
    corners: dict[tuple[int, int], str] = {}
    for name, corner in lettered.items():
        corners[corner] = f"{corners[corner]}, {name}" if corner in corners else name
    return Shapes(parts, tuple(lines), corners)


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


def numbers_placed(
    lines: Sequence[CutLine], apart_um: int, taken: Sequence[tuple[int, int]]
) -> dict[int, tuple[int, int]]:
    """Where along its line each cut's number stands, this far from what is taken and from one another.

    The short lines, which have the fewest places, choose first; a number without a place is left out.
    """
    near = _Near(apart_um)
    for x, y in taken:
        near.take(x, y)
    placed: dict[int, tuple[int, int]] = {}
    for line in sorted(lines, key=lambda each: each.x2_um - each.x1_um + each.y2_um - each.y1_um):
        wide, high = line.x2_um - line.x1_um, line.y2_um - line.y1_um
        places = ((line.x1_um + wide * share // 40, line.y1_um + high * share // 40) for share in range(1, 40))
        place = next(((x, y) for x, y in places if near.free(x, y)), None)
        if place:
            placed[line.number] = place
            near.take(*place)
    return placed


class _Near:
    """Places taken, by squares as wide as they have to be apart: only the nine around a place need a look."""

    def __init__(self, apart: int) -> None:
        self.apart = apart
        self.squares: dict[tuple[int, int], list[tuple[int, int]]] = {}

    def take(self, x: int, y: int) -> None:
        self.squares.setdefault((x // self.apart, y // self.apart), []).append((x, y))

    def free(self, x: int, y: int) -> bool:
        column, row = x // self.apart, y // self.apart
        around = ((column + right, row + down) for right in (-1, 0, 1) for down in (-1, 0, 1))
        return all(
            (x - a) ** 2 + (y - b) ** 2 >= self.apart**2 for square in around for a, b in self.squares.get(square, ())
        )
