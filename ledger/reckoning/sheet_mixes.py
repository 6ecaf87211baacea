"""One to four sizes on the same sheet: the mixes worth having, each a sheet that gives no less of anything."""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from operator import mul

from ledger.reckoning.sheet_filling import filled
from ledger.reckoning.sheet_layout import MOST_OF_A_SIZE, Job, Layout, Node, area_with_gutter, check, layout_of
from ledger.reckoning.sheet_one import best_plan, bound_of
from ledger.reckoning.sheet_search import Bench, Part, Spent, Work, split

FIELD = 16
MIX_STEPS = 1_000_000
WORTH_TRYING = 4_000_000
"""Of a larger Bench no search of all cuts would come to an end."""
QUICK = 400_000
"""Of a larger Bench a search of all cuts is not quick."""
KEPT, FEW_KEPT, MANY_PLACES = 10, 2, 800
"""How many mixes of a part are kept where not all can be, and how many where there are this many places to cut."""


@dataclass(frozen=True)
class Mixes:
    """The sheets worth choosing from, most of the first size first; `proved`: there is no other, nor a better."""

    layouts: tuple[Layout, ...]
    proved: bool


def mixes(job: Job) -> Mixes:
    """Every mix of the job's sizes that no other mix beats in all of them. Raises Refusal.

    Where a size has a quantity, more of it on one sheet counts for nothing.
    """
    check(job)
    found, proved = fronts(job)
    return Mixes(tuple(layout_of(job, plan) for plan in found), proved)


def fronts(job: Job) -> tuple[list[Node], bool]:
    """The plans of `mixes`, and whether they are all there are."""
    bench = Bench(job)
    if bench.size <= WORTH_TRYING:
        with suppress(Spent):
            return _Fronts(bench, Work(MIX_STEPS), None).plans(), bench.complete
    kept = KEPT if len(bench.xs) + len(bench.ys) < MANY_PLACES else FEW_KEPT
    short = Bench(job, short=True)
    return worth_having(job, [*_each_first(job, short), *_Fronts(short, Work(), kept).plans()]), False


def quick_fronts(job: Job, work: Work) -> list[Node]:
    """Most of the plans of `fronts`, or some, in few steps. Raises Spent."""
    bench = Bench(job)
    if bench.size <= QUICK:
        return _Fronts(bench, work, None).plans()
    return _Fronts(Bench(job, short=True), work, FEW_KEPT).plans()


def worth_having(job: Job, plans: Sequence[Node]) -> list[Node]:
    """Those of the plans that no other beats, most of the first size first; of two alike the first."""
    enough = [each.quantity or MOST_OF_A_SIZE for each in job.wanted]
    pool: dict[tuple[int, ...], Node] = {}
    for plan in plans:
        pool.setdefault(tuple(map(min, layout_of(job, plan).counts, enough)), plan)
    return [pool[one] for one in sorted(pool, reverse=True) if not any(_beats(other, one) for other in pool)]


def _beats(one: Sequence[int], other: Sequence[int]) -> bool:
    return one != other and all(a >= b for a, b in zip(one, other, strict=True))


def _each_first(job: Job, short: Bench) -> list[Node]:
    """For each size the sheet with most of it, and of the others what its waste takes."""
    plans = []
    for place in range(len(job.wanted)):
        plan, _ = best_plan(job, sizes=(place,))
        if not short.limited:  # a plan in whose waste others are cut could come to longer cuts
            plan = filled([short], plan, [int(each == place) for each in range(len(job.wanted))])
        plans.append(plan)
    return [plan for plan in plans if plan]


