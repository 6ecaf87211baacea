"""Small prints ganged on a large sheet: the words, what can be asked, and where the pieces lie.

Lengths are whole micrometres. x runs right and y runs down from the sheet's top left corner. A plan is a tree of
cuts: a *leaf* is one finished piece, a *split* goes right across the part in hand, a *pinwheel* has four cuts that
stop at one another, for a knife. Between two pieces lies the gutter. The searches add it to the usable sheet and to
every piece and pack those without gutters, which comes to the same.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from ledger.errors import Refusal
from ledger.reckoning.measures import by_measure
from ledger.reckoning.measures import millimetres as mm

MOST_SIZES = 4
MOST_OF_A_SIZE = 10_000
MOST_SIDES, MOST_SIDES_MIXED = 100, 60
"""As many of a piece's shorter side as the usable width and height together may hold, alone and among others."""


@dataclass(frozen=True)
class Sheet:
    """A lab sheet and its four margins, where nothing is placed."""

    width_um: int
    height_um: int
    left_um: int
    top_um: int
    right_um: int
    bottom_um: int


@dataclass(frozen=True)
class Wanted:
    """A finished size to cut; `quantity` None where as many are wanted as fit."""

    width_um: int
    height_um: int
    may_turn: bool = True
    quantity: int | None = None


@dataclass(frozen=True)
class Placed:
    """One finished piece as it lies; x, y from the sheet's edges to its own. `wanted`: its place in that list."""

    wanted: int
    x_um: int
    y_um: int
    width_um: int
    height_um: int
    turned: bool


@dataclass(frozen=True)
class Job:
    """What is to be laid out, and the cutter: its longest cut (None: any) and the smallest strip it can hold."""

    sheet: Sheet
    wanted: tuple[Wanted, ...]
    gutter_um: int
    bleed_um: int = 0
    widest_cut_um: int | None = None
    least_strip_um: int = 0

    @property
    def usable_um(self) -> tuple[int, int]:
        """Width and height within the margins."""
        sheet = self.sheet
        return (sheet.width_um - sheet.left_um - sheet.right_um, sheet.height_um - sheet.top_um - sheet.bottom_um)


@dataclass(frozen=True)
class Leaf:
    """One finished piece, as it lies."""

    wanted: int
    turned: bool
    width_um: int
    height_um: int


@dataclass(frozen=True)
class Split:
    """A cut right across: `second` begins `at_um` from where `first` begins, to the right ('x') or below ('y')."""

    axis: Literal["x", "y"]
    at_um: int
    first: "Node"
    second: "Node"


@dataclass(frozen=True)
class Pinwheel:
    """Five parts round a middle one, in this order: top left, top right, bottom right, bottom left, middle.

    The top left part ends at x1 and y2, the top right at y1, the bottom left at x2 (where the bottom right begins);
    the middle is x1 to x2 and y1 to y2. Where a part is None, that place is waste.
    """

    x1_um: int
    y1_um: int
    x2_um: int
    y2_um: int
    parts: tuple["Node | None", ...]

    @property
    def corners_um(self) -> tuple[tuple[int, int], ...]:
        """Where each part begins."""
        return (0, 0), (self.x1_um, 0), (self.x2_um, self.y1_um), (0, self.y2_um), (self.x1_um, self.y1_um)


Node = Leaf | Split | Pinwheel


@dataclass(frozen=True)
class Layout:
    """One way to cut a sheet: how many of each size, where they lie, and the cuts as a tree."""

    counts: tuple[int, ...]
    placed: tuple[Placed, ...]
    plan: Node


def check(job: Job) -> None:
    """Raises Refusal for a job that cannot be laid out, its field what is at fault ('wanted.1.width_um')."""
    _check_sheet(job)
    _check_gutter(job)
    _check_cutter(job)
    if not 1 <= len(job.wanted) <= MOST_SIZES:
        raise Refusal(f"{len(job.wanted)} sizes on one sheet. Write between one and {MOST_SIZES}.", field="wanted")
    for place, wanted in enumerate(job.wanted):
        _check_wanted(job, place, wanted)


