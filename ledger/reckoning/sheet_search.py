"""The best cuts right across: an exact recursion over every place where a cut can matter.

Pushing every piece left and up loses nothing, so only sums of the pieces' sides need be tried. Work is counted in
steps, never in time: the same job gives the same answer on every machine.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, NamedTuple

from ledger.reckoning.sheet_layout import Job, Leaf, Node, Split

MOST_PLACES = 20_000
Ways = tuple[str, ...]
BOTH_WAYS: Ways = ("straight", "turned")
Sizes = tuple[int, ...] | None


class Spent(Exception):
    """The steps allowed are used up."""


@dataclass
class Work:
    """Counts the steps of a search; past `most`, if there is one, it raises Spent."""

    most: int | None = None
    done: int = 0

    def spend(self, steps: int) -> None:
        self.done += steps
        if self.most is not None and self.done > self.most:
            raise Spent


class Part(NamedTuple):
    """What is in hand: a place for pieces, gutter added, and the paper around it (one gutter less) still to go."""

    width: int
    height: int
    left: int = 0
    top: int = 0
    right: int = 0
    bottom: int = 0


class Shape(NamedTuple):
    """A size one way round, gutter added, and the piece it stands for."""

    width: int
    height: int
    leaf: Leaf


class Cutting(NamedTuple):
    """One cut right across a part: where, and the two parts it leaves; the second may hold nothing."""

    axis: Literal["x", "y"]
    at: int
    first: Part
    second: Part | None


class Reach(dict[int, int]):
    """The longest sum of sides in a length."""

    def __init__(self, sums: list[int]) -> None:
        self.sums = sums

    def __missing__(self, length: int) -> int:
        self[length] = found = self.sums[bisect_right(self.sums, length) - 1]
        return found


@dataclass
class Bench:
    """The parts a job's sheet can come to, and the cuts the cutter can make of each.

    `sizes`: the places of the sizes to lay out, None for all. `short` tries only cuts one piece from the edge, of the
    whole sheet, of strips as wide as a piece and of rows as high as one: quick, and not always the best. `complete`:
    every cut that can matter is tried.
    """

    job: Job
    ways: Ways = BOTH_WAYS
    short: bool = False
    sizes: Sizes = None
    shapes: list[Shape] = field(init=False)
    _known: dict[Part, list[Cutting]] = field(default_factory=dict, init=False)

    def __post_init__(self) -> None:
        job, g = self.job, self.job.gutter_um
        width, height = (side + g for side in job.usable_um)
        self.shapes = [shape for shape in self._shapes() if shape.width <= width and shape.height <= height]
        self.wide, self.high = sorted({s.width for s in self.shapes}), sorted({s.height for s in self.shapes})
        self.xs, all_x = _sums(self.wide, width)
        self.ys, all_y = _sums(self.high, height)
        self.fit_x, self.fit_y = Reach(self.xs), Reach(self.ys)
        self.complete = not self.short and all_x and all_y
        sheet = job.sheet
        self.widest = job.widest_cut_um or max(sheet.width_um, sheet.height_um)
        self.limited = self.widest < max(sheet.width_um, sheet.height_um)
        whole = Part(width, height, sheet.left_um, sheet.top_um, sheet.right_um, sheet.bottom_um)
        self.whole = self.settled(whole)

    def _shapes(self) -> Iterable[Shape]:
        g = self.job.gutter_um
        for place, each in enumerate(self.job.wanted):
            w, h = each.width_um, each.height_um
            if self.sizes is None or place in self.sizes:
                if "straight" in self.ways:
                    yield Shape(w + g, h + g, Leaf(place, False, w, h))
                if "turned" in self.ways and each.may_turn and w != h:
                    yield Shape(h + g, w + g, Leaf(place, True, h, w))

    @property
    def size(self) -> int:
        """About how many cuts there are to try of all the parts."""
        return len(self.xs) * len(self.ys) * (len(self.xs) + len(self.ys)) // 4

    def settled(self, part: Part) -> Part | None:
        """The part with all trimmed off that can be, as small as holds the same pieces; None if it holds none."""
        w, h, left, top, right, bottom = part
        fit_w, fit_h = self.fit_x[w], self.fit_y[h]
        if not fit_w or not fit_h:
            return None
        if not self.limited:
            return Part(fit_w, fit_h)
        return self._trimmed(Part(fit_w, fit_h, left, top, right + w - fit_w, bottom + h - fit_h))

    def _trimmed(self, part: Part) -> Part:
        w, h, left, top, right, bottom = part
        for _ in range(2):  # one trim may make the cut of the other short enough
            if self.tall(h, top, bottom):
                left = right = 0
            if self.tall(w, left, right):
                top = bottom = 0
        return Part(w, h, left, top, right, bottom)

    def tall(self, side: int, before: int, after: int) -> bool:
        """Whether the cutter reaches along a part with this side and this much paper around it."""
        return before + side - self.job.gutter_um + after <= self.widest

    def fitting(self, part: Part) -> Iterable[Shape]:
        """The pieces that can be cut out of the part with nothing but trims."""
        w, h, left, top, right, bottom = part
        for shape in self.shapes:
            if shape.width <= w and shape.height <= h:
                if self.limited:
                    around = (left, top, right + w - shape.width, bottom + h - shape.height)
                    if any(self._trimmed(Part(shape.width, shape.height, *around))[2:]):
                        continue
                yield shape

    def cuttings(self, part: Part) -> list[Cutting]:
        """Every cut of the part that can matter."""
        found = self._known.get(part)
        if found is None:
            xs, ys = (self._in_strips if self.short else self._anywhere)(part)
            across = self._within_reach if self.limited else self._across
            found = self._known[part] = across(part, xs, ys)
        return found

    def _across(self, part: Part, xs: Sequence[int], ys: Sequence[int]) -> list[Cutting]:
        w, h = part[:2]
        fit_x, fit_y = self.fit_x, self.fit_y
        return [
            *(Cutting("x", at, Part(at, h), Part(fit_x[w - at], h) if fit_x[w - at] else None) for at in xs),
            *(Cutting("y", at, Part(w, at), Part(w, fit_y[h - at]) if fit_y[h - at] else None) for at in ys),
        ]

    def _within_reach(self, part: Part, xs: Sequence[int], ys: Sequence[int]) -> list[Cutting]:
        return [*self._across_x(part, xs), *self._across_y(part, ys)]

    def _anywhere(self, part: Part) -> tuple[list[int], list[int]]:
        # A cut past the middle is another one seen in a mirror, unless margins make the two ends differ.
        w, h = (part.width - 1, part.height - 1) if self.limited else (part.width // 2, part.height // 2)
        return self.xs[1 : bisect_right(self.xs, w)], self.ys[1 : bisect_right(self.ys, h)]

    def _in_strips(self, part: Part) -> tuple[list[int], list[int]]:
        whole = self.whole or part
        xs = [x for x in self.wide if x < part.width] if part.height in (whole.height, *self.high) else []
        ys = [y for y in self.high if y < part.height] if part.width in (whole.width, *self.wide) else []
        return xs, ys

    def _across_x(self, part: Part, places: Sequence[int]) -> Iterable[Cutting]:
        w, h, _, top, right, bottom = part
        if self.tall(h, top, bottom):
            for at in places:
                first = self.settled(Part(at, h, 0, top, 0, bottom))
                if first:
                    yield Cutting("x", at, first, self.settled(Part(w - at, h, 0, top, right, bottom)))

    def _across_y(self, part: Part, places: Sequence[int]) -> Iterable[Cutting]:
        w, h, left, _, right, bottom = part
        if self.tall(w, left, right):
            for at in places:
                first = self.settled(Part(w, at, left, 0, right, 0))
                if first:
                    yield Cutting("y", at, first, self.settled(Part(w, h - at, left, 0, right, bottom)))


def _sums(sides: Sequence[int], most: int) -> tuple[list[int], bool]:
    """0 and the sums of sides up to `most`, rising; and whether they are all, or only some for being too many."""
    found = {0}
    for side in sides:
        for start in sorted(found):
            found.update(range(start, most + 1, side))
            if len(found) > MOST_PLACES:
                some = {0} | {at for one in sides for two in sides for at in range(one, most + 1, two)}
                return sorted(some), False
    return sorted(found), True


class Search:
    """The most valuable plan for a part, where a piece of each size is worth `values[its place]`."""

    def __init__(self, bench: Bench, values: Sequence[int], work: Work) -> None:
        self.bench, self.values, self.work = bench, values, work
        shapes = [shape for shape in bench.shapes if values[shape.leaf.wanted]]
        # The densest size, as a ratio: what no area can be worth more than.
        self._dense = max(
            ((values[s.leaf.wanted], s.width * s.height) for s in shapes), key=lambda r: Fraction(*r), default=(0, 1)
        )
        self._found: dict[Part, tuple[int, Cutting | Leaf | None]] = {}

    def most(self, part: Part | None) -> int:
        """The value of the best plan. Raises Spent."""
        if part is None:
            return 0
        found = self._found.get(part)
        if found is None:
            found = self._found[part] = self._look(part)
        return found[0]

    def bound(self, width: int, height: int) -> int:
        """What an area of reachable sides cannot be worth more than."""
        value, area = self._dense
        return width * height * value // area

    def _look(self, part: Part) -> tuple[int, Cutting | Leaf | None]:
        best, how = 0, None  # type: int, Cutting | Leaf | None
        for shape in self.bench.fitting(part):
            if self.values[shape.leaf.wanted] > best:
                best, how = self.values[shape.leaf.wanted], shape.leaf
        bound = self.bound(part.width, part.height)
        if best >= bound:
            return best, how
        cuttings = self.bench.cuttings(part)
        self.work.spend(len(cuttings) + 1)
        for cutting in cuttings:
            first, second = cutting.first, cutting.second
            could = self.bound(first.width, first.height) + (self.bound(second.width, second.height) if second else 0)
            value = self.most(first) + self.most(second) if could > best else 0
            if value > best:
                best, how = value, cutting
                if best >= bound:
                    break
        return best, how

    def plan(self, part: Part | None) -> Node | None:
        """The best plan of a part already looked at; None where nothing fits."""
        if part is None or not self.most(part):
            return None
        how = self._found[part][1]
        if isinstance(how, Cutting):
            return split(how, self.plan(how.first), self.plan(how.second))
        return how


def split(cutting: Cutting, first: Node | None, second: Node | None) -> Node | None:
    """The two as one plan; a part that holds nothing is trimmed off as waste."""
    return Split(cutting.axis, cutting.at, first, second) if first and second else first or second
