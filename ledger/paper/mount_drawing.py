"""A mount on paper: its drawing at true size, over as many sheets as it takes, and a card for the bench."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from ledger.paper import faces
from ledger.paper.sheet import GRAPHITE, HAIRLINE, INK, Sheet, press
from ledger.reckoning.drawing import Dimension, Shape, View
from ledger.reckoning.mount_cards import MountCard

Paper = Literal["a4", "a3", "letter", "tabloid"]
PAPERS_MM: dict[Paper, tuple[float, float]] = {
    "a4": (210, 297), "a3": (297, 420),  # ISO 216
    "letter": (215.9, 279.4), "tabloid": (279.4, 431.8),  # 8.5 x 11 and 11 x 17 in: ANSI/ASME Y14.1, A and B
}  # fmt: skip
MARGIN, HEAD, FOOT = 8.0, 20.0, 22.0
"""What printers leave white, and the bands above and below the drawing, in mm."""
OVERLAP = 10.0
TILE_WORDS = 50.0
INSET, ROW, STUB, BELOW = 11.0, 9.0, 4.0, 3.5
"""How far measures stand inside the edge and from one another, how much is drawn of their lines, and how far below
their middle the figures at the sides stand: in a narrow border they would lie on those at the top.
"""
RULE = 100.0
CROSS, CROSSES_AT = 3.0, (0.2, 0.8)
ROOM_FOR_LINES = 0.2  # so that an edge on the tile’s rim is not cut along its middle

CARD_W, CARD_H, EDGE = 210.0, 148.0, 13.0  # A5 lying down, ISO 216
DIAGRAM_W, DIAGRAM_H, BESIDE = 74.0, 48.0, 12.0
SENTENCE = 12.0
FIGURES = (54.0, 46.0, 38.0, 30.0)
"""Type sizes of the four numbers: at 54 points a figure is 12 mm high, to be read at arm's length."""

_PENS: dict[str, tuple[float, str, tuple[float, ...]]] = {
    "edge": (0.6, INK, ()),
    "bevel": (0.4, INK, ()),
    "image": (0.3, GRAPHITE, ()),
    "hidden": (0.3, GRAPHITE, (3, 3)),
    "line": (0.35, INK, ()),
    "cut": (0.7, INK, ()),
    "glass": (0.4, GRAPHITE, ()),
    "board": (0.6, INK, ()),
    "print": (0.8, INK, ()),
    "leader": (0.25, HAIRLINE, ()),
}
"""Width in points, colour and dashes of each kind of line."""


@dataclass(frozen=True)
class Tile:
    """One sheet of a drawing: the part of it, in mm from its top left corner, that stands on the sheet."""

    row: int
    column: int
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Tiling:
    """How a drawing lies over sheets of paper that overlap by 10 mm."""

    page_w: float
    page_h: float
    rows: int
    columns: int
    tiles: tuple[Tile, ...]


def tiling(width: float, height: float, paper: Paper) -> Tiling:
    """The fewest sheets, upright or lying, upright where it makes no difference; lengths in mm."""
    short, long = PAPERS_MM[paper]
    return min((_tiled(width, height, *page) for page in ((short, long), (long, short))), key=lambda it: len(it.tiles))


def _tiled(width: float, height: float, page_w: float, page_h: float) -> Tiling:
    room_w, room_h = page_w - 2 * MARGIN, page_h - HEAD - FOOT
    columns, rows = _needed(width, room_w), _needed(height, room_h)
    tiles = [
        Tile(row, column, x, y, min(room_w, width - x), min(room_h, height - y))
        for row in range(rows)
        for column in range(columns)
        for x, y in [(column * (room_w - OVERLAP), row * (room_h - OVERLAP))]
    ]
    return Tiling(page_w, page_h, rows, columns, tuple(tiles))


