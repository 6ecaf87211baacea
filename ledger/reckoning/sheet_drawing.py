"""A layout as a drawing for the page: the sheet, the prints by their figures in the cut list, and the measures."""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Literal

from ledger.reckoning.drawing import Dimension, Note, View, rectangle
from ledger.reckoning.lengths import Unit, said, shown, size_said
from ledger.reckoning.mount_parts import Size
from ledger.reckoning.sheet_cuts import Cut, Rect
from ledger.reckoning.sheet_layout import Job
from ledger.reckoning.sheet_replay import replay

LEAST_SAID = 14
"""A part of a side is measured in figures where so many of it would cover the side."""
WIDE, HIGH, A_LETTER, A_LINE = 288, 300, 6.2, 14
"""The drawing as the page scales it, in its own units: its width and height, a letter and a line of words."""


def view_of(job: Job, cuts: Sequence[Cut], unit: Unit) -> View:
    """The drawing of a sheet cut so."""
    sheet = job.sheet
    size = Size(sheet.width_um, sheet.height_um)
    prints = replay(sheet, cuts)
    row = [rect for rect in prints.values() if rect[1] == min(rect[1] for rect in prints.values())]
    column = [rect for rect in prints.values() if rect[0] == min(rect[0] for rect in prints.values())]
    usable = Size(*job.usable_um)
    rects = [(left, top, Size(right - left, bottom - top)) for left, top, right, bottom in prints.values()]
    return View(
        name="sheet",
        title=f"{len(prints)} prints on a sheet of {size_said(sheet.width_um, sheet.height_um, unit)}",
        desc=". ".join(_print_said(name, *prints[name], unit) for name in sorted(prints, key=_by_figure)) + ".",
        size=size,
        shapes=(
            rectangle("image", 0, 0, size),
            rectangle("hidden", sheet.left_um, sheet.top_um, usable),
            *(rectangle("edge", left, top, inner) for left, top, inner in rects),
        ),
        dimensions=(
            *_chain("top", sheet.width_um, {x for rect in row for x in rect[::2]}, unit),
            *_chain("left", sheet.height_um, {y for rect in column for y in rect[1::2]}, unit),
            Dimension("bottom", 0, sheet.width_um, said(sheet.width_um, unit)),
            Dimension("right", 0, sheet.height_um, said(sheet.height_um, unit)),
        ),
        notes=tuple(note for name, rect in prints.items() for note in _notes(name, rect, size, unit)),
    )


def _notes(name: str, rect: Rect, sheet: Size, unit: Unit) -> Iterable[Note]:
    """The figure of a print, and below it its size where there is room."""
    left, top, right, bottom = rect
    a_unit = max(sheet.width_um / WIDE, sheet.height_um / HIGH)
    x, y = (left + right) // 2, (top + bottom) // 2
    yield Note(x, y, name)
    words = f"{shown(right - left, unit)} × {shown(bottom - top, unit)}"
    if right - left >= (len(words) + 1) * A_LETTER * a_unit and bottom - top >= 4 * A_LINE * a_unit:
        yield Note(x, y + round(A_LINE * a_unit), words)


def _by_figure(name: str) -> int:
    return int(name)


def _print_said(name: str, left: int, top: int, right: int, bottom: int, unit: Unit) -> str:
    place = f"{shown(left, unit)} from the left, {said(top, unit)} from the top"
    return f"Print {name}: {size_said(right - left, bottom - top, unit)}, {place}"


def _chain(side: Literal["top", "left"], whole: int, places: set[int], unit: Unit) -> Iterable[Dimension]:
    """From each edge of a print to the next; gutters and margins too narrow for a figure are left to the words."""
    for start, end in pairwise(sorted({0, *places, whole})):
        if (end - start) * LEAST_SAID >= whole:
            yield Dimension(side, start, end, shown(end - start, unit))
