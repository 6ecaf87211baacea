"""Where pictures lie on a sheet for the lab, and what stands between them: trim marks, captions, a rule.

Whole micrometres from the sheet's left and top edge. No mark ever lies on a piece or on the bleed of one.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain

from ledger.reckoning.lengths import INCH_UM

PEN_UM = 90  # this and all below: common practice, no source
LONGEST_MARK_UM, SHORTEST_MARK_UM = 3_000, 1_000
CLEAR_UM = 500
"""Kept white between a mark and whatever is beside it."""
LARGEST_TYPE_UM, SMALLEST_TYPE_UM = 2_117, 1_411
"""Six and four points."""
ABOVE_LINE, BELOW_LINE = 72, 30
"""How far type reaches above its line and below it, in hundredths of its size."""
RULE_UM = 100_000
LABEL_W_UM, LABEL_H_UM = 6_000, 2_500


@dataclass(frozen=True)
class Box:
    """A rectangle on the sheet."""

    left_um: int
    top_um: int
    right_um: int
    bottom_um: int

    @property
    def width_um(self) -> int:
        return self.right_um - self.left_um

    @property
    def height_um(self) -> int:
        return self.bottom_um - self.top_um

    def grown(self, um: int) -> "Box":
        """Larger on every side, or smaller."""
        return Box(self.left_um - um, self.top_um - um, self.right_um + um, self.bottom_um + um)

    def meets(self, other: "Box") -> bool:
        """Whether the two share any area."""
        return (
            self.left_um < other.right_um
            and other.left_um < self.right_um
            and self.top_um < other.bottom_um
            and other.top_um < self.bottom_um
        )

    def holds(self, other: "Box") -> bool:
        """Whether the other lies wholly within."""
        return (
            self.left_um <= other.left_um
            and self.top_um <= other.top_um
            and self.right_um >= other.right_um
            and self.bottom_um >= other.bottom_um
        )

    def transposed(self) -> "Box":
        """Across and down changed over."""
        return Box(self.top_um, self.left_um, self.bottom_um, self.right_um)

    def in_pixels(self, ppi: int) -> tuple[int, int, int, int]:
        """Left, top, right and bottom, each edge rounded on its own, so that neighbours share an edge."""
        edges = (self.left_um, self.top_um, self.right_um, self.bottom_um)
        left, top, right, bottom = (pixels(edge, ppi) for edge in edges)
        return left, top, right, bottom


@dataclass(frozen=True)
class Piece:
    """One print: `finished` is what is cut out, `printed` where its picture lies, bleed and all."""

    finished: Box
    printed: Box

    @property
    def taken(self) -> Box:
        """All the sheet it needs."""
        a, b = self.finished, self.printed
        return Box(
            min(a.left_um, b.left_um), min(a.top_um, b.top_um), max(a.right_um, b.right_um),
            max(a.bottom_um, b.bottom_um),
        )  # fmt: skip


@dataclass(frozen=True)
class TypeLine:
    """Room for a line of small type: it begins at x, stands on y and is at most so wide."""

    x_um: int
    y_um: int
    width_um: int
    size_um: int

    @property
    def box(self) -> Box:
        """What the type may cover."""
        top = self.y_um - self.size_um * ABOVE_LINE // 100
        return Box(self.x_um, top, self.x_um + self.width_um, self.y_um + self.size_um * BELOW_LINE // 100)


@dataclass(frozen=True)
class LabMarks:
    """All that is printed beside the pictures.

    `lines` are filled black, `captions` are in the order of the pieces, None where the gutter is too narrow;
    `rule` names the rule, which is measured between the middles of its first and last stroke.
    """

    lines: tuple[Box, ...]
    captions: tuple[TypeLine | None, ...]
    rule: TypeLine | None


def pixels(length_um: int, ppi: int) -> int:
    """A length or a place in pixels, half rounded up."""
    return (2 * length_um * ppi + INCH_UM) // (2 * INCH_UM)


def lay(finished: Box, image: Box, *, turned: bool = False, bleed_um: int = 0) -> Piece:
    """A piece with its picture. `image` is its place in the upright piece, from the piece's left and top edge.

    A turned piece lies a quarter turn clockwise. Where the image reaches the finished edge, the picture runs
    past it by the bleed; a white border stays white.
    """
    if turned:
        upright_h = finished.width_um
        image = Box(upright_h - image.bottom_um, image.left_um, upright_h - image.top_um, image.right_um)
    left, top = finished.left_um + image.left_um, finished.top_um + image.top_um
    right, bottom = finished.left_um + image.right_um, finished.top_um + image.bottom_um
    printed = Box(
        left - bleed_um * (left <= finished.left_um),
        top - bleed_um * (top <= finished.top_um),
        right + bleed_um * (right >= finished.right_um),
        bottom + bleed_um * (bottom >= finished.bottom_um),
    )
    return Piece(finished, printed)


def lab_marks(sheet: Box, usable: Box, pieces: Sequence[Piece]) -> LabMarks:
    """Marks for a sheet, of which the lab prints the `usable` part at least.

    The rule lies where paper is free, best within the usable part; in a crowded margin trim marks cross it.
    """
    trims = _trim_marks(sheet, pieces)
    in_the_way = [*(piece.taken for piece in pieces), *trims]
    captions = tuple(_caption(sheet, piece, in_the_way) for piece in pieces)
    solid = [piece.taken for piece in pieces] + [line.box for line in captions if line]
    rule = next((
        found
        for obstacles in ([*solid, *trims], solid)
        for area in (usable, sheet.grown(-CLEAR_UM))
        if (found := _rule(area, obstacles, solid))
    ), None)  # fmt: skip
    if rule is None:
        return LabMarks(trims, captions, None)
    strokes, label = rule
    return LabMarks(trims + strokes, captions, label)


# Trim marks


def _trim_marks(sheet: Box, pieces: Sequence[Piece]) -> tuple[Box, ...]:
    flipped = [Piece(piece.finished.transposed(), piece.taken.transposed()) for piece in pieces]
    upright = (mark for piece in pieces for mark in _upright_marks(sheet, piece, pieces))
    level = (mark.transposed() for piece in flipped for mark in _upright_marks(sheet.transposed(), piece, flipped))
    return tuple(dict.fromkeys(chain(upright, level)))


def _upright_marks(sheet: Box, piece: Piece, pieces: Sequence[Piece]) -> Iterator[Box]:
    """Strokes above and below the piece in line with its two sides, as far as there is white paper."""
    taken = piece.taken
    for x in (piece.finished.left_um, piece.finished.right_um):
        column = Box(x - PEN_UM, sheet.top_um, x + PEN_UM, sheet.bottom_um)
        others = [other.taken for other in pieces if other is not piece and other.taken.meets(column)]
        above = [other.bottom_um for other in others if other.top_um < taken.top_um]
        below = [other.top_um for other in others if other.bottom_um > taken.bottom_um]
        bottom = taken.top_um - CLEAR_UM
        top = max(bottom - LONGEST_MARK_UM, max(above, default=sheet.top_um) + CLEAR_UM)
        if bottom - top >= SHORTEST_MARK_UM:
            yield Box(x - PEN_UM // 2, top, x + PEN_UM // 2, bottom)
        top = taken.bottom_um + CLEAR_UM
        bottom = min(top + LONGEST_MARK_UM, min(below, default=sheet.bottom_um) - CLEAR_UM)
        if bottom - top >= SHORTEST_MARK_UM:
            yield Box(x - PEN_UM // 2, top, x + PEN_UM // 2, bottom)


# Captions


def _caption(sheet: Box, piece: Piece, in_the_way: Sequence[Box]) -> TypeLine | None:
    """Room under a piece, between its trim marks; None where it is too low for type that can be read."""
    taken = piece.taken
    left, right = piece.finished.left_um + 2 * CLEAR_UM, piece.finished.right_um - 2 * CLEAR_UM
    strip = Box(left, taken.bottom_um, right, sheet.bottom_um)
    below = [box.top_um for box in in_the_way if box.meets(strip)]
    top = taken.bottom_um + CLEAR_UM // 2
    room = min(below, default=sheet.bottom_um) - CLEAR_UM // 2 - top
    size = min(LARGEST_TYPE_UM, room * 100 // (ABOVE_LINE + BELOW_LINE))
    if size < SMALLEST_TYPE_UM or right <= left:
        return None
    return TypeLine(left, top + size * ABOVE_LINE // 100, right - left, size)


# The rule


def _rule(area: Box, obstacles: Sequence[Box], solid: Sequence[Box]) -> tuple[tuple[Box, ...], TypeLine] | None:
    """The rule's strokes and its name, level at the lowest free place, else upright at the first."""
    level = _free(area, RULE_UM + PEN_UM + LABEL_W_UM, LABEL_H_UM, obstacles, solid)
    if level:
        strokes = _strokes(level)
        x = level.left_um + RULE_UM + PEN_UM + CLEAR_UM
        return strokes, TypeLine(x, level.bottom_um - CLEAR_UM, LABEL_W_UM - CLEAR_UM, SMALLEST_TYPE_UM)
    upright = _free(area, LABEL_W_UM, RULE_UM + PEN_UM + LABEL_H_UM, obstacles, solid)
    if upright:
        strokes = tuple(stroke.transposed() for stroke in _strokes(upright.transposed()))
        y = upright.bottom_um - CLEAR_UM
        return strokes, TypeLine(upright.left_um, y, LABEL_W_UM, SMALLEST_TYPE_UM)
    return None


