"""A lab sheet to scale, A4: the pieces, the numbered cuts, and the list of cuts to take to the bench."""

from collections.abc import Sequence
from dataclasses import dataclass

from ledger.paper import faces
from ledger.paper.sheet import GRAPHITE, HAIRLINE, INK, WHITE, Sheet, press
from ledger.reckoning.lengths import Unit, shown
from ledger.reckoning.sheet_cuts import WHOLE, Cut, last_cuts
from ledger.reckoning.sheet_drawing import top_mark
from ledger.reckoning.sheet_layout import Sheet as LabSheet
from ledger.reckoning.sheet_replay import Shapes, numbers_placed, shapes
from ledger.reckoning.sheet_steps import CAUTION, Bench, finished_by, how, line_of, set_again

WIDTH, HEIGHT = 210, 297
LEFT, RIGHT, TOP = 18, 194, 16
FOOT = HEIGHT - 13
BOX = (164.0, 196.0)
"""Width and height the drawing may take, in mm."""
BOX_X, BOX_Y = LEFT + 10.0, 52.0
SCALES = ((1, 1), (1, 2), (2, 5), (1, 4), (1, 5), (1, 10), (1, 20), (1, 50))
RULE_Y = FOOT - 6
ROW = 5.4
COLUMNS = (1, 12, 34, 76, 96, 118, 150)
COLUMNS_KNIFE = (1, 12, 34, 118, 130, 160)
RULE_SAID: dict[Unit, str] = {"mm": "100 mm.", "in": "100 mm, a hair under 3 15/16 in."}
PAPER_WASTE = "#E6E9EB"


@dataclass(frozen=True)
class SheetPlan:
    """What is drawn; `facts` are sentences on the sheet, its gutter and margins, and `cuts` those of one layout.

    The pictures of the prints in `turned` have their top at the right.
    """

    title: str
    facts: str
    sheet: LabSheet
    cuts: tuple[Cut, ...]
    bench: Bench
    turned: frozenset[str]


@dataclass(frozen=True)
class Row:
    """A line of the list; `joined` to the one above, whose setting it has."""

    cells: tuple[str, ...]
    joined: bool


def render_plan(plan: SheetPlan) -> bytes:
    """The PDF: the drawing with a line of 100 mm to check the printer by, then the cuts.

    Raises Refusal for a character the face lacks.
    """
    faces.check_text(plan.title, "The title", italic=True)
    faces.check_text(plan.facts, "The description")
    with press(f"{plan.title}: cutting a lab sheet") as printing:
        sheet = printing.sheet
        with sheet.page(WIDTH, HEIGHT):
            _head(sheet, plan)
            _draw(sheet, plan)
            _rule_of_100(sheet, plan.bench.unit)
        rows = _rows(plan)
        done = 0
        while done < len(rows):
            with sheet.page(WIDTH, HEIGHT):
                done += _list(sheet, plan, rows[done:], first=not done)
    return printing.pdf


def scale_of(sheet: LabSheet) -> tuple[int, int]:
    """The largest usual scale at which the sheet fits the page: (1, 2) is half size."""
    for on_paper, real in SCALES:
        if all(
            side * on_paper <= most * 1000 * real
            for side, most in zip((sheet.width_um, sheet.height_um), BOX, strict=True)
        ):
            return on_paper, real
    return SCALES[-1]


def _head(sheet: Sheet, plan: SheetPlan) -> None:
    on_paper, real = scale_of(plan.sheet)
    sheet.text(LEFT, TOP, "CUTTING A LAB SHEET", 6.8, spacing=1, colour=GRAPHITE)
    sheet.text(RIGHT, TOP, f"SCALE {on_paper}:{real}", 6.8, spacing=1, colour=GRAPHITE, align="right")
    sheet.rule(LEFT, RIGHT, TOP + 2.5, 0.6)
    size, titles = faces.fit_lines(plan.title, RIGHT - LEFT, ((17, 1), (12, 1), (9, 2)), italic=True) or (
        9,
        [plan.title],
    )
    y = 27.0
    for text in titles[:2]:
        sheet.text(LEFT, y, text, size, italic=True)
        y += size * 0.4
    for n, text in enumerate(faces.wrap(plan.facts, RIGHT - LEFT, 9.5)[:3]):
        sheet.text(LEFT, y + 0.5 + n * 4.2, text, 9.5)


