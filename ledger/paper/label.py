"""The label for the back of a print or its frame: alone, or on a sheet of labels. It carries no price."""

from collections.abc import Sequence
from dataclasses import dataclass

from ledger.errors import Refusal
from ledger.paper import faces, qr
from ledger.paper.sheet import GRAPHITE, INK, Sheet, press

WIDTH, HEIGHT = 70.0, 42.0
LEAST_WIDTH, LEAST_HEIGHT = 60.0, 36.0
LARGEST = 1.5
"""Type and square grow with the label up to this."""
SLACK_MM = 0.01


@dataclass(frozen=True, kw_only=True)
class LabelFacts:
    """The words of a label, ready to print; `details` are process and paper, size, and mounting, a line each."""

    title: str
    number_shown: str
    maker: str
    year: str
    details: tuple[str, ...]
    code_grouped: str
    write_to: str
    care: str = "Out of the sun, out of the damp"
    qr_text: str | None = None
    address_words: str | None = None


@dataclass(frozen=True)
class LabelSheet:
    """A sheet of labels, in mm, as its packet gives it. Raises Refusal where it cannot be so."""

    page_w_mm: float
    page_h_mm: float
    label_w_mm: float
    label_h_mm: float
    left_mm: float
    top_mm: float
    gap_x_mm: float = 0.0
    gap_y_mm: float = 0.0

    def __post_init__(self) -> None:
        if min(self.page_w_mm, self.page_h_mm, self.label_w_mm, self.label_h_mm) <= 0:
            raise Refusal("A sheet and its labels have a width and a height in mm. Write them as printed.")
        if min(self.left_mm, self.top_mm, self.gap_x_mm, self.gap_y_mm) < 0:
            raise Refusal("The margins and gaps of a sheet are 0 mm or more. Write them as printed.")
        if not self.columns or not self.rows:
            raise Refusal(
                f"No label of {self.label_w_mm:g} × {self.label_h_mm:g} mm fits on a sheet of "
                f"{self.page_w_mm:g} × {self.page_h_mm:g} mm with these margins. Measure the sheet again."
            )
        _check_size(self.label_w_mm, self.label_h_mm)

    @property
    def columns(self) -> int:
        """How many labels stand side by side."""
        return _how_many(self.page_w_mm - self.left_mm, self.label_w_mm, self.gap_x_mm)

    @property
    def rows(self) -> int:
        """How many labels stand one above another."""
        return _how_many(self.page_h_mm - self.top_mm, self.label_h_mm, self.gap_y_mm)


