"""The fewest sheets for so many of each size, and whether fewer are possible.

The bound is the linear programme of covering quantities with sheets (Gilmore and Gomory, 1961): prices for the
sizes under which no sheet is worth more than one make the quantities worth a number of sheets no plan can go under.
"""

from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, lcm
from operator import mul, sub

from ledger.reckoning.sheet_layout import Job, Layout, Node, check, check_quantities, layout_of
from ledger.reckoning.sheet_mixes import WORTH_TRYING, Room, fronts
from ledger.reckoning.sheet_one import best_plan, count, no_piece
from ledger.reckoning.sheet_search import Bench, Search, Spent, Work

PRICE_STEPS = 100_000
COVER_STEPS = 100_000
ROUNDS = 12
MOST_ONE_BY_ONE = 40

Counts = tuple[int, ...]


@dataclass(frozen=True)
class Sheets:
    """Layouts and how many sheets of each; together they give the quantities, perhaps more.

    `bound` sheets are needed whatever the plan; `proved`: no plan with cuts right across needs fewer than `count`.
    """

    layouts: tuple[tuple[Layout, int], ...]
    bound: int
    proved: bool

    @property
    def count(self) -> int:
        """The number of sheets."""
        return sum(sheets for _, sheets in self.layouts)


def fewest_sheets(job: Job) -> Sheets:
    """The fewest sheets found that give every quantity of the job. Raises Refusal."""
    check(job)
    check_quantities(job)
    return fewest_of(job, *fronts(job))


def fewest_of(job: Job, plans: Sequence[Node], complete: bool) -> Sheets:
    """The fewest sheets from these plans of the job's `fronts`, and others found on the way. Raises Refusal."""
    wanted = tuple(check_quantities(job))
    pool = {layout_of(job, plan).counts: plan for plan in plans}
    for place in range(len(wanted)):
        if not any(counts[place] for counts in pool):
            raise no_piece(job, place)
    needed, mixture = _bound(job, pool, wanted, complete)
    return covered(job, pool, mixture, needed, complete)


def covered(job: Job, pool: dict[Counts, Node], mixture: "Mixture", needed: int, complete: bool = False) -> Sheets:
    """The fewest sheets out of a pool, around its best mixture; `complete`: no sheet outside it is of any use."""
    cover = _Cover(list(pool), tuple(check_quantities(job)), mixture, needed)
    chosen = cover.best()
    sheets = tuple((layout_of(job, pool[counts]), chosen[counts]) for counts in sorted(chosen, reverse=True))
    return Sheets(sheets, needed, chosen.total() == needed or (complete and cover.exhausted))


def _bound(job: Job, pool: dict[Counts, Node], wanted: Counts, complete: bool) -> tuple[int, "Mixture"]:
    """Sheets that no plan can go under, and the pool's best mixture; adds to the pool what it finds on the way."""
    mixture = best_mixture(list(pool), wanted)
    if complete:
        return ceil(mixture.worth), mixture
    needed = max([Room(job).sheets(wanted), *_each_alone(job, wanted)])
    for bench in (Bench(job, short=True), Bench(job)):
        if not bench.short and bench.size > WORTH_TRYING:
            break
        work = Work(PRICE_STEPS)
        with suppress(Spent):
            for _ in range(ROUNDS):
                most, plan = _dearest(bench, mixture, work)
                if bench.complete:
                    needed = max(needed, ceil(mixture.worth / max(most, Fraction(1))))
                if plan is None or most <= 1:
                    break
                pool[layout_of(job, plan).counts] = plan
                mixture = best_mixture(list(pool), wanted)
    return needed, mixture


def _dearest(bench: Bench, mixture: "Mixture", work: Work) -> tuple[Fraction, Node | None]:
    """The sheet worth most at the mixture's prices. Raises Spent."""
    scale, values = mixture.values
    search = Search(bench, values, work)
    return Fraction(search.most(bench.whole), scale), search.plan(bench.whole)


