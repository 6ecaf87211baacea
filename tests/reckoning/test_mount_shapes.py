"""The drawings of a plan: what is drawn measures what the plan says, seen from the side it says."""

from dataclasses import replace
from itertools import pairwise

from ledger.reckoning.drawing import Shape, View
from ledger.reckoning.mount_floats import float_plan, frameless_plan
from ledger.reckoning.mount_frames import Build, Outwards
from ledger.reckoning.mount_geometry import window_plan
from ledger.reckoning.mount_parts import Edges, Size
from ledger.reckoning.mount_plan import Board, Double, Paper
from ledger.reckoning.mount_shapes import views
from tests.reckoning.test_mount_floats import BARE, FLOAT
from tests.reckoning.test_mount_geometry import COVER, SIGNED, size
from tests.reckoning.test_mount_marks import UNEVEN


def measures(view: View, side: str) -> list[str]:
    return [each.words for each in view.dimensions if each.side == side]


def box(shape: Shape) -> tuple[int, int, Size]:
    xs, ys = [x for x, _ in shape.points], [y for _, y in shape.points]
    return min(xs), min(ys), Size(max(xs) - min(xs), max(ys) - min(ys))


def boxes(view: View, kind: str) -> list[tuple[int, int, Size]]:
    return [box(shape) for shape in view.shapes if shape.kind == kind and shape.closed]


def test_the_front_shows_window_bevel_picture_and_the_paper_behind() -> None:
    front, _, _ = views(window_plan(SIGNED))
    assert front.size == size(300, 250)
    assert measures(front, "top") == ["69", "162", "69"]
    assert measures(front, "left") == ["59.5", "122", "68.5"]
    assert measures(front, "bottom") == ["300"]
    assert boxes(front, "bevel") == [(67_600, 58_100, size(164.8, 124.8)), (69_000, 59_500, size(162, 122))]
    assert boxes(front, "image") == [(75_000, 65_500, size(150, 100))]
    assert boxes(front, "hidden") == [(45_000, 41_500, size(210, 148))]
    assert "Borders: top 59.5 mm, right 69 mm, bottom 68.5 mm, left 69 mm." in front.desc


def test_under_an_overlap_the_edge_of_the_picture_is_hidden() -> None:
    front = views(window_plan(COVER))[0]
    assert boxes(front, "image") == []
    assert boxes(front, "hidden") == [(50_000, 50_000, size(200, 300))]


def test_a_straight_cut_has_no_bevel_to_show() -> None:
    front = views(window_plan(replace(SIGNED, board=Board(cut="straight"))))[0]
    assert boxes(front, "bevel") == [(69_000, 59_500, size(162, 122))]


def test_the_back_is_mirrored_and_says_where_the_top_is() -> None:
    front, _, back = views(window_plan(UNEVEN))
    assert measures(front, "top") == ["60", "160", "80"]
    assert measures(back, "top") == ["80", "240"]
    assert measures(back, "left") == ["60", "180"]
    assert [note.words for note in back.notes] == ["TOP", "left"]
    assert "Lines 80 and 240 mm from your left, 60 and 180 mm from the top." in back.desc
    cuts = [shape.points for shape in back.shapes if shape.kind == "cut"]
    assert cuts[0] == ((80_000, 58_600), (80_000, 181_400))  # 1.4 past each corner
    assert back.how == (
        "Blade on the line, its point leaning out, away from the window. Start and stop at the ticks, 1.4 mm past each "
        "corner."
    )


