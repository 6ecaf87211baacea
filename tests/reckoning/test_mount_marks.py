"""What is marked on the back of a mount, and what is left of the board."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import Refusal
from ledger.reckoning.boards import fall_out, smallest_offcut
from ledger.reckoning.mount_cards import Figures, MountCard, cards
from ledger.reckoning.mount_floats import float_plan, frameless_plan
from ledger.reckoning.mount_frames import Outwards
from ledger.reckoning.mount_geometry import window_plan
from ledger.reckoning.mount_marks import MarkOut, cutter_from_test, front_lines, mark_out
from ledger.reckoning.mount_parts import EQUAL, Edges, Size
from ledger.reckoning.mount_plan import Board, Cutter, Double, Overlap, Paper, WindowMount
from tests.reckoning.test_mount_floats import BARE, FLOAT
from tests.reckoning.test_mount_geometry import SIGNED, size

# unequal sides: 60 at the left, 80 at the right
UNEVEN = WindowMount(
    unit="mm",
    image=size(160, 120),
    opening=Overlap(0),
    outer=Outwards(borders=Edges(top_um=60_000, right_um=80_000, bottom_um=70_000, left_um=60_000)),
)


def lines(card: MountCard) -> tuple[Figures, Figures]:
    """The pencil lines from the left edge and from the top edge."""
    left, top = card.rows
    assert (left[0], top[0]) == ("pencil lines from your left (the picture’s right)", "pencil lines from the top")
    return left[1], top[1]


def test_the_card_of_the_signed_print_gives_four_numbers_and_its_checks() -> None:
    (card,) = cards(window_plan(SIGNED))
    assert lines(card) == (("69", "231"), ("59.5", "181.5"))
    assert card.lies == "face down"
    assert card.sentences == (
        "Blade on the line, its point leaning out, away from the window: the face opens 1.4 mm more at each edge.",
        "Start and stop 1.4 mm past each corner.",
        "Check across: 69 + 162 + 69 = 300.",
        "Check down: 59.5 + 122 + 68.5 = 250.",
        "The sheet lies face down, 45 mm from your left and 41.5 mm from the top: hinge it there.",
    )
    assert card.size == "300 × 250 mm"


def test_face_down_the_wider_side_changes_hands() -> None:
    plan = window_plan(UNEVEN)
    assert front_lines(plan.inner, 0).from_left_um == (60_000, 220_000)
    assert mark_out(plan.inner, 0).from_left_um == (80_000, 240_000)
    assert mark_out(plan.inner, 0).from_top_um == (60_000, 180_000)
    (card,) = cards(plan)
    assert lines(card)[0] == ("80", "240")
    assert "Check across: 80 + 160 + 60 = 300." in card.sentences
    assert card.aside == (
        "Cutter’s scale, taken to measure the back line; seen from the back: 60 mm top and right, 70 mm bottom, "
        "80 mm left."
    )


def hinged(asked: WindowMount) -> list[str]:
    return [text for card in cards(window_plan(asked)) for text in card.sentences if "hinge it there" in text]


def test_the_card_says_where_the_sheet_lies_on_the_back() -> None:
    # 20 and 40 of paper beside the picture, 6 of them under the reveal; turned over, the 40 come to lie at the left
    off = replace(SIGNED, paper=Paper(size=size(210, 148), image_left_um=20_000, image_top_um=12_000))
    said = "The sheet lies face down, 35 mm from your left and 53.5 mm from the top: hinge it there."
    assert hinged(off) == [said]
    (double,) = hinged(replace(off, double=Double()))
    under = cards(window_plan(replace(off, double=Double())))[1]
    assert "Stick it to the back of the top board, 2.5 mm inside its edge all round." in under.sentences
    assert "32.5 mm from your left and 51 mm from the top" in double  # of the under-board, 2.5 smaller at each edge
    past = replace(SIGNED, double=Double(), paper=Paper(size=size(298, 148)))
    assert "1.5 mm past the board at your left and 39 mm from the top" in hinged(past)[0]
    assert hinged(replace(SIGNED, paper=None)) == []


def test_a_double_mount_has_a_card_for_each_board() -> None:
    top, under = cards(window_plan(replace(SIGNED, double=Double())))
    assert (top.board, lines(top)[0], top.size) == ("top board", ("64", "236"), "300 × 250 mm")
    assert (under.board, lines(under)[0], under.size) == ("under-board", ("66.5", "228.5"), "295 × 245 mm")


def test_the_card_says_what_to_set_on_a_scale_that_measures_the_face() -> None:
    (card,) = cards(window_plan(replace(SIGNED, cutter=Cutter(scale="face"))))
    assert card.aside == (
        "Cutter’s scale, which measures the face edge; seen from the back: 58.1 mm top, 67.6 mm right and left, "
        "67.1 mm bottom."
    )
    assert lines(card)[0] == ("69", "231")
    (back,) = cards(window_plan(replace(SIGNED, cutter=Cutter(offset_um=200))))
    assert back.aside.startswith("Cutter’s scale, which measures the back line;")


def test_a_cut_may_end_at_the_corner_or_before_it() -> None:
    straight = replace(SIGNED, board=Board(cut="straight"))
    assert cards(window_plan(straight))[0].sentences[:2] == (
        "Blade upright, on the line.",
        "Start and stop at each corner.",
    )
    short = replace(straight, cutter=Cutter(offset_um=-500))
    assert cards(window_plan(short))[0].sentences[1] == "Start and stop 0.5 mm before each corner."


def test_the_card_in_inches_adds_up_as_written() -> None:
    asked = WindowMount(unit="in", image=Size(204_216, 203_200), opening=Overlap(3_175), outer=Size(305_308, 330_200))
    (card,) = cards(window_plan(asked))
    assert "Check across: 2 1/8 + 7 13/16 + 2 1/16 = 12." in card.sentences
    assert lines(card)[0] == ("2 1/8", "9 15/16")


def test_a_square_mount_is_checked_once_for_both_ways() -> None:
    (card,) = cards(
        window_plan(
            replace(SIGNED, image=size(100, 100), opening=Overlap(0), outer=size(250, 250), paper=None, placing=EQUAL)
        )
    )
    assert card.sentences[2:] == ("Check, across and down: 75 + 100 + 75 = 250.",)
    assert card.aside == "Cutter’s scale, taken to measure the back line; seen from the back: 75 mm all round."


def test_the_card_of_a_float_says_where_the_spacer_goes_and_what_gap_is_seen() -> None:
    gaps = Edges(top_um=10_000, right_um=12_000, bottom_um=13_000, left_um=10_000)
    (card,) = cards(float_plan(replace(FLOAT, outer=Outwards(borders=gaps))))
    assert (card.board, card.size, card.lies) == ("undermount", "235 × 236 mm", "face up")
    assert card.rows == (
        ("the spacer, width and height", ("183", "183")),
        (
            "its upper left corner, from your left and from the top",
            ("25", "25"),
        ),  # 10 of gap, 5 under the lip, 10 set in
    )
    assert card.sentences == (
        "Gap to be seen around the print: 10 mm top and left, 12 mm right, 13 mm bottom.",
        "Check across: 25 + 183 + 27 = 235.",
        "Check down: 25 + 183 + 28 = 236.",
    )
    assert card.aside == "The print passes the spacer by 10 mm at each edge. A fillet of 11 mm holds the glass off."


def test_the_card_of_a_bare_board_says_what_to_trim() -> None:
    (card,) = cards(frameless_plan(BARE))
    assert (card.board, card.size, card.lies) == ("board", "203 × 203 mm", "face up")
    assert card.rows == (("the print, width and height", ("209", "209")), ("cut to, width and height", ("203", "203")))
    assert card.sentences == (
        "Mount the print 3 mm past the board at each edge, then trim both to end together.",
        "Check, across and down: 3 + 203 + 3 = 209.",
    )
    assert card.aside == "Keep what matters in the picture within 193 × 193 mm."


def test_the_card_of_a_board_smaller_than_its_print_says_to_trim_nothing() -> None:
    (card,) = cards(frameless_plan(replace(BARE, finished=size(203, 254), bleed_um=0, undersize_um=2_000)))
    assert card.rows == (
        ("the print, width and height", ("203", "254")),
        ("the board, width and height", ("199", "250")),
    )
    assert card.sentences == (
        "The print stands 2 mm past the board at each edge: trim nothing.",
        "Check across: 2 + 199 + 2 = 203.",
        "Check down: 2 + 250 + 2 = 254.",
    )


@given(st.integers(1, 10**6), st.integers(0, 10**6), st.integers(1, 10**6), st.integers(0, 10**6))
def test_mirrored_twice_the_marks_are_the_front_again(left: int, right: int, width: int, top: int) -> None:
    marks = MarkOut(
        board=Size(left + width + right, 10**7),
        from_left_um=(left, left + width),
        from_top_um=(top, top + width),
        past_corner_um=0,
    )
    assert marks.mirrored.mirrored == marks
    assert marks.mirrored.from_left_um == (right, right + width)


def test_one_test_cut_tells_how_a_cutter_measures() -> None:
    back = cutter_from_test(set_um=50_000, back_um=50_000, face_um=48_600, past_um=1_700, board_um=1_400, unit="mm")
    assert back == Cutter(scale="back", offset_um=300)
    face = cutter_from_test(set_um=50_000, back_um=51_500, face_um=50_100, past_um=1_200, board_um=1_400, unit="mm")
    assert face == Cutter(scale="face", offset_um=-200)
    with pytest.raises(Refusal) as refused:
        cutter_from_test(set_um=50_000, back_um=53_000, face_um=51_600, past_um=0, board_um=1_400, unit="mm")
    assert refused.value.message.startswith(
        "The scale was set to 50 mm, and the border measures 53 mm on the back and 51.6 mm on the face."
    )
    assert refused.value.field == "set_um"


def test_the_cautions_are_one_each_for_blade_glass_and_adhesive() -> None:
    (card,) = cards(window_plan(SIGNED))
    assert [caution.partition(":")[0] for caution in card.cautions] == ["Blade", "Glass", "Adhesive"]


def test_a_bare_board_has_no_glass_and_is_not_hinged() -> None:
    (card,) = cards(frameless_plan(BARE))
    assert [caution.partition(":")[0] for caution in card.cautions] == ["Blade", "Adhesive"]
    assert not any("inge" in words for words in (*card.sentences, *card.cautions))


def test_the_smallest_offcut_that_serves_is_used_turned_if_need_be() -> None:
    offcuts = [size(400, 500), size(260, 310), size(310, 260), size(299, 600), size(320, 250)]
    assert smallest_offcut(offcuts, size(300, 250)) == 4
    assert smallest_offcut(offcuts[:4], size(300, 250)) == 1
    assert smallest_offcut(offcuts, size(501, 100)) == 3
    assert smallest_offcut(offcuts, size(601, 100)) is None


def test_a_cut_window_leaves_a_piece_to_be_squared() -> None:
    assert fall_out(size(162, 122)) == size(160, 120)
    assert fall_out(size(2, 122)) is None