class Room:
    """What a job's sheet can hold at most, whatever the layout and however it is cut."""

    def __init__(self, job: Job) -> None:
        whole = Bench(replace(job, widest_cut_um=None)).whole
        self.area = whole.width * whole.height if whole else 0
        self.wanted = job.wanted
        self.areas = [area_with_gutter(each, job.gutter_um) for each in job.wanted]
        self.alone = [bound_of(replace(job, wanted=(each,))) for each in job.wanted]

    def left(self, counts: Sequence[int]) -> int:
        """No layout that has as many of every size has more than so many pieces more of those still wanted."""
        most = [min(each.quantity or alone, alone) for each, alone in zip(self.wanted, self.alone, strict=True)]
        lacking = [max(0, n - count) for n, count in zip(most, counts, strict=True)]
        smallest = min((area for area, lacks in zip(self.areas, lacking, strict=True) if lacks), default=0)
        spare: int = self.area - sum(map(mul, counts, self.areas))
        return min(sum(lacking), spare // smallest) if smallest else 0

    def sheets(self, wanted: Sequence[int]) -> int:
        """So many sheets at least are needed for these quantities."""
        area: int = sum(map(mul, wanted, self.areas))
        return max(-(-area // self.area), *(-(-n // alone) for n, alone in zip(wanted, self.alone, strict=True)))


class _Fronts:
    """The mixes of every part. Counts are packed into one number, FIELD bits a size, the topmost of each a guard."""

    def __init__(self, bench: Bench, work: Work, kept: int | None) -> None:
        self.bench, self.work, self.kept = bench, work, kept
        wanted = bench.job.wanted
        self.places = range(len(wanted))
        self.shifts = [FIELD * place for place in reversed(self.places)]  # so that numbers sort as counts do
        self.guards = sum(1 << shift + FIELD - 1 for shift in self.shifts)
        self.enough = [each.quantity or MOST_OF_A_SIZE for each in wanted]
        self.all_enough = sum(n << shift for n, shift in zip(self.enough, self.shifts, strict=True))
        self.capped = any(each.quantity is not None for each in wanted)
        self.areas = [area_with_gutter(each, bench.job.gutter_um) for each in wanted]
        self._found: dict[Part, list[int]] = {}

    def plans(self) -> list[Node]:
        """The plans for the whole sheet, most of the first size first."""
        whole = self.bench.whole
        every = [self._plan(whole, mix) for mix in sorted(self.front(whole), reverse=True)]
        return [plan for plan in every if plan]

    def front(self, part: Part | None) -> list[int]:
        """The mixes of a part that no other beats. Raises Spent."""
        if part is None:
            return [0]
        found = self._found.get(part)
        if found is None:
            found = self._found[part] = self._look(part)
        return found

    def _look(self, part: Part) -> list[int]:
        found = {0, *(1 << self.shifts[shape.leaf.wanted] for shape in self.bench.fitting(part))}
        cuttings = self.bench.cuttings(part)
        self.work.spend(4 * len(cuttings))
        for cutting in cuttings:
            firsts, seconds = self.front(cutting.first), self.front(cutting.second)
            self.work.spend(len(firsts) * len(seconds))
            found.update(first + second for first in firsts for second in seconds)
        if self.capped:
            found = {self._no_more_than_wanted(mix) for mix in found}
        return self._worth(found)

    def _counts(self, mix: int) -> list[int]:
        return [mix >> shift & (1 << FIELD) - 1 for shift in self.shifts]

    def _no_more_than_wanted(self, mix: int) -> int:
        if (self.all_enough | self.guards) - mix & self.guards == self.guards:
            return mix
        counts = map(min, self._counts(mix), self.enough)
        return sum(count << shift for count, shift in zip(counts, self.shifts, strict=True))

    def _worth(self, found: set[int]) -> list[int]:
        guards = self.guards
        kept: list[int] = []
        for mix in sorted(found, reverse=True):  # what beats another comes before it
            for other in kept:
                if (other | guards) - mix & guards == guards:
                    break
            else:
                kept.append(mix)
        self.work.spend(len(found) * len(kept) // 4)
        return kept if self.kept is None else self._best(kept, self.kept)

    def _best(self, mixes: list[int], most: int) -> list[int]:
        """So many of them that use most of the sheet."""
        return sorted(mixes, key=lambda mix: -sum(map(mul, self._counts(mix), self.areas)))[:most]

    def _plan(self, part: Part | None, mix: int) -> Node | None:
        if part is None or not mix:
            return None
        for shape in self.bench.fitting(part):
            if mix == 1 << self.shifts[shape.leaf.wanted]:
                return shape.leaf
        for cutting in self.bench.cuttings(part):
            seconds = self.front(cutting.second)
            for first in self.front(cutting.first):
                for second in seconds:
                    if first + second == mix or (self.capped and self._no_more_than_wanted(first + second) == mix):
                        plans = self._plan(cutting.first, first), self._plan(cutting.second, second)
                        return split(cutting, *plans)
        raise AssertionError("a mix comes from a piece or a cut")
