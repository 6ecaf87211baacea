"""A drawing as plain shapes with their measures, for a page or a paper to draw at the scale it chooses.

Lengths are whole micrometres from the view's top left corner, y downwards.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from ledger.reckoning.lengths import Unit, said, shown, typeset
from ledger.reckoning.mount_parts import Edges, Size

Kind = Literal["edge", "bevel", "image", "hidden", "line", "cut", "glass", "board", "print", "leader", "top"]
Side = Literal["top", "left", "bottom", "right"]
Point = tuple[int, int]


@dataclass(frozen=True)
class Shape:
    """Straight lines from point to point. The kind says what it is: an edge seen or hidden, a pencil line, the cut,
    where the top of a picture is.
    """

    kind: Kind
    points: tuple[Point, ...]
    closed: bool = True


@dataclass(frozen=True)
class Dimension:
    """A measure along one side of the view, between two places on it; row 0 is next to the drawing. `from_edge`: it
    says where its end lies rather than how long something is.
    """

    side: Side
    start_um: int
    end_um: int
    words: str
    row: int = 0
    from_edge: bool = False


@dataclass(frozen=True)
class Note:
    """Words in the drawing: centred on their place, or beginning there. A `number` stands on a line, small."""

    x_um: int
    y_um: int
    words: str
    anchor: Literal["start", "middle"] = "middle"
    kind: Literal["said", "number"] = "said"


@dataclass(frozen=True, kw_only=True)
class View:
    """One drawing. `desc` says in words what it shows, `how` what to do by it."""

    name: str
    title: str
    desc: str
    size: Size
    shapes: tuple[Shape, ...]
    dimensions: tuple[Dimension, ...] = ()
    notes: tuple[Note, ...] = ()
    how: str = ""

    @property
    def typeset(self) -> "View":
        """With its figures as people read them."""
        return replace(
            self,
            title=typeset(self.title),
            how=typeset(self.how),
            dimensions=tuple(replace(each, words=typeset(each.words)) for each in self.dimensions),
            notes=tuple(replace(each, words=typeset(each.words)) for each in self.notes),
        )


def rectangle(kind: Kind, x: int, y: int, size: Size) -> Shape:
    """A rectangle from its top left corner."""
    right, foot = x + size.width_um, y + size.height_um
    return Shape(kind, ((x, y), (right, y), (right, foot), (x, foot)))


def within(kind: Kind, borders: Edges, size: Size) -> Shape:
    """A rectangle inside its left and top borders."""
    return rectangle(kind, borders.left_um, borders.top_um, size)


def chain(side: Literal["top", "left"], places: Sequence[int], unit: Unit) -> list[Dimension]:
    """One measure from each place to the next."""
    return [Dimension(side, start, end, shown(end - start, unit)) for start, end in pairwise(places)]


def from_edge(side: Literal["top", "left"], places: Sequence[int], unit: Unit) -> list[Dimension]:
    """Each place from the view’s edge, row by row."""
    return [Dimension(side, 0, place, shown(place, unit), row, True) for row, place in enumerate(places)]


def borders_measured(borders: Edges, inner: Size, size: Size, unit: Unit) -> tuple[Dimension, ...]:
    """Border, opening, border along top and left; the whole along bottom and right."""
    left, top = borders.left_um, borders.top_um
    return (
        *chain("top", (0, left, left + inner.width_um, size.width_um), unit),
        *chain("left", (0, top, top + inner.height_um, size.height_um), unit),
        Dimension("bottom", 0, size.width_um, shown(size.width_um, unit)),
        Dimension("right", 0, size.height_um, shown(size.height_um, unit)),
    )


def borders_said(borders: Edges, unit: Unit) -> str:
    """The borders in words, clockwise from the top."""
    return ", ".join(f"{edge} {said(um, unit)}" for edge, um in borders.named())


def edges_said(edges: Edges, unit: Unit) -> str:
    """The edges in words, those that are alike together: '20 mm all round', '59.5 mm top, 69 mm right and left'."""
    alike: dict[str, list[str]] = {}
    for edge, um in edges.named():
        alike.setdefault(shown(um, unit), []).append(edge)
    if len(alike) == 1:
        return f"{said(edges.top_um, unit)} all round"
    return ", ".join(f"{figure} {unit} {' and '.join(names)}" for figure, names in alike.items())
