"""Prints ganged on lab sheets. Counts and layouts: common practice, no source, worked out apart from this code."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.errors import Refusal
from ledger.reckoning.sheet_knife import with_knife
from ledger.reckoning.sheet_layout import Job, Placed, Sheet, Wanted, check
from ledger.reckoning.sheet_mixes import mixes
from ledger.reckoning.sheet_one import one_size
from ledger.reckoning.sheet_quantities import fewest_sheets
from ledger.reckoning.sheet_shares import cost_shares
from ledger.reckoning.sheet_sizes import ROLLS_UM, SHEETS, roll_cut
from tests.reckoning.sheet_jobs import A1, A2, A3, mm_job

BOARD = (815, 1120)


@pytest.mark.parametrize(
    ("sheet", "piece", "margin", "gutter", "straight", "turned", "best"),
    [
        (A3, (100, 150), 5, 4, 4, 3, 5),
        (A3, (100, 150), 4, 4, 4, 4, 6),
        (A3, (75, 105), 5, 4, 9, 10, 12),
        (A3, (60, 90), 5, 4, 16, 18, 19),
        (A3, (90, 90), 5, 4, 12, None, 12),
        (A3, (100, 100), 5, 4, 6, None, 6),
        (A2, (100, 150), 5, 4, 9, 10, 13),
        (A1, (203, 203), 0, 0, 8, None, 8),
        (A1, (198, 198), 0, 0, 12, None, 12),
        (A1, (203, 254), 0, 0, 6, 8, 8),
        (BOARD, (200, 250), 5, 2, 12, 15, 15),
        (BOARD, (250, 250), 5, 2, 12, None, 12),
        (BOARD, (250, 300), 5, 2, 9, 8, 10),
        ((264, 264), (100, 150), 5, 4, 2, 2, 3),
    ],
)
def test_one_size_is_counted_straight_turned_and_at_its_best(
    sheet: tuple[int, int],
    piece: tuple[int, int],
    margin: int,
    gutter: int,
    straight: int,
    turned: int | None,
    best: int,
) -> None:
    found = one_size(mm_job(sheet, piece, margin=margin, gutter=gutter))
    assert (found.straight, found.turned, *found.layout.counts) == (straight, turned, best)
    assert found.proved


@pytest.mark.parametrize(
    ("sheet", "piece", "best"),
    [
        (A3, (89, 127), 9), (A3, (127, 127), 6), (A3, (130, 180), 4), (A3, (150, 200), 2), (A3, (148, 148), 2),
        (A3, (203, 203), 2), (A2, (127, 127), 12), (A2, (130, 180), 9), (A2, (150, 200), 6), (A2, (203, 203), 4),
        (A2, (89, 127), 19), (A2, (60, 90), 39), (A2, (75, 105), 27), (A1, (100, 150), 29), (A1, (127, 127), 24),
        (A1, (203, 203), 8), (A1, (60, 90), 78), ((329, 483), (100, 150), 9), ((320, 450), (100, 150), 8),
    ],
)  # fmt: skip
def test_common_prints_on_common_sheets(sheet: tuple[int, int], piece: tuple[int, int], best: int) -> None:
    assert one_size(mm_job(sheet, piece)).layout.counts == (best,)


@pytest.mark.parametrize(
    ("margin", "counts"), [(3, "666655"), (4, "666655"), (5, "666555"), (6, "665555"), (8, "655555"), (10, "655555")]
)
def test_a_millimetre_of_margin_or_gutter_is_worth_a_print(margin: int, counts: str) -> None:
    found = [one_size(mm_job(A3, (100, 150), margin=margin, gutter=gutter)) for gutter in (0, 2, 3, 4, 5, 6)]
    assert "".join(str(each.layout.counts[0]) for each in found) == counts


@pytest.mark.parametrize(
    ("offcut", "squares", "uprights"), [((560, 810), 6, 6), ((400, 1100), 4, 5), ((280, 820), 3, 4), ((610, 510), 4, 6)]
)
def test_mounts_from_an_offcut(offcut: tuple[int, int], squares: int, uprights: int) -> None:
    for piece, best in (((250, 250), squares), ((200, 250), uprights)):
        assert one_size(mm_job(offcut, piece, margin=3, gutter=2)).layout.counts == (best,)


@pytest.mark.parametrize(
    ("sheet", "piece", "margin", "gutter", "best", "bound"),
    [
        (A3, (100, 150), 5, 4, 6, 6),
        (A3, (75, 105), 5, 4, 12, 12),
        (A3, (90, 90), 5, 4, 12, 12),
        (A1, (203, 254), 0, 0, 8, 8),
        ((264, 264), (100, 150), 5, 4, 4, 4),
        (A2, (100, 150), 5, 4, 14, 14),  # 13 with a guillotine
    ],
)
def test_a_knife_that_may_stop_gets_more_and_proves_it(
    sheet: tuple[int, int], piece: tuple[int, int], margin: int, gutter: int, best: int, bound: int
) -> None:
    found = with_knife(mm_job(sheet, piece, margin=margin, gutter=gutter))
    assert (*found.layout.counts, found.bound) == (best, bound)
    assert found.proved


def test_what_is_not_proved_says_so() -> None:
    found = with_knife(mm_job(BOARD, (200, 250), gutter=2))
    assert found.layout.counts[0] >= 15
    assert found.bound <= 18  # its area over the piece's
    assert not found.proved


def test_a_knife_never_gets_less_than_a_guillotine_and_does_not_need_its_length() -> None:
    job = mm_job(A2, (100, 150), widest_cut=200, least_strip=120)
    assert with_knife(job).layout.counts[0] >= 13


@pytest.mark.parametrize(
    ("big", "pairs"),
    [
        ((127, 127), {(0, 19), (1, 16), (2, 13), (3, 10), (4, 7), (5, 3), (6, 0)}),
        ((203, 203), {(0, 19), (1, 11), (2, 4)}),
    ],
)
def test_two_sizes_give_every_pair_worth_having(big: tuple[int, int], pairs: set[tuple[int, int]]) -> None:
    found = mixes(mm_job(A3, big, (60, 90)))
    assert {layout.counts for layout in found.layouts} == pairs
    assert found.proved


def test_four_sizes_are_mixed_as_far_as_the_steps_allowed_go() -> None:
    found = mixes(mm_job(A2, (127, 127), (60, 90), (100, 150), (89, 127)))
    assert found.layouts
    assert not found.proved
    for layout in found.layouts:
        assert_laid_right(mm_job(A2, (127, 127), (60, 90), (100, 150), (89, 127)), layout.placed)


@pytest.mark.parametrize(
    ("sizes", "quantities", "sheets"),
    [
        (((100, 150),), (25,), 5),
        (((127, 127), (60, 90)), (4, 7), 1),
        (((127, 127), (60, 90)), (5, 7), 2),
        (((127, 127), (60, 90)), (25, 40), 7),
        (((127, 127), (203, 203), (100, 150), (130, 180)), (25, 25, 25, 25), 27),
    ],
)
def test_quantities_take_the_fewest_sheets(
    sizes: tuple[tuple[int, int], ...], quantities: tuple[int, ...], sheets: int
) -> None:
    job = mm_job(A3, *sizes, quantities=quantities)
    found = fewest_sheets(job)
    assert found.count == sheets
    assert found.proved
    for place, quantity in enumerate(quantities):
        assert sum(layout.counts[place] * times for layout, times in found.layouts) >= quantity
    for layout, _ in found.layouts:
        assert_laid_right(job, layout.placed)


def test_ten_thousand_of_a_size_are_reckoned_and_never_fewer_sheets_than_the_bound() -> None:
    found = fewest_sheets(mm_job(A3, (127, 127), (60, 90), quantities=(10_000, 9_999)))
    assert found.proved
    # With 7 for a square and 2 for a small one no sheet is worth more than 42, and all together 89,998.
    assert found.count == found.bound == 2143


def assert_laid_right(job: Job, placed: tuple[Placed, ...]) -> None:
    """Inside the margins, each of its size, and a gutter apart."""
    sheet, g = job.sheet, job.gutter_um
    for n, one in enumerate(placed):
        assert one.x_um >= sheet.left_um
        assert one.y_um >= sheet.top_um
        assert one.x_um + one.width_um <= sheet.width_um - sheet.right_um
        assert one.y_um + one.height_um <= sheet.height_um - sheet.bottom_um
        wanted = job.wanted[one.wanted]
        size = (wanted.width_um, wanted.height_um)
        assert (one.width_um, one.height_um) == (size[::-1] if one.turned else size)
        assert wanted.may_turn or not one.turned
        for other in placed[:n]:
            assert (
                one.x_um + one.width_um + g <= other.x_um
                or other.x_um + other.width_um + g <= one.x_um
                or one.y_um + one.height_um + g <= other.y_um
                or other.y_um + other.height_um + g <= one.y_um
            )


SIDES = st.integers(70_000, 260_000)
JOBS = st.builds(
    lambda w, h, margins, gutter, a, b, turn: Job(
        Sheet(w, h, *margins), (Wanted(min(a, w - 40_000), min(b, h - 40_000), turn),), gutter
    ),
    st.integers(250_000, 600_000),
    st.integers(250_000, 600_000),
    st.tuples(*[st.integers(0, 15_000)] * 4),
    st.integers(0, 6_000),
    SIDES,
    SIDES,
    st.booleans(),
)


@given(JOBS)
@settings(max_examples=150, deadline=None)
def test_pieces_never_overlap_leave_the_margins_or_lose_their_gutter(job: Job) -> None:
    across, knife = one_size(job), with_knife(job)
    assert_laid_right(job, across.layout.placed)
    assert_laid_right(job, knife.layout.placed)
    assert max(across.straight, across.turned or 0) <= len(across.layout.placed)
    assert len(across.layout.placed) <= len(knife.layout.placed) <= knife.bound


def test_a_sheets_cost_lies_on_its_pieces_by_area_with_gutter() -> None:
    job = mm_job(A3, (127, 127), (60, 90))
    layout = next(each for each in mixes(job).layouts if each.counts == (4, 7))
    squares, small = cost_shares(job, layout.placed, 840)
    assert squares.pieces == (130,) * 4
    assert small.pieces == (46,) * 5 + (45,) * 2
    assert (squares.alone, small.alone) == (140, Fraction(840, 19))
    assert (squares.above_alone, small.above_alone) == (False, True)


@given(JOBS, st.integers(0, 100_000))
@settings(max_examples=30, deadline=None)
def test_shares_sum_to_the_cost_to_the_penny(job: Job, cost: int) -> None:
    [share] = cost_shares(job, one_size(job).layout.placed, cost)
    assert sum(share.pieces) == cost


@pytest.mark.parametrize(
    ("job", "field", "words"),
    [
        (mm_job(A3, (100, 150), gutter=-1), "gutter_um", "below nothing"),
        (mm_job(A3, (100, 150), gutter=4, bleed=3), "gutter_um", "need 6 mm between them, and the gutter is 4 mm"),
        (mm_job(A3, (100, 150), gutter=12, bleed=6), "bleed_um", "runs over a margin"),
        (mm_job(A3, (300, 420)), "wanted.0.width_um", "13 mm too wide and 10 mm too high"),
        (mm_job(A3, (410, 288)), "wanted.0.width_um", "1 mm too wide for the usable sheet of 287 × 410 mm"),
        (mm_job(A3, (410, 200), may_turn=False), "wanted.0.width_um", "123 mm too wide"),
        (mm_job(A3, (100, 150), (100, 500)), "wanted.1.height_um", "90 mm too high"),
        (mm_job(A3, (100, 150), margin=149), "sheet.left_um", "leave nothing"),
        (mm_job(A3, (100, 150), margin=-1), "sheet.left_um", "below nothing"),
        (mm_job((0, 420), (100, 150)), "sheet.width_um", "no size"),
        (mm_job(A3, *[(100, 150)] * 5), "wanted", "5 sizes"),
        (mm_job(A3), "wanted", "0 sizes"),
        (mm_job(A3, (0, 150)), "wanted.0.width_um", "no size"),
        (mm_job(A3, (100, 2)), "wanted.0.height_um", "too small"),
        (mm_job(A3, (100, 150), quantities=(10_001,)), "wanted.0.quantity", "10,001 pieces"),
        (mm_job(A3, (100, 150), quantities=(0,)), "wanted.0.quantity", "0 pieces"),
        (mm_job(A3, (100, 150), widest_cut=0), "widest_cut_um", "cuts nothing"),
        (mm_job(A3, (100, 150), least_strip=-1), "least_strip_um", "below nothing"),
        (mm_job(A3, (100, 150), least_strip=101), "least_strip_um", "narrower than the 101 mm"),
    ],
)
def test_what_cannot_be_laid_out_is_refused_and_says_what_is_wrong(job: Job, field: str, words: str) -> None:
    with pytest.raises(Refusal) as refused:
        check(job)
    assert refused.value.field == field
    assert words in refused.value.message


def test_a_cutter_too_short_for_the_sheet_is_told_with_its_length() -> None:
    with pytest.raises(Refusal, match="longest cut of 200 mm") as refused:
        one_size(mm_job(A3, (100, 150), widest_cut=200))
    assert refused.value.field == "widest_cut_um"


def test_quantities_must_be_written_to_count_sheets() -> None:
    with pytest.raises(Refusal, match="how many") as refused:
        fewest_sheets(mm_job(A3, (100, 150)))
    assert refused.value.field == "wanted.0.quantity"


def test_the_a_sizes_halve_by_iso_216() -> None:
    sizes = {sheet.name: (sheet.width_um, sheet.height_um) for sheet in SHEETS}
    for larger, smaller in (("A1", "A2"), ("A2", "A3"), ("A3", "A4")):
        assert sizes[smaller][1] == sizes[larger][0]
        assert sizes[smaller][0] == sizes[larger][1] // 2 // 1000 * 1000
    assert sizes["8 × 10 in"] == (203_200, 254_000)


def test_a_length_is_cut_off_a_roll() -> None:
    cut = roll_cut("24 in roll", 900_000)
    assert (cut.name, cut.width_um, cut.height_um) == ("24 in roll, 900 mm", 609_600, 900_000)
    assert ROLLS_UM["44 in roll"] == 1_117_600
    for roll, length in (("36 in roll", 900_000), ("24 in roll", 0)):
        with pytest.raises(Refusal):
            roll_cut(roll, length)
