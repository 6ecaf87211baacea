"""Mount plans, kept as they were asked: at the bench with rule and pencil, in millimetres and in inches."""

from typing import Any

import pytest
from sqlalchemy import Engine

from ledger import certificates, editions, mount_stock, mounts, offers
from ledger.audit import making
from ledger.certificates import IssueDraft
from ledger.database import Session, reading
from ledger.errors import Refusal
from ledger.mount_drafts import _USUAL, _USUAL_MM, MountDraft, filled
from ledger.mount_stock import CutterDraft, FrameDraft, OffcutDraft
from ledger.papers import labels_pdf
from ledger.promises import OfferDraft, StepDraft
from ledger.reckoning import lengths
from ledger.reckoning.mount_cards import cards
from ledger.reckoning.mount_floats import FloatMount, FloatPlan, FramelessPlan
from ledger.reckoning.mount_parts import Size
from ledger.reckoning.mount_plan import WindowMount, WindowPlan
from tests import cast
from tests.cast import acting, refused

SIGNED: dict[str, Any] = {
    "title": "The road, signed",
    "image": "150 x 100",
    "sheet": "210 x 148",
    "opening": "reveal",
    "reveal_top": "6",
    "reveal_sides": "6",
    "reveal_bottom": "16",
    "frame": {"sold_as": "30 x 25", "width_a": "302", "width_b": "303", "height_a": "252.5", "height_b": "252"},
    "placing": "weighted",
    "weight": "15",
}
"""Worked example 3 of the bench: mount 300 x 250, window 162 x 122, borders 69, 59.5 and 68.5."""


ROAD: dict[str, Any] = {"image": "127 x 127", "sheet": "", "frame": {"width_a": "252", "height_a": "252"}}
"""A plan for the size of the road."""


def draft(**changes: Any) -> MountDraft:
    return MountDraft.model_validate(SIGNED | changes)


def worked(engine: Engine, **changes: Any) -> Any:
    with reading(engine) as session:
        return mounts.work_out(session, draft(**changes)).plan


def kept(engine: Engine, **changes: Any) -> int:
    with acting(engine) as book:
        return mounts.keep(book, draft(**changes)).id or 0


def measured(engine: Engine, **changes: Any) -> int:
    typed = {"sold_as": "10 x 10 in", "width_a": "251", "height_a": "251", "height_b": "252"}
    with acting(engine) as book:
        return mount_stock.add_frame(book, FrameDraft.model_validate(typed | changes)).id or 0


def calibrated(engine: Engine, **changes: Any) -> int:
    cut = {"name": "Long cutter", "set": "60", "back": "60", "face": "58.6", "past": "1.9", "board": "1.4"}
    with acting(engine) as book:
        return mount_stock.add_cutter(book, CutterDraft.model_validate(cut | changes)).id or 0


def test_a_plan_is_kept_as_it_was_asked_and_reckoned_again(engine: Engine) -> None:
    plan_id = kept(engine)
    with reading(engine) as session:
        found = mounts.kept(session, plan_id)
        assert mounts.listing(session) == [found.row]
    assert found.draft.image == "150 x 100" and found.draft.frame.sold_as == "30 x 25"
    assert found.draft.clearance == "2" and found.draft.board == "1.4"  # the usual, kept with it
    assert isinstance(found.plan, WindowPlan)
    assert found.plan.mount == Size(300_000, 250_000) and found.plan.inner.window == Size(162_000, 122_000)
    (card,) = cards(found.plan)
    assert card.figures == ("69", "231", "59.5", "181.5")
    assert mounts.words(found.plan) == "window mount 300 × 250 mm, window 162 × 122 mm"


def test_a_struck_plan_stays_in_the_record_and_is_offered_no_more(engine: Engine) -> None:
    plan_id = kept(engine)
    with acting(engine) as book, refused("The reason is empty."):
        mounts.strike(book, plan_id, " ")
    with acting(engine) as book:
        mounts.strike(book, plan_id, "the frame was sold")
    with reading(engine) as session:
        assert mounts.listing(session) == [] and mounts.kept(session, plan_id).row.struck_at is not None
    with acting(engine) as book, refused("That plan was struck already."):
        mounts.strike(book, plan_id, "again")
    with reading(engine) as session, refused("No mount plan has the number 9."):
        mounts.kept(session, 9)


