"""What would make room for more of one size: the smallest change of each kind that adds pieces to the sheet."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from ledger.errors import Refusal
from ledger.reckoning.sheet_layout import Job, Wanted, check
from ledger.reckoning.sheet_one import best_plan, bound_of, count
from ledger.reckoning.sheet_sizes import SHEETS, NamedSheet

STEP_UM = 1_000
MOST_STEPS = 5


@dataclass(frozen=True)
class Hint:
    """A change and how many pieces it adds: `by_um` off every margin, the gutter or the sides of the piece, or a sheet.

    `job` is the job with the change made.
    """

    change: Literal["margin", "gutter", "piece", "sheet"]
    by_um: int
    adds: int
    job: Job
    sheet: NamedSheet | None = None


def hints(job: Job) -> tuple[Hint, ...]:
    """The smallest change of each kind that adds pieces to a job of one size, cheapest first.

    A margin or a gutter costs nothing; a smaller piece is another print, and a larger sheet is dearer. A quantity
    makes no difference. Raises Refusal.
    """
    check(job)
    now = count(best_plan(job)[0])
    kinds = (_margins(job), _gutters(job), _pieces(job), _sheets(job))
    found = [hint for changes in kinds if (hint := _first_that_adds(changes, now))]
    order = {"margin": 0, "gutter": 0, "piece": 1, "sheet": 2}
    return tuple(sorted(found, key=lambda hint: (order[hint.change], hint.by_um)))


def _first_that_adds(changes: Iterable[Hint], now: int) -> Hint | None:
    for hint in changes:
        try:
            check(hint.job)
        except Refusal:
            continue
        if bound_of(hint.job) > now:
            adds = count(best_plan(hint.job)[0]) - now
            if adds > 0:
                return replace(hint, adds=adds)
    return None


def _steps() -> Iterable[int]:
    return range(STEP_UM, MOST_STEPS * STEP_UM + 1, STEP_UM)


def _margins(job: Job) -> Iterator[Hint]:
    sheet = job.sheet
    for by in _steps():
        left, top, right, bottom = (
            max(min(margin, job.bleed_um), margin - by)
            for margin in (sheet.left_um, sheet.top_um, sheet.right_um, sheet.bottom_um)
        )
        smaller = replace(sheet, left_um=left, top_um=top, right_um=right, bottom_um=bottom)
        yield Hint("margin", by, 0, replace(job, sheet=smaller))


def _gutters(job: Job) -> Iterator[Hint]:
    for by in _steps():
        if job.gutter_um - by >= 2 * job.bleed_um:
            yield Hint("gutter", by, 0, replace(job, gutter_um=job.gutter_um - by))


def _pieces(job: Job) -> Iterator[Hint]:
    """One side smaller, then the other, then both; a square stays square."""
    piece = job.wanted[0]
    square = piece.width_um == piece.height_um
    for by in _steps():
        for off in ((by, by),) if square else ((by, 0), (0, by), (by, by)):
            smaller = Wanted(piece.width_um - off[0], piece.height_um - off[1], piece.may_turn, piece.quantity)
            yield Hint("piece", by, 0, replace(job, wanted=(smaller,)))


def _sheets(job: Job) -> Iterator[Hint]:
    """Larger sheets as they are sold, lying as this one does, the smallest first."""
    sheet = job.sheet
    for larger in sorted(SHEETS, key=lambda each: each.width_um * each.height_um):
        sides = sorted((larger.width_um, larger.height_um), reverse=sheet.width_um > sheet.height_um)
        if sides[0] * sides[1] > sheet.width_um * sheet.height_um:
            bigger = replace(sheet, width_um=sides[0], height_um=sides[1])
            yield Hint("sheet", 0, 0, replace(job, sheet=bigger), larger)
