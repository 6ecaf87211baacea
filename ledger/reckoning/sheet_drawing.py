"""A layout as a drawing for the page: prints and parts by their names in the cut list, the cuts, and the measures."""

from collections.abc import Collection, Iterable, Sequence
from itertools import pairwise
from typing import Literal

from ledger.reckoning.drawing import Dimension, Note, Shape, View, rectangle
from ledger.reckoning.lengths import Unit, said, shown, size_said
from ledger.reckoning.mount_parts import Size
from ledger.reckoning.sheet_cuts import Cut, Rect
from ledger.reckoning.sheet_layout import Job
from ledger.reckoning.sheet_replay import Shapes, numbers_placed, shapes

WIDE, HIGH, A_LETTER, A_LINE, A_NUMBER = 288, 460, 7.5, 14, 19
"""The drawing as the page scales it, in its own units: its width and height, a letter, a line of words, and how far
apart the numbers of cuts stand. A letter and a line are those of a small phone, where words are largest: there
'100 × 150' is 74 wide, elsewhere 64."""


def view_of(job: Job, cuts: Sequence[Cut], unit: Unit, turned: Collection[str] = ()) -> View:
    """The drawing of a sheet cut so; the pictures of the prints in `turned` have their top at the right."""
    sheet = job.sheet
    size = Size(sheet.width_um, sheet.height_um)
    a_unit = max(sheet.width_um / WIDE, sheet.height_um / HIGH)
    drawn = shapes(sheet, cuts)
    prints = drawn.pieces
    leftmost, topmost = (min(rect[place] for rect in prints.values()) for place in (0, 1))
    row = [rect for rect in prints.values() if rect[1] == topmost]
    column = [rect for rect in prints.values() if rect[0] == leftmost]
    notes = [note for name, rect in prints.items() for note in _notes(name, rect, a_unit, unit)]
    notes += [Note(x, y + round(8 * a_unit), words, "start") for (x, y), words in drawn.corners.items()]
    return View(
        name="sheet",
        title=f"{len(prints)} prints on a sheet of {size_said(sheet.width_um, sheet.height_um, unit)}",
        desc=". ".join(_print_said(name, *prints[name], unit) for name in sorted(prints, key=_by_figure)) + ".",
        size=size,
        shapes=(
            rectangle("image", 0, 0, size),
            rectangle("hidden", sheet.left_um, sheet.top_um, Size(*job.usable_um)),
            *(
                rectangle("edge", left, top, Size(right - left, foot - top))
                for left, top, right, foot in prints.values()
            ),
            *(Shape("line", ((line.x1_um, line.y1_um), (line.x2_um, line.y2_um)), False) for line in drawn.lines),
            *(Shape("top", top_mark(prints[name], round(4 * a_unit))) for name in prints if name in turned),
        ),
        dimensions=(
            *_chain("top", sheet.width_um, {x for rect in row for x in rect[::2]}, a_unit, unit),
            *_chain("left", sheet.height_um, {y for rect in column for y in rect[1::2]}, a_unit, unit),
            Dimension("bottom", 0, sheet.width_um, said(sheet.width_um, unit)),
            Dimension("right", 0, sheet.height_um, said(sheet.height_um, unit)),
        ),
        notes=(*notes, *_numbers(drawn, notes, a_unit)),
    )


def top_mark(rect: Rect, size: int) -> tuple[tuple[int, int], ...]:
    """A triangle in a turned print, pointing to the top of its picture."""
    right, y = rect[2] - size, (rect[1] + rect[3]) // 2
    return (right, y), (right - size, y - size), (right - size, y + size)


def _numbers(drawn: Shapes, notes: Sequence[Note], a_unit: float) -> Iterable[Note]:
    """The number of each cut on its line, where it covers no other words."""
    apart = round(A_NUMBER * a_unit)
    taken = []
    for note in notes:
        wide = round(len(note.words) * A_LETTER * a_unit)
        left = note.x_um if note.anchor == "start" else note.x_um - wide // 2
        taken += [(x, note.y_um) for x in range(left, left + wide + apart, apart)]
    for number, (x, y) in numbers_placed(drawn.lines, apart, taken).items():
        yield Note(x, y - round(a_unit), str(number), kind="number")


def _notes(name: str, rect: Rect, a_unit: float, unit: Unit) -> Iterable[Note]:
    """The figure of a print, and below it its size where there is room: on one line, or on two in a narrow print."""
    left, top, right, bottom = rect
    x, y = (left + right) // 2, (top + bottom) // 2
    yield Note(x, y, name)
    wide, high = shown(right - left, unit), shown(bottom - top, unit)
    for lines in ((f"{wide} × {high}",), (f"{wide} ×", high)):
        longest = max(map(len, lines))
        if right - left >= (longest + 2) * A_LETTER * a_unit and bottom - top >= 2 * (len(lines) + 1) * A_LINE * a_unit:
            for place, words in enumerate(lines, 1):
                yield Note(x, y + round(place * A_LINE * a_unit), words)
            return


def _by_figure(name: str) -> int:
    return int(name)


def _print_said(name: str, left: int, top: int, right: int, bottom: int, unit: Unit) -> str:
    place = f"{shown(left, unit)} from the left, {said(top, unit)} from the top"
    return f"Print {name}: {size_said(right - left, bottom - top, unit)}, {place}"


def _chain(
    side: Literal["top", "left"], whole: int, places: set[int], a_unit: float, unit: Unit
) -> Iterable[Dimension]:
    """From each edge of a print to the next, and what is left over: together the whole side.

    A figure wider than what it measures stands a row further out, unless it would run into the one before it there.
    """
    clear = float(-whole)
    for start, end in pairwise(sorted({0, *places, whole})):
        words = shown(end - start, unit)
        wide = (len(words) + 1) * A_LETTER * a_unit
        if end - start >= wide:
            yield Dimension(side, start, end, words)
        elif (start + end - wide) / 2 >= clear:
            clear = (start + end + wide) / 2
            yield Dimension(side, start, end, words, row=1)