def _check_sheet(job: Job) -> None:
    sheet = job.sheet
    for side in ("width_um", "height_um"):
        if getattr(sheet, side) <= 0:
            raise Refusal("The sheet has no size. Write its width and height.", field=f"sheet.{side}")
    for edge in ("left", "top", "right", "bottom"):
        if getattr(sheet, f"{edge}_um") < 0:
            raise Refusal(f"The {edge} margin is below nothing. Write 0 or more.", field=f"sheet.{edge}_um")
    for usable, whole, side, edge in zip(
        job.usable_um, (sheet.width_um, sheet.height_um), ("width", "height"), ("left", "top"), strict=True
    ):
        if usable <= 0:
            raise Refusal(
                f"The margins take {mm(whole - usable)} mm of the sheet’s {side} of {mm(whole)} mm and leave nothing. "
                "Write smaller margins.",
                field=f"sheet.{edge}_um",
            )


def _check_gutter(job: Job) -> None:
    if job.gutter_um < 0:
        raise Refusal("The gutter is below nothing. Write 0 or more.", field="gutter_um")
    if job.bleed_um < 0:
        raise Refusal("The bleed is below nothing. Write 0 or more.", field="bleed_um")
    if job.gutter_um < 2 * job.bleed_um:
        raise Refusal(
            f"Two prints with a bleed of {mm(job.bleed_um)} mm need {mm(2 * job.bleed_um)} mm between them, and the "
            f"gutter is {mm(job.gutter_um)} mm. Write a wider gutter or a smaller bleed.",
            field="gutter_um",
        )
    sheet = job.sheet
    if job.bleed_um > min(sheet.left_um, sheet.top_um, sheet.right_um, sheet.bottom_um):
        raise Refusal(
            f"A bleed of {mm(job.bleed_um)} mm runs over a margin into the sheet’s edge. Write margins as wide as the "
            "bleed or wider.",
            field="bleed_um",
        )


def _check_cutter(job: Job) -> None:
    if job.widest_cut_um is not None and job.widest_cut_um <= 0:
        raise Refusal("A cutter with a longest cut of nothing cuts nothing. Write its length.", field="widest_cut_um")
    if job.least_strip_um < 0:
        raise Refusal("The smallest strip is below nothing. Write 0 or more.", field="least_strip_um")