@pytest.mark.parametrize(
    ("typed", "field", "sentence"),
    [
        ({"title": ""}, "title", "The title is empty."),
        ({"title": "路"}, "title", "the typeface of the printed papers does not have"),
        ({"image": ""}, "image", "A width and a height are needed here"),
        ({"image": "8 x 8"}, "image", "has no unit and can be read in more than one way"),
        ({"image": "8 x 8 in"}, "image", "This plan is in millimetres"),
        ({"image": "400 x 100", "sheet": ""}, "frame.width_a", "The window is larger than the mount."),
        ({"image": "150 x 240", "sheet": ""}, "frame.height_a", "The window is larger than the mount."),
        ({"image": "400 x 100", "sheet": "", "outer": "mount", "mount": "300 x 250"}, "mount", "larger than the mount"),
        ({"sheet": "155 x 148"}, "sheet", "The paper ends 3.5 mm inside the window at the right."),
        ({"sheet": "100 x 148"}, "sheet", "The picture does not lie whole on its sheet."),
        ({"frame": {"sold_as": "30 x 25"}}, "frame.width_a", "sold as 30 x 25 may be 2 mm more or less"),
        ({"frame": {"width_a": "302"}}, "frame.height_a", "Measure the rebate"),
        ({"frame": {"width_a": "8", "height_a": "300"}}, "frame.width_a", "“8” has no unit"),
        ({"frame_id": 7}, "frame_id", "No frame has the number 7."),
        ({"cutter_id": 7}, "cutter_id", "No cutter has the number 7."),
        ({"size_id": 7}, "size_id", "No size has the number 7."),
        ({"outer": "borders"}, "border_top", "A length is needed here."),
        (
            {"outer": "borders", "border_top": "-5", "border_right": "5", "border_bottom": "5", "border_left": "5"},
            "border_top",
            "“-5” is below nothing.",
        ),
        (
            {"outer": "borders", "border_top": "0", "border_right": "5", "border_bottom": "5", "border_left": "5"},
            "border_top",
            "Nothing is left of the mount at the top",
        ),
        ({"reveal_bottom": ""}, "reveal_bottom", "A length is needed here."),
        ({"opening": "overlap", "overlap": "60"}, "overlap", "The overlap leaves nothing of the picture."),
        ({"weight": "much"}, "weight", "Write how many per cent"),
        ({"placing": "ratio", "ratio": "3 to 1"}, "ratio", "is not a ratio"),
        ({"board": "0"}, "board", "Board has a thickness"),
        ({"board_sheet": "250 x 200"}, "board_sheet", "Find a larger sheet."),
        ({"unit": "in"}, "image", "“150 x 100” has no unit"),
        ({"kind": "float", "inset": "80"}, "inset", "Nothing is left of the spacer."),
        ({"kind": "float", "fillet": "4"}, "fillet", "The print would touch the glazing."),
        ({"kind": "float", "image": "400 x 300"}, "outer", "No gap is left around the print."),
        ({"kind": "board", "bleed": "3", "undersize": "2"}, "bleed", "Either the print bleeds past the cut"),
    ],
)
def test_what_cannot_be_cut_is_refused_at_its_field(
    sqlite_engine: Engine, typed: dict[str, Any], field: str, sentence: str
) -> None:
    with reading(sqlite_engine) as session, refused(sentence) as no:
        mounts.work_out(session, draft(**typed))
    assert no.value.field == field and not no.value.missing


def test_a_plan_made_for_a_size_is_of_that_sizes_picture(sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine)
    said = "That size of the edition is 127 × 127 mm, and this plan is for 500 × 400 mm."
    large = {"sheet": "", "frame": {"width_a": "700", "height_a": "600"}, "image": "500 x 400", "size_id": 1}
    for kind in ("window", "float", "board"):
        with refused(said) as no:
            kept(sqlite_engine, **large, kind=kind)
        assert no.value.field == "image"
    kept(sqlite_engine, **ROAD | {"image": "127.5 x 127"}, size_id=1)  # as the ruler has it


def test_the_audit_finds_a_plan_that_is_kept_under_other_columns_than_it_was_asked(unaudited_engine: Engine) -> None:
    plan_id = kept(unaudited_engine)
    with reading(unaudited_engine) as session:
        assert list(making.mount_plans_are_as_asked(session)) == []
        with session.no_autoflush:  # the guard of the table would refuse it
            mounts.get(session, plan_id).kind = "float"
            said = ["mount plan 1 is found by another kind than it was asked with"]
            assert list(making.mount_plans_are_as_asked(session)) == said
        session.rollback()


