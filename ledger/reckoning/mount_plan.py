"""A window mount in words: what is asked for, and what the plan answers.

The window is its back edge, the pencil line; with a bevel of 45 degrees the face opening is larger by the board's
thickness on each side. All lengths are whole micrometres. Usual figures: common practice, no source.
"""

from dataclasses import dataclass
from fractions import Fraction
from math import isqrt
from typing import Literal

from ledger.reckoning.mount_frames import Framed, FramedPlan
from ledger.reckoning.mount_parts import Edges, Size


@dataclass(frozen=True)
class Overlap:
    """The window covers the image's edge by so much all round."""

    by_um: int

    @property
    def past(self) -> Edges:
        return Edges.all(-self.by_um)


@dataclass(frozen=True, kw_only=True)
class Reveal:
    """The window stands around the image and shows paper: room for signature, number and stamp."""

    top_um: int
    sides_um: int
    bottom_um: int

    @property
    def past(self) -> Edges:
        return Edges(top_um=self.top_um, right_um=self.sides_um, bottom_um=self.bottom_um, left_um=self.sides_um)


@dataclass(frozen=True, kw_only=True)
class Paper:
    """The sheet, and where the image lies on it (None: in the middle)."""

    size: Size
    image_left_um: int | None = None
    image_top_um: int | None = None


@dataclass(frozen=True, kw_only=True)
class Board:
    """Mount board: its thickness, how it is cut, and the size it is sold in, where that is known."""

    thickness_um: int = 1_400
    cut: Literal["bevel", "straight"] = "bevel"
    sheet: Size | None = None

    @property
    def run_um(self) -> int:
        """How far the cut leans, in plan."""
        return self.thickness_um if self.cut == "bevel" else 0

    @property
    def slope_um(self) -> int:
        """The width of the core that shows, along the cut."""
        if self.cut == "straight":
            return self.thickness_um
        return (isqrt(8 * self.thickness_um**2) + 1) // 2  # the thickness times the root of two, rounded


@dataclass(frozen=True, kw_only=True)
class Double:
    """A second board under the first: the strip of it that shows, and how much smaller it is cut overall."""

    strip_um: int = 5_000
    smaller_um: int = 5_000


@dataclass(frozen=True, kw_only=True)
class Cutter:
    """A mount cutter: which edge its scale measures, and how far it must run on beyond the board's thickness."""

    scale: Literal["back", "face"] = "back"
    offset_um: int = 0


@dataclass(frozen=True, kw_only=True)
class WindowMount(Framed):
    """What is wanted. `outer` is the mount's size, the frame, or the borders. `pencil_below_um`: how far below the
    image signature and number reach; None where nobody said.
    """

    image: Size
    opening: Overlap | Reveal
    paper: Paper | None = None
    pencil_below_um: int | None = None
    board: Board = Board()
    double: Double | None = None
    cutter: Cutter = Cutter()


@dataclass(frozen=True, kw_only=True)
class CutBoard:
    """One board to cut. `scale` is what the cutter's scale is set to at each edge."""

    name: str
    size: Size
    window: Size
    borders: Edges
    face: Size
    scale: Edges


@dataclass(frozen=True, kw_only=True)
class WindowPlan(FramedPlan):
    """What to cut: `boards` from the glass back. `paper_under` is how far paper passes the window at each edge."""

    asked: WindowMount
    boards: tuple[CutBoard, ...]
    past_corner_um: int
    paper_under: Edges | None

    @property
    def mount(self) -> Size:
        return self.outside.mount

    @property
    def inner(self) -> CutBoard:
        """The board next to the print, whose window was asked for."""
        return self.boards[-1]

    @property
    def ratio(self) -> Fraction | None:
        """Bottom border to top border, of the board that is seen."""
        borders = self.boards[0].borders
        return Fraction(borders.bottom_um, borders.top_um) if borders.top_um else None
