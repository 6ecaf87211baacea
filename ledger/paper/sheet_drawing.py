"""A lab sheet to scale, A4: the pieces, the numbered cuts, and the list of cuts to take to the bench."""

from collections.abc import Sequence
from dataclasses import dataclass

from ledger.paper import faces
from ledger.paper.sheet import GRAPHITE, HAIRLINE, INK, WHITE, Sheet, press
from ledger.reckoning.lengths import Unit, said, shown
from ledger.reckoning.sheet_cuts import WASTE, Cut
from ledger.reckoning.sheet_layout import Sheet as LabSheet
from ledger.reckoning.sheet_replay import CutLine, Shapes, shapes
from ledger.reckoning.sheet_words import CAUTION, HOW

WIDTH, HEIGHT = 210, 297
LEFT, RIGHT, TOP = 18, 194, 16
FOOT = HEIGHT - 13
BOX = (164.0, 196.0)
"""Width and height the drawing may take, in mm."""
BOX_X, BOX_Y = LEFT + 10.0, 52.0
SCALES = ((1, 1), (1, 2), (2, 5), (1, 4), (1, 5), (1, 10), (1, 20), (1, 50))
RULE_Y = FOOT - 6
ROW = 5.4
COLUMNS = {"number": 1, "part": 12, "stop": 34, "set": 74, "stays": 104, "falls": 130}
HEADS = ("Cut", "Part in hand", "Against the stop", "Set, {}", "Stays", "Falls off")
RULE_SAID: dict[Unit, str] = {"mm": "100 mm.", "in": "100 mm, a hair under 3 15/16 in."}
PAPER_WASTE = "#E6E9EB"


@dataclass(frozen=True)
class SheetPlan:
    """What is drawn; `facts` are sentences on the sheet, its gutter and margins, and `cuts` those of one layout.

    `unit` is what every length on it is written in.
    """

    title: str
    facts: str
    sheet: LabSheet
    cuts: tuple[Cut, ...]
    unit: Unit = "mm"


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
            _rule_of_100(sheet, plan.unit)
        rest = plan.cuts
        while rest:
            with sheet.page(WIDTH, HEIGHT):
                rest = _list(sheet, plan, rest)
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
        for name, (left, top, right, bottom) in drawn.pieces.items():
            x, y, x2, y2 = (um * per_um for um in (left, top, right, bottom))
            _box(sheet, x, y, x2, y2, fill=WHITE)
            sheet.text((x + x2) / 2, (y + y2) / 2, name, 12, align="centre")
            size = f"{shown(right - left, plan.unit)} × {shown(bottom - top, plan.unit)}"
            points = faces.fit(size, x2 - x - 2, (8, 7, 6, 5))
            if points:
                sheet.text((x + x2) / 2, (y + y2) / 2 + 4, size, points, colour=GRAPHITE, align="centre")
        _dimensions(sheet, plan, wide, high)
        _cut_lines(sheet, drawn, per_um)


def _box(sheet: Sheet, x: float, y: float, x2: float, y2: float, *, fill: str) -> None:
    sheet.shape(((x, y), (x2, y), (x2, y2), (x, y2)), width=0.5, closed=True, fill=fill)


def _dimensions(sheet: Sheet, plan: SheetPlan, wide: float, high: float) -> None:
    """The sheet's width above it and its height at its left, between ticks."""
    sheet.rule(0, wide, -4, 0.4, GRAPHITE)
    for x in (0.0, wide):
        sheet.shape(((x, -5.2), (x, -2.8)), width=0.4, stroke=GRAPHITE)
    sheet.text(wide / 2, -5, shown(plan.sheet.width_um, plan.unit), 8, colour=GRAPHITE, align="centre")
    sheet.shape(((-4, 0), (-4, high)), width=0.4, stroke=GRAPHITE)
    for y in (0.0, high):
        sheet.rule(-5.2, -2.8, y, 0.4, GRAPHITE)
    sheet.text(-5, high / 2, shown(plan.sheet.height_um, plan.unit), 8, colour=GRAPHITE, align="right")