def test_the_usual_figures_are_those_of_the_reckoning() -> None:
    """Left empty, in millimetres, a figure means what it means there."""
    window, floated = WindowMount.__dataclass_fields__, FloatMount.__dataclass_fields__
    um = {name: lengths.parse(text, "mm") for name, text in (_USUAL["mm"] | _USUAL_MM).items()}
    assert window["clearance_um"].default == floated["clearance_um"].default == um["clearance"]
    assert window["board"].default.thickness_um == um["board"]
    assert (window["build"].default.glazing_um, window["build"].default.backing_um) == (um["glazing"], um["backing"])
    for name in ("lip", "spacer", "inset", "print", "undermount"):
        assert floated[f"{name}_um"].default == um[name]
    assert _USUAL["in"].keys() == _USUAL["mm"].keys()


def test_only_figures_that_are_called_for_are_filled_in() -> None:
    assert filled(draft()).overlap == "" and filled(draft(opening="overlap")).overlap == "3"
    assert filled(draft(boards="double", unit="in")).strip == "3/16"
    assert filled(draft(kind="board", undersize="2")).bleed == "" and filled(draft(kind="board")).bleed == "3"


def test_a_plan_in_inches_takes_its_thicknesses_in_millimetres_or_inches(sqlite_engine: Engine) -> None:
    inches = {
        "unit": "in",
        "image": "8 x 10",
        "sheet": "",
        "opening": "overlap",
        "outer": "mount",
        "mount": "12 x 16 in",
        "placing": "equal",
    }
    plan = worked(sqlite_engine, **inches, board='1/16"', glazing="2")
    assert plan.asked.board.thickness_um == 1588 and plan.asked.build.glazing_um == 2000
    assert plan.asked.opening.by_um == 3175
    assert mounts.words(plan) == "window mount 12 × 16 in, window 7 3/4 × 9 3/4 in"


def test_borders_wanted_snap_to_the_nearest_frame_that_is_kept(engine: Engine) -> None:
    """Worked example 6: 127 square, reveal 5, 5, 12, wanted 55, 55, 66, a frame of 251."""
    first, second = measured(engine), measured(engine, width_a="302", height_a="402", height_b="", sold_as="")
    typed = {
        "image": "127 x 127",
        "sheet": "",
        "reveal_top": "5",
        "reveal_sides": "5",
        "reveal_bottom": "12",
        "outer": "borders",
        "border_top": "55",
        "border_right": "55",
        "border_bottom": "66",
        "border_left": "55",
        "frame_ids": [second, first],
    }
    plan = worked(engine, **typed)
    assert plan.mount == Size(249_000, 249_000)
    borders = plan.boards[0].borders
    assert (borders.left_um, borders.top_um, borders.bottom_um) == (56_000, 47_500, 57_500)
    assert "The frame is measured at one end only" in " ".join(plan.warnings)


def test_the_frame_measured_for_a_plan_is_kept_with_it_where_that_is_asked(engine: Engine) -> None:
    kept(engine)
    with reading(engine) as session:
        assert mount_stock.frames(session) == []
    plan_id = kept(engine, keep_frame=True, unit="mm")
    with reading(engine) as session:
        (frame,) = mount_stock.frames(session)
        found = mounts.kept(session, plan_id)
    assert (frame.sold_as, frame.width_a_um, frame.width_b_um) == ("30 x 25", 302_000, 303_000)
    assert found.draft.frame_id == frame.id and found.draft.frame.width_a == ""
    assert isinstance(found.plan, WindowPlan) and found.plan.mount == Size(300_000, 250_000)
    kept(engine, keep_frame=True, outer="mount", mount="300 x 250")
    kept(engine, keep_frame=True, frame_id=frame.id)
    kept(engine, keep_frame=True, kind="board", sheet="")
    with reading(engine) as session:
        assert mount_stock.frames(session) == [frame]


def test_a_frame_that_cannot_be_kept_leaves_no_plan_behind(engine: Engine) -> None:
    with refused("A frame is more than 0 deep") as no:
        kept(engine, keep_frame=True, frame={**SIGNED["frame"], "depth": "0"})
    assert no.value.field == "frame.depth"
    with reading(engine) as session:
        assert mounts.listing(session) == [] and mount_stock.frames(session) == []


def test_a_frame_by_its_label_alone_is_not_kept(engine: Engine) -> None:
    for typed, field in (({"width_a": "", "height_a": ""}, "width_a"), ({"height_a": "", "height_b": ""}, "height_a")):
        with refused("Measure the rebate") as no:
            measured(engine, **typed)
        assert no.value.field == field
    with refused("A frame is more than 0 deep"):
        measured(engine, depth="0")


