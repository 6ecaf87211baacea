"""Several sizes with a knife: what cuts right across give, and whatever a pinwheel makes better.

Prices are put on the sizes, and the knife looks for the sheet worth most. At the prices under which no mix known is
worth more than a sheet, one that is worth more is new. So the best found is never worse than cuts right across.
"""

from collections.abc import Iterable, Sequence
from contextlib import suppress

from ledger.reckoning.sheet_filling import filled
from ledger.reckoning.sheet_knife import Knife, without_cutter
from ledger.reckoning.sheet_layout import Job, Node, area_with_gutter, check_quantities, layout_of
from ledger.reckoning.sheet_mixes import WORTH_TRYING, Mixes, Room, fronts, worth_having
from ledger.reckoning.sheet_quantities import Counts, Mixture, Sheets, best_mixture, covered, fewest_of
from ledger.reckoning.sheet_search import Bench, Search, Spent, Work

PRICE_STEPS = 120_000
KNIFE_STEPS = 12_000
MOST_PRICES = 8
ROUNDS = 4


def mixes_with_knife(job: Job) -> Mixes:
    """The mixes found that no other beats; that there are no others is never proved. Raises Refusal."""
    job = without_cutter(job)
    return Mixes(tuple(layout_of(job, plan) for plan in _found(job, fronts(job)[0])), proved=False)


def fewest_with_knife(job: Job) -> Sheets:
    """The fewest sheets found that give every quantity, against a bound that holds for any layout. Raises Refusal."""
    job = without_cutter(job)
    wanted = tuple(check_quantities(job))
    needed = Room(job).sheets(wanted)
    plans, complete = fronts(job)
    across = fewest_of(job, plans, complete)
    if across.count == needed:
        return Sheets(across.layouts, needed, proved=True)
    pool = {layout_of(job, plan).counts: plan for plan in _found(job, plans)}
    pool |= {layout.counts: layout.plan for layout, _ in across.layouts}
    found = covered(job, pool, _priced(job, pool, wanted), needed)
    return Sheets(min(across, found, key=lambda each: each.count).layouts, needed, found.count == needed)


def _priced(job: Job, pool: dict[Counts, Node], wanted: Counts) -> Mixture:
    """The best mixture of the pool; adds to the pool what is found at its prices."""
    knife = _Dearest(job)
    for _ in range(ROUNDS):
        mixture = best_mixture(list(pool), wanted)
        plan = knife.at(mixture.values[1])
        counts = layout_of(job, plan).counts if plan else None
        if plan is None or counts is None or counts in pool:
            return mixture
        pool[counts] = plan
    return best_mixture(list(pool), wanted)


def _found(job: Job, plans: Sequence[Node]) -> list[Node]:
    """These plans and what the knife finds beyond them, those that no other beats, most of the first size first."""
    pool = [layout_of(job, plan).counts for plan in plans]
    knife = _Dearest(job)
    more = [knife.at(values) for values in _values(job, pool)]
    return worth_having(job, [*plans, *(plan for plan in more if plan)])


def _values(job: Job, pool: Sequence[Counts]) -> Iterable[Sequence[int]]:
    """Values to look at: each size alone, the areas, and those that hold the mixes known, fullest sheets first."""
    areas = [area_with_gutter(each, job.gutter_um) for each in job.wanted]
    places = range(len(areas))
    values = [tuple(int(each == place) for each in places) for place in places] + [tuple(areas)]
    for counts in sorted(pool, key=lambda counts: -sum(map(int.__mul__, counts, areas))):
        if len(values) >= MOST_PRICES:
            break
        holding = tuple(best_mixture(pool, counts).values[1])
        if holding not in values:
            values.append(holding)
    return values


class _Dearest:
    """The sheet worth most, as the knife finds it."""

    def __init__(self, job: Job) -> None:
        self.job, self.work = job, Work(PRICE_STEPS)
        self.every = self._benches(tuple(range(len(job.wanted))))

    def _benches(self, sizes: tuple[int, ...]) -> list[Bench]:
        """What to search, the thorough one first if it would come to an end."""
        whole = Bench(self.job, sizes=sizes)
        short = Bench(self.job, sizes=sizes, short=True)
        return [whole, short] if whole.size <= WORTH_TRYING else [short]

    def at(self, values: Sequence[int]) -> Node | None:
        """At these values; what is worth nothing fills the places left over."""
        if all(values):
            return self._first_to_end(self.every, values)
        plan = self._first_to_end(self._benches(tuple(place for place, value in enumerate(values) if value)), values)
        return filled(self.every, plan, values)

    def _first_to_end(self, benches: Sequence[Bench], values: Sequence[int]) -> Node | None:
        for bench in benches:
            search = Search(bench, values, self.work)
            with suppress(Spent):
                search.most(bench.whole)
                knife = Knife(search, KNIFE_STEPS)
                return knife.best(*knife.whole)[1]
        return None
