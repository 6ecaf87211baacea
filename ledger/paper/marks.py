"""What became of each number, drawn: square is still the maker's, round is gone, broken is not certain."""

from collections.abc import Callable
from typing import Literal

from ledger.paper import faces
from ledger.paper.sheet import DOT, GRAPHITE, INK, WHITE, Sheet

Mark = Literal[
    "studio",
    "assigned",
    "held",
    "gallery",
    "loan",
    "sold",
    "sold_again",
    "gone",
    "missing",
    "destroyed",
    "withdrawn",
    "free",
]
BOX = 32.0
"""The marks are drawn in a box of this many units."""
PEN = 1.7 * faces.POINTS_A_MM


def draw(sheet: Sheet, mark: Mark, figure: str, x_mm: float, y_mm: float, side_mm: float) -> None:
    """The mark with its figure in a box of `side_mm`, x, y its top left corner."""
    with sheet.place(x_mm, y_mm, side_mm / BOX):
        _SHAPES[mark](sheet)
        colour = _COLOURS.get(mark, INK)
        size = faces.fit(figure, 19, (48, 42, 36, 30)) or 25
        sheet.text(16, _MIDDLE.get(mark, 16) + size * 0.12, figure, size, colour=colour, align="centre")
        if mark == "destroyed":
            sheet.rule(7, 25, 16, PEN)


def _square(sheet: Sheet) -> None:
    sheet.shape(((4, 4), (28, 4), (28, 28), (4, 28)), width=PEN, closed=True)


def _assigned(sheet: Sheet) -> None:
    dash = (4 * faces.POINTS_A_MM, 3.2 * faces.POINTS_A_MM)
    sheet.shape(((4, 4), (28, 4), (28, 28), (4, 28)), width=PEN, closed=True, dash=dash)


def _held(sheet: Sheet) -> None:
    sheet.shape(((4, 4), (21, 4), (28, 11), (28, 28), (4, 28)), width=PEN, closed=True)
    sheet.shape(((21, 4), (21, 11), (28, 11)), width=PEN)


def _gallery(sheet: Sheet) -> None:
    sheet.shape(((6, 8), (26, 8), (26, 28.5), (6, 28.5)), width=PEN, closed=True)
    sheet.rule(0, 32, 6, 4 * faces.POINTS_A_MM)


def _loan(sheet: Sheet) -> None:
    sheet.shape(((28, 4), (4, 4), (4, 28), (28, 28)), width=PEN)


def _sold(sheet: Sheet) -> None:
    sheet.ring(16, 16, 13, width=0, fill=DOT)


def _sold_again(sheet: Sheet) -> None:
    sheet.ring(16, 16, 12, width=0, fill=DOT)
    sheet.ring(16, 16, 15.4, width=PEN * 0.8, stroke=DOT)


def _gone(sheet: Sheet) -> None:
    sheet.ring(16, 16, 12.4, width=PEN)


def _missing(sheet: Sheet) -> None:
    sheet.ring(16, 16, 12.4, width=PEN, dash=(4.2 * faces.POINTS_A_MM, 3.4 * faces.POINTS_A_MM))


def _destroyed(sheet: Sheet) -> None:
    sheet.shape(((4, 4), (28, 4), (28, 18), (18, 28), (4, 28)), width=PEN, closed=True)
    sheet.shape(((31, 23), (31, 31), (23, 31)), width=PEN * 0.8, closed=True)


def _withdrawn(sheet: Sheet) -> None:
    for y in (26.2, 30):
        sheet.rule(5, 27, y, PEN, GRAPHITE)


def _free(sheet: Sheet) -> None:
    sheet.shape(((6, 28), (26, 28)), width=PEN, stroke=GRAPHITE, dash=(PEN, PEN * 1.6))


_SHAPES: dict[Mark, Callable[[Sheet], None]] = {
    "studio": _square,
    "assigned": _assigned,
    "held": _held,
    "gallery": _gallery,
    "loan": _loan,
    "sold": _sold,
    "sold_again": _sold_again,
    "gone": _gone,
    "missing": _missing,
    "destroyed": _destroyed,
    "withdrawn": _withdrawn,
    "free": _free,
}
_COLOURS: dict[Mark, str] = {"sold": WHITE, "sold_again": WHITE, "withdrawn": GRAPHITE, "free": GRAPHITE}
_MIDDLE: dict[Mark, float] = {"gallery": 18, "held": 17.5}
