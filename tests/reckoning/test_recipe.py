"""What finishing a print costs. All figures are invented or computed; the method is common practice, no source."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import Refusal
from ledger.reckoning.recipe import Charge, Line, a_print, by_line, charges, check_lines

MOUNT = [
    Line("Window board", 960, prints=12),
    Line("Frame with glass", 725),
    Line("Backing, tape, hinges", 45),
    Line("Label, certificate, envelope", 55),
    Line("Own time", 1600, minutes=30),
]
EXACT = Fraction(80 + 725 + 45 + 55 + 800)


def test_a_mounting_costs_the_sum_of_its_lines_with_own_time_and_without() -> None:
    assert a_print(MOUNT, with_own_labour=True) == EXACT
    assert a_print(MOUNT, with_own_labour=False) == EXACT - 800


def test_spoilage_is_grossed_up_not_added_on() -> None:
    # 4 % spoilt of 1.60 of board is 1.6667 for each good one, not 1.664: 1.60 / (1 - 0.04).
    board = Line("Board", 160, spoilage_bp=400)
    assert board.a_print == Fraction(16000, 96) and round(float(board.a_print) / 100, 4) == 1.6667
    assert board.a_print != Fraction(160) * Fraction(104, 100)


def test_time_for_a_batch_is_shared_by_its_prints() -> None:
    assert Line("Cutting", 1600, prints=12, minutes=90).a_print == Fraction(2400, 12)


def test_the_worked_edition_is_21_636_a_print_of_which_8_00_is_own_time() -> None:
    # Six sheets and their delivery, boards, frames, backing, label and time, all of them for 25 prints.
    lines = [
        Line("Lab sheets and delivery", 5700, prints=25),
        Line("Board", 4240, prints=25),
        Line("Frames with glass", 18850, prints=25),
        Line("Backing, tape, hinges", 45),
        Line("Label, certificate, envelope", 55),
        Line("Proofing and the die", 2800, prints=25),
        Line("Own time", 1600, minutes=30),
    ]
    assert a_print(lines, with_own_labour=True) == Fraction("2163.6")
    assert a_print(lines, with_own_labour=False) == Fraction("1363.6")
    charged = charges(lines, 25)
    assert (sum(each.materials for each in charged), sum(each.own_time for each in charged)) == (34090, 20000)
    assert {each.materials for each in charged} == {1363, 1364}


def test_the_penny_over_goes_to_the_first_print() -> None:
    assert charges([Line("Sheet", 100, prints=3)], 3) == [Charge(34, 0), Charge(33, 0), Charge(33, 0)]


lines = st.builds(
    Line,
    name=st.just("line"),
    amount=st.integers(1, 10**6),
    prints=st.integers(1, 60),
    minutes=st.none() | st.integers(1, 600),
    spoilage_bp=st.integers(0, 9_999),
)


@given(st.lists(lines, min_size=1, max_size=8), st.integers(1, 60))
def test_no_penny_is_lost_over_the_prints_or_over_the_lines(recipe: list[Line], count: int) -> None:
    charged = charges(recipe, count)
    total = sum(each.materials + each.own_time for each in charged)
    assert abs(total - count * a_print(recipe, with_own_labour=True)) <= 1
    assert sum(by_line(recipe, count)) == total
    for own_labour, part in ((False, "materials"), (True, "own_time")):
        of_lines = sum(
            amount for line, amount in zip(recipe, by_line(recipe, count), strict=True) if line.own_labour == own_labour
        )
        amounts = [getattr(each, part) for each in charged]
        assert of_lines == sum(amounts) and max(amounts) - min(amounts) <= 1


@pytest.mark.parametrize(
    ("line", "field", "sentence"),
    [
        (Line("Board", 160, spoilage_bp=10_000), "spoilage_bp", "Where all of it is spoilt, no print is ever finished"),
        (Line("Board", 160, spoilage_bp=-1), "spoilage_bp", "Write less than 100 %"),
        (Line("Time", 0, minutes=30), "amount", "An hour of your own time costs more than nothing"),
        (Line("Time", 1600, minutes=0), "minutes", "Own time is a minute or more"),
        (Line("Board", 0), "amount", "A line costs more than nothing"),
        (Line("Board", 160, prints=0), "prints", "1 or more"),
        (Line("Board", 10**14, spoilage_bp=9_999), "amount", "more than a print can cost"),
    ],
)
def test_a_line_that_cannot_be_is_refused_where_it_stands(line: Line, field: str, sentence: str) -> None:
    with pytest.raises(Refusal, match=sentence) as refused:
        check_lines([Line("Frame", 725), line])
    assert refused.value.field == f"lines.1.{field}"


def test_a_recipe_has_a_line_and_good_ones_pass() -> None:
    check_lines(MOUNT)
    with pytest.raises(Refusal, match="Write at least one line"):
        check_lines([])