def _needed(length: float, room: float) -> int:
    return 1 if length <= room else int(-(-(length - OVERLAP) // (room - OVERLAP)))


def render_true_size(title: str, views: Sequence[View], cards: Sequence[MountCard], paper: Paper) -> bytes:
    """The PDF of all the bench needs: the cards, then these views at true size, each sheet with a rule of 100 mm to
    be measured before it is trusted.

    A section is left out: at true size it is a few millimetres thick and cannot be read.

    Raises Refusal for a character the face lacks.
    """
    faces.check_text(title, "The title", italic=True)
    with press(f"{title}: drawing at true size") as printing:
        _cards(printing.sheet, title, cards, *PAPERS_MM[paper])
        for view in (view.typeset for view in views if view.name != "section"):
            width, height = view.size.width_um / 1000, view.size.height_um / 1000
            laid = tiling(width, height, paper)
            for tile in laid.tiles:
                with printing.sheet.page(laid.page_w, laid.page_h):
                    _tile(printing.sheet, title, view, laid, tile)
    return printing.pdf


def draw_view(sheet: Sheet, view: View) -> None:
    """The view at true size, its measures within it."""
    for each in view.dimensions:
        _dimension(sheet, view, each)
    draw_shapes(sheet, view.shapes, 1)
    for note in view.notes:
        sheet.text(note.x_um / 1000, note.y_um / 1000, note.words, 14, align="centre")


def draw_shapes(sheet: Sheet, shapes: Sequence[Shape], scale: float) -> None:
    """The shapes, so many times their size."""
    for shape in shapes:
        width, stroke, dash = _PENS[shape.kind]
        points = [(x * scale / 1000, y * scale / 1000) for x, y in shape.points]
        sheet.shape(points, width=width, stroke=stroke, dash=dash, closed=shape.closed)


def _dimension(sheet: Sheet, view: View, each: Dimension) -> None:
    """The figure between two arrowheads: a line drawn through would be taken for one to pencil."""
    start, end = each.start_um / 1000, each.end_um / 1000
    width, height = view.size.width_um / 1000, view.size.height_um / 1000
    middle, inset = (start + end) / 2, INSET + each.row * ROW
    level = each.side in ("top", "bottom")
    at = inset if each.side in ("top", "left") else (height if level else width) - inset
    stub = min(STUB, (end - start) / 4)
    for tip, along in ((start, stub), (end, -stub)):
        head = along / 4
        for line in (((tip, at), (tip + along, at)), ((tip + head, at - 0.7), (tip, at), (tip + head, at + 0.7))):
            sheet.shape(line if level else [(y, x) for x, y in line], width=0.25, stroke=GRAPHITE)
    if level:
        sheet.text(middle, at + 1.2, each.words, 10, colour=GRAPHITE, align="centre")
    else:
        side: Literal["left", "right"] = "left" if each.side == "left" else "right"
        x = at - 1.5 if side == "left" else at + 1.5
        sheet.text(x, middle + BELOW, each.words, 10, colour=GRAPHITE, align=side)


def _tile(sheet: Sheet, title: str, view: View, laid: Tiling, tile: Tile) -> None:
    right, foot = laid.page_w - MARGIN, laid.page_h - FOOT
    name, size = faces.cut(title, right - MARGIN - TILE_WORDS, (11, 9, 8), italic=True)
    sheet.text(MARGIN, 10, name, size, italic=True)
    sheet.text(MARGIN, 14, view.title, 9)
    sheet.text(MARGIN, 17.8, view.how, 8, colour=GRAPHITE)
    if len(laid.tiles) > 1:
        where = f"Row {tile.row + 1} of {laid.rows}, column {tile.column + 1} of {laid.columns}"
        sheet.text(right, 10, where, 9, align="right")
        sheet.text(right, 14, _joined(tile), 8, colour=GRAPHITE, align="right")
    with (
        sheet.place(MARGIN, HEAD),
        sheet.clipped(tile.width, tile.height, ROOM_FOR_LINES),
        sheet.place(-tile.x, -tile.y),
    ):
        draw_view(sheet, view)
        for x, y in _crosses(laid):
            _cross(sheet, x, y)
    _rule(sheet, MARGIN, foot + 9)
    sheet.text(MARGIN + RULE + 4, foot + 8.6, "This line measures 100 mm. If it does not, print again", 9)
    sheet.text(MARGIN + RULE + 4, foot + 12.6, "at 100 per cent, not fitted to the page.", 9)


def _joined(tile: Tile) -> str:
    edges = " and ".join(edge for edge, shares in (("left", tile.column), ("top", tile.row)) if shares)
    if not edges:
        return "The first sheet: lay the others over it"
    return f"Trim the white at the {edges}, lay it cross on cross against the light, tape"


def _rule(sheet: Sheet, x: float, y: float) -> None:
    """A line of 100 mm with a tick at each 10."""
    sheet.rule(x, x + RULE, y, 0.4)
    for tick in range(11):
        length = 4.0 if tick % 10 == 0 else 3.0 if tick == 5 else 2.0
        sheet.shape(((x + 10 * tick, y), (x + 10 * tick, y - length)), width=0.4)
    sheet.text(x, y + 4, "0", 8, colour=GRAPHITE)
    sheet.text(x + RULE, y + 4, "100 mm", 8, colour=GRAPHITE, align="right")


def _crosses(laid: Tiling) -> Iterator[tuple[float, float]]:
    """Places in the middle of each overlap, so that both sheets carry the same cross."""
    for tile in laid.tiles:
        if tile.column:
            yield from ((tile.x + OVERLAP / 2, tile.y + tile.height * share) for share in CROSSES_AT)
        if tile.row:
            yield from ((tile.x + tile.width * share, tile.y + OVERLAP / 2) for share in CROSSES_AT)


def _cross(sheet: Sheet, x: float, y: float) -> None:
    sheet.rule(x - CROSS, x + CROSS, y, 0.3)
    sheet.shape(((x, y - CROSS), (x, y + CROSS)), width=0.3)
    sheet.ring(x, y, CROSS / 2, width=0.3)


def render_cards(title: str, cards: Sequence[MountCard]) -> bytes:
    """The PDF of the bench cards, A5, one for each board.

    Raises Refusal for a character the face lacks.
    """
    faces.check_text(title, "The title", italic=True)
    with press(f"{title}: mount card") as printing:
        _cards(printing.sheet, title, cards, CARD_W, CARD_H)
    return printing.pdf


def _cards(sheet: Sheet, title: str, cards: Sequence[MountCard], page_w: float, page_h: float) -> None:
    """As many to a page as it is high for; the cautions stand once, on the first."""
    a_page = int(page_h // CARD_H)
    for first in range(0, len(cards), a_page):
        with sheet.page(page_w, page_h):
            for row, card in enumerate(cards[first : first + a_page]):
                with sheet.place((page_w - CARD_W) / 2, row * CARD_H):
                    _card(sheet, title, card.typeset)
                    if first == row == 0:
                        _cautions(sheet, card.cautions)


def _card(sheet: Sheet, title: str, card: MountCard) -> None:
    right = CARD_W - EDGE
    board = card.board.capitalize()
    name, size = faces.cut(title, right - EDGE - faces.width_mm(board, 18) - 8, (18, 14, 11), italic=True)
    sheet.text(EDGE, 15.2, board, 18)
    sheet.text(right, 15.2, name, size, italic=True, align="right")
    sheet.rule(EDGE, right, 18, 0.6)
    sheet.text(EDGE, 26, f"{card.size}, {card.lies}, top edge away from you", 13)
    _figures(sheet, card)
    _diagram(sheet, card, right - DIAGRAM_W, 26)
    y = 94.0
    for text in card.sentences:
        sheet.text(EDGE, y, text, SENTENCE)
        y += 5.6
    sheet.text(EDGE, y, card.aside, 10, colour=GRAPHITE)


def _figures(sheet: Sheet, card: MountCard) -> None:
    """The four numbers, all of one size and as large as they go, under the words that say where from."""
    room = (CARD_W - 2 * EDGE - DIAGRAM_W - 20) / 2
    widest = max(
        (figure for _, figures in card.rows for figure in figures),
        key=lambda figure: faces.width_mm(figure, FIGURES[-1]),
    )
    size = faces.fit(widest, room, FIGURES) or FIGURES[-1]
    for y, (words, figures) in zip((35, 62), card.rows, strict=True):
        sheet.text(EDGE, y, words, 12, italic=True, colour=GRAPHITE)
        for n, figure in enumerate(figures):
            x = EDGE + n * (room + 8)
            sheet.text(x, y + 19, figure, size)
            sheet.text(x + faces.width_mm(figure, size) + 1.5, y + 19, card.unit, 12, colour=GRAPHITE)


def _diagram(sheet: Sheet, card: MountCard, x: float, y: float) -> None:
    """The board as it lies, small: where its top and its left are, and its figures on its lines."""
    width, height = card.drawn.size.width_um / 1000, card.drawn.size.height_um / 1000
    scale = min((DIAGRAM_W - BESIDE) / width, DIAGRAM_H / height)
    middle = x + BESIDE + (DIAGRAM_W - BESIDE) / 2
    sheet.text(middle, y, "TOP", 13, align="centre")
    with sheet.place(middle - width * scale / 2, y + 7):
        draw_shapes(sheet, card.drawn.shapes, scale)
        for each in card.drawn.dimensions:
            place = (each.end_um if each.from_edge else (each.start_um + each.end_um) / 2) * scale / 1000
            if each.side == "top":
                sheet.text(place, -1.5, each.words, 10, align="centre")
            elif each.side == "left":
                sheet.text(-1.5, place + 1.2, each.words, 10, align="right")
        sheet.text(-1.5, height * scale + 4.5, "left", 10, italic=True, align="right")
    sheet.text(middle, y + 13 + height * scale, f"Lies {card.lies}", 12, italic=True, align="centre")


def _cautions(sheet: Sheet, cautions: Sequence[str]) -> None:
    y = CARD_H - 11 - 3.8 * (len(cautions) - 1)
    sheet.rule(EDGE, CARD_W - EDGE, y - 4.6, 0.3)
    for n, caution in enumerate(cautions):
        sheet.text(EDGE, y + n * 3.8, caution, 8.8, colour=GRAPHITE)
