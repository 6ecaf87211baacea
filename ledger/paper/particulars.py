"""Particulars, the second side of a certificate: every disclosure matter with its answer."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ledger.errors import Refusal
from ledger.paper import faces
from ledger.paper.sheet import GRAPHITE, HAIRLINE, Line, Sheet

LEFT, RIGHT, GUTTER = 13, 197, 9
COLUMN = (RIGHT - LEFT - GUTTER) / 2
LABELS = 31
FOOT = 120
"""Below this the paper is left clear for the record's state and key."""
SIZES = (9, 8.5, 8, 7.5, 7, 6.5, 6, 5.5, 5)


@dataclass(frozen=True)
class Particulars:
    """`items` are (label, answer); the labels of `not_applicable` close in one sentence, each of `not_known`
    stands on its own line (New York ACAL 13.05(2) asks that of every disclaimer)."""

    items: tuple[tuple[str, str], ...]
    not_applicable: tuple[str, ...] = ()
    not_known: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Row:
    label: list[str]
    answer: list[str]

    @property
    def lines(self) -> int:
        return max(len(self.label), len(self.answer))


@dataclass(frozen=True)
class SetParticulars:
    """The second side set in type and not yet drawn; `rule_y` is above its closing sentence."""

    lines: tuple[Line, ...]
    rule_y: float | None

    def draw(self, sheet: Sheet) -> None:
        for line in self.lines:
            line.draw(sheet)
        sheet.rule(LEFT, RIGHT, 18, 0.6)
        if self.rule_y is not None:
            sheet.rule(LEFT, RIGHT, self.rule_y, 0.3, HAIRLINE)


def check_particulars(particulars: Particulars) -> None:
    """Raises Refusal for a character the face lacks."""
    for label, answer in particulars.items:
        faces.check_text(label, "A label", italic=True)
        faces.check_text(answer, f"“{label}”")
    for label in (*particulars.not_applicable, *particulars.not_known):
        faces.check_text(label, "A label", italic=True)
        faces.check_text(label, "A label")


def not_applicable_sentence(labels: Sequence[str]) -> str:
    """'Not applicable to this print: approved in writing; printed after the artist's death.'"""
    named = "; ".join(label[:1].lower() + label[1:] for label in labels)
    return f"Not applicable to this print: {named}."


def set_particulars(particulars: Particulars, title: str, number: str, code: str, *, smallest: float) -> SetParticulars:
    """The second side on the A5 grid, type never under `smallest` points. Raises Refusal if it cannot fit."""
    heads, top = _heading(title, number, code)
    sentence = not_applicable_sentence(particulars.not_applicable) if particulars.not_applicable else ""
    for size in (size for size in SIZES if size >= smallest):
        lead, gap = 3.65 * size / 9, 0.9
        columns = _balanced(_rows(particulars, size), lead, gap)
        closing = faces.wrap(sentence, RIGHT - LEFT, size)
        deepest = max(_height(rows, lead, gap) for rows in columns)
        if top + deepest + 4 + len(closing) * lead <= FOOT:
            break
    else:
        raise Refusal("The Particulars do not fit on one side. Print on A4, or use fewer words.")
    y = top + deepest - lead + 2.4
    lines = (
        *heads,
        *(
            line
            for n, rows in enumerate(columns)
            for line in _row_lines(rows, LEFT + n * (COLUMN + GUTTER), top, size, lead, gap)
        ),
        *(Line(LEFT, y + 4.4 + n * lead, text, size) for n, text in enumerate(closing)),
    )
    return SetParticulars(lines, y if closing else None)


def _heading(title: str, number: str, code: str) -> tuple[list[Line], float]:
    """The head of the side, and the y of the first line below it."""
    shown = faces.fit(number, 60, (15, 12, 9, 7)) or 7
    room = RIGHT - LEFT - faces.width_mm(number, shown) - 6
    fitted = faces.fit_lines(title, room, ((15, 1), (12, 2), (9, 4)), italic=True)
    if fitted is None:
        raise Refusal("The title is too long for the Particulars. Use a shorter one.")
    size, titles = fitted
    heads = [
        Line(LEFT, 15.2, "PARTICULARS", 6.8, spacing=1.25, colour=GRAPHITE),
        Line(RIGHT, 15.2, code, 7.5, spacing=0.5, right=True),
        Line(RIGHT, 24.4, number, shown, right=True),
        *(Line(LEFT, 24.4 + n * size * 0.4, text, size, italic=True) for n, text in enumerate(titles)),
    ]
    return heads, 32.5 + (len(titles) - 1) * size * 0.4


def _rows(particulars: Particulars, size: float) -> list[_Row]:
    told = (*particulars.items, *((label, "Not known.") for label in particulars.not_known))
    return [
        _Row(faces.wrap(label, LABELS - 2, size, italic=True), faces.wrap(answer, COLUMN - LABELS, size))
        for label, answer in told
    ]


def _height(rows: Sequence[_Row], lead: float, gap: float) -> float:
    return sum(row.lines * lead + gap for row in rows)


def _balanced(rows: list[_Row], lead: float, gap: float) -> tuple[list[_Row], list[_Row]]:
    """The rows in two columns, in order, the split that leaves the deeper one shallowest."""
    at = min(range(len(rows) + 1), key=lambda n: (max(_height(rows[:n], lead, gap), _height(rows[n:], lead, gap)), -n))
    return rows[:at], rows[at:]


def _row_lines(rows: Sequence[_Row], x: float, y: float, size: float, lead: float, gap: float) -> Iterator[Line]:
    for row in rows:
        for n, text in enumerate(row.label):
            yield Line(x, y + n * lead, text, size, italic=True, colour=GRAPHITE)
        for n, text in enumerate(row.answer):
            yield Line(x + LABELS, y + n * lead, text, size)
        y += row.lines * lead + gap
