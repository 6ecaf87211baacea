"""A page of the edition book, A4: what was promised, what became of every number, and a line to sign."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ledger.errors import Refusal
from ledger.paper import faces, marks
from ledger.paper.sheet import GRAPHITE, HAIRLINE, Sheet, press
from ledger.reckoning import money

WIDTH, HEIGHT = 210, 297
LEFT, RIGHT, TOP = 18, 194, 16
ROWS_A_PAGE = 30
ROW = 5.75
MARK = 4.9
FOOT = HEIGHT - 13
COLUMNS = {"inscribed": 11, "out": 33, "where": 55, "certificate": 123, "note": 150}
PRICE = 118
"""Columns, in mm from the left margin; prices end at theirs."""
CONTINUED_Y = 30.0


@dataclass(frozen=True, kw_only=True)
class BookRow:
    """One number: its mark and the figure in it, and the words of each column; `price_minor` if it was sold.

    For a print outside the count `inscribed` may hold its name, as in 'AP I/III'.
    """

    mark: marks.Mark
    figure: str
    inscribed: str = ""
    out: str = ""
    where: str = ""
    price_minor: int | None = None
    certificate: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class EditionPage:
    """All an edition's pages tell. `counts` is the sum in words; what was taken is added up from the rows."""

    maker: str
    as_of: str
    title: str
    facts: str
    declaration: str
    currency: str
    rows: tuple[BookRow, ...]
    counts: str
    beside_heading: str = ""
    beside: tuple[BookRow, ...] = ()
    closing: tuple[str, ...] = ()
    picture_path: Path | None = None
    picture_px: tuple[int, int] | None = None
    first_page: int = 1


def render_edition(page: EditionPage) -> bytes:
    """The PDF of an edition in the book: thirty rows a page, the sum carried forward.

    Raises Refusal for a character the face lacks, or closing sentences that no page could hold.
    """
    _check(page)
    rest: list[_Row] = [_Row(row) for row in page.rows]
    rest += [_Row(row, "" if n else page.beside_heading) for n, row in enumerate(page.beside)]
    with press(f"{page.title}: edition book of {page.maker}") as printing:
        drawing = _Drawing(printing.sheet, page)
        closed = False
        while not closed:
            with printing.sheet.page(WIDTH, HEIGHT):
                rest = drawing.begin(rest)
                closed = not rest and drawing.room >= drawing.closing_height
                if closed:
                    drawing.close()
                else:
                    drawing.carry()
    return printing.pdf


@dataclass(frozen=True)
class _Row:
    row: BookRow
    heading: str = ""


def _check(page: EditionPage) -> None:
    for where, text in (
        ("The maker’s name", page.maker.upper()),
        ("The date", page.as_of.upper()),
        ("The description", page.facts),
        ("The declaration", page.declaration),
        ("The sum", page.counts),
        *(("The closing", text) for text in page.closing),
    ):
        faces.check_text(text, where)
    faces.check_text(page.title, "The title", italic=True)
    faces.check_text(page.beside_heading, "A heading", italic=True)
    for row in (*page.rows, *page.beside):
        for text in (row.figure, row.inscribed, row.out, row.where, row.certificate):
            faces.check_text(text, f"The row of number {row.figure}")
        faces.check_text(row.note, f"The note on number {row.figure}", italic=True)


