"""Cut lists in words, as the person with the paper in hand reads them."""

import re

import pytest

from ledger.reckoning.sheet_cuts import cut_list
from ledger.reckoning.sheet_drawing import HIGH, WIDE, view_of
from ledger.reckoning.sheet_knife import with_knife
from ledger.reckoning.sheet_layout import Job, Sheet, Wanted
from ledger.reckoning.sheet_one import one_size
from ledger.reckoning.sheet_steps import Bench, how, repeated, steps
from tests.reckoning.sheet_jobs import A3, mm_job

JOB = mm_job(A3, (100, 150))
CUTS = cut_list(JOB, one_size(JOB).layout.plan)
BY_HAND = cut_list(JOB, with_knife(JOB).layout.plan, knife=True)


def told(bench: Bench, cuts: tuple = CUTS) -> list[str]:
    return [f"{step.part}: {step.do} {step.comes}".rstrip() for step in steps(cuts, bench)]


def test_the_first_cuts_go_on_the_labs_marks_or_on_ones_own() -> None:
    assert told(Bench())[0] == (
        "The whole sheet: line the blade up on the printed marks nearest the left edge, about 5 mm from it. "
        "Falls off: the margin, 5 mm."
    )
    assert told(Bench(marks=False))[1].startswith(
        "The whole sheet: mark 5 mm from the top edge, and line the blade up on that."
    )
    assert "about 3/16 in from it." in told(Bench("in"))[0]


def test_a_line_never_breaks_between_inches_and_their_fraction() -> None:
    assert re.search("set 4\u00a01/8 in\\.", " ".join(told(Bench("in"))))
    assert not re.search("[0-9] [0-9]+/", " ".join(told(Bench("in"))))


def test_a_print_is_called_finished_only_after_its_last_cut() -> None:
    lines = told(Bench())
    assert lines[10] == (
        "Part A: top edge to the stop, set 154 mm. Stays: print 1, still to be trimmed. "
        "Falls off: print 2, 261 mm, still to be trimmed."
    )
    assert lines[11].endswith("Falls off: 4 mm of waste. Print 1 is finished.")
    for figure in "12345":
        assert sum(f"Print {figure} is finished." in line for line in lines) == 1
    two = mm_job((208, 100), (100, 100), margin=0, gutter=8)
    assert told(Bench(), cut_list(two, one_size(two).layout.plan))[0].endswith("Falls off: print 2, 100 mm, finished.")


def test_a_setting_that_stands_is_called_the_same() -> None:
    again = [step.again for step in steps(CUTS, Bench())]
    assert again.count(False) - 2 == 6  # two cuts on marks, six settings
    assert all(("the same setting" in step.do) == step.again for step in steps(CUTS, Bench()))
    assert not any(step.again for step in steps(BY_HAND, Bench(knife=True)))


def test_a_knife_has_no_stop_and_each_of_its_lines_has_two_ends() -> None:
    lines = told(Bench(knife=True), BY_HAND)
    assert "stop" not in how(Bench(knife=True)) + " ".join(lines)
    assert (
        "The whole sheet: measure 254 mm from the left edge, and cut right across. Falls off: 38 mm of waste." in lines
    )
    assert [line for line in lines if "a line" in line] == [
        "Part B: a line 104 mm from the left edge, from the top edge down to 154 mm from the top. "
        "Do not run past that, into print 6.",
        "Part B: a line 104 mm from the top edge, from the line just cut, 104 mm from the left, to the right edge.",
        "Part B: a line 154 mm from the left edge, from the line just cut, 104 mm from the top, down to the bottom "
        "edge.",
        "Part B: a line 154 mm from the top edge, from the left edge to 154 mm from the left. "
        "Do not run past that, into print 5. "
        "Now free: print 3 top left, print 4 top right, print 5 bottom right, print 6 bottom left and "
        "50 × 50 mm of waste in the middle. Still to be trimmed: 3, 4 and 6. Finished: 5.",
    ]


@pytest.mark.parametrize("bench", [Bench(), Bench(knife=True)])
def test_what_to_know_first_says_which_top_is_meant_and_to_pencil_the_letter(bench: Bench) -> None:
    assert "Top and left are those of the sheet as drawn" in how(bench)
    assert "pencil the letter or figure on the back" in how(bench)


def test_several_sheets_are_each_cut_by_the_whole_list() -> None:
    assert repeated(1) == ""
    assert repeated(3) == "3 sheets are cut so: follow the whole list for each of them."


def test_the_drawing_has_the_letters_the_cuts_numbers_and_the_tops_of_turned_pictures() -> None:
    plain, marked = (view_of(JOB, CUTS, "mm", turned) for turned in ((), ("3", "4")))
    assert {note.words for note in plain.notes if note.kind == "number"} == {str(cut.number) for cut in CUTS}
    assert {"A", "B", "C"} <= {note.words for note in plain.notes if note.kind == "said"}
    assert len(marked.shapes) == len(plain.shapes) + 2


def test_the_size_stands_in_a_print_only_where_a_small_phone_has_room_for_it() -> None:
    """There '100 × 150' is 74 units of the drawing wide, as measured in a browser."""
    inside = {}
    for width, height in ((594, 841), (329, 483), (297, 420)):
        job = mm_job((width, height), (100, 150))
        unit = max(width / WIDE, height / HIGH)
        found = view_of(job, cut_list(job, one_size(job).layout.plan), "mm").notes
        inside[100 / unit] = "100 × 150" in {note.words for note in found}
    assert {room: room > 74 for room in inside} == inside and set(inside.values()) == {True, False}


def test_the_measures_along_a_side_add_up_to_it() -> None:
    for side, whole in (("top", 297), ("left", 420)):
        chain = [each for each in view_of(JOB, CUTS, "mm").dimensions if each.side == side]
        assert sum(int(each.words) for each in chain) == whole
        assert [each.start_um for each in chain[1:]] == [each.end_um for each in chain[:-1]]
    inch = 25_400
    job = Job(Sheet(44 * inch, 30 * inch, *[inch // 4] * 4), (Wanted(3 * inch, 4 * inch),), inch // 4)
    view = view_of(job, cut_list(job, one_size(job).layout.plan), "in")
    assert {"1/4", "3"} & {each.words for each in view.dimensions if each.side == "top"}