def test_a_frame_that_is_gone_is_offered_no_more_and_its_plans_stand(engine: Engine) -> None:
    frame = measured(engine, width_b="250.5")
    plan_id = kept(engine, image="100 x 100", frame_id=frame)
    with acting(engine) as book:
        mount_stock.strike_frame(book, frame)
    with acting(engine) as book, refused("taken off the list already"):
        mount_stock.strike_frame(book, frame)
    with reading(engine) as session:
        assert mount_stock.frames(session) == []
        plan = mounts.kept(session, plan_id).plan
    assert isinstance(plan, WindowPlan) and plan.mount == Size(248_500, 249_000)


def test_a_cutter_or_a_frame_that_nothing_calls_for_is_not_kept_with_a_plan(engine: Engine) -> None:
    chosen = {"cutter_id": calibrated(engine), "frame_id": measured(engine)}
    bare = kept(engine, kind="board", image="100 x 100", sheet="", **chosen)
    sized = kept(engine, outer="mount", mount="300 x 250", **chosen)
    with reading(engine) as session:
        assert (mounts.kept(session, bare).draft.cutter_id, mounts.get(session, bare).cutter_id) == (None, None)
        assert (mounts.kept(session, sized).draft.cutter_id, mounts.kept(session, sized).draft.frame_id) == (1, None)


def test_a_cutter_calibrated_again_leaves_earlier_plans_as_they_were(engine: Engine) -> None:
    cutter = calibrated(engine)
    plan_id = kept(engine, cutter_id=cutter)
    again = calibrated(engine, set="60", back="61.4", face="60", past="1.4")
    with reading(engine) as session:
        assert [each.id for each in mount_stock.cutters(session)] == [again]
        plan = mounts.kept(session, plan_id).plan
    assert isinstance(plan, WindowPlan) and plan.past_corner_um == 1_900
    newer = worked(engine, cutter_id=again)
    assert newer.past_corner_um == 1_400 and newer.asked.cutter.scale == "face"


@pytest.mark.parametrize(
    ("typed", "field"),
    [({"set": "55"}, "set"), ({"name": ""}, "name"), ({"past": "long"}, "past"), ({"back": "2 3/8"}, "back")],
)
def test_a_test_cut_that_cannot_be_is_refused_at_its_field(
    sqlite_engine: Engine, typed: dict[str, str], field: str
) -> None:
    with pytest.raises(Refusal) as no:
        calibrated(sqlite_engine, **typed)
    assert no.value.field == field


def test_the_smallest_offcut_serves_and_the_window_gives_one_back(engine: Engine) -> None:
    def keep(size: str, **more: Any) -> int:
        with acting(engine) as book:
            return mount_stock.keep_offcut(book, OffcutDraft(size=size, **more)).id or 0

    plan_id = kept(engine)
    keep("600 x 400", board="cream, 1.4 mm")
    fits = keep("260 x 310")
    keep("299 x 249")
    with reading(engine) as session:
        plan = mounts.kept(session, plan_id).plan
        assert [(name, row.id) for name, row in mounts.serving(session, plan)] == [("mount", fits)]  # turned
        assert mounts.left_over(plan) == [("mount", Size(160_000, 120_000))]
    keep("160 x 120", mount_plan_id=plan_id)
    with acting(engine) as book:
        mount_stock.use_offcut(book, fits)
    with acting(engine) as book, refused("used already"):
        mount_stock.use_offcut(book, fits)
    with reading(engine) as session:
        assert [each.width_um for each in mount_stock.offcuts(session)] == [600_000, 299_000, 160_000]
        assert [row.width_um for _, row in mounts.serving(session, plan)] == [600_000]
    with refused("No mount plan has the number 9."):
        keep("160 x 120", mount_plan_id=9)
    with refused("more than one way"):
        keep("8 x 8")


