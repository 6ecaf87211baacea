"""What would make room for more: the smallest change of each kind that adds pieces to the sheet or saves a sheet."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from operator import ge
from typing import Literal

from ledger.errors import Refusal
from ledger.reckoning.sheet_layout import Job, Wanted, check, check_quantities, layout_of
from ledger.reckoning.sheet_mixes import Room, quick_fronts
from ledger.reckoning.sheet_one import best_plan, bound_of, count
from ledger.reckoning.sheet_plan import Planned
from ledger.reckoning.sheet_quantities import best_mixture, covered
from ledger.reckoning.sheet_search import Spent, Work
from ledger.reckoning.sheet_sizes import SHEETS, NamedSheet

STEP_UM = 1_000
MOST_STEPS = 5
HINT_STEPS = 1_500_000


@dataclass(frozen=True)
class Hint:
    """A change: `by_um` off every margin, the gutter or the sides of a piece, or another sheet.

    `job` is the job with the change made. It adds so many pieces to the sheet, or where every quantity of several
    sizes is written it saves so many sheets. `place`: of the piece that is smaller, and what it was before.
    """

    change: Literal["margin", "gutter", "piece", "sheet"]
    by_um: int
    job: Job
    adds: int = 0
    saves: int = 0
    place: int = 0
    before: Wanted | None = None
    sheet: NamedSheet | None = None


def hints(planned: Planned) -> tuple[Hint, ...]:
    """The smallest change of each kind that is found to better a plan cut right across, cheapest first.

    A margin or a gutter costs nothing; a smaller piece is another print, and a larger sheet is dearer. Of one size a
    quantity makes no difference. The effort is bounded: the last may be left out.
    """
    job, better = planned.job, _Better(planned)
    found: list[Hint] = []
    with suppress(Spent):
        found += better.least(_margins(job))
        found += better.least(_gutters(job))
        found += better.first(_sheets(job))
        for place in range(len(job.wanted)):
            for both in better.least(_pieces(job, place, (1, 1))):
                one_side = [each for way in ((1, 0), (0, 1)) for each in _pieces(job, place, way)]
                found += better.first(each for each in one_side if each.by_um == both.by_um) or [both]
    order = {"margin": 0, "gutter": 0, "piece": 1, "sheet": 2}
    return tuple(sorted(found, key=lambda hint: (order[hint.change], hint.by_um)))


class _Better:
    """Tells whether a change betters a plan. All of it raises Spent once the steps are used up."""

    def __init__(self, planned: Planned) -> None:
        self.planned, self.work = planned, Work(HINT_STEPS)
        self._known: dict[Job, int] = {}

    def least(self, changes: Sequence[Hint]) -> list[Hint]:
        """The first that betters the plan, of changes each of which leaves more room than the one before."""
        possible = [each for each in changes if _can_be(each.job)]
        if not possible or not self._by(possible[-1].job):
            return []
        at = bisect_left(possible, True, key=lambda each: bool(self._by(each.job)))
        return [self._told(possible[at])]

    def first(self, changes: Iterable[Hint]) -> list[Hint]:
        """The first that betters the plan, of any changes."""
        hint = next((each for each in changes if _can_be(each.job) and self._by(each.job)), None)
        return [self._told(hint)] if hint else []

    def _told(self, hint: Hint) -> Hint:
        by = self._by(hint.job)
        return replace(hint, saves=by) if self.planned.for_quantities else replace(hint, adds=by)

    def _by(self, job: Job) -> int:
        if job not in self._known:
            if len(job.wanted) == 1:
                self._known[job] = self._more_of_one(job)
            elif self.planned.for_quantities:
                self._known[job] = self._sheets_fewer(job)
            else:
                self._known[job] = self._more_in_the_mix(job)
        return self._known[job]

    def _more_of_one(self, job: Job) -> int:
        now = len(self.planned.sheets[0][0].placed)
        return max(0, count(best_plan(job)[0]) - now) if bound_of(job) > now else 0

    def _sheets_fewer(self, job: Job) -> int:
        wanted = check_quantities(job)
        needed = Room(job).sheets(wanted)
        if needed >= self.planned.count:
            return 0
        pool = {layout_of(job, plan).counts: plan for plan in quick_fronts(job, self.work)}
        if not all(map(any, zip(*pool, strict=True))):
            return 0  # with this change some size cannot be cut
        mixture = best_mixture(list(pool), tuple(wanted))
        if mixture.worth > self.planned.count - 1:
            return 0
        return max(0, self.planned.count - covered(job, pool, mixture, needed).count)

    def _more_in_the_mix(self, job: Job) -> int:
        now = self._of_use(self.planned.counts)
        if not Room(job).left(now):
            return 0
        mixes = [self._of_use(layout_of(job, plan).counts) for plan in quick_fronts(job, self.work)]
        return max((sum(mix) - sum(now) for mix in mixes if all(map(ge, mix, now))), default=0)

    def _of_use(self, counts: Sequence[int]) -> tuple[int, ...]:
        return tuple(min(n, each.quantity or n) for n, each in zip(counts, self.planned.job.wanted, strict=True))


def _can_be(job: Job) -> bool:
    try:
        check(job)
    except Refusal:
        return False
    return True


def _steps() -> Iterable[int]:
    return range(STEP_UM, MOST_STEPS * STEP_UM + 1, STEP_UM)


def _margins(job: Job) -> list[Hint]:
    sheet = job.sheet
    changes = []
    for by in _steps():
        left, top, right, bottom = (
            max(min(margin, job.bleed_um), margin - by)
            for margin in (sheet.left_um, sheet.top_um, sheet.right_um, sheet.bottom_um)
        )
        smaller = replace(sheet, left_um=left, top_um=top, right_um=right, bottom_um=bottom)
        changes.append(Hint("margin", by, replace(job, sheet=smaller)))
    return changes


def _gutters(job: Job) -> list[Hint]:
    return [
        Hint("gutter", by, replace(job, gutter_um=job.gutter_um - by))
        for by in _steps()
        if job.gutter_um - by >= 2 * job.bleed_um
    ]


def _pieces(job: Job, place: int, sides: tuple[int, int]) -> list[Hint]:
    """The width, the height or both smaller; a square stays square."""
    piece = job.wanted[place]
    changes = []
    if piece.width_um != piece.height_um or all(sides):
        for by in _steps():
            smaller = replace(piece, width_um=piece.width_um - by * sides[0], height_um=piece.height_um - by * sides[1])
            wanted = (*job.wanted[:place], smaller, *job.wanted[place + 1 :])
            changes.append(Hint("piece", by, replace(job, wanted=wanted), place=place, before=piece))
    return changes


def _sheets(job: Job) -> Iterator[Hint]:
    """Larger sheets as they are sold, lying as this one does, the smallest first."""
    sheet = job.sheet
    for larger in sorted(SHEETS, key=lambda each: each.width_um * each.height_um):
        sides = sorted((larger.width_um, larger.height_um), reverse=sheet.width_um > sheet.height_um)
        if sides[0] * sides[1] > sheet.width_um * sheet.height_um:
            bigger = replace(sheet, width_um=sides[0], height_um=sides[1])
            yield Hint("sheet", 0, replace(job, sheet=bigger), sheet=larger)
