"""The most pieces of one size with a knife and a straightedge, whose cuts may stop inside the sheet.

Beside cuts right across, a part may be cut into a pinwheel: five parts round a middle one, each of them cut in
either way again. That finds many of the best layouts and proves none, so each is held against a bound.
"""

from bisect import bisect_right
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import combinations

from ledger.reckoning.sheet_layout import Job, Layout, Node, Pinwheel, check, layout_of
from ledger.reckoning.sheet_one import searched
from ledger.reckoning.sheet_search import Cutting, Part, Spent, Work, split

KNIFE_STEPS = 12_000

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


def with_knife(job: Job) -> WithKnife:
    """The best layout for a job of one size where cuts may stop; the job's cutter does not count. Raises Refusal."""
    job = replace(job, widest_cut_um=None, least_strip_um=0)
    check(job)
    if len(job.wanted) != 1:
        raise ValueError("a job of one size")
    knife = _Knife(job)
    plan = knife.best(*knife.whole)[1]
    assert plan is not None
    return WithKnife(layout_of(job, plan), knife.bound(knife.whole))


class _Reach(dict[int, int]):
    """The longest sum of sides in a length."""

    def __init__(self, sums: list[int]) -> None:
        self.sums = sums

    def __missing__(self, length: int) -> int:
        self[length] = found = self.sums[bisect_right(self.sums, length) - 1]
        return found


class _Knife:
    def __init__(self, job: Job) -> None:
        self.across, _ = searched(job)
        self.bench = self.across.bench
        self.work = Work(KNIFE_STEPS)
        self._found: dict[Area, tuple[int, Node | None]] = {}
        self._wide, self._high = _Reach(self.bench.xs), _Reach(self.bench.ys)
        whole = self.bench.whole
        assert whole is not None  # `check` saw that one piece fits
        self.whole = whole.width, whole.height

    def bound(self, area: Area) -> int:
        """What the area holds if nothing of it were lost."""
        return self.across.bound(*area)

    def best(self, width: int, height: int) -> tuple[int, Node | None]:
        """The most pieces found for a part, and their plan; what was found by the last step stands."""
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
            parts = [self.best(*side) for side in _sides(area, way)]
        pieces = sum(count for count, _ in parts)
        if pieces > self._found[area][0]:
            plans = [plan for _, plan in parts]
            plan = split(way, *plans) if isinstance(way, Cutting) else Pinwheel(*way, tuple(plans))
            self._found[area] = pieces, plan

    def _ways(self, part: Part) -> Iterable["Cutting | Pin"]:
        """Every cut and pinwheel of a part that could give more than is found. Raises Spent."""
        area = part.width, part.height
        for cutting in self.bench.cuttings(part):
            second = cutting.second
            self.work.spend(1)
            most = self.bound(cutting.first[:2]) + (self.bound(second[:2]) if second else 0)
            if most > self._found[area][0]:
                yield cutting
        for pin in self._pins(area):
            if self._could(area, pin):
                yield pin

    def _pins(self, area: Area) -> Iterable[Pin]:
        width, height = area
        xs = [x for x in self.bench.xs if 0 < x < width]
        ys = [y for y in self.bench.ys if 0 < y < height]
        for x1, x2 in combinations(xs, 2):
            for y1, y2 in combinations(ys, 2):
                self.work.spend(1)
                yield x1, y1, x2, y2

    def _could(self, area: Area, pin: Pin) -> bool:
        """Whether the five parts, as large as they can be used, hold more than is found."""
        most = sum(self.bound((self._wide[w], self._high[h])) for w, h in _sides(area, pin))
        return most > self._found[area][0]


def _sides(area: Area, pin: Pin) -> tuple[Area, ...]:
    """Width and height of the five parts, in a Pinwheel's order."""
    width, height = area
    x1, y1, x2, y2 = pin
    return (x1, y2), (width - x1, y1), (width - x2, height - y1), (x2, height - y2), (x2 - x1, y2 - y1)
