from datetime import date

import pytest

from ledger.errors import Refusal
from ledger.reckoning import dates
from ledger.reckoning.dates import PartDate


def test_a_day_is_said_without_a_nought_before_it() -> None:
    assert dates.said(date(2026, 5, 4)) == "4 May 2026"


def test_two_days_are_said_without_repeating_what_they_share() -> None:
    assert dates.span(date(2026, 5, 4), date(2026, 5, 4)) == "4 May 2026"
    assert dates.span(date(2026, 5, 4), date(2026, 5, 6)) == "4 to 6 May 2026"
    assert dates.span(date(2026, 5, 30), date(2026, 6, 1)) == "30 May to 1 June 2026"
    assert dates.span(date(2026, 12, 30), date(2027, 1, 2)) == "30 December 2026 to 2 January 2027"


@pytest.mark.parametrize(
    ("typed", "known", "said", "written"),
    [
        ("2011", PartDate(2011), "2011", "2011"),
        ("2011-05", PartDate(2011, 5), "May 2011", "2011-05"),
        ("2011-5-4", PartDate(2011, 5, 4), "4 May 2011", "2011-05-04"),
        ("May 2011", PartDate(2011, 5), "May 2011", "2011-05"),
        ("sept. 2011", PartDate(2011, 9), "September 2011", "2011-09"),
        (" 4  May 2011 ", PartDate(2011, 5, 4), "4 May 2011", "2011-05-04"),
        ("about 2011", PartDate(2011, about=True), "about 2011", "about 2011"),
        ("c. 2011", PartDate(2011, about=True), "about 2011", "about 2011"),
        ("circa May 2011", PartDate(2011, 5, about=True), "about May 2011", "about 2011-05"),
    ],
)
def test_a_date_is_kept_as_far_as_it_is_known(typed: str, known: PartDate, said: str, written: str) -> None:
    assert dates.parse_part(typed) == known
    assert known.said() == said
    assert known.written() == written
    assert dates.parse_part(known.written()) == known
    assert dates.parse_part(known.said()) == known


def test_a_part_known_date_reaches_from_its_first_day_to_its_last() -> None:
    assert (PartDate(2011).first, PartDate(2011).last) == (date(2011, 1, 1), date(2011, 12, 31))
    assert (PartDate(2012, 2).first, PartDate(2012, 2).last) == (date(2012, 2, 1), date(2012, 2, 29))
    assert PartDate(2011, 5, 4).first == PartDate(2011, 5, 4).last == date(2011, 5, 4)


@pytest.mark.parametrize("typed", ["", "soon", "11", "2011-", "4/5/2011", "Mayday 2011", "Ma 2011", "about"])
def test_what_is_no_date_is_refused(typed: str) -> None:
    with pytest.raises(Refusal, match="is not a date"):
        dates.parse_part(typed)


@pytest.mark.parametrize("typed", ["2011-13", "2011-00", "2011-02-29", "31 June 2011", "0000", "2011-05-00"])
def test_a_day_no_calendar_has_is_refused(typed: str) -> None:
    with pytest.raises(Refusal, match="no calendar has"):
        dates.parse_part(typed)
