"""Window mounts as they are cut at a bench: ten worked examples (common practice, no source), and what is refused."""

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ledger.errors import Refusal
from ledger.reckoning.lengths import Unit
from ledger.reckoning.mount_frames import Build, Frame, Outwards
from ledger.reckoning.mount_geometry import window_plan
from ledger.reckoning.mount_parts import Diagonal, Edges, Placing, Ratio, Size, Weighted, parse_ratio
from ledger.reckoning.mount_plan import Board, Cutter, Double, Overlap, Paper, Reveal, WindowMount, WindowPlan


def mm(value: float) -> int:
    return round(value * 1000)


def size(width: float, height: float) -> Size:
    return Size(mm(width), mm(height))


def frame(width: float, height: float) -> Frame:
    return Frame(widths_um=(mm(width), mm(width + 0.5)), heights_um=(mm(height + 1), mm(height)))


def in_mm(edges: Edges) -> tuple[float, float, float, float]:
    """Left, right, top, bottom, as the worked examples give them."""
    return edges.left_um / 1000, edges.right_um / 1000, edges.top_um / 1000, edges.bottom_um / 1000


COVER = WindowMount(unit="mm", image=size(200, 300), opening=Overlap(mm(3)), outer=frame(302, 402), pencil_below_um=0)
SIGNED = WindowMount(
    unit="mm",
    image=size(150, 100),
    opening=Reveal(top_um=mm(6), sides_um=mm(6), bottom_um=mm(16)),
    outer=frame(302, 252),
    placing=Weighted(1500),
    paper=Paper(size=size(210, 148)),
)


def of_window(width: float, height: float, mount: Size, placing: Placing) -> WindowPlan:
    """A plan whose window is this, in a mount of a given size."""
    return window_plan(
        WindowMount(
            unit="mm", image=size(width, height), opening=Overlap(0), outer=mount, placing=placing, pencil_below_um=0
        )
    )


def test_1_a_cover_mount_with_equal_borders() -> None:
    plan = window_plan(COVER)
    assert plan.mount == size(300, 400)
    assert plan.inner.window == size(194, 294)
    assert in_mm(plan.inner.borders) == (53, 53, 53, 53)
    assert plan.warnings == ()


@pytest.mark.parametrize(
    ("percent", "top", "bottom"), [(20, 48.0, 58.0), (10, 50.5, 55.5), (15, 49.5, 56.5), (25, 47.0, 59.0)]
)
def test_2_the_same_with_a_wider_bottom(percent: int, top: float, bottom: float) -> None:
    plan = window_plan(replace(COVER, placing=Weighted(percent * 100)))
    assert in_mm(plan.inner.borders) == (53, 53, top, bottom)


def test_3_a_signed_print_with_a_reveal() -> None:
    plan = window_plan(SIGNED)
    assert plan.mount == size(300, 250)
    assert plan.inner.window == size(162, 122)
    assert in_mm(plan.inner.borders) == (69, 69, 59.5, 68.5)
    assert plan.paper_under is not None
    assert in_mm(plan.paper_under)[:2] == (24, 24)
    assert min(in_mm(plan.paper_under)) >= 5
    assert plan.warnings == ()


def test_4_the_diagonal_construction_and_the_ratio_it_makes() -> None:
    plan = of_window(194, 244, size(400, 500), Diagonal())
    assert in_mm(plan.inner.borders) == (103, 103, 95, 161)
    assert plan.ratio is not None
    assert f"{float(plan.ratio):.2f}" == "1.69"
    assert plan.warnings == ()


def test_a_small_window_makes_the_diagonal_strong_and_the_plan_says_so() -> None:
    plan = of_window(100, 244, size(400, 500), Diagonal())
    assert in_mm(plan.inner.borders)[2:] == (80, 176)
    assert [warning for warning in plan.warnings if "2.20 times the top" in warning]


def test_the_diagonal_meets_the_line_it_is_drawn_by() -> None:
    mount, window = size(400, 500), size(194, 244)
    top = Diagonal().top_share(mount, window) * (mount.height_um - window.height_um)
    side = Fraction(mount.width_um - window.width_um, 2)
    spare = mount.height_um - window.height_um
    # from (0, Wh) to (Mw, Wh + V/2); the corner stands at x = side gap's half past the window laid at the left
    x = window.width_um + side
    assert window.height_um + Fraction(spare, 2) * x / mount.width_um == top + window.height_um


