"""Floated prints and prints on bare board. Worked examples: common practice, no source."""

from dataclasses import replace

import pytest

from ledger.errors import Refusal
from ledger.reckoning.mount_floats import FloatMount, Frameless, float_plan, frameless_plan
from ledger.reckoning.mount_frames import Build, Frame, Outwards
from ledger.reckoning.mount_parts import Edges, Size, Weighted
from ledger.reckoning.sheet_layout import Job, Sheet, Wanted
from ledger.reckoning.sheet_one import one_size


def square(side: int) -> Size:
    return Size(side * 1_000, side * 1_000)


FLOAT = FloatMount(unit="mm", print=square(203), outer=Outwards(borders=Edges.all(20_000)))
BARE = Frameless(unit="mm", finished=square(203))


def test_8_a_float_on_a_hidden_spacer_needs_a_deep_frame() -> None:
    plan = float_plan(FLOAT)
    assert plan.spacer == square(183)
    assert plan.sight == square(243)
    assert plan.rebate == square(255)
    assert plan.backing == square(253)
    assert plan.fillet_um == 11_000
    assert plan.depth.layers_um == 17_400
    assert plan.depth.needed_um == 20_400
    assert plan.depth.buy_um == 22_000
    assert plan.warnings == ()


def test_the_spacer_lies_hidden_in_the_middle_of_the_backing() -> None:
    plan = float_plan(FLOAT)
    borders = plan.spacer_borders
    assert borders == Edges.all(35_000)
    assert borders.left_um + plan.spacer.width_um + borders.right_um == plan.backing.width_um


def test_the_backing_of_a_float_is_never_written_larger_than_leaves_the_room_wanted() -> None:
    frame = Frame(widths_um=(409_575, 409_575), heights_um=(409_575, 409_575))
    plan = float_plan(replace(FLOAT, unit="in", outer=frame))
    assert plan.backing == Size(406_400, 406_400)
    borders = plan.spacer_borders
    assert borders.left_um + plan.spacer.width_um + borders.right_um == plan.backing.width_um
    assert borders.top_um + plan.spacer.height_um + borders.bottom_um == plan.backing.height_um


def test_a_signed_float_has_a_wider_gap_below() -> None:
    gaps = Edges(top_um=10_000, right_um=10_000, bottom_um=13_000, left_um=10_000)
    plan = float_plan(replace(FLOAT, outer=Outwards(borders=gaps)))
    assert plan.gaps == gaps
    assert plan.sight == Size(223_000, 226_000)


def test_a_float_goes_inwards_from_a_measured_frame_too() -> None:
    frame = Frame(widths_um=(300_000, 301_000), heights_um=(302_000, 300_000), depth_um=20_000)
    plan = float_plan(replace(FLOAT, outer=frame, placing=Weighted(2_000)))
    assert plan.sight == square(288)
    assert plan.gaps == Edges(top_um=38_500, right_um=42_500, bottom_um=46_500, left_um=42_500)
    assert plan.warnings == (
        "The frame is 20 mm deep and this needs 20.4 mm. Choose a deeper frame or a thinner backing.",
    )


@pytest.mark.parametrize(
    ("asked", "field", "sentence"),
    [
        (
            replace(FLOAT, build=Build(fillet_um=5_400)),
            "build.fillet_um",
            "would touch the glazing. Use a fillet of 9.4",
        ),
        (replace(FLOAT, inset_um=102_000), "inset_um", "Nothing is left of the spacer"),
        (replace(FLOAT, lip_um=-1), "lip_um", "not less than nothing"),
        (replace(FLOAT, clearance_um=6_000), "clearance_um", "the lip would not reach the other"),
        (replace(FLOAT, lip_um=5_000, clearance_um=9_000), "clearance_um", "the lip would not reach the other"),
        (replace(FLOAT, outer=square(203)), "outer", "No gap is left around the print"),
        (replace(FLOAT, outer=Frame(sold_as="250 square")), "outer.widths_um", "Measure the rebate"),
    ],
)
def test_a_float_that_cannot_be_is_refused(asked: FloatMount, field: str, sentence: str) -> None:
    with pytest.raises(Refusal) as refused:
        float_plan(asked)
    assert sentence in refused.value.message
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        (replace(FLOAT, build=Build(fillet_um=8_000)), "Only 2.6 mm of air between print and glazing."),
        (replace(FLOAT, inset_um=5_000), "can be seen from the side"),
        (replace(FLOAT, inset_um=20_000), "may belly"),
        (replace(FLOAT, outer=square(211)), "A gap under 10 mm"),
        (replace(FLOAT, clearance_um=4_500), "the lip holds only 1.5 mm of the other"),
    ],
)
def test_a_float_that_may_go_wrong_says_how(asked: FloatMount, sentence: str) -> None:
    assert [warning for warning in float_plan(asked).warnings if sentence in warning]


def test_9_a_bare_print_bleeds_past_the_cut() -> None:
    plan = frameless_plan(BARE)
    assert plan.print_file == square(209)
    assert plan.board == square(203)
    assert plan.detail == square(193)


@pytest.mark.parametrize(("margin", "gutter", "fit"), [(5_000, 4_000, 1), (1_000, 0, 2)])
def test_9_how_many_of_its_print_files_a_sheet_of_a3_takes(margin: int, gutter: int, fit: int) -> None:
    file = frameless_plan(BARE).print_file
    a3 = Sheet(297_000, 420_000, margin, margin, margin, margin)  # ISO 216
    found = one_size(Job(a3, (Wanted(file.width_um, file.height_um),), gutter))
    assert len(found.layout.placed) == fit


def test_a_bare_board_may_be_smaller_so_that_no_adhesive_shows() -> None:
    plan = frameless_plan(replace(BARE, bleed_um=0, undersize_um=2_000))
    assert plan.print_file == square(203)
    assert plan.board == square(199)


def test_a_glued_print_has_to_say_so_on_its_certificate() -> None:
    warnings = frameless_plan(BARE).warnings
    assert len(warnings) == 1
    assert "the certificate has to say “mounted”" in warnings[0]
    assert frameless_plan(replace(BARE, bleed_um=6_000)).warnings[1] == (
        "Bleeding by 6 mm at each edge is unusual; 2 mm to 3 mm is common."
    )
    assert len(frameless_plan(replace(BARE, unit="in", bleed_um=3_175)).warnings) == 1  # an eighth


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        (replace(BARE, bleed_um=-1), "bleed_um"),
        (replace(BARE, undersize_um=1_000), "bleed_um"),
        (replace(BARE, bleed_um=0), "bleed_um"),
        (replace(BARE, finished=square(10)), "finished"),
    ],
)
def test_a_board_that_cannot_be_is_refused(asked: Frameless, field: str) -> None:
    with pytest.raises(Refusal) as refused:
        frameless_plan(asked)
    assert refused.value.field == field