def _check_wanted(job: Job, place: int, wanted: Wanted) -> None:
    for side, length in (("width_um", wanted.width_um), ("height_um", wanted.height_um)):
        if length <= 0:
            raise Refusal("A piece has no size. Write its width and height.", field=f"wanted.{place}.{side}")
    if wanted.quantity is not None and not 1 <= wanted.quantity <= MOST_OF_A_SIZE:
        raise Refusal(
            f"{wanted.quantity:,} pieces of one size. Write between 1 and {MOST_OF_A_SIZE:,}.",
            field=f"wanted.{place}.quantity",
        )
    width, height = job.usable_um
    least = -(-(width + height) // (MOST_SIDES if len(job.wanted) == 1 else MOST_SIDES_MIXED))
    if min(wanted.width_um, wanted.height_um) < least:
        raise Refusal(
            f"A side of {mm(min(wanted.width_um, wanted.height_um))} mm is too small to lay out on this sheet. Write "
            f"{mm(least)} mm or more.",
            field=f"wanted.{place}.{'width_um' if wanted.width_um < least else 'height_um'}",
        )
    if min(wanted.width_um, wanted.height_um) < job.least_strip_um:
        raise Refusal(
            f"A piece of {by_measure(wanted.width_um, wanted.height_um)} is narrower than the "
            f"{mm(job.least_strip_um)} mm the cutter holds. Choose a "
            "larger piece, or cut with a knife.",
            field="least_strip_um",
        )
    _check_fits(job, place, wanted)


def _check_fits(job: Job, place: int, wanted: Wanted) -> None:
    width, height = job.usable_um
    ways = [(wanted.width_um, wanted.height_um)]
    if wanted.may_turn:
        ways.append((wanted.height_um, wanted.width_um))
    over = [(max(0, w - width), max(0, h - height)) for w, h in ways]
    wide, high = min(over, key=lambda each: (sum(each), each))
    if wide or high:
        how = " and ".join(f"{mm(um)} mm too {word}" for um, word in ((wide, "wide"), (high, "high")) if um)
        side = "width_um" if wide else "height_um"
        raise Refusal(
            f"A piece of {by_measure(wanted.width_um, wanted.height_um)} is {how} for the usable sheet of "
            f"{mm(width)} × {mm(height)} mm. Choose a larger sheet, smaller margins or a smaller piece.",
            field=f"wanted.{place}.{side}",
        )


def extent_um(node: Node) -> tuple[int, int]:
    """Width and height of all the pieces in a plan together, finished edge to finished edge."""
    if isinstance(node, Leaf):
        return node.width_um, node.height_um
    if isinstance(node, Split):
        (w1, h1), (w2, h2) = extent_um(node.first), extent_um(node.second)
        at = node.at_um
        return (max(w1, at + w2), max(h1, h2)) if node.axis == "x" else (max(w1, w2), max(h1, at + h2))
    ends = [
        (x + w, y + h)
        for (x, y), part in zip(node.corners_um, node.parts, strict=True) if part
        for w, h in [extent_um(part)]
    ]  # fmt: skip
    return max(x for x, _ in ends), max(y for _, y in ends)


def pinwheel_sides(area: tuple[int, int], lines: tuple[int, int, int, int]) -> tuple[tuple[int, int], ...]:
    """Width and height of the five parts of a part, cut at x1, y1, x2, y2 as a Pinwheel has them and in its order."""
    width, height = area
    x1, y1, x2, y2 = lines
    return (x1, y2), (width - x1, y1), (width - x2, height - y1), (x2, height - y2), (x2 - x1, y2 - y1)


def pieces_of(node: Node | None, x_um: int, y_um: int) -> list[Placed]:
    """Where the pieces of a plan lie, if it begins at x, y."""
    if node is None:
        return []
    if isinstance(node, Leaf):
        return [Placed(node.wanted, x_um, y_um, node.width_um, node.height_um, node.turned)]
    if isinstance(node, Split):
        right, down = (node.at_um, 0) if node.axis == "x" else (0, node.at_um)
        return pieces_of(node.first, x_um, y_um) + pieces_of(node.second, x_um + right, y_um + down)
    corners = zip(node.corners_um, node.parts, strict=True)
    return [piece for (x, y), part in corners for piece in pieces_of(part, x_um + x, y_um + y)]


def layout_of(job: Job, plan: Node) -> Layout:
    """The plan laid on the job's sheet."""
    placed = tuple(pieces_of(plan, job.sheet.left_um, job.sheet.top_um))
    counts = tuple(sum(each.wanted == place for each in placed) for place in range(len(job.wanted)))
    return Layout(counts, placed, plan)


def area_with_gutter(wanted: Wanted, gutter_um: int) -> int:
    """What a piece takes of a sheet, in square micrometres: its area with one gutter each way."""
    return (wanted.width_um + gutter_um) * (wanted.height_um + gutter_um)


def check_quantities(job: Job) -> Sequence[int]:
    """The quantities, all of them written. Raises Refusal where one is missing."""
    for place, wanted in enumerate(job.wanted):
        if wanted.quantity is None:
            raise Refusal("Write how many of this size are wanted.", field=f"wanted.{place}.quantity")
    return [wanted.quantity or 0 for wanted in job.wanted]
