"""What would make room for more, of one size and of several."""

from dataclasses import replace

import pytest
from hypothesis import given, settings

from ledger.reckoning.sheet_hints import Hint, hints
from ledger.reckoning.sheet_layout import Job, check
from ledger.reckoning.sheet_mixes import mixes
from ledger.reckoning.sheet_one import one_size
from ledger.reckoning.sheet_plan import Planned, work_out
from ledger.reckoning.sheet_quantities import fewest_sheets
from ledger.reckoning.sheet_sizes import SHEETS
from ledger.reckoning.sheet_words import hint_said
from tests.reckoning.sheet_jobs import A1, A2, A3, mm_job
from tests.reckoning.test_sheet_layout import JOBS


def planned(job: Job, counts: tuple[int, ...] = ()) -> Planned:
    choices = work_out(job, "guillotine").choices
    return next((each for each in choices if each.counts == counts), choices[0])


def told(found: tuple[Hint, ...]) -> list[tuple[str, int, int]]:
    return [(hint.change, hint.by_um, hint.adds or -hint.saves) for hint in found]


@given(JOBS)
@settings(max_examples=60, deadline=None)
def test_a_hint_adds_what_it_says_with_the_change_it_says(job: Job) -> None:
    now = len(one_size(job).layout.placed)
    for hint in hints(planned(job)):
        assert len(one_size(hint.job).layout.placed) == now + hint.adds
        assert hint.adds > 0


def test_the_smallest_change_that_frees_one_more_print_comes_first() -> None:
    found = hints(planned(mm_job(A3, (100, 150))))
    assert told(found) == [("margin", 1000, 1), ("gutter", 1000, 1), ("piece", 1000, 1), ("sheet", 0, 3)]
    assert found[-1].sheet in SHEETS
    assert [hint_said(hint, "mm") for hint in found] == [
        "Every margin 1 mm less: 1 more.",
        "The gutter 1 mm less: 1 more.",
        "99 × 150 mm in place of 100 × 150 mm: 1 more.",
        "SRA3: 3 more.",
    ]


def test_no_smaller_change_of_one_size_does_it() -> None:
    seen = set()
    for sheet, (width, height) in ((A3, (103, 152)), (A2, (75, 105)), (A3, (62, 90)), (A3, (91, 91))):
        now = len(one_size(mm_job(sheet, (width, height))).layout.placed)
        for hint in hints(planned(mm_job(sheet, (width, height)))):
            for by in range(1, hint.by_um // 1_000):
                less = {
                    "piece": mm_job(sheet, (width - by, height - by)),
                    "gutter": mm_job(sheet, (width, height), gutter=4 - by),
                    "margin": mm_job(sheet, (width, height), margin=5 - by),
                }
                assert len(one_size(less[hint.change]).layout.placed) == now
                seen.add(hint.change)
    assert len(seen) > 1


def test_foam_board_gives_half_as_many_again_for_five_millimetres() -> None:
    assert ("piece", 5000, 4) in told(hints(planned(mm_job(A1, (203, 203), margin=0, gutter=0))))


def test_a_hint_leaves_room_for_the_bleed() -> None:
    for hint in hints(planned(mm_job(A3, (100, 150), bleed=2))):
        assert hint.change != "gutter"
        check(hint.job)


@pytest.mark.parametrize("counts", [(4, 7), (5, 3), (0, 19)])
def test_a_mix_of_two_sizes_is_told_what_adds_to_it_and_loses_nothing(counts: tuple[int, int]) -> None:
    job = mm_job(A3, (127, 127), (60, 90))
    found = hints(planned(job, counts))
    assert "sheet" in {hint.change for hint in found}
    for hint in found:
        every = [layout.counts for layout in mixes(hint.job).layouts]
        more = [sum(mix) - sum(counts) for mix in every if mix[0] >= counts[0] and mix[1] >= counts[1]]
        assert max(more) == hint.adds > 0
        assert hint.saves == 0


def test_a_smaller_print_is_named_with_the_one_it_stands_for() -> None:
    found = hints(planned(mm_job(A3, (127, 127), (60, 90)), (4, 7)))
    smaller = [hint for hint in found if hint.change == "piece"]
    assert {hint.place for hint in smaller} <= {0, 1}
    for hint in smaller:
        size = ("127 × 127 mm", "60 × 90 mm")[hint.place]
        assert f" in place of {size}: " in hint_said(hint, "mm")


def test_quantities_are_told_what_saves_a_sheet() -> None:
    job = mm_job(A3, (100, 150), (60, 90), quantities=(30, 10))
    now = fewest_sheets(job).count
    found = hints(planned(job))
    assert ("margin", 1000) in [(hint.change, hint.by_um) for hint in found]
    for hint in found:
        assert fewest_sheets(hint.job).count == now - hint.saves < now
        assert hint.adds == 0
    assert any(hint_said(hint, "mm").endswith(": 1 sheet fewer.") for hint in found)


def test_where_no_sheet_can_be_saved_nothing_is_told() -> None:
    assert hints(planned(mm_job(A3, (127, 127), (60, 90), quantities=(4, 7)))) == ()


def test_a_size_with_a_quantity_is_not_offered_more_of() -> None:
    job = mm_job(A3, (127, 127), (60, 90))
    job = replace(job, wanted=(replace(job.wanted[0], quantity=4), job.wanted[1]))
    for hint in hints(planned(job, (4, 7))):
        assert max(layout.counts[1] for layout in mixes(hint.job).layouts if layout.counts[0] >= 4) == 7 + hint.adds