def _draw(sheet: Sheet, plan: SheetPlan) -> None:
    on_paper, real = scale_of(plan.sheet)
    per_um = on_paper / real / 1000
    drawn = shapes(plan.sheet, plan.cuts)
    wide, high = plan.sheet.width_um * per_um, plan.sheet.height_um * per_um
    with sheet.place(BOX_X, BOX_Y):
        _box(sheet, 0, 0, wide, high, fill=PAPER_WASTE)
        for name, rect in drawn.pieces.items():
            x, y, x2, y2 = (um * per_um for um in rect)
            _box(sheet, x, y, x2, y2, fill=WHITE)
            sheet.text((x + x2) / 2, (y + y2) / 2, name, 12, align="centre")
            size = f"{shown(rect[2] - rect[0], plan.bench.unit)} × {shown(rect[3] - rect[1], plan.bench.unit)}"
            points = faces.fit(size, x2 - x - 2, (8, 7))
            if points:
                sheet.text((x + x2) / 2, (y + y2) / 2 + 4, size, points, colour=GRAPHITE, align="centre")
            if name in plan.turned:
                mark = [(a * per_um, b * per_um) for a, b in top_mark(rect, round(1.5 / per_um))]
                sheet.shape(mark, width=0.4, closed=True, fill=INK)
        _dimensions(sheet, plan, wide, high)
        _cut_lines(sheet, drawn, per_um)


def _box(sheet: Sheet, x: float, y: float, x2: float, y2: float, *, fill: str) -> None:
    sheet.shape(((x, y), (x2, y), (x2, y2), (x, y2)), width=0.5, closed=True, fill=fill)


def _dimensions(sheet: Sheet, plan: SheetPlan, wide: float, high: float) -> None:
    """The sheet's width above it and its height at its left, between ticks."""
    sheet.rule(0, wide, -4, 0.4, GRAPHITE)
    for x in (0.0, wide):
        sheet.shape(((x, -5.2), (x, -2.8)), width=0.4, stroke=GRAPHITE)
    sheet.text(wide / 2, -5, shown(plan.sheet.width_um, plan.bench.unit), 8, colour=GRAPHITE, align="centre")
    sheet.shape(((-4, 0), (-4, high)), width=0.4, stroke=GRAPHITE)
    for y in (0.0, high):
        sheet.rule(-5.2, -2.8, y, 0.4, GRAPHITE)
    sheet.text(-5, high / 2, shown(plan.sheet.height_um, plan.bench.unit), 8, colour=GRAPHITE, align="right")


