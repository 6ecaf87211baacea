"""A mount on paper, measured as it comes out of the printer, and the card that lies on the bench."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from ledger.errors import Refusal
from ledger.paper import faces
from ledger.paper.mount_drawing import FOOT, HEAD, MARGIN, SENTENCE, Paper, render_cards, render_true_size, tiling
from ledger.reckoning.lengths import Unit
from ledger.reckoning.mount_cards import cards
from ledger.reckoning.mount_floats import FloatMount, Frameless, float_plan, frameless_plan
from ledger.reckoning.mount_frames import Outwards
from ledger.reckoning.mount_geometry import window_plan
from ledger.reckoning.mount_parts import Edges, Size
from ledger.reckoning.mount_plan import Double, Overlap, WindowMount
from ledger.reckoning.mount_shapes import Plan, views
from tests.paper.cast import assert_fonts_embedded, rendered, sizes_mm, words
from tests.reckoning.test_mount_floats import BARE, FLOAT
from tests.reckoning.test_mount_geometry import SIGNED, size

TITLE = "Forty Minutes of Road"
PLAN = window_plan(SIGNED)
FRONT, SECTION, BACK = views(PLAN)
WITHIN_MM = 0.2
DPI = 400


def _lines(band: Image.Image) -> list[float]:
    """Where upright lines run through the whole of a band, in mm from its left: the middle of each."""
    marks = [255 - grey for grey in band.resize((band.width, 1), Image.Resampling.BOX).tobytes()]
    found, at = [], 0
    while at < len(marks):
        end = at
        while end < len(marks) and marks[end] > 60:
            end += 1
        if end > at:
            weight = sum(marks[at:end])
            found.append(sum((x + 0.5) * marks[x] for x in range(at, end)) / weight * 25.4 / DPI)
        at = end + 1
    return found


def upright(image: Image.Image, y1: float, y2: float) -> list[float]:
    px = DPI / 25.4
    return _lines(image.crop((0, round(y1 * px), image.width, round(y2 * px))))


def level(image: Image.Image, x1: float, x2: float) -> list[float]:
    px = DPI / 25.4
    return _lines(image.crop((round(x1 * px), 0, round(x2 * px), image.height)).transpose(Image.Transpose.TRANSPOSE))


def has(lines: list[float], place: float) -> bool:
    return any(abs(line - place) <= WITHIN_MM for line in lines)


def test_on_a_sheet_large_enough_the_window_is_true_to_a_fifth_of_a_millimetre() -> None:
    pdf = render_true_size(TITLE, [BACK], (), "a3")
    assert sizes_mm(pdf) == [(420, 297)]
    page = rendered(pdf, dpi=DPI)
    across = upright(page, HEAD + 100, HEAD + 110)
    left = across[0]
    for from_left in (69, 231, 300):
        assert has(across, left + from_left), across
    down = level(page, MARGIN + 40, MARGIN + 55)
    top = next(line for line in down if line == pytest.approx(HEAD, abs=WITHIN_MM))
    for from_top in (59.5, 181.5, 250):
        assert has(down, top + from_top), down


def test_no_measure_is_drawn_as_a_line_that_could_be_pencilled() -> None:
    bare = window_plan(replace(SIGNED, paper=None))
    page = rendered(render_true_size(TITLE, [views(bare)[2]], (), "a3"), dpi=DPI)
    for start in (25, 85, 240):  # left of the window, in it, right of it: its edges and its two pencil lines, no more
        found = [line - HEAD for line in level(page, MARGIN + start, MARGIN + start + 15) if line > HEAD - 1]
        assert [round(place, 1) for place in found[:4]] == [0, 59.5, 181.5, 250]


def test_the_front_shows_face_edge_and_back_edge_true_to_size() -> None:
    page = rendered(render_true_size(TITLE, [FRONT], (), "a3"), dpi=DPI)
    across = upright(page, HEAD + 85, HEAD + 95)
    for from_left in (67.6, 69, 75, 225, 231, 232.4):
        assert has(across, across[0] + from_left), across


def test_floats_and_bare_boards_are_drawn_true_to_size_too() -> None:
    bare = rendered(render_true_size(TITLE, views(frameless_plan(BARE)), (), "a3"), dpi=DPI)
    across = upright(bare, HEAD + 60, HEAD + 70)
    assert has(across, across[0] + 3), across
    assert has(across, across[0] + 206), across
    pdf = render_true_size(TITLE, views(float_plan(FLOAT)), (), "a3")
    front = rendered(pdf, dpi=DPI)
    across = upright(front, HEAD + 80, HEAD + 90)
    sight = next(x for x in across if abs(x - MARGIN - 6) < WITHIN_MM)
    assert has(across, sight + 20), across  # the gap
    assert has(across, sight + 223), across
    assert "Undermount, face up" in words(pdf, 1)


def test_on_tabloid_paper_a_window_in_inches_is_true_to_size() -> None:
    asked = WindowMount(unit="in", image=Size(203_200, 254_000), opening=Overlap(3_175), outer=Size(279_400, 355_600))
    pdf = render_true_size(TITLE, [views(window_plan(asked))[2]], (), "tabloid")
    assert sizes_mm(pdf) == [(432, 279)] * 2 or sizes_mm(pdf) == [(279, 432)] * 2
    across = upright(rendered(pdf, dpi=DPI), HEAD + 100, HEAD + 110)
    for inches in (1.625, 9.375):  # 11 less 7 3/4, halved
        assert has(across, across[0] + inches * 25.4), across


@pytest.mark.parametrize(
    ("paper", "sheets"), [("a4", [(210, 297)] * 2), ("letter", [(216, 279)] * 2), ("tabloid", [(432, 279)])]
)
def test_each_paper_is_printed_at_its_own_size(paper: Paper, sheets: list[tuple[int, int]]) -> None:
    assert (
        sizes_mm(render_true_size(TITLE, [views(window_plan(replace(SIGNED, outer=size(300, 235))))[0]], (), paper))
        == sheets
    )


def test_the_cards_come_first_with_the_cautions_once_and_stay_as_large() -> None:
    plan = window_plan(replace(SIGNED, double=Double()))
    for paper, pages in (("a4", 1), ("letter", 2)):  # letter is too low for two cards
        pdf = render_true_size(TITLE, views(plan), cards(plan), paper)
        said = [words(pdf, page) for page in range(len(sizes_mm(pdf)))]
        assert ["Check across:" in each for each in said] == [True] * pages + [False] * (len(said) - pages)
        assert "Top board" in said[0] and "Under-board" in said[pages - 1]
        for caution in cards(plan)[0].cautions:
            assert " ".join(said).count(caution) == 1
    small = render_cards(TITLE, cards(plan))
    large = render_true_size(TITLE, (), cards(plan), "a4")
    assert figure_height_mm(large) == pytest.approx(figure_height_mm(small), abs=WITHIN_MM)


@pytest.mark.parametrize("page", [0, 1])
def test_every_sheet_carries_a_rule_of_100_mm(page: int) -> None:
    pdf = render_true_size(TITLE, [BACK], (), "a4")
    sheet = rendered(pdf, page, dpi=DPI)
    rule = 297 - FOOT + 9
    ends = upright(sheet, rule - 3.9, rule - 3.2)  # only its two ends reach so high
    ends = [end for end in ends if end < MARGIN + 101]
    assert len(ends) == 2
    assert ends[1] - ends[0] == pytest.approx(100, abs=WITHIN_MM)
    assert "This line measures 100 mm." in words(pdf, page)


def test_laid_cross_on_cross_two_sheets_make_the_whole_mount() -> None:
    pdf = render_true_size(TITLE, [BACK], (), "a4")
    assert sizes_mm(pdf) == [(210, 297)] * 2
    first, second = (rendered(pdf, page, dpi=DPI) for page in (0, 1))
    assert "Row 1 of 1, column 2 of 2" in words(pdf, 1)
    assert "The first sheet: lay the others over it" in words(pdf, 0)
    assert "Trim the white at the left, lay it cross on cross against the light, tape" in words(pdf, 1)
    cross = HEAD + 250 * 0.2
    arm = (cross - 2.8, cross - 1.8)  # the upright arm of the cross, between its ring and its end
    on_first = [x for x in upright(first, *arm) if x > 190]
    on_second = [x for x in upright(second, *arm) if x < 20]
    assert len(on_first) == len(on_second) == 1
    left = upright(first, 150, 160)[0]
    shift = on_first[0] - on_second[0]
    far = [x + shift - left for x in upright(second, 150, 160)]
    assert has(far, 231), far
    assert has(far, 300), far


def test_the_fewest_sheets_are_used_and_all_of_the_drawing_is_on_them() -> None:
    assert len(tiling(194, 255, "a4").tiles) == 1
    assert len(tiling(281, 168, "a4").tiles) == 1
    laid = tiling(500, 400, "a4")
    assert len(laid.tiles) == laid.rows * laid.columns == 6
    assert max(tile.x + tile.width for tile in laid.tiles) == 500
    assert max(tile.y + tile.height for tile in laid.tiles) == 400
    assert len(tiling(500, 400, "a3").tiles) == 4


def test_the_section_is_not_printed_and_each_board_has_its_back() -> None:
    pdf = render_true_size(TITLE, views(window_plan(replace(SIGNED, double=Double()))), (), "a3")
    said = [words(pdf, page) for page in range(len(sizes_mm(pdf)))]
    assert ["top board" in each or "under-board" in each for each in said] == [False, True, True]
    assert all("TOP" in each and "face down" in each and "its point leaning out" in each for each in said[1:])
    assert not any("Section" in each for each in said)
    assert_fonts_embedded(pdf)


def test_the_card_says_all_that_the_bench_needs() -> None:
    pdf = render_cards(TITLE, cards(PLAN))
    assert sizes_mm(pdf) == [(210, 148)]  # A5, ISO 216
    said = words(pdf)
    for text in (
        TITLE,
        "Mount",
        "300 × 250 mm, face down, top edge away from you",
        "TOP",
        "left",
        "Lies face down",
        "Blade on the line, its point leaning out, away from the window",
        "Start and stop 1.4 mm past each corner.",
        "Check across: 69 + 162 + 69 = 300.",
        "Check down: 59.5 + 122 + 68.5 = 250.",
        "taken to measure the back line; seen from the back: 59.5 mm top, 69 mm right and left, 68.5 mm bottom.",
    ):
        assert text in said
    assert "(the picture’s right) 69mm 231mm pencil lines from the top 59.5mm 181.5mm" in said
    assert said.count("181.5") == 2  # and on its line in the drawing
    assert_fonts_embedded(pdf)


def figure_height_mm(pdf: bytes) -> float:
    """How high the first of the four numbers stands."""
    px = DPI / 25.4
    band = rendered(pdf, dpi=DPI).crop((round(13 * px), round(41 * px), round(26 * px), round(60 * px)))
    box = band.point(lambda grey: 255 if grey < 128 else 0).getbbox()
    assert box is not None
    return (box[3] - box[1]) / px


@pytest.mark.parametrize("plan", [PLAN, float_plan(FLOAT), frameless_plan(BARE)])
def test_the_four_numbers_can_be_read_at_arms_length(plan: Plan) -> None:
    # 700 mm away, 10 mm is seen as large as 5 mm at reading distance
    assert figure_height_mm(render_cards(TITLE, cards(plan))) >= 10


def test_floats_and_bare_boards_have_a_card_of_the_same_make() -> None:
    floated, bare = (words(render_cards(TITLE, cards(plan))) for plan in (float_plan(FLOAT), frameless_plan(BARE)))
    for text in (
        "253 × 253 mm, face up, top edge away from you",
        "the spacer, width and height 183mm 183mm its upper left corner, from your left and from the top 35mm 35mm",
        "TOP",
        "Lies face up",
        "Gap to be seen around the print: 20 mm all round.",
        "A fillet of 11 mm holds the glass off.",
    ):
        assert text in floated
    for text in (
        "203 × 203 mm, face up",
        "the print, width and height 209mm 209mm cut to, width and height 203mm 203mm",
        "Mount the print 3 mm past the board at each edge",
        "Keep what matters in the picture within 193 × 193 mm.",
    ):
        assert text in bare
    assert "Glass:" in floated and "Hinge it" in floated
    assert "Glass:" not in bare and "Hinge it" not in bare and "What is stuck down cannot be undone." in bare


side, border = st.integers(150_000, 900_000), st.integers(12_345, 99_999)


@given(
    st.sampled_from(["mm", "in"]),
    st.builds(Size, side, side),
    st.builds(Edges, top_um=border, right_um=border, bottom_um=border, left_um=border),
)
@settings(max_examples=30, deadline=None)
def test_whatever_is_asked_no_line_of_a_card_runs_off_it(unit: Unit, image: Size, borders: Edges) -> None:
    uneven = Outwards(borders=borders)
    floated = float_plan(FloatMount(unit=unit, print=image, outer=uneven))
    cut = window_plan(WindowMount(unit=unit, image=image, opening=Overlap(3_000), outer=uneven))
    bare = frameless_plan(Frameless(unit=unit, finished=image))
    for plan in (floated, cut, bare):
        for card in cards(plan):
            for text in card.sentences:
                assert faces.width_mm(text, SENTENCE) <= 184, text
            assert faces.width_mm(card.aside, 10) <= 184, card.aside


def test_sixteenths_of_an_inch_fit_the_card_and_stay_large() -> None:
    asked = WindowMount(unit="in", image=Size(336_551, 336_551), opening=Overlap(1_588), outer=Size(609_600, 609_600))
    (card,) = cards(window_plan(asked))
    assert card.figures[:2] == ("5 7/16", "18 9/16")
    pdf = render_cards(TITLE, (card,))
    assert "Start and stop ¹⁄₁₆ in (1.4 mm) past each corner." in words(pdf)
    assert "5⁷⁄₁₆in 18⁹⁄₁₆in" in words(pdf)
    assert figure_height_mm(pdf) >= 7


def test_cautions_stand_once_however_many_boards_there_are() -> None:
    pdf = render_cards(TITLE, cards(window_plan(replace(SIGNED, double=Double()))))
    first, second = words(pdf), words(pdf, 1)
    assert "Top board" in first
    assert "Under-board" in second
    for caution in cards(PLAN)[0].cautions:
        assert caution in first
        assert caution not in second


def test_a_title_the_face_lacks_is_refused_and_a_long_one_is_cut() -> None:
    for render in (
        lambda title: render_cards(title, cards(PLAN)),
        lambda title: render_true_size(title, [BACK], (), "a4"),
    ):
        with pytest.raises(Refusal, match=r"The title has “東”"):
            render("東")
        said = words(render("A title that goes on and on " * 6))
        assert "A title that goes on" in said
        assert "…" in said


def test_a_large_mount_is_drawn_on_every_sheet_it_needs() -> None:
    front = views(window_plan(replace(SIGNED, outer=size(500, 400))))[0]
    pdf = render_true_size(TITLE, [front], (), "a4")
    assert len(sizes_mm(pdf)) == 6
    assert "Row 2 of 2, column 3 of 3" in words(pdf, 5)