def _strokes(place: Box) -> tuple[Box, ...]:
    """A stroke every 10 mm, longer at both ends, on a line 100 mm long."""
    left, foot = place.left_um, place.top_um + LABEL_H_UM - CLEAR_UM
    line = Box(left, foot - PEN_UM, left + RULE_UM + PEN_UM, foot)
    steps = range(0, RULE_UM + 1, RULE_UM // 10)
    return line, *(
        Box(left + x, foot - (1_800 if x in (0, RULE_UM) else 1_000), left + x + PEN_UM, foot) for x in steps
    )


def _free(area: Box, width: int, height: int, obstacles: Sequence[Box], solid: Sequence[Box]) -> Box | None:
    """A free place of this size, as low and as far left as one that touches the area or something solid."""
    lefts = {area.left_um, *(box.right_um + CLEAR_UM for box in solid)}
    tops = {area.bottom_um - height, *(box.bottom_um + CLEAR_UM for box in solid)}
    tops |= {box.top_um - CLEAR_UM - height for box in solid}
    places = (
        Box(left, top, left + width, top + height) for top in sorted(tops, reverse=True) for left in sorted(lefts)
    )
    return next((
        place
        for place in places
        if area.holds(place) and not any(place.grown(CLEAR_UM // 2).meets(box) for box in obstacles)
    ), None)  # fmt: skip