def test_a_tick_stands_across_every_end_of_every_cut() -> None:
    back = views(window_plan(UNEVEN))[2]
    ends = {end for shape in back.shapes if shape.kind == "cut" for end in shape.points}
    ticks = [shape.points for shape in back.shapes if shape.kind == "bevel"]
    middles = {((x1 + x2) // 2, (y1 + y2) // 2) for (x1, y1), (x2, y2) in ticks}
    assert middles == ends and len(ticks) == len(ends) == 8


def test_the_sheet_is_drawn_behind_the_board_it_is_hinged_to_and_mirrored() -> None:
    off = replace(SIGNED, double=Double(), paper=Paper(size=size(210, 148), image_left_um=20_000, image_top_um=12_000))
    top, under = views(window_plan(off))[2:]
    assert boxes(top, "hidden") == []
    assert boxes(under, "hidden") == [(32_500, 51_000, size(210, 148))]
    assert under.how.endswith("Dashed: the sheet.")


def test_a_double_mount_shows_both_windows_and_a_back_for_each_board() -> None:
    front, section, top, under = views(window_plan(replace(SIGNED, double=Double())))
    assert [found[2] for found in boxes(front, "bevel")] == [
        size(174.8, 134.8),
        size(172, 132),
        size(164.8, 124.8),
        size(162, 122),
    ]
    # the windows of both boards share their middle, and so does the picture’s place in them
    assert boxes(front, "bevel")[3][:2] == (69_000, 59_500)
    assert (top.name, under.name) == ("back of the top board", "back of the under-board")
    assert measures(under, "top") == ["66.5", "228.5"]
    assert [note.words for note in section.notes] == [
        "glazing 2 mm",
        "top board 1.4 mm",
        "under-board 1.4 mm",
        "print 0.4 mm",
        "backing 3 mm",
    ]


def test_the_section_is_as_thick_as_its_layers_and_opens_towards_the_glass() -> None:
    section = views(window_plan(replace(SIGNED, build=Build(fillet_um=8_000))))[1]
    assert section.size.height_um == 2_000 + 8_000 + 1_400 + 400 + 3_000
    mount = next(shape for shape in section.shapes if shape.kind == "board" and box(shape)[1] == 10_000)
    (_, face_y), (face_x, _), (back_x, back_y), _ = mount.points
    assert (back_x - face_x, back_y - face_y) == (1_400, 1_400)
    shaft, head = (shape.points for shape in section.shapes if shape.kind == "cut")
    (from_x, from_y), tip = shaft
    assert (from_y, tip[1]) == (back_y, face_y) and head[1] == tip  # in from the back,
    assert tip[0] - from_x == face_x - back_x < 0  # along the bevel, out under the border
    assert section.desc == (
        "From the glass back: glazing 2 mm, fillet 8 mm, mount 1.4 mm, print 0.4 mm, backing 3 mm. With pins "
        "17.8 mm: a frame 18 mm deep. The bevel shows 1.98 mm of core and opens towards the glass."
    )
    heights = [note.y_um for note in section.notes]
    assert all(later - earlier >= 1_700 for earlier, later in pairwise(heights))


def test_a_float_shows_its_gaps_and_the_spacer_hidden_behind_it() -> None:
    front, section, undermount = views(float_plan(FLOAT))
    assert measures(front, "top") == ["20", "203", "20"]
    assert boxes(front, "image") == [(26_000, 26_000, size(203, 203))]
    assert boxes(front, "hidden") == [(0, 0, size(255, 255)), (36_000, 36_000, size(183, 183))]
    assert boxes(undermount, "board") == [(35_000, 35_000, size(183, 183))]
    assert boxes(undermount, "hidden") == [(25_000, 25_000, size(203, 203))]  # the print, over it
    assert measures(undermount, "top") == ["35", "183", "35"]
    assert section.desc.endswith("With pins 20.4 mm: a frame 22 mm deep.")


def test_the_spacer_is_placed_on_the_face_of_the_undermount_so_nothing_is_mirrored() -> None:
    uneven = Edges(top_um=20_000, right_um=30_000, bottom_um=20_000, left_um=20_000)
    undermount = views(float_plan(replace(FLOAT, outer=Outwards(borders=uneven))))[2]
    assert undermount.title == "Undermount, face up, 263 × 253 mm"
    assert boxes(undermount, "board") == [(35_000, 35_000, size(183, 183))]


def test_a_bare_print_shows_the_cut_within_its_bleed() -> None:
    (front,) = views(frameless_plan(BARE))
    assert front.size == size(209, 209)
    assert boxes(front, "cut") == [(3_000, 3_000, size(203, 203))]
    assert front.how.startswith("Trim on the heavy line.")
    (smaller,) = views(frameless_plan(replace(BARE, bleed_um=0, undersize_um=2_000)))
    assert smaller.how.startswith("Dashed: the board.")
    assert measures(front, "top") == ["203"]
    assert measures(front, "bottom") == ["209"]