def test_5_three_to_one() -> None:
    plan = of_window(124, 124, size(250, 350), Ratio(Fraction(3)))
    assert in_mm(plan.inner.borders) == (63, 63, 56.5, 169.5)


@pytest.mark.parametrize(
    ("typed", "bottom", "top"), [("3:1", "3", "1"), (" 1.5 : 1 ", "3/2", "1"), ("5:4", "5", "4"), ("2", "2", "1")]
)
def test_a_ratio_is_read_bottom_to_top(typed: str, bottom: str, top: str) -> None:
    assert parse_ratio(typed) == Ratio(Fraction(bottom), Fraction(top))


@pytest.mark.parametrize("typed", ["", "3:", "0:1", "3:0", "3/1", "-3:1"])
def test_what_is_no_ratio_is_refused(typed: str) -> None:
    with pytest.raises(Refusal, match="is not a ratio") as refused:
        parse_ratio(typed)
    assert refused.value.field == "placing"


def test_6_outwards_then_back_from_the_nearest_frame() -> None:
    wanted = Edges(top_um=mm(55), right_um=mm(55), bottom_um=mm(66), left_um=mm(55))
    asked = WindowMount(
        unit="mm",
        image=size(127, 127),
        opening=Reveal(top_um=mm(5), sides_um=mm(5), bottom_um=mm(12)),
        outer=Outwards(borders=wanted),
    )
    free = window_plan(asked)
    assert free.inner.window == size(137, 144)
    assert free.mount == size(247, 265)
    assert free.outside.rebate == free.outside.needed == size(249, 267)
    assert in_mm(free.inner.borders) == (55, 55, 55, 66)

    stock = (frame(201, 201), frame(251, 251), frame(302, 402))
    plan = window_plan(replace(asked, outer=Outwards(borders=wanted, frames=stock)))
    assert plan.outside.frame == stock[1]
    assert plan.outside.needed == size(249, 267)
    assert plan.mount == size(249, 249)
    assert in_mm(plan.inner.borders) == (56, 56, 47.5, 57.5)


def test_7_a_double_mount_shows_its_strip_all_round() -> None:
    top, under = window_plan(replace(SIGNED, double=Double())).boards
    assert top.size == size(300, 250)
    assert top.window == size(172, 132)
    assert in_mm(top.borders) == (64, 64, 54.5, 63.5)
    assert under.size == size(295, 245)
    assert under.window == size(162, 122)
    assert in_mm(under.borders) == (66.5, 66.5, 57, 66)


@pytest.mark.parametrize(
    ("thickness", "face", "slope_um"),
    [(1.4, (164.8, 124.8), 1_980), (2.0, (166, 126), 2_828), (3.0, (168, 128), 4_243)],
)
def test_10_a_thicker_board_shows_a_wider_bevel(thickness: float, face: tuple[float, float], slope_um: int) -> None:
    board = Board(thickness_um=mm(thickness))
    plan = window_plan(replace(SIGNED, board=board))
    assert plan.inner.face == size(*face)
    assert board.slope_um == slope_um
    assert plan.past_corner_um == mm(thickness)


def test_a_straight_cut_leaves_the_face_as_large_as_the_back() -> None:
    plan = window_plan(replace(SIGNED, board=Board(cut="straight"), cutter=Cutter(offset_um=300, scale="face")))
    assert plan.inner.face == plan.inner.window
    assert plan.inner.scale == plan.inner.borders
    assert plan.past_corner_um == 300


def test_a_scale_that_measures_the_face_is_set_narrower_by_the_board() -> None:
    plan = window_plan(replace(SIGNED, cutter=Cutter(scale="face", offset_um=200)))
    assert in_mm(plan.inner.scale) == (67.6, 67.6, 58.1, 67.1)
    assert in_mm(plan.inner.borders) == (69, 69, 59.5, 68.5)
    assert plan.past_corner_um == 1_600


