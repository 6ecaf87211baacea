"""The most pieces of one size with a knife and a straightedge, whose cuts may stop inside the sheet.

Beside cuts right across, a part may be cut into a pinwheel: five parts round a middle one, each of them cut in
either way again. That finds many of the best layouts and proves none, so each is held against a bound.
"""

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import combinations

from ledger.reckoning.sheet_layout import Job, Layout, Node, Pinwheel, check, layout_of, pinwheel_sides
from ledger.reckoning.sheet_one import searched
from ledger.reckoning.sheet_search import Cutting, Part, Search, Spent, Work, split

KNIFE_STEPS = 40_000

Area = tuple[int, int]
Pin = tuple[int, int, int, int]
"""x1, y1, x2, y2, as a Pinwheel has them."""


@dataclass(frozen=True)
class WithKnife:
    """The best layout found, and the number no layout can pass. `proved`: they are the same."""

    layout: Layout
    bound: int

    @property
    def proved(self) -> bool:
        return len(self.layout.placed) == self.bound


def without_cutter(job: Job) -> Job:
    """The job without its cutter, which does not count for a knife. Raises Refusal as `check` does."""
    job = replace(job, widest_cut_um=None, least_strip_um=0)
    check(job)
    return job


def with_knife(job: Job) -> WithKnife:
    """The best layout for a job of one size where cuts may stop; the job's cutter does not count. Raises Refusal."""
    job = without_cutter(job)
    if len(job.wanted) != 1:
        raise ValueError("a job of one size")
    knife = Knife(searched(job)[0])
    plan = knife.best(*knife.whole)[1]
    assert plan is not None
    return WithKnife(layout_of(job, plan), knife.bound(knife.whole))


class _Held(dict[int, int]):
    """What a part of this width is worth at most, by its height."""

    def __init__(self, knife: "Knife", width: int) -> None:
        self.knife, self.width = knife, width

    def __missing__(self, height: int) -> int:
        self[height] = found = self.knife.bound((self.width, self.knife.bench.fit_y[height]))
        return found


class Knife:
    """The most valuable plan found for a part, from the best cuts right across: a finished Search of them."""

    def __init__(self, across: Search, steps: int = KNIFE_STEPS) -> None:
        self.across, self.bench = across, across.bench
        self.work = Work(steps)
        self._found: dict[Area, tuple[int, Node | None]] = {}
        self._held = {width: _Held(self, width) for width in self.bench.xs}
        whole = self.bench.whole
        assert whole is not None  # `check` saw that one piece fits
        self.whole = whole.width, whole.height

    def bound(self, area: Area) -> int:
        """What the area is worth at most."""
        return self.across.bound(*area)

    def best(self, width: int, height: int) -> tuple[int, Node | None]:
        """The most found for a part, and its plan; what was found by the last step stands."""
        part = self.bench.settled(Part(width, height))
        if part is None:
            return 0, None
        area = part.width, part.height
        if area not in self._found:
            self._found[area] = self.across.most(part), self.across.plan(part)
            if self._found[area][0] < self.bound(area):
                with suppress(Spent):
                    self._improve(part)
        return self._found[area]

    def _improve(self, part: Part) -> None:
        area = part.width, part.height
        for way in self._ways(part):
            self._try(area, way)
            if self._found[area][0] >= self.bound(area):
                return

    def _try(self, area: Area, way: "Cutting | Pin") -> None:
        if isinstance(way, Cutting):
            first, second = way.first, way.second
            parts = [
                self.best(first.width, first.height),
                self.best(second.width, second.height) if second else (0, None),
            ]
        else:
            parts = [self.best(*side) for side in pinwheel_sides(area, way)]
        worth = sum(value for value, _ in parts)
        if worth > self._found[area][0]:
            plans = [plan for _, plan in parts]
            plan = split(way, *plans) if isinstance(way, Cutting) else Pinwheel(*way, tuple(plans))
            self._found[area] = worth, plan

    def _ways(self, part: Part) -> Iterable["Cutting | Pin"]:
        """Every cut and pinwheel of a part that could give more than is found. Raises Spent."""
        area = part.width, part.height
        for cutting in self.bench.cuttings(part):
            second = cutting.second
            self.work.spend(1)
            most = self.bound(cutting.first[:2]) + (self.bound(second[:2]) if second else 0)
            if most > self._found[area][0]:
                yield cutting
        yield from self._pins(area)

    def _pins(self, area: Area) -> Iterable[Pin]:
        """The pinwheels whose five parts, as large as they can be used, hold more than is found."""
        width, height = area
        xs = [x for x in self.bench.xs if 0 < x < width]
        ys = [y for y in self.bench.ys if 0 < y < height]
        for x1, x2 in combinations(xs, 2):
            top_left, top_right, bottom_right, bottom_left, middle = (
                self._held[self.bench.fit_x[side]] for side in (x1, width - x1, width - x2, x2, x2 - x1)
            )
            above = [(y1, top_right[y1] + bottom_right[height - y1]) for y1 in ys]
            beside = [(y2, top_left[y2] + bottom_left[height - y2]) for y2 in ys]
            for place, (y1, most) in enumerate(above, 1):
                self.work.spend(len(ys) - place)
                for y2, other in beside[place:]:
                    if most + other + middle[y2 - y1] > self._found[area][0]:
                        yield x1, y1, x2, y2