def _cut_lines(sheet: Sheet, drawn: Shapes, per_um: float) -> None:
    taken: list[tuple[float, float]] = []
    for line in drawn.lines:
        ends = [um * per_um for um in (line.x1_um, line.y1_um, line.x2_um, line.y2_um)]
        sheet.shape(((ends[0], ends[1]), (ends[2], ends[3])), width=0.5, stroke=GRAPHITE, dash=(2.4, 1.6))
    for line in drawn.lines:
        x, y = _free_place(line, per_um, taken)
        taken.append((x, y))
        sheet.ring(x, y, 1.7, width=0.4, fill=WHITE, stroke=GRAPHITE)
        sheet.text(x, y + 0.8, str(line.number), 6, colour=INK, align="centre")


def _free_place(line: CutLine, per_um: float, taken: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Where along its line a cut's number covers no other number; its beginning where there is no such place."""
    x1, y1, x2, y2 = (um * per_um for um in (line.x1_um, line.y1_um, line.x2_um, line.y2_um))
    places = [(x1 + (x2 - x1) * share / 20, y1 + (y2 - y1) * share / 20) for share in range(1, 20)]
    for x, y in places:
        if all((x - a) ** 2 + (y - b) ** 2 > 3.6**2 for a, b in taken):
            return x, y
    return places[0]


def _rule_of_100(sheet: Sheet, unit: Unit) -> None:
    sheet.rule(LEFT, LEFT + 100, RULE_Y, 0.6)
    for tick in range(11):
        length = 2.4 if tick % 5 == 0 else 1.4
        sheet.shape(((LEFT + tick * 10, RULE_Y), (LEFT + tick * 10, RULE_Y - length)), width=0.6)
    words = f"{RULE_SAID[unit]} If it measures otherwise, the printer has changed the size."
    sheet.text(LEFT, RULE_Y + 4, words, 8, colour=GRAPHITE)


def _list(sheet: Sheet, plan: SheetPlan, cuts: tuple[Cut, ...]) -> tuple[Cut, ...]:
    """One page of cuts; gives those left over."""
    sheet.text(LEFT, TOP, "CUTS, IN ORDER", 6.8, spacing=1, colour=GRAPHITE)
    sheet.rule(LEFT, RIGHT, TOP + 2.5, 0.6)
    title = plan.title
    size = faces.fit(title, RIGHT - LEFT, (14, 11, 8), italic=True) or 8
    sheet.text(LEFT, 27, title, size, italic=True)
    y = 35.0
    for text in faces.wrap(f"{HOW} {CAUTION}", RIGHT - LEFT, 9.5) if cuts is plan.cuts else ():
        sheet.text(LEFT, y, text, 9.5)
        y += 4.2
    y += 1.5
    for x, text in zip(COLUMNS.values(), HEADS, strict=True):
        sheet.text(LEFT + x, y, text.format(plan.unit), 8.8, italic=True, colour=GRAPHITE)
    y += 2
    sheet.rule(LEFT, RIGHT, y, 0.6)
    fitting = int((FOOT - y) / ROW)
    for cut in cuts[:fitting]:
        for x, text in zip(COLUMNS.values(), _row(cut, plan.unit), strict=True):
            sheet.text(LEFT + x, y + 3.8, text, 9.2)
        y += ROW
        sheet.rule(LEFT, RIGHT, y, 0.4, HAIRLINE)
    return cuts[fitting:]


def _row(cut: Cut, unit: Unit) -> tuple[str, ...]:
    stop = f"{cut.stop} edge" if cut.stop else "on the printed marks"
    setting = shown(cut.set_um, unit) if cut.stop else f"{cut.edge} margin"
    falls = f"{cut.falls}, {said(cut.falls_um, unit)}" if cut.falls == WASTE else cut.falls
    stays = cut.stays
    if cut.runs_um:
        falls = "knife: from {} to {}".format(*(shown(um, unit) for um in cut.runs_um))
    if cut.frees:
        stays = ", ".join(name for name in cut.frees if name != WASTE)
    return str(cut.number), cut.part, stop, setting, stays, falls