def test_a_plan_in_inches_is_rounded_to_sixteenths() -> None:
    asked = WindowMount(
        unit="in",
        image=Size(203_200, 203_200),
        opening=Overlap(3_175),
        outer=Size(304_800, 330_200),
        placing=Weighted(1500),
        pencil_below_um=0,
    )
    borders = window_plan(asked).inner.borders
    assert borders.top_um == 61_913  # (13 - 7 3/4) / 2.15 = 2.4419 in, 2 7/16
    assert borders.bottom_um == 330_200 - 196_850 - 61_913
    assert window_plan(asked).warnings == ()
    odd = window_plan(replace(asked, image=Size(203_900, 203_200)))
    assert any("sixteenth" in warning for warning in odd.warnings)


@pytest.mark.parametrize(
    ("asked", "field", "sentence"),
    [
        (replace(COVER, image=size(320, 300)), "outer.width_um", "The window is larger than the mount."),
        (replace(COVER, image=size(200, 405)), "outer.height_um", "Nothing is left of the mount at the top"),
        (replace(COVER, opening=Overlap(mm(100))), "opening.by_um", "leaves nothing of the picture"),
        (replace(COVER, opening=Overlap(-1)), "opening.by_um", "not less than nothing"),
        (replace(COVER, image=size(0, 300)), "image.width_um", "between 1 mm and 10 m"),
        (
            replace(COVER, outer=Frame(sold_as="300 × 400")),
            "outer.widths_um",
            "A frame sold as 300 × 400 may be 2 mm more or less inside than its label says. Measure the rebate",
        ),
        (
            replace(COVER, outer=Outwards(borders=Edges(top_um=1, right_um=1, bottom_um=-1, left_um=1))),
            "outer.borders.bottom_um",
            "A border is not less than nothing.",
        ),
        (
            replace(COVER, outer=Outwards(borders=Edges.all(mm(50)), frames=(frame(150, 150),))),
            "outer.frames",
            "None of these frames is large enough.",
        ),
        (
            replace(SIGNED, paper=Paper(size=size(161, 148))),
            "paper.size",
            "The paper ends 0.5 mm inside the window at the right.",
        ),
        (replace(SIGNED, paper=Paper(size=size(140, 148))), "paper.size", "does not lie whole on its sheet"),
        (
            replace(SIGNED, paper=Paper(size=size(301, 148))),
            "paper.size",
            "The paper would stick out 0.5 mm past the mount at the right.",
        ),
        (
            replace(SIGNED, board=Board(sheet=size(200, 400))),
            "board.sheet",
            "The mount is 300 × 250 mm, and the sheet of board is only 200 × 400 mm.",
        ),
        (replace(SIGNED, double=Double(strip_um=mm(60))), "outer.height_um", "Nothing is left of the top board"),
        (replace(SIGNED, board=Board(thickness_um=0)), "board.thickness_um", "Board has a thickness"),
        (replace(SIGNED, placing=Ratio(Fraction(0))), "placing", "two figures above nothing"),
    ],
)
def test_what_cannot_be_cut_is_refused_in_a_sentence(asked: WindowMount, field: str, sentence: str) -> None:
    with pytest.raises(Refusal) as refused:
        window_plan(asked)
    assert sentence in refused.value.message
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            {"paper": Paper(size=size(170, 148))},
            "The paper should pass the window by 5 mm on each side, to be hinged and to stay flat. "
            "It passes by 4 mm at the right, 4 mm at the left.",
        ),
        ({"pencil_below_um": mm(20)}, "The pencil reaches 20 mm below the picture and the window shows 16 mm"),
        (
            {"opening": Overlap(mm(3)), "pencil_below_um": mm(12)},
            "The pencil reaches 12 mm below the picture and the window shows 0 mm",
        ),
        ({"outer": size(240, 250)}, "A border under 40 mm looks mean and is weak: right, left."),
        ({"placing": Ratio(Fraction(1), Fraction(2))}, "The bottom border is narrower than the top"),
        ({"clearance_um": 1_000}, "Less than 1.5 mm between mount and frame"),
        ({"double": Double(strip_um=1_400)}, "nothing of the under-board’s face will be seen"),
        ({"cutter": Cutter(offset_um=1_600)}, "such a cut shows past the corner on the face"),
        ({"outer": Frame(widths_um=(mm(302),), heights_um=(mm(252),))}, "The frame is measured at one end only."),
        ({"outer": replace(frame(302, 252), depth_um=mm(9))}, "The frame is 9 mm deep and this needs 9.8 mm."),
    ],
)
def test_what_may_go_wrong_is_said_in_the_plan(change: dict[str, Any], sentence: str) -> None:
    plan = window_plan(replace(SIGNED, **change))
    assert [warning for warning in plan.warnings if sentence in warning]