def _cut_lines(sheet: Sheet, drawn: Shapes, per_um: float) -> None:
    """The cuts with their numbers, and the letters of the parts."""
    for line in drawn.lines:
        ends = [um * per_um for um in (line.x1_um, line.y1_um, line.x2_um, line.y2_um)]
        sheet.shape(((ends[0], ends[1]), (ends[2], ends[3])), width=0.5, stroke=GRAPHITE, dash=(2.4, 1.6))
    taken = [((left + right) // 2, (top + foot) // 2) for left, top, right, foot in drawn.pieces.values()]
    for (left, top), letters in drawn.corners.items():
        size = faces.fit(letters, 6, (9, 7.5), italic=True) or 7
        sheet.text(left * per_um + 1.2, top * per_um + 0.6 + size / 3, letters, size, italic=True)
        width = faces.width_mm(letters, size, italic=True)
        taken += [(left + round(step / per_um), top + round(2 / per_um)) for step in (2, width)]
    for number, place in numbers_placed(drawn.lines, round(4.2 / per_um), taken).items():
        x, y = (um * per_um for um in place)
        sheet.ring(x, y, 1.9, width=0.4, fill=WHITE, stroke=GRAPHITE)
        sheet.text(x, y + 0.9, str(number), 7, colour=INK, align="centre")


def _rule_of_100(sheet: Sheet, unit: Unit) -> None:
    sheet.rule(LEFT, LEFT + 100, RULE_Y, 0.6)
    for tick in range(11):
        length = 2.4 if tick % 5 == 0 else 1.4
        sheet.shape(((LEFT + tick * 10, RULE_Y), (LEFT + tick * 10, RULE_Y - length)), width=0.6)
    words = f"{RULE_SAID[unit]} If it measures otherwise, the printer has changed the size."
    sheet.text(LEFT, RULE_Y + 4, words, 8, colour=GRAPHITE)


def _list(sheet: Sheet, plan: SheetPlan, rows: Sequence[Row], *, first: bool) -> int:
    """One page of cuts; gives how many stand on it."""
    sheet.text(LEFT, TOP, "CUTS, IN ORDER", 6.8, spacing=1, colour=GRAPHITE)
    sheet.rule(LEFT, RIGHT, TOP + 2.5, 0.6)
    title = plan.title
    size = faces.fit(title, RIGHT - LEFT, (14, 11, 8), italic=True) or 8
    sheet.text(LEFT, 27, title, size, italic=True)
    y = 35.0
    for text in faces.wrap(f"{how(plan.bench)} {CAUTION}", RIGHT - LEFT, 9.5) if first else ():
        sheet.text(LEFT, y, text, 9.5)
        y += 4.2
    y += 1.5
    columns = COLUMNS_KNIFE if plan.bench.knife else COLUMNS
    for x, text in zip(columns, _heads(plan.bench), strict=True):
        sheet.text(LEFT + x, y, text, 8.8, italic=True, colour=GRAPHITE)
    y += 2
    sheet.rule(LEFT, RIGHT, y, 0.6)
    on_it = rows[: int((FOOT - y) / ROW)]
    for n, row in enumerate(on_it):
        if n:
            sheet.rule(LEFT, RIGHT, y, 0.4, HAIRLINE if row.joined else GRAPHITE)
        for x, text in zip(columns, row.cells, strict=True):
            sheet.text(LEFT + x, y + 3.8, text, 9.2)
        y += ROW
    sheet.rule(LEFT, RIGHT, y, 0.4, GRAPHITE)
    return len(on_it)


def _rows(plan: SheetPlan) -> list[Row]:
    last, knife = last_cuts(plan.cuts), plan.bench.knife
    return [
        Row(
            (*(_by_hand(plan, cut) if knife else _at_the_stop(plan, cut, again)), *_comes(plan, cut, last)),
            again or knife,
        )
        for cut, again in zip(plan.cuts, set_again(plan.cuts, plan.bench), strict=True)
    ]


def _heads(bench: Bench) -> tuple[str, ...]:
    unit = bench.unit
    how_set = (f"The line, {unit}",) if bench.knife else ("Edge to the stop", f"Set, {unit}")
    return "Cut", "Part in hand", *how_set, "Stays", f"Falls off, {unit}", "Finished"


def _at_the_stop(plan: SheetPlan, cut: Cut, again: bool) -> tuple[str, ...]:
    """The left part of a row; what goes on marks has neither stop nor setting."""
    setting = shown(cut.set_um, plan.bench.unit)
    if cut.stop is None:
        edge = f"{'marks nearest' if plan.bench.marks else f'mark {setting} from'} the {cut.edge} edge"
        return str(cut.number), _part(cut), f"no stop: {edge}", ""
    return str(cut.number), _part(cut), f"{cut.stop} edge", f"still {setting}" if again else setting


def _by_hand(plan: SheetPlan, cut: Cut) -> tuple[str, ...]:
    unit = plan.bench.unit
    line = line_of(plan.cuts, cut)
    along, far = ("top", "bottom") if cut.edge == "left" else ("left", "right")
    place = f"{shown(line.at_um, unit)} from {cut.edge}"
    if cut.stop is None and plan.bench.marks:
        place = f"on the marks nearest the {cut.edge} edge"
    if line.end_um is not None:
        reach = f"{along} edge to {shown(line.end_um, unit)} from {along}{', not past' if line.into else ''}"
    elif line.start_um is not None:
        reach = f"{shown(line.start_um, unit)} from {along} to {far} edge"
    else:
        reach = "right across"
    return str(cut.number), _part(cut), f"{place}: {reach}"


def _part(cut: Cut) -> str:
    return "whole sheet" if cut.part == WHOLE else cut.part


def _comes(plan: SheetPlan, cut: Cut, last: dict[str, int]) -> tuple[str, str, str]:
    """What stays, what falls off with its size, and the prints that are finished."""
    finished = ", ".join(finished_by(cut, last))
    if cut.frees:
        return f"free: {', '.join(cut.frees)}", "", finished
    fell = "margin" if cut.stop is None else cut.falls
    falls = f"{fell}, {shown(cut.falls_um, plan.bench.unit)}" if fell else ""
    return "" if cut.stays == WHOLE else cut.stays, falls, finished