def test_each_board_of_a_double_mount_is_served_by_a_piece_of_its_own(sqlite_engine: Engine) -> None:
    def served() -> list[tuple[str, int]]:
        with reading(sqlite_engine) as session:
            double = mounts.work_out(session, draft(boards="double")).plan  # 300 x 250 over 295 x 245
            return [(name, row.width_um // 1000) for name, row in mounts.serving(session, double)]

    for size, then in (("400 x 310", [("top board", 400)]), ("245 x 296", [("top board", 400), ("under-board", 245)])):
        with acting(sqlite_engine) as book:
            mount_stock.keep_offcut(book, OffcutDraft(size=size))
        assert served() == then


def test_floats_and_bare_boards_are_kept_and_said(engine: Engine) -> None:
    typed = {"sheet": "", "outer": "mount", "mount": "300 x 250", "placing": "equal"}
    floated = kept(engine, kind="float", **typed)
    bare = kept(engine, kind="board", image="300 x 200")
    with reading(engine) as session:
        plans = [mounts.kept(session, each).plan for each in (floated, bare)]
    assert isinstance(plans[0], FloatPlan) and isinstance(plans[1], FramelessPlan)
    assert [mounts.words(plan) for plan in plans] == [
        "floated on a spacer, 300 × 250 mm inside the frame",
        "mounted on board, 300 × 200 mm",
    ]
    assert [mounts.boards_of(plan)[0][0] for plan in plans] == ["undermount", "board"]
    assert mounts.left_over(plans[0]) == []


def offered(session: Session) -> offers.OfferFacts:
    return offers.in_force(session, 1, cast.MAY_4)


def mounted_offer(plan_id: int | None, **changes: Any) -> OfferDraft:
    prices = (StepDraft(from_sold=1, price_minor=9000),)
    return OfferDraft(process="Pigment print", paper="Cotton rag", prices=prices, mount_plan_id=plan_id, **changes)


def test_a_plan_is_the_mounting_of_an_offer_and_papers_say_so(engine: Engine) -> None:
    cast.road(engine)
    before, after = cast.made(engine, 1)[0], None
    plan_id = kept(engine, **ROAD, size_id=1)
    with acting(engine) as book:
        editions.new_offer(book, 1, mounted_offer(plan_id))
    after = cast.made(engine, 2)[0]
    words = "window mount 250 × 250 mm, window 139 × 149 mm"
    with reading(engine) as session:
        assert (offered(session).mounting, offered(session).mount_plan_id) == (words, plan_id)
    with acting(engine) as book:
        plain, mounted = (
            certificates.as_view(certificates.issue(book, piece_id, IssueDraft())).snapshot
            for piece_id in (before, after)
        )
    assert ["Mounting", "Window mount 250 × 250 mm, window 139 × 149 mm."] in mounted["facts"]
    assert mounted["mounting"] == words and plain["mounting"] == ""
    assert "Mounting" not in [label for label, _ in plain["facts"]]
    older = {key: value for key, value in plain.items() if key != "mounting"}
    for snapshot in (older, plain, mounted):
        assert labels_pdf([snapshot], None).startswith(b"%PDF")


def test_words_of_ones_own_stand_before_those_of_the_plan(engine: Engine) -> None:
    cast.road(engine)
    plan_id = kept(engine, **ROAD, size_id=1)
    with acting(engine) as book:
        editions.new_offer(book, 1, mounted_offer(plan_id, mounting="in a cream mount"))
    with reading(engine) as session:
        assert (offered(session).mounting, offered(session).mount_plan_id) == ("in a cream mount", plan_id)


def test_the_words_of_one_plan_are_not_kept_with_another_or_with_none(engine: Engine) -> None:
    cast.road(engine)
    first = kept(engine, **ROAD, size_id=1)
    second = kept(engine, **ROAD | {"frame": {"width_a": "302", "height_a": "302"}}, size_id=1)
    with acting(engine) as book:
        editions.new_offer(book, 1, mounted_offer(first))
    with reading(engine) as session:
        words = offered(session).mounting
        assert offers.mounting_by_hand(session, offered(session)) == ""
    for other in (second, None):
        with acting(engine) as book, refused("These are the words of the mount plan it was offered in.") as no:
            editions.new_offer(book, 1, mounted_offer(other, mounting=words))
        assert no.value.field == "offer.mounting"
    with acting(engine) as book:
        editions.new_offer(book, 1, mounted_offer(first, mounting=words))
        mounts.strike(book, first, "the frame was sold")
    with reading(engine) as session:
        assert offers.mounting_by_hand(session, offered(session)) == words
    with acting(engine) as book:
        editions.new_offer(book, 1, mounted_offer(None, mounting=words))
    with reading(engine) as session:
        assert (offered(session).mounting, offered(session).mount_plan_id) == (words, None)


def test_a_plan_of_another_size_or_a_struck_one_is_no_mounting(engine: Engine) -> None:
    cast.road(engine, sizes=(cast.size(), cast.size(180, 180)))
    other, struck = kept(engine, image="180 x 180", sheet="", outer="mount", mount="300 x 300", size_id=2), kept(engine)
    with acting(engine) as book:
        mounts.strike(book, struck, "a slip")
    for plan_id in (other, struck, 9):
        with acting(engine) as book, refused("no mount plan of this size") as no:
            editions.new_offer(book, 1, mounted_offer(plan_id))
        assert no.value.field == "offer.mount_plan_id"
    with reading(engine) as session:
        assert [row.id for row in mounts.for_size(session, 1)] == []
        assert [row.id for row in mounts.for_size(session, 2)] == [other]