@pytest.mark.parametrize("paper", [None, Paper(size=size(240, 340))])
def test_where_the_window_covers_what_may_be_signed_the_plan_asks(paper: Paper | None) -> None:
    asked = replace(COVER, paper=paper, pencil_below_um=None)
    said = (
        "The window hides the picture’s edge and all below it. If signature or number stand there, choose a window "
        "around the picture; if not, write 0 for how far the signature reaches."
    )
    assert window_plan(asked).warnings == (said,)
    assert window_plan(replace(asked, pencil_below_um=0)).warnings == ()
    around = Reveal(top_um=mm(6), sides_um=mm(6), bottom_um=mm(6))
    assert said not in window_plan(replace(asked, opening=around)).warnings


def test_a_frame_counts_by_its_smaller_end() -> None:
    uneven = Frame(widths_um=(mm(303), mm(301.5)), heights_um=(mm(252), mm(253)))
    assert window_plan(replace(SIGNED, outer=uneven)).mount == size(299.5, 250)


def test_a_mount_for_a_frame_is_never_written_larger_than_leaves_the_room_wanted() -> None:
    inches = WindowMount(unit="in", image=size(200, 250), opening=Overlap(0), outer=frame(409.575, 511.175))
    assert window_plan(inches).mount == Size(406_400, 508_000)  # 16 1/8 in less 2 mm is a hair over 16 1/32
    sixteenth = replace(inches, clearance_um=1_588)
    assert window_plan(sixteenth).mount == Size(407_988, 509_588)  # 16 1/16 and 20 1/16: nothing is lost
    assert window_plan(replace(SIGNED, outer=frame(302.3, 252.9))).mount == size(300, 250.5)


def test_the_picture_may_lie_off_the_middle_of_its_sheet() -> None:
    plan = window_plan(replace(SIGNED, paper=Paper(size=size(210, 148), image_left_um=mm(20), image_top_um=mm(12))))
    assert plan.paper_under is not None
    assert in_mm(plan.paper_under) == (14, 34, 6, 20)


def test_paper_may_pass_the_smaller_under_board_as_long_as_the_mount_covers_it() -> None:
    wide = replace(SIGNED, double=Double(), paper=Paper(size=size(298, 148)))
    paper_under = window_plan(wide).paper_under
    assert paper_under is not None
    assert in_mm(paper_under)[:2] == (68, 68)


def test_a_box_frame_needs_room_for_its_fillet_and_both_boards() -> None:
    deep = window_plan(replace(SIGNED, double=Double(), build=Build(fillet_um=mm(10))))
    assert deep.depth.layers == (
        ("glazing", 2_000), ("fillet", 10_000), ("mount", 2_800), ("print", 400), ("backing", 3_000)
    )  # fmt: skip
    assert deep.depth.needed_um == 21_200


lengths = st.integers(20_000, 800_000)


@given(
    lengths,
    lengths,
    st.integers(4_000, 400_000),
    st.integers(4_000, 400_000),
    st.one_of(
        st.builds(Weighted, st.integers(0, 20_000)),
        st.builds(Ratio, st.fractions(Fraction(1, 4), 5)),
        st.just(Diagonal()),
    ),
    st.sampled_from(["mm", "in"]),
    st.one_of(st.none(), st.just(Double())),
)
def test_borders_and_window_always_make_the_board(
    width: int, height: int, across: int, down: int, placing: Placing, unit: Unit, double: Double | None
) -> None:
    asked = WindowMount(
        unit=unit,
        image=Size(width, height),
        opening=Overlap(0),
        outer=Size(width + across, height + down),
        placing=placing,
        double=double,
    )
    try:
        plan = window_plan(asked)
    except Refusal:
        assume(False)
        raise
    for board in plan.boards:
        borders, window = board.borders, board.window
        assert borders.top_um + window.height_um + borders.bottom_um == board.size.height_um
        assert borders.left_um + window.width_um + borders.right_um == board.size.width_um
        assert min(um for _, um in borders.named()) > 0
        assert borders.mirrored.mirrored == borders
    if double is None:
        assert abs(plan.inner.borders.left_um - plan.inner.borders.right_um) <= (500 if unit == "mm" else 1_588)
