"""One size on a sheet, cut right across."""

from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache

from ledger.errors import Refusal
from ledger.reckoning.measures import by_measure
from ledger.reckoning.measures import millimetres as mm
from ledger.reckoning.sheet_layout import Job, Layout, Node, check, layout_of, pieces_of
from ledger.reckoning.sheet_search import BOTH_WAYS, Bench, Search, Sizes, Spent, Ways, Work

ONE_SIZE_STEPS = 100_000


@dataclass(frozen=True)
class OneSize:
    """One size on a sheet: how many if all lie straight, how many if all are turned, and the best.

    `turned` is None for a square and for a piece that may not turn. `proved`: no cuts right across give more.
    """

    straight: int
    turned: int | None
    layout: Layout
    proved: bool


def one_size(job: Job) -> OneSize:
    """The best cuts right across for a job of one size. Raises Refusal."""
    check(job)
    if len(job.wanted) != 1:
        raise ValueError("a job of one size")
    plan, proved = best_plan(job)
    if plan is None:
        raise no_piece(job)
    piece = job.wanted[0]
    may_turn = piece.may_turn and piece.width_um != piece.height_um
    turned = count(best_plan(job, ("turned",))[0]) if may_turn else None
    straight = count(best_plan(job, ("straight",))[0])
    return OneSize(straight, turned, layout_of(job, plan), proved or count(plan) == bound_of(job))


@lru_cache(maxsize=64)
def best_plan(job: Job, ways: Ways = BOTH_WAYS, sizes: Sizes = None) -> tuple[Node | None, bool]:
    """The plan with most pieces of the job, or of the sizes at some of its places, and whether that is proved."""
    search, proved = searched(job, ways, sizes)
    return search.plan(search.bench.whole), proved


def searched(job: Job, ways: Ways = BOTH_WAYS, sizes: Sizes = None) -> tuple[Search, bool]:
    """The finished search for most pieces, and whether it tried all that matters.

    Where there are too many places to cut, only strips and rows are tried.
    """
    values = [1] * len(job.wanted)
    search = Search(Bench(job, ways, sizes=sizes), values, Work(ONE_SIZE_STEPS))
    with suppress(Spent):
        search.most(search.bench.whole)
        return search, search.bench.complete
    search = Search(Bench(job, ways, short=True, sizes=sizes), values, Work())
    search.most(search.bench.whole)
    return search, False


def bound_of(job: Job) -> int:
    """The number of pieces that no layout of a job of one size can pass, with a guillotine or a knife."""
    bench = Bench(replace(job, widest_cut_um=None))
    return Search(bench, [1], Work()).bound(bench.whole.width, bench.whole.height) if bench.whole else 0


def no_piece(job: Job, place: int = 0) -> Refusal:
    """What to say where the cutter is what stops every piece of the size at that place."""
    piece = job.wanted[place]
    return Refusal(
        f"With a longest cut of {mm(job.widest_cut_um or 0)} mm, not one piece of "
        f"{by_measure(piece.width_um, piece.height_um)} can be cut from this sheet. Use a longer cutter, or a knife.",
        field="widest_cut_um",
    )


def count(plan: Node | None) -> int:
    """How many pieces a plan gives."""
    return len(pieces_of(plan, 0, 0))
