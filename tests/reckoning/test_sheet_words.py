"""What a plan comes to, in words."""

import pytest

from ledger.reckoning.sheet_layout import Layout, Leaf, Placed
from ledger.reckoning.sheet_plan import Answer, Planned, work_out
from ledger.reckoning.sheet_words import answer_said, proof_said
from tests.reckoning.sheet_jobs import A3, mm_job


def planned(pieces: int, *, sizes: int = 1, quantities: tuple[int, ...] = (), sheets: int = 1) -> Planned:
    """So many pieces of the first size on every sheet, not proved."""
    job = mm_job(A3, *[(100, 150), (60, 90)][:sizes], quantities=quantities)
    leaf = Leaf(0, False, 100_000, 150_000)
    layout = Layout((pieces, 0)[:sizes], (Placed(0, 0, 0, 100_000, 150_000, False),) * pieces, leaf)
    return Planned(job, "guillotine", ((layout, sheets),), False)


def test_one_size_says_how_much_more_there_might_be() -> None:
    found = planned(5)
    assert answer_said(Answer((found,), bound=6), found, "A3") == (
        "5 prints of 100 × 150 mm on A3. The best found; one more may be possible."
    )
    assert proof_said(found, 15) == "The best found; more may be possible, at most 15."
    assert proof_said(found) == "The best found; more may be possible."
    assert proof_said(planned(5, sheets=4, quantities=(18,)), 6) == "The best found; one more may be possible."


def test_sheets_for_quantities_say_how_few_they_might_be() -> None:
    found = planned(5, sizes=2, quantities=(20, 1), sheets=7)
    assert proof_said(found, 6) == "The fewest found; one fewer may be possible."
    assert proof_said(found, 4) == "The fewest found; fewer may be possible, at least 4."
    assert proof_said(found) == "The fewest found; fewer may be possible."
    assert proof_said(planned(5, sizes=2)) == "The best found; at most 6 more may be possible."


@pytest.mark.parametrize(
    ("quantities", "said"),
    [
        ((), "No cuts right across give more of one and no less of another. 6 other mixes are worth having."),
        ((8, 14), "2 sheets of A3: 8 of 127 × 127 mm and 14 of 60 × 90 mm. No cuts right across take fewer sheets."),
    ],
)
def test_what_is_proved_of_several_sizes_is_said_for_the_way_of_cutting(quantities: tuple[int, ...], said: str) -> None:
    answer = work_out(mm_job(A3, (127, 127), (60, 90), quantities=quantities), "guillotine")
    assert said in answer_said(answer, answer.choices[0], "A3")


def test_a_knife_is_held_against_every_layout() -> None:
    answer = work_out(mm_job(A3, (100, 150)), "knife")
    assert answer_said(answer, answer.choices[0], "A3") == "6 prints of 100 × 150 mm on A3. No layout gives more."
    two = work_out(mm_job(A3, (100, 150), (60, 90)), "knife")
    said = {each.counts: proof_said(each) for each in two.choices}
    assert said[0, 19] == "No layout gives more of one and no less of another."
    assert said[2, 13] == "The best found; one more may be possible."
    assert said[6, 1] == "The best found; at most 2 more may be possible."
