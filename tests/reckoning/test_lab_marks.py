"""On a ganged sheet every edge falls on its own pixel, and no mark ever falls on a print."""

from itertools import combinations, pairwise

from hypothesis import given
from hypothesis import strategies as st

from ledger.reckoning.lab_marks import RULE_UM, Box, Piece, lab_marks, lay, pixels

A3 = Box(0, 0, 297_000, 420_000)
USABLE = A3.grown(-4_000)


def whole(left_um: int, top_um: int, width_um: int, height_um: int, bleed_um: int = 0) -> Piece:
    """A piece covered by its picture."""
    finished = Box(left_um, top_um, left_um + width_um, top_um + height_um)
    return lay(finished, Box(0, 0, width_um, height_um), bleed_um=bleed_um)


def six_up(gutter_um: int = 4_000, bleed_um: int = 0) -> list[Piece]:
    return [
        whole(4_000 + across * (90_000 + gutter_um), 4_000 + down * (130_000 + gutter_um), 90_000, 130_000, bleed_um)
        for down in range(2)
        for across in range(3)
    ]


def test_a3_at_300_pixels_an_inch_is_3508_by_4961() -> None:
    # 297 mm x 300 / 25.4 = 3507.87; 420 mm: 4960.63
    assert A3.in_pixels(300) == (0, 0, 3508, 4961)


def test_half_a_pixel_is_rounded_up() -> None:
    assert [pixels(um, 254) for um in (49, 50, 149, 150)] == [0, 1, 1, 2]


def test_neighbours_share_an_edge_however_many_lie_in_a_row() -> None:
    row = [Box(n * 33_333, 0, (n + 1) * 33_333, 10_000).in_pixels(300) for n in range(8)]
    assert all(one[2] == other[0] for one, other in pairwise(row))
    assert row[-1][2] == pixels(8 * 33_333, 300)  # no drift: the last edge is where it would be alone


def test_a_border_stays_white_and_only_an_image_that_reaches_the_edge_has_bleed() -> None:
    finished = Box(10_000, 20_000, 110_000, 170_000)
    bordered = lay(finished, Box(10_000, 5_000, 90_000, 125_000), bleed_um=3_000)
    assert bordered.printed == Box(20_000, 25_000, 100_000, 145_000)
    at_the_top = lay(finished, Box(0, 0, 100_000, 120_000), bleed_um=3_000)
    assert at_the_top.printed == Box(7_000, 17_000, 113_000, 140_000)
    assert at_the_top.taken == Box(7_000, 17_000, 113_000, 170_000)


def test_a_turned_piece_carries_its_image_a_quarter_turn_clockwise() -> None:
    # upright 100 x 150 with 10 above, 40 below, 20 to the left and 5 to the right of the image
    lying = lay(Box(0, 0, 150_000, 100_000), Box(20_000, 10_000, 95_000, 110_000), turned=True)
    assert lying.printed == Box(40_000, 20_000, 140_000, 95_000)


def test_trim_marks_stand_in_line_with_the_edges_and_clear_of_the_print() -> None:
    alone = whole(50_000, 60_000, 100_000, 150_000, bleed_um=2_000)
    trims = [line for line in lab_marks(A3, USABLE, [alone]).lines if max(line.width_um, line.height_um) == 3_000]
    assert len(trims) == 8
    upright = [line for line in trims if line.height_um == 3_000]
    assert {(line.left_um + line.right_um) // 2 for line in upright} == {50_000, 150_000}
    assert {line.bottom_um for line in upright} == {57_500, 215_500}


def test_pieces_that_share_a_cut_have_marks_only_in_the_margin() -> None:
    lines = lab_marks(A3, USABLE, six_up(gutter_um=0)).lines
    trims = [line for line in lines if not line.meets(Box(0, 300_000, 297_000, 420_000))]
    block = Box(4_000, 4_000, 274_000, 264_000)
    assert trims and not any(line.meets(block) for line in trims)
    assert {94_000, 184_000} <= {(line.left_um + line.right_um) // 2 for line in trims}


def test_a_caption_lies_in_the_gutter_under_its_piece() -> None:
    pieces = six_up()
    for piece, line in zip(pieces, lab_marks(A3, USABLE, pieces).captions, strict=True):
        assert line is not None
        assert line.size_um == 2_117  # six points
        assert piece.finished.left_um < line.x_um and line.box.right_um < piece.finished.right_um
        assert piece.finished.bottom_um < line.box.top_um and line.box.bottom_um < piece.finished.bottom_um + 4_000


def test_a_gutter_too_narrow_for_type_has_no_captions() -> None:
    captions = lab_marks(A3, USABLE, six_up(gutter_um=1_500)).captions
    assert captions[:3] == (None, None, None)
    assert None not in captions[3:]  # below the lower row there is paper enough


def test_the_rule_is_100_mm_between_the_middles_of_its_ends() -> None:
    for pieces in ([whole(4_000, 4_000, 289_000, 290_000)], [whole(4_000, 4_000, 200_000, 412_000)]):
        marks = lab_marks(A3, USABLE, pieces)
        assert marks.rule is not None
        strokes = marks.lines[-11:]  # one every 10 mm
        across = sorted(line.left_um + line.right_um for line in strokes)
        down = sorted(line.top_um + line.bottom_um for line in strokes)
        assert max(across[-1] - across[0], down[-1] - down[0]) == 2 * RULE_UM


def test_a_sheet_without_room_for_the_rule_goes_without() -> None:
    assert lab_marks(A3, USABLE, [whole(1_000, 1_000, 295_000, 418_000)]).rule is None


def test_a_crowded_margin_still_has_the_rule() -> None:
    pieces = [whole(5_000 + n * 73_000, 5_000, 68_000, 410_000) for n in range(4)]
    marks = lab_marks(A3, A3.grown(-5_000), pieces)
    assert marks.rule is not None
    assert not any(line.meets(piece.taken) for line in marks.lines for piece in pieces)


@given(
    columns=st.lists(st.integers(15_000, 90_000), min_size=1, max_size=4),
    rows=st.lists(st.integers(15_000, 90_000), min_size=1, max_size=4),
    gutter=st.integers(0, 8_000),
    bleeds=st.booleans(),
    left_out=st.sets(st.integers(0, 15), max_size=4),
)
def test_no_mark_meets_a_print_its_bleed_another_caption_or_the_edge_of_the_sheet(
    columns: list[int], rows: list[int], gutter: int, bleeds: bool, left_out: set[int]
) -> None:
    pieces, y = [], 5_000
    for row in rows:
        x = 5_000
        for column in columns:
            pieces.append(whole(x, y, column, row, gutter // 2 if bleeds else 0))
            x += column + gutter
        y += row + gutter
    sheet = Box(0, 0, x - gutter + 5_000, y - gutter + 5_000)
    kept = [piece for n, piece in enumerate(pieces) if n not in left_out]
    marks = lab_marks(sheet, sheet.grown(-5_000), kept)
    captions = [line.box for line in marks.captions if line]
    for box in (*marks.lines, *captions, *([marks.rule.box] if marks.rule else [])):
        assert sheet.holds(box)
        assert not any(box.meets(piece.taken) for piece in kept)
    assert not any(one.meets(other) for one, other in combinations(captions, 2))
    assert not any(line.meets(box) for line in marks.lines for box in captions)
