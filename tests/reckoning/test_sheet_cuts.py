"""Cut lists, followed cut by cut as a person at the stop would."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.errors import Refusal
from ledger.reckoning.sheet_cuts import LETTERS, Cut, cut_list, last_cuts
from ledger.reckoning.sheet_knife import with_knife
from ledger.reckoning.sheet_layout import Job, Layout, Sheet, Wanted
from ledger.reckoning.sheet_mixes import mixes
from ledger.reckoning.sheet_one import one_size
from ledger.reckoning.sheet_replay import replay, shapes
from tests.reckoning.sheet_jobs import A1, A2, A3, mm_job


def edges(layout: Layout) -> list[tuple[int, int, int, int]]:
    return [(p.x_um, p.y_um, p.x_um + p.width_um, p.y_um + p.height_um) for p in layout.placed]


def lengths_of(job: Job, cuts: tuple[Cut, ...]) -> list[int]:
    return [line.x2_um - line.x1_um + line.y2_um - line.y1_um for line in shapes(job.sheet, cuts).lines]


def settings_of(cuts: tuple[Cut, ...]) -> int:
    at_the_stop = [cut.set_um for cut in cuts if cut.stop]
    return sum(one != other for one, other in pairwise([0, *at_the_stop]))


def follow(job: Job, layout: Layout, *, knife: bool = False) -> tuple[Cut, ...]:
    cuts = cut_list(job, layout.plan, knife=knife)
    got = replay(job.sheet, cuts)
    assert [got[str(n)] for n in range(1, len(layout.placed) + 1)] == edges(layout)
    assert len(got) == len(layout.placed)
    assert [cut.number for cut in cuts] == list(range(1, len(cuts) + 1))
    return cuts


def test_the_first_cuts_go_on_the_printed_marks_and_the_rest_from_a_fresh_edge() -> None:
    job = mm_job(A3, (100, 150))
    cuts = follow(job, one_size(job).layout)
    first, second, *rest = cuts
    assert (first.edge, first.stop, first.set_um) == ("left", None, 5_000)
    assert (second.edge, second.stop, second.set_um) == ("top", None, 5_000)
    assert lengths_of(job, cuts)[:2] == [420_000, 292_000]
    assert all(cut.stop == cut.edge for cut in rest)


def test_a_gutter_goes_in_two_cuts_the_far_side_first() -> None:
    job = mm_job((208, 100), (100, 100), margin=0, gutter=8)
    cuts = follow(job, one_size(job).layout)
    assert [(cut.part, cut.set_um, cut.stays, cut.falls, cut.falls_um) for cut in cuts] == [
        ("sheet", 108_000, "1", "2", 100_000),
        ("1", 100_000, "1", "waste", 8_000),
    ]


def test_a_sheet_that_is_already_the_piece_needs_no_cut() -> None:
    job = mm_job((100, 150), (100, 150), margin=0)
    assert follow(job, one_size(job).layout) == ()


def test_cuts_with_one_setting_stand_together_where_the_order_allows() -> None:
    job = mm_job((208, 208), (100, 100), margin=0, gutter=8)
    assert settings_of(follow(job, one_size(job).layout)) == 4  # 108 and 100, across and then down
    mixed = mm_job(A3, (127, 127), (60, 90))
    eleven = next(layout for layout in mixes(mixed).layouts if layout.counts == (4, 7))
    assert settings_of(follow(mixed, eleven)) <= 9


def test_cuts_of_one_setting_take_the_prints_in_rising_order() -> None:
    job = mm_job(A3, (127, 127), (60, 90))
    for layout in mixes(job).layouts:
        cuts = follow(job, layout)
        for before, after in pairwise(cuts):
            if before.set_um == after.set_um and before.part.isdigit() and after.part.isdigit():
                assert int(before.part) <= int(after.part)


def test_parts_are_lettered_as_they_come_about_without_i_and_o() -> None:
    job = mm_job(A1, (60, 90))
    cuts = follow(job, one_size(job).layout)
    met = dict.fromkeys(name for cut in cuts for name in (cut.stays, cut.falls) if name.isupper())
    assert list(met)[:24] == list(LETTERS) and list(met)[24:26] == ["AA", "AB"]
    assert not {"I", "O"} & set(LETTERS)


def test_a_print_is_finished_after_its_last_cut_and_not_cut_again() -> None:
    job = mm_job(A3, (100, 150))
    cuts = follow(job, one_size(job).layout)
    last = last_cuts(cuts)
    assert sorted(name for name in last if name.isdigit()) == ["1", "2", "3", "4", "5"]
    for name, number in last.items():
        assert all(cut.part != name for cut in cuts[number:])


@pytest.mark.parametrize("longest", [297, 320, 420])
def test_no_cut_is_longer_than_the_cutter(longest: int) -> None:
    job = mm_job(A3, (60, 90), widest_cut=longest, least_strip=60)
    cuts = follow(job, one_size(job).layout)
    assert max(lengths_of(job, cuts)) <= longest * 1000
    assert min(cut.set_um for cut in cuts if cut.stop) >= 60_000


def test_a_short_cutter_leaves_a_margin_on_until_it_can_reach() -> None:
    job = mm_job(A2, (100, 150), widest_cut=420)
    cuts = follow(job, one_size(job).layout)
    assert cuts[0].edge == "top"  # the long side first would be 594 mm
    assert max(lengths_of(job, cuts)) <= 420_000


def test_a_plan_for_a_longer_cutter_is_refused_by_a_shorter_one() -> None:
    plan = one_size(mm_job(A3, (60, 90))).layout.plan
    with pytest.raises(ValueError, match="longer than the cutter"):
        cut_list(mm_job(A3, (60, 90), widest_cut=250), plan)
    with pytest.raises(ValueError, match="cannot be held"):
        cut_list(mm_job(A3, (60, 90), least_strip=61), plan)


def test_cuts_of_a_knife_stop_and_free_five_parts_at_the_last() -> None:
    job = mm_job((264, 264), (100, 150))
    layout = with_knife(job).layout
    cuts = follow(job, layout, knife=True)
    stopping = [cut for cut in cuts if cut.runs_um]
    assert len(stopping) == 4
    assert {lengths_of(job, cuts)[cut.number - 1] for cut in stopping[1:3]} == {150_000}
    assert [cut.frees for cut in stopping] == [(), (), (), ("1", "2", "3", "4", "waste")]
    with pytest.raises(ValueError, match="for a knife"):
        cut_list(job, layout.plan)


def test_mixed_sizes_are_cut_as_they_are_laid() -> None:
    job = mm_job(A3, (127, 127), (60, 90), (100, 150))
    for layout in mixes(job).layouts:
        follow(job, layout)


def test_a_large_sheet_of_many_pieces_is_cut_too() -> None:
    job = mm_job(A1, (60, 90))
    cuts = follow(job, one_size(job).layout)
    assert len(cuts) < 4 * 78


def test_following_cuts_that_do_not_belong_to_the_sheet_is_an_error() -> None:
    job = mm_job(A3, (100, 150))
    cuts = cut_list(job, one_size(job).layout.plan)
    with pytest.raises(ValueError, match="not there"):
        replay(job.sheet, cuts[:2] + cuts[5:])
    with pytest.raises(ValueError, match="does not go through"):
        replay(Sheet(100_000, 100_000, 0, 0, 0, 0), cuts)


LENGTH = st.integers(150_000, 500_000)


@given(
    LENGTH,
    LENGTH,
    st.tuples(*[st.integers(0, 12_000)] * 4),
    st.integers(0, 6_000),
    st.integers(50_000, 126_000),
    st.integers(50_000, 126_000),
    st.one_of(st.none(), st.integers(120_000, 500_000)),
)
@settings(max_examples=200, deadline=None)
def test_every_layout_can_be_cut_right_across_and_gives_its_pieces(
    width: int, height: int, margins: tuple[int, int, int, int], gutter: int, a: int, b: int, longest: int | None
) -> None:
    job = Job(Sheet(width, height, *margins), (Wanted(a, b),), gutter, 0, longest, min(a, b))
    try:
        layout = one_size(job).layout
    except Refusal:
        assert longest is not None
        return
    cuts = follow(job, layout)
    assert all(length <= (longest or max(width, height)) for length in lengths_of(job, cuts))
    for cut in cuts:
        assert cut.runs_um is None
        assert cut.stop is None or cut.set_um >= min(a, b)
    follow(job, with_knife(job).layout, knife=True)


def test_the_lines_of_the_cuts_never_run_through_a_piece() -> None:
    for job, layout, knife in (
        (mm_job(A3, (100, 150)), one_size(mm_job(A3, (100, 150))).layout, False),
        (mm_job(A3, (100, 150)), with_knife(mm_job(A3, (100, 150))).layout, True),
    ):
        drawn = shapes(job.sheet, cut_list(job, layout.plan, knife=knife))
        assert [line.number for line in drawn.lines] == list(range(1, len(drawn.lines) + 1))
        for line in drawn.lines:
            for left, top, right, bottom in drawn.pieces.values():
                across = left < line.x2_um and line.x1_um < right and top < line.y2_um and line.y1_um < bottom
                assert not across, (line, left, top, right, bottom)