class _Drawing:
    """The pages of one edition as they fill, from the top of each down to `y`."""

    def __init__(self, sheet: Sheet, page: EditionPage) -> None:
        self.sheet, self.page = sheet, page
        self.pages = 0
        self.taken = 0
        self.y = 0.0
        self.closing_lines = [line for text in page.closing for line in faces.wrap(text, RIGHT - LEFT, 8.8)]
        self.count_lines = faces.wrap(page.counts, RIGHT - LEFT - 45, 10)
        self.closing_height = 4.4 * len(self.closing_lines) + 4.8 * len(self.count_lines) + 14
        if self.closing_height > FOOT - CONTINUED_Y:
            raise Refusal("The closing sentences fill more than a page of the book. Use fewer words.")

    @property
    def room(self) -> float:
        return FOOT - self.y

    def begin(self, rows: Sequence[_Row]) -> list[_Row]:
        """A fresh page with as many of the rows as it holds; gives those left over."""
        self._running_head()
        if self.pages == 0:
            self._promise()
        else:
            self._continued()
        self.pages += 1
        if rows:
            self._column_heads()
        drawn = 0
        for each in rows[:ROWS_A_PAGE]:
            if self.room < 2 * ROW + 4:
                break
            if each.heading:
                self._heading(each.heading)
            self._row(each.row)
            drawn += 1
        return list(rows[drawn:])

    def _running_head(self) -> None:
        page, sheet = self.page, self.sheet
        as_of = f"page {page.first_page + self.pages}, as of {page.as_of}".upper()
        sheet.text(RIGHT, TOP, as_of, 6.8, spacing=1, colour=GRAPHITE, align="right")
        room = RIGHT - LEFT - faces.width_mm(as_of, 6.8, spacing=1) - 20
        maker, size = faces.cut(f"edition book of {page.maker}".upper(), room, (6.8, 6))
        sheet.text(LEFT, TOP, maker, size, spacing=1, colour=GRAPHITE)
        sheet.rule(LEFT, RIGHT, TOP + 2.5, 0.6)

    def _promise(self) -> None:
        page, sheet = self.page, self.sheet
        x = float(LEFT)
        if page.picture_path and page.picture_px:
            sheet.picture(page.picture_path, page.picture_px, LEFT, 25, 38)
            x = LEFT + 46
        size, titles = faces.fit_lines(
            page.title, RIGHT - x, ((21, 1), (17, 1), (15, 2), (12, 3), (10, 9)), italic=True
        ) or (10.0, [page.title])
        y = 31.0
        for n, text in enumerate(titles):
            y += size * 0.4 if n else 0
            sheet.text(x, y, text, size, italic=True)
        y += 1.6
        for text in faces.wrap(page.facts, RIGHT - x, 10):
            y += 4.6
            sheet.text(x, y, text, 10)
        y += 1.4
        for text in faces.wrap(page.declaration, RIGHT - x, 10):
            y += 4.6
            sheet.text(x, y, text, 10)
        y = max(62.0, y + 9)
        sheet.text(x, y - 0.8, "Signed by the maker", 9.5, italic=True, colour=GRAPHITE)
        sheet.rule(x + 29, x + 100, y, 0.5)
        self.y = max(65.0, y + 3)

    def _continued(self) -> None:
        page, sheet = self.page, self.sheet
        taken = money.shown(self.taken, page.currency)
        title, size = faces.cut(page.title, RIGHT - LEFT - 60, (14, 12, 10), italic=True)
        sheet.text(LEFT, 27, title, size, italic=True)
        sheet.text(RIGHT, 27, f"Brought forward {taken}", 9.5, align="right")
        self.y = CONTINUED_Y

    def _column_heads(self) -> None:
        sheet = self.sheet
        y = self.y + 8
        words = ("Inscribed", "Out", "To, or where it is", "Certificate", "Note")
        for x, text in ((1, "No."), *zip(COLUMNS.values(), words, strict=True)):
            sheet.text(LEFT + x, y, text, 8.8, italic=True, colour=GRAPHITE)
        mark = money.shown(0, self.page.currency).rstrip("0.").strip()
        sheet.text(LEFT + PRICE, y, mark, 8.8, italic=True, colour=GRAPHITE, align="right")
        self.y = y + 2
        sheet.rule(LEFT, RIGHT, self.y, 0.6)

    def _heading(self, text: str) -> None:
        self.sheet.text(LEFT, self.y + 5, text, 8.8, italic=True, colour=GRAPHITE)
        self.y += 7
        self.sheet.rule(LEFT, RIGHT, self.y, 0.5)

    def _row(self, row: BookRow) -> None:
        sheet, y = self.sheet, self.y + 3.9
        marks.draw(sheet, row.mark, row.figure, LEFT + 0.6, self.y + (ROW - MARK) / 2, MARK)
        to = PRICE - COLUMNS["where"] - 2.0
        if row.price_minor is not None:
            price = money.bare(row.price_minor, self.page.currency)
            sheet.text(LEFT + PRICE, y, price, 8.8, align="right")
            to -= faces.width_mm(price, 8.8)
        ends = {"inscribed": 21, "out": 21, "where": to, "certificate": 26, "note": RIGHT - LEFT - 150}
        for name, x in COLUMNS.items():
            italic = name == "note"
            text, size = faces.cut(getattr(row, name), ends[name], (8.8, 8, 7), italic=italic)
            sheet.text(LEFT + x, y, text, size, italic=italic)
        self.taken += row.price_minor or 0
        self.y += ROW
        sheet.rule(LEFT, RIGHT, self.y, 0.4, HAIRLINE)

    def carry(self) -> None:
        """The foot of a page that is not the last."""
        taken = money.shown(self.taken, self.page.currency)
        self.sheet.text(RIGHT, self.y + 6, f"Carried forward {taken}", 9.5, align="right")

    def close(self) -> None:
        """Destructions in sentences, the sum between its rules, and the line of whoever looked it over."""
        sheet = self.sheet
        y = self.y
        for text in self.closing_lines:
            y += 4.4
            sheet.text(LEFT, y, text, 8.8)
        y += 2.4
        sheet.rule(LEFT, RIGHT, y, 0.6)
        taken = money.shown(self.taken, self.page.currency)
        sheet.text(RIGHT, y + 4.4, f"Taken {taken}", 10, align="right")
        for n, text in enumerate(self.count_lines):
            sheet.text(LEFT, y + 4.4 + n * 4.8, text, 10)
        y += 1.8 + 4.8 * len(self.count_lines)
        for double in (y, y + 0.8):
            sheet.rule(LEFT, RIGHT, double, 0.5)
        y = min(FOOT, y + 9.8)
        sheet.text(LEFT, y - 0.8, "Looked over and found right", 9.5, italic=True, colour=GRAPHITE)
        sheet.rule(LEFT + 42, LEFT + 112, y, 0.5)
        sheet.text(LEFT + 116, y - 0.8, "on", 9.5, italic=True, colour=GRAPHITE)
        sheet.rule(LEFT + 121, RIGHT, y, 0.5)
