"""Several sizes with a knife, against every way of laying pieces on small grids of whole mm."""

import random
from collections.abc import Iterable
from dataclasses import replace
from functools import cache

import pytest

from ledger.errors import Refusal
from ledger.reckoning.sheet_cuts import cut_list
from ledger.reckoning.sheet_knife import with_knife
from ledger.reckoning.sheet_knife_mixes import fewest_with_knife, mixes_with_knife
from ledger.reckoning.sheet_layout import Job, Layout
from ledger.reckoning.sheet_mixes import Room, mixes
from ledger.reckoning.sheet_plan import work_out
from ledger.reckoning.sheet_quantities import fewest_sheets
from ledger.reckoning.sheet_replay import replay
from tests.reckoning.sheet_jobs import A2, A3, mm_job
from tests.reckoning.test_sheet_layout import assert_laid_right
from tests.reckoning.test_sheet_search import fewest_by_trying, small_job

Counts = tuple[int, int]


def every_layout(width: int, height: int, pieces: list[tuple[int, int, int]]) -> frozenset[Counts]:
    """Every (first, second) that can be laid, cell by cell from the top left; a cell may stay bare. No gutter."""
    full = (1 << width * height) - 1

    @cache
    def every(covered: int) -> frozenset[Counts]:
        if covered == full:
            return frozenset([(0, 0)])
        cell = (~covered & (covered + 1)).bit_length() - 1
        found = set(every(covered | 1 << cell))
        row, column = divmod(cell, width)
        for a, b, which in pieces:
            if column + a <= width and row + b <= height:
                block = sum(((1 << a) - 1) << cell + line * width for line in range(b))
                if not covered & block:
                    found |= {(x + 1 - which, y + which) for x, y in every(covered | block)}
        return frozenset(found)

    return every(0)


def small_jobs() -> Iterable[tuple[Job, frozenset[Counts]]]:
    chance = random.Random(24)
    for _ in range(40):
        width, height = chance.randint(4, 6), chance.randint(4, 6)
        sizes = [(chance.randint(1, 3), chance.randint(2, 4)) for _ in range(2)]
        pieces = [(*side, which) for which, (a, b) in enumerate(sizes) for side in {(a, b), (b, a)}]
        yield small_job(width, height, sizes, 0, True), every_layout(width, height, pieces)


def no_less(one: Counts, other: Counts) -> bool:
    return one[0] >= other[0] and one[1] >= other[1]


def assert_cut_right(job: Job, layout: Layout) -> None:
    assert_laid_right(job, layout.placed)
    got = replay(job.sheet, cut_list(job, layout.plan, knife=True))
    assert sorted(got.values()) == sorted(
        (p.x_um, p.y_um, p.x_um + p.width_um, p.y_um + p.height_um) for p in layout.placed
    )


def test_every_mix_with_a_knife_can_be_laid_and_what_is_left_is_never_said_too_small() -> None:
    beyond, proved = 0, 0
    for job, possible in small_jobs():
        across = [layout.counts for layout in mixes(job).layouts]
        room = Room(job)
        found = mixes_with_knife(job)
        assert not found.proved
        for layout in found.layouts:
            first, second = layout.counts
            assert (first, second) in possible
            better = [sum(mix) - first - second for mix in possible if no_less(mix, (first, second))]
            assert max(better) <= room.left(layout.counts), (job, layout.counts)
            proved += not room.left(layout.counts)
            beyond += not any(all(a >= b for a, b in zip(mix, layout.counts, strict=True)) for mix in across)
            assert_cut_right(job, layout)
        for mix in across:
            assert any(all(a >= b for a, b in zip(each.counts, mix, strict=True)) for each in found.layouts)
    assert beyond > 3
    assert proved > 20


def test_sheets_with_a_knife_are_never_fewer_than_possible_nor_more_than_cut_right_across() -> None:
    chance, saved = random.Random(25), 0
    for job, possible in small_jobs():
        quantities = (chance.randint(1, 60), chance.randint(1, 60))
        asked = tuple(replace(each, quantity=n) for each, n in zip(job.wanted, quantities, strict=True))
        job = replace(job, wanted=asked)
        best = {mix for mix in possible if not any(other != mix and no_less(other, mix) for other in possible)}
        fewest, across, found = fewest_by_trying(quantities, best), fewest_sheets(job).count, fewest_with_knife(job)
        assert found.bound <= fewest <= found.count <= across
        assert found.proved == (found.count == found.bound)
        given = [sum(layout.counts[place] * times for layout, times in found.layouts) for place in (0, 1)]
        assert no_less((given[0], given[1]), quantities)
        for layout, _ in found.layouts:
            assert_cut_right(job, layout)
        saved += found.count < across
    assert saved > 0


def test_the_hole_of_a_pinwheel_is_filled_with_a_smaller_print() -> None:
    job = mm_job((264, 264), (100, 150), (40, 40))
    assert (4, 1) in {layout.counts for layout in mixes_with_knife(job).layouts}
    assert (4, 0) not in {layout.counts for layout in mixes(job).layouts}


@pytest.mark.parametrize(
    ("sizes", "quantities", "across", "knife"),
    [
        (((100, 150), (60, 90)), (60, 10), 12, 10),
        (((127, 127), (60, 90)), (4, 7), 1, 1),
        (((127, 127), (60, 90), (100, 150)), (25, 40, 60), 16, 15),
    ],
)
def test_a_knife_saves_sheets(
    sizes: tuple[tuple[int, int], ...], quantities: tuple[int, ...], across: int, knife: int
) -> None:
    job = mm_job(A3, *sizes, quantities=quantities)
    found = fewest_with_knife(job)
    assert (fewest_sheets(job).count, found.count) == (across, knife)
    for layout, _ in found.layouts:
        assert_cut_right(job, layout)


def test_four_sizes_with_a_knife_are_laid_right() -> None:
    job = mm_job(A2, (127, 127), (60, 90), (100, 150), (75, 105))
    found = mixes_with_knife(job).layouts
    for layout in mixes(job).layouts:
        assert any(all(a >= b for a, b in zip(each.counts, layout.counts, strict=True)) for each in found)
    for layout in found:
        assert_cut_right(job, layout)


def test_a_size_with_a_quantity_is_had_no_more_than_once_in_so_many() -> None:
    job = mm_job(A3, (100, 150), (60, 90))
    job = replace(job, wanted=(replace(job.wanted[0], quantity=2), job.wanted[1]))
    had = [(min(layout.counts[0], 2), layout.counts[1]) for layout in mixes_with_knife(job).layouts]
    assert len(had) == len(set(had)) == 3


def test_the_cutter_does_not_count_for_a_knife() -> None:
    short = mm_job(A3, (100, 150), widest_cut=200, least_strip=120)
    with pytest.raises(Refusal):
        work_out(short, "guillotine")
    assert work_out(short, "knife").choices[0].counts == with_knife(short).layout.counts == (6,)
    two = mm_job(A3, (100, 150), (60, 90), widest_cut=100, least_strip=90)
    with pytest.raises(Refusal):
        work_out(two, "guillotine")
    assert (6, 1) in {choice.counts for choice in work_out(two, "knife").choices}
