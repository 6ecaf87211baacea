"""The drawing of a lab sheet: to scale, with its cuts, and a line to check the printer by."""

from dataclasses import replace

import pytest

from ledger.errors import Refusal
from ledger.paper.sheet_drawing import BOX_X, BOX_Y, LEFT, RULE_Y, SheetPlan, render_plan, scale_of
from ledger.reckoning.lengths import shown
from ledger.reckoning.sheet_cuts import cut_list
from ledger.reckoning.sheet_knife import with_knife
from ledger.reckoning.sheet_layout import Job, Sheet, Wanted
from ledger.reckoning.sheet_one import one_size
from ledger.reckoning.sheet_replay import replay
from ledger.reckoning.sheet_steps import Bench, steps
from tests.paper.cast import assert_fonts_embedded, assert_no_metadata, rendered, sizes_mm, words
from tests.reckoning.sheet_jobs import A1, A3, mm_job

DPI = 300
PX = DPI / 25.4
JOB = mm_job(A3, (100, 150))
PLAN = SheetPlan(
    "Forty Minutes of Road",
    "A3, 297 × 420 mm, margins 5 mm, gutter 4 mm. Five prints of 100 × 150 mm.",
    JOB.sheet,
    cut_list(JOB, one_size(JOB).layout.plan),
    Bench(),
    frozenset({"3", "4"}),
)


def test_the_rule_of_100_mm_measures_100_mm() -> None:
    image = rendered(render_plan(PLAN), dpi=DPI)
    y = round(RULE_Y * PX)
    dark = [x for x in range(image.width) if min(image.getpixel((x, y + dy)) for dy in (-1, 0, 1)) < 128]
    assert (dark[-1] - dark[0]) / PX == pytest.approx(100, abs=0.3)
    assert dark[0] / PX == pytest.approx(LEFT, abs=0.3)


def test_the_sheet_is_drawn_to_the_scale_it_states() -> None:
    pdf = render_plan(PLAN)
    assert scale_of(PLAN.sheet) == (2, 5)
    assert "SCALE 2:5" in words(pdf)
    image = rendered(pdf, dpi=DPI)
    # inside the top margin, which is waste and grey; the line that measures the height stands 4 mm to the left
    y = round((BOX_Y + 1) * PX)
    grey = [x for x in range(round((BOX_X - 2) * PX), image.width) if image.getpixel((x, y)) < 245]
    assert (grey[-1] - grey[0]) / PX == pytest.approx(297 * 2 / 5, abs=0.4)
    assert grey[0] / PX == pytest.approx(BOX_X, abs=0.3)


def test_every_cut_and_piece_is_on_the_paper() -> None:
    pdf = render_plan(PLAN)
    assert sizes_mm(pdf) == [(210, 297)] * 2
    drawing, listing = words(pdf, 0), words(pdf, 1)
    assert "Forty Minutes of Road" in drawing
    assert "100 × 150" in drawing
    assert "150 × 100" in drawing
    assert "297" in drawing
    assert "1 whole sheet no stop: marks nearest the left edge margin, 5" in listing
    assert "3 whole sheet left edge 104 A B, 188" in listing
    assert "5 B top edge 104 3 C, 311 6 C top edge still 104 4 5, 207" in listing
    assert "8 3 top edge still 100 3 waste, 4 3" in listing  # finished
    assert {"A", "B", "C"} <= set(drawing.split())
    for cut in PLAN.cuts:
        assert str(cut.number) in listing.split()
        assert str(cut.number) in drawing.split()
    assert_fonts_embedded(pdf)
    assert_no_metadata(pdf)


def test_the_caution_for_blades_stands_once_above_the_cuts() -> None:
    pdf = render_plan(PLAN)
    assert words(pdf, 0).count("Blades cut fingers") == 0
    assert words(pdf, 1).count("Blades cut fingers") == 1


def test_a_long_list_goes_on_to_the_next_page() -> None:
    job = mm_job(A1, (60, 90))
    plan = replace(PLAN, sheet=job.sheet, cuts=cut_list(job, one_size(job).layout.plan))
    pages = len(sizes_mm(render_plan(plan)))
    assert pages > 3
    assert str(plan.cuts[-1].number) in words(render_plan(plan), pages - 1).split()


def test_a_knifes_lines_have_both_their_ends_and_no_stop() -> None:
    job = mm_job((264, 264), (100, 150))
    cuts = cut_list(job, with_knife(job).layout.plan, knife=True)
    listing = words(render_plan(replace(PLAN, sheet=job.sheet, cuts=cuts, bench=Bench(knife=True))), 1)
    assert "154 from top: left edge to 154 from left, not past free: 1, 2, 3, 4, waste" in listing
    assert "104 from top: 104 from left to right edge" in listing
    assert "stop" not in listing


def test_a_plan_in_inches_is_drawn_and_cut_in_inches() -> None:
    inch = 25_400
    job = Job(Sheet(16 * inch, 20 * inch, *[inch // 4] * 4), (Wanted(5 * inch, 15 * inch // 2),), inch // 8)
    cuts, bench = cut_list(job, one_size(job).layout.plan), Bench("in", marks=False)
    drawing, listing = (
        words(render_plan(SheetPlan("Contact", "", job.sheet, cuts, bench, frozenset())), n) for n in (0, 1)
    )
    assert "5 × 7 1/2" in drawing and "100 mm, a hair under 3 15/16 in." in drawing
    assert {"16", "20"} <= set(drawing.split())
    assert "no stop: mark 1/4 from the left edge margin, 1/4" in listing
    assert "Set, in" in listing and " mm" not in listing
    for step, cut in zip(steps(cuts, bench), cuts, strict=True):
        figure = shown(cut.set_um, "in")
        assert figure in step.do.replace("\u00a0", " ") and figure in listing


def test_a_triangle_points_to_the_top_of_a_turned_picture() -> None:
    def dark(turned: frozenset[str]) -> list[tuple[int, int]]:
        image = rendered(render_plan(replace(PLAN, turned=turned)), dpi=72)
        return [(x, y) for x in range(image.width) for y in range(image.height) if image.getpixel((x, y)) < 128]

    more = set(dark(frozenset({"3"}))) - set(dark(frozenset()))
    left, top, right, foot = replay(JOB.sheet, PLAN.cuts)["3"]
    scale = 2 / 5 / 1000 * 72 / 25.4
    assert more
    for x, y in more:
        assert (left + right) / 2 < (x - BOX_X * 72 / 25.4) / scale < right
        assert abs((y - BOX_Y * 72 / 25.4) / scale - (top + foot) / 2) < 10_000


def test_the_same_plan_is_the_same_paper_and_a_foreign_sign_is_refused() -> None:
    assert render_plan(PLAN) == render_plan(PLAN)
    with pytest.raises(Refusal, match="The title"):
        render_plan(replace(PLAN, title="道"))