def _how_many(room: float, label: float, gap: float) -> int:
    return max(0, int((room + gap + SLACK_MM) // (label + gap)))


def _check_size(width: float, height: float) -> None:
    if width + SLACK_MM < LEAST_WIDTH or height + SLACK_MM < LEAST_HEIGHT:
        raise Refusal(
            f"A label of {width:g} × {height:g} mm is too small for the code and its square. "
            f"Use one of {LEAST_WIDTH:g} × {LEAST_HEIGHT:g} mm or more."
        )


ALONE = LabelSheet(WIDTH, HEIGHT, WIDTH, HEIGHT, 0, 0)


def render_labels(labels: Sequence[LabelFacts], sheet: LabelSheet = ALONE, start: int = 1) -> bytes:
    """The PDF of labels on as many sheets as they need, row by row from place `start` of the first sheet.

    Without a sheet each stands alone, on a page of 70 × 42 mm.

    Raises Refusal for a place the sheet does not have, a character the face lacks, or too many words.
    """
    a_sheet = sheet.columns * sheet.rows
    if not 1 <= start <= a_sheet:
        raise Refusal(f"This sheet has {a_sheet} labels. Start at one of 1 to {a_sheet}.", field="start")
    if not labels:
        raise Refusal("There is no label to print. Choose at least one.")
    for each in labels:
        _check(each)
    places = [*([None] * (start - 1)), *labels]
    with press("Labels" if len(labels) > 1 else f"{labels[0].title} {labels[0].number_shown}") as printing:
        for first in range(0, len(places), a_sheet):
            with printing.sheet.page(sheet.page_w_mm, sheet.page_h_mm):
                for n, facts in enumerate(places[first : first + a_sheet]):
                    if facts:
                        _place(printing.sheet, sheet, n, facts)
    return printing.pdf


def _place(paper: Sheet, sheet: LabelSheet, n: int, facts: LabelFacts) -> None:
    down, across = divmod(n, sheet.columns)
    x = sheet.left_mm + across * (sheet.label_w_mm + sheet.gap_x_mm)
    y = sheet.top_mm + down * (sheet.label_h_mm + sheet.gap_y_mm)
    with paper.place(x, y):
        _Label(paper, facts, sheet.label_w_mm, sheet.label_h_mm).draw()


def _check(facts: LabelFacts) -> None:
    faces.check_text(facts.title, "The title", italic=True)
    for where, text in (
        ("The number", facts.number_shown),
        ("The maker’s name", facts.maker),
        ("The year", facts.year),
        *(("The description", text) for text in facts.details),
        ("The care line", facts.care),
        ("The code", facts.code_grouped),
        ("The address in words", facts.address_words or ""),
        ("The address to write to", facts.write_to),
    ):
        faces.check_text(text, where)


class _Label:
    """One label being drawn, every measure in proportion to 70 × 42 mm, type never under 7 points."""

    def __init__(self, paper: Sheet, facts: LabelFacts, width: float, height: float) -> None:
        self.paper, self.facts = paper, facts
        self.width, self.height = width, height
        self.scale = min(width / WIDTH, height / HEIGHT, LARGEST)
        self.margin = 4 * self.scale
        self.symbol = qr.matrix(facts.qr_text) if facts.qr_text else None
        self.module = max(qr.SMALLEST_MODULE_MM, qr.SMALLEST_MODULE_MM * self.scale)
        dark = len(self.symbol) * self.module if self.symbol else 0
        self.narrow = width - 2 * self.margin - (dark + qr.QUIET * self.module if self.symbol else 0)

    def size(self, points: float) -> float:
        return max(7.0, points * self.scale)

    def draw(self) -> None:
        self._body(self._heading(), self._foot())
        if self.symbol:
            side, quiet = qr.side_mm(self.symbol, self.module), qr.QUIET * self.module
            x = self.width - self.margin + quiet - side
            qr.draw(self.paper, self.symbol, x, self.height - 3.2 * self.scale + quiet - side, self.module)

    def _body(self, y: float, ceiling: float) -> None:
        """Details and care; where there is no room for both, what the print is comes before how to keep it."""
        details, care = self.facts.details, self.facts.care
        for texts in ((*details, care), details):
            for size in (self.size(points) for points in (7.8, 7.4, 7)):
                lead = size * (0.436 if size > 7 else 0.39)
                lines = [line for text in texts for line in faces.wrap(text, self.narrow, size)]
                if y + (len(lines) - 1) * lead + size * 0.12 <= ceiling:
                    for n, text in enumerate(lines):
                        self.paper.text(self.margin, y + n * lead, text, size)
                    return
        raise Refusal(
            f"The words for “{self.facts.title}” do not fit on a label of "
            f"{self.width:g} × {self.height:g} mm. Use fewer, or a larger label."
        )

    def _heading(self) -> float:
        """Title, number, maker and rule; gives the y of the first line below."""
        s, facts = self.scale, self.facts
        number = faces.fit(facts.number_shown, self.width / 3, [self.size(n) for n in (15, 12, 9, 7)])
        maker = f"{facts.maker}, {facts.year}" if facts.year else facts.maker
        maker_size = faces.fit(maker, self.width - 2 * self.margin, [self.size(n) for n in (8.6, 7.8, 7)])
        if number is None or maker_size is None:
            raise Refusal("The number or the maker’s name is too long for a label. Use a shorter one.")
        room = self.width - 2 * self.margin - faces.width_mm(facts.number_shown, number) - 3 * s
        steps = [(self.size(n), most) for n, most in ((11.5, 1), (10, 1), (9, 2), (8, 3), (7, 9))]
        size, titles = faces.fit_lines(facts.title, room, steps, italic=True) or (7.0, [])
        if not titles:
            raise Refusal("The title is too long for a label. Use a shorter one.")
        y = 7.2 * s
        self.paper.text(self.width - self.margin, y, facts.number_shown, number, align="right")
        for n, text in enumerate(titles):
            self.paper.text(self.margin, y + n * size * 0.39, text, size, italic=True)
        y += (len(titles) - 1) * size * 0.39
        self.paper.text(self.margin, y + 4.1 * s, maker, maker_size)
        self.paper.rule(self.margin, self.width - self.margin, y + 6.1 * s, 0.5)
        return y + 9.5 * s

    def _foot(self) -> float:
        """Code and addresses, from the foot up; gives the y above which the rest must stay."""
        s, facts, size = self.scale, self.facts, self.size(7)
        lines = [
            (line, size)
            for text in (facts.address_words, facts.write_to)
            if text
            for line in faces.wrap(text, self.narrow, size)
        ]
        y = self.height - 2.9 * s
        lead = max(2.5, 2.7 * s)
        for text, points in reversed(lines):
            self.paper.text(self.margin, y, text, points, colour=GRAPHITE)
            y -= lead
        y -= 0.9 * s
        sizes = [self.size(points) for points in (9.6, 8.8, 8)]
        code = faces.fit(facts.code_grouped, self.narrow, sizes, spacing=0.5)
        if code is None:
            raise Refusal("The address makes the square too wide for this label. Use a wider label.")
        self.paper.text(self.margin, y, facts.code_grouped, code, spacing=0.5, colour=INK)
        return y - code * 0.32
