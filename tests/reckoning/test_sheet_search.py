"""The best layout against a plain enumeration that shares nothing with the search, on small grids of whole mm."""

import random
from dataclasses import replace
from functools import cache

import pytest

from ledger.reckoning.sheet_cuts import cut_list
from ledger.reckoning.sheet_layout import Job, Sheet, Wanted
from ledger.reckoning.sheet_mixes import mixes
from ledger.reckoning.sheet_one import best_plan, count
from ledger.reckoning.sheet_quantities import fewest_sheets
from ledger.reckoning.sheet_replay import replay

UNIT = 10_000
PLENTY = 6


def most_by_every_cut(width: int, height: int, sizes: list[tuple[int, int]], gutter: int) -> int:
    """Every cut right across at every whole number, dropping a gutter; nothing is pushed to an edge."""

    @cache
    def most(w: int, h: int) -> int:
        best = int(any(a <= w and b <= h for a, b in sizes))
        for at in range(1, w - gutter):
            best = max(best, most(at, h) + most(w - at - gutter, h))
        for at in range(1, h - gutter):
            best = max(best, most(w, at) + most(w, h - at - gutter))
        return best

    return most(width, height)


def mixes_by_every_cut(
    width: int, height: int, pieces: list[tuple[int, int, int]], gutter: int
) -> set[tuple[int, int]]:
    """Every (first, second) that can be cut and that no other beats; `pieces` as width, height and which it is."""

    @cache
    def every(w: int, h: int) -> frozenset[tuple[int, int]]:
        found = {(0, 0)} | {(1 - which, which) for a, b, which in pieces if a <= w and b <= h}
        parts = [(every(at, h), every(w - at - gutter, h)) for at in range(1, w - gutter)]
        parts += [(every(w, at), every(w, h - at - gutter)) for at in range(1, h - gutter)]
        for firsts, seconds in parts:
            found |= {(a + c, b + d) for a, b in firsts for c, d in seconds}
        return frozenset(found)

    every_one = every(width, height)
    return {(a, b) for a, b in every_one if not any((c, d) != (a, b) and c >= a and d >= b for c, d in every_one)}