def _each_alone(job: Job, wanted: Counts) -> list[int]:
    """The sheets each size would need alone, cut right across, where that is proved."""
    alone = [best_plan(job, sizes=(place,)) for place in range(len(wanted))]
    return [-(-n // count(plan)) for n, (plan, proved) in zip(wanted, alone, strict=True) if plan and proved]


@dataclass(frozen=True)
class Mixture:
    """So many sheets of each of a pool (by place), parts of a sheet allowed, and the prices of the sizes behind it.

    At these prices no sheet of the pool is worth more than one, and all that is wanted is `worth` sheets.
    """

    parts: dict[int, Fraction]
    prices: tuple[Fraction, ...]
    worth: Fraction

    @property
    def values(self) -> tuple[int, list[int]]:
        """The prices as whole numbers, of a sheet and of each size."""
        scale = lcm(*(price.denominator for price in self.prices))
        return scale, [int(price * scale) for price in self.prices]


def best_mixture(pool: Sequence[Counts], wanted: Counts) -> Mixture:
    """The mixture of fewest sheets that gives what is wanted. Every size must be on some sheet of the pool.

    The simplex method on exact fractions. Bland's rule (the first that helps, by a fixed order) keeps it from
    going in circles.
    """
    sizes = len(wanted)
    rows = [[Fraction(count) for count in counts] + [Fraction(1)] for counts in pool]
    goal = [Fraction(count) for count in wanted]
    columns = list(range(sizes))
    basis = [sizes + place for place in range(len(pool))]
    while any(value > 0 for value in goal):
        column = min((j for j in range(sizes) if goal[j] > 0), key=lambda j: columns[j])
        row = min(
            (i for i in range(len(rows)) if rows[i][column] > 0),
            key=lambda i: (rows[i][-1] / rows[i][column], basis[i]),
        )
        _pivot(rows, goal, row, column)
        columns[column], basis[row] = basis[row], columns[column]
    prices = [Fraction(0)] * sizes
    for cells, place in zip(rows, basis, strict=True):
        if place < sizes:
            prices[place] = cells[-1]
    parts = {place - sizes: -value for place, value in zip(columns, goal, strict=True) if place >= sizes and value}
    return Mixture(parts, tuple(prices), sum(map(mul, prices, wanted), start=Fraction(0)))


def _pivot(rows: list[list[Fraction]], goal: list[Fraction], row: int, column: int) -> None:
    by = rows[row][column]
    pivot = rows[row] = [value / by for value in rows[row]]
    pivot[column] = 1 / by
    for other in (*rows[:row], *rows[row + 1 :], goal):
        factor = other[column]
        if factor:
            other[column] = Fraction(0)
            for j, value in enumerate(pivot[: len(other)]):
                other[j] -= factor * value


class _Cover:
    """Sheets out of the pool that together give what is wanted; `exhausted` once fewer are shown impossible."""

    def __init__(self, pool: list[Counts], wanted: Counts, mixture: Mixture, needed: int) -> None:
        self.pool, self.wanted, self.needed = pool, wanted, needed
        self.parts = mixture.parts
        self.scale, self.prices = mixture.values
        self.work = Work(COVER_STEPS)
        self.exhausted = False
        self._hopeless: set[tuple[Counts, int]] = set()

    def best(self) -> Counter[Counts]:
        """The fewest found: most of them by the mixture's proportions, the last few one by one."""
        chosen = self._greedy()
        for held_back in (0, 1, None):
            bulk = self._in_bulk(held_back)
            rest = self._rest_after(bulk)
            for left in range(max(0, self.needed - bulk.total()), chosen.total() - bulk.total()):
                if left > MOST_ONE_BY_ONE:
                    break
                with suppress(Spent):
                    last = self._one_by_one(rest, left)
                    if last is not None:
                        chosen = bulk + Counter(last)
                        break
                    self.exhausted = not bulk and left == chosen.total() - 1
            if chosen.total() == self.needed or self.exhausted:
                break
        return chosen

    def _greedy(self) -> Counter[Counts]:
        chosen: Counter[Counts] = Counter()
        rest = self.wanted
        while any(rest):
            of_use = {counts: tuple(map(min, counts, rest)) for counts in self.pool}
            best = max(self.pool, key=lambda counts: (self._worth(of_use[counts]), sum(of_use[counts])))
            times = min(n // each for n, each in zip(rest, best, strict=True) if each and n) or 1
            chosen[best] += times
            rest = tuple(max(0, n - times * each) for n, each in zip(rest, best, strict=True))
        return chosen

    def _in_bulk(self, held_back: int | None) -> Counter[Counts]:
        """The mixture in whole sheets, so many of each held back; nothing where it is None."""
        if held_back is None:
            return Counter()
        whole = {self.pool[place]: floor(part) - held_back for place, part in self.parts.items()}
        return +Counter(whole)

    def _rest_after(self, bulk: Counter[Counts]) -> Counts:
        done = [sum(times * counts[place] for counts, times in bulk.items()) for place in range(len(self.wanted))]
        return tuple(max(0, n - each) for n, each in zip(self.wanted, done, strict=True))

    def _worth(self, counts: Counts) -> int:
        return sum(map(mul, self.prices, counts))

    def _one_by_one(self, rest: Counts, left: int) -> list[Counts] | None:
        """At most `left` sheets that give the rest; None where no sheets of the pool do. Raises Spent."""
        if not any(rest):
            return []
        if self._worth(rest) > left * self.scale or (rest, left) in self._hopeless:
            return None
        place = max(range(len(rest)), key=lambda each: rest[each])
        useful = {tuple(map(min, counts, rest)): counts for counts in self.pool if counts[place]}
        self.work.spend(len(self.pool))
        for used in sorted(useful, key=lambda counts: (-self._worth(counts), counts)):
            others = self._one_by_one(tuple(map(sub, rest, used)), left - 1)
            if others is not None:
                return [useful[used], *others]
        self._hopeless.add((rest, left))
        return None