def most_at_the_cutter(job: Job) -> int:
    """What a person with this cutter can bring off, by trying every cut of every part; no gutter."""
    sheet, wanted = job.sheet, job.wanted[0]
    reach = (job.widest_cut_um or 10**9) // UNIT
    width, height = sheet.width_um // UNIT, sheet.height_um // UNIT
    left, top, right, bottom = (edge // UNIT for edge in (sheet.left_um, sheet.top_um, sheet.right_um, sheet.bottom_um))
    a, b = wanted.width_um // UNIT, wanted.height_um // UNIT
    sizes = {(a, b), (b, a)} if wanted.may_turn else {(a, b)}

    @cache
    def most(x0: int, y0: int, x1: int, y1: int) -> int:
        inside = x0 >= left and y0 >= top and x1 <= width - right and y1 <= height - bottom
        best = int(inside and (x1 - x0, y1 - y0) in sizes)
        if y1 - y0 <= reach:
            if x0 < left:
                best = max(best, most(left, y0, x1, y1) if x1 > left else 0)
            else:
                for at in range(x0 + 1, x1):
                    best = max(best, most(x0, y0, at, y1) + most(at, y0, x1, y1))
        if x1 - x0 <= reach:
            if y0 < top:
                best = max(best, most(x0, top, x1, y1) if y1 > top else 0)
            else:
                for at in range(y0 + 1, y1):
                    best = max(best, most(x0, y0, x1, at) + most(x0, at, x1, y1))
        return best

    return most(0, 0, width, height)


def small_job(
    width: int,
    height: int,
    sizes: list[tuple[int, int]],
    gutter: int,
    may_turn: bool,
    margins: tuple[int, int, int, int] = (0, 0, 0, 0),
    reach: int | None = None,
) -> Job:
    left, top, right, bottom = (margin * UNIT for margin in margins)
    sheet = Sheet(width * UNIT, height * UNIT, left, top, right, bottom)
    wanted = tuple(Wanted(a * UNIT, b * UNIT, may_turn) for a, b in sizes)
    return Job(sheet, wanted, gutter * UNIT, 0, None if reach is None else reach * UNIT)


@pytest.mark.parametrize("may_turn", [True, False])
def test_the_best_of_one_size_is_the_best_of_all_cuts(may_turn: bool) -> None:
    chance = random.Random(20)
    seen = set()
    for _ in range(200):
        width, height, gutter = chance.randint(4, 17), chance.randint(4, 17), chance.randint(0, 2)
        a, b = chance.randint(2, PLENTY), chance.randint(2, PLENTY)
        found, proved = best_plan(small_job(width, height, [(a, b)], gutter, may_turn))
        expected = most_by_every_cut(width, height, [(a, b), (b, a)] if may_turn else [(a, b)], gutter)
        assert proved
        assert count(found) == expected, (width, height, a, b, gutter)
        seen.add(expected)
    assert len(seen) > 10


def test_the_mixes_of_two_sizes_are_those_of_all_cuts() -> None:
    chance = random.Random(21)
    for _ in range(60):
        width, height, gutter = chance.randint(5, 11), chance.randint(5, 11), chance.randint(0, 1)
        sizes = [(chance.randint(2, 5), chance.randint(2, 5)) for _ in range(2)]
        if not all(min(size) <= min(width, height) and max(size) <= max(width, height) for size in sizes):
            continue
        found = mixes(small_job(width, height, sizes, gutter, True))
        pieces = [(*side, which) for which, (a, b) in enumerate(sizes) for side in ((a, b), (b, a))]
        expected = mixes_by_every_cut(width, height, pieces, gutter)
        assert found.proved
        assert {layout.counts for layout in found.layouts} == expected, (width, height, sizes, gutter)


def test_a_short_cutter_loses_no_more_than_it_must() -> None:
    chance = random.Random(22)
    lost = 0
    for _ in range(150):
        width, height = chance.randint(5, 10), chance.randint(5, 10)
        margins = (chance.randint(0, 1), chance.randint(0, 1), chance.randint(0, 1), chance.randint(0, 1))
        a, b = chance.randint(2, 5), chance.randint(2, 5)
        reach = chance.randint(3, 10)
        job = small_job(width, height, [(a, b)], 0, chance.random() < 0.7, margins, reach)
        plan, _ = best_plan(job)
        assert count(plan) == most_at_the_cutter(job), job
        free, _ = best_plan(small_job(width, height, [(a, b)], 0, job.wanted[0].may_turn, margins))
        lost += count(plan) < count(free)
        if plan:
            assert len(replay(job.sheet, cut_list(job, plan))) == count(plan)
    assert lost > 20


def fewest_by_trying(wanted: tuple[int, int], every_sheet: set[tuple[int, int]]) -> int:
    """Sheets added one by one to all that could be had so far, until what is wanted is among it."""
    had, sheets = {(0, 0)}, 0
    while wanted not in had:
        had = {(min(wanted[0], a + c), min(wanted[1], b + d)) for a, b in had for c, d in every_sheet}
        sheets += 1
    return sheets


def test_the_fewest_sheets_are_those_found_by_trying_all() -> None:
    chance = random.Random(23)
    seen = set()
    for _ in range(60):
        width, height = chance.randint(6, 10), chance.randint(6, 10)
        sizes = [(chance.randint(2, 5), chance.randint(2, 5)) for _ in range(2)]
        wanted = (chance.randint(1, 9), chance.randint(1, 9))
        job = small_job(width, height, sizes, 0, True)
        pieces = [(*side, which) for which, (a, b) in enumerate(sizes) for side in ((a, b), (b, a))]
        expected = fewest_by_trying(wanted, mixes_by_every_cut(width, height, pieces, 0))
        asked = tuple(replace(each, quantity=n) for each, n in zip(job.wanted, wanted, strict=True))
        found = fewest_sheets(replace(job, wanted=asked))
        assert found.count == expected, (width, height, sizes, wanted)
        assert found.proved
        seen.add(expected)
    assert len(seen) > 3
