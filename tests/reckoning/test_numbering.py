import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import Refusal
from ledger.reckoning import numbering
from ledger.reckoning.numbering import PlainForm


@pytest.mark.parametrize(
    ("n", "written"), [(1, "I"), (4, "IV"), (9, "IX"), (14, "XIV"), (40, "XL"), (99, "XCIX"), (1994, "MCMXCIV")]
)
def test_roman_numerals(n: int, written: str) -> None:
    assert numbering.roman(n) == written
    assert numbering.parse_roman(written.lower()) == n


@given(st.integers(1, 9999))
def test_every_roman_numeral_reads_back(n: int) -> None:
    assert numbering.parse_roman(numbering.roman(n)) == n


@pytest.mark.parametrize("text", ["", "IIII", "IC", "VX", "IXI", "A", "2"])
def test_what_is_not_a_roman_numeral_is_not_read_as_one(text: str) -> None:
    assert numbering.parse_roman(text) is None


@pytest.mark.parametrize("n", [0, -1, 10000])
def test_there_is_no_roman_numeral_for_it(n: int) -> None:
    with pytest.raises(ValueError):
        numbering.roman(n)


def test_a_number_is_shown_in_the_style_of_its_class() -> None:
    assert numbering.shown("of_count", 7, 25) == "7/25"
    assert numbering.shown("of_count", 1, 3, "AP") == "AP 1/3"
    assert numbering.shown("roman_of_count", 2, 3, "AP") == "AP II/III"
    assert numbering.shown("roman", 2, 3, "AP") == "AP II"
    assert numbering.shown("serial", 17, 0) == "No. 17"
    assert numbering.shown("unnumbered", 1, 1, "BAT") == "BAT"
    assert numbering.shown("unnumbered", 1, 0) == "unnumbered"


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("7", [7]),
        ("1-4, 14", [1, 2, 3, 4, 14]),
        ("23-", [23, 24, 25]),
        ("14, 1 – 3", [1, 2, 3, 14]),
        ("1 to 3 and 5", [1, 2, 3, 5]),
        ("1;2; 3", [1, 2, 3]),
        ("1,2,", [1, 2]),
        ("5-5", [5]),
    ],
)
def test_ranges_are_read_as_makers_write_them(text: str, numbers: list[int]) -> None:
    assert numbering.ranges(text, 25) == numbers


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("25a", "“25a” is not a whole number. Write 25."),
        ("1-12, x", "“x” is not a whole number. Write numbers, such as 1-12, 14."),
        ("-5", "“-5” has no first number. Write 1-5."),
        ("1.5", "“1.5” is not a whole number. Write 1."),
        ("", "Write numbers, such as 1-12, 14."),
        ("0", "There is no number 0. The first is 1."),
        ("26", "There is no number 26. The highest is 25."),
        ("20-30", "There is no number 30. The highest is 25."),
        ("12-1", "“12-1” runs backwards. Write 1-12."),
        ("1-12, 12", "12 is named twice. Name each number once."),
    ],
)
def test_a_range_that_cannot_be_meant_is_refused_with_what_to_write(text: str, sentence: str) -> None:
    with pytest.raises(Refusal) as refused:
        numbering.ranges(text, 25)
    assert refused.value.message == sentence


def test_numbers_are_said_in_a_sentence() -> None:
    assert numbering.said([*range(1, 13), 14]) == "1 to 12, 14"
    assert numbering.said([2, 1]) == "1, 2"
    assert numbering.said([25, 7, 7]) == "7, 25"
    assert numbering.said([]) == "none"


@given(st.sets(st.integers(1, 60), min_size=1))
def test_numbers_said_are_read_back_the_same(numbers: set[int]) -> None:
    assert numbering.ranges(numbering.said(numbers), 60) == sorted(numbers)


@pytest.mark.parametrize(
    ("n", "said"),
    [
        (0, "nought"),
        (7, "seven"),
        (13, "thirteen"),
        (20, "twenty"),
        (25, "twenty-five"),
        (100, "one hundred"),
        (101, "one hundred and one"),
        (250, "two hundred and fifty"),
        (1005, "one thousand and five"),
        (1206, "one thousand two hundred and six"),
        (9999, "nine thousand nine hundred and ninety-nine"),
    ],
)
def test_a_count_is_read_back_in_words(n: int, said: str) -> None:
    assert numbering.words(n) == said


def test_no_two_counts_read_the_same() -> None:
    assert len({numbering.words(n) for n in range(10_000)}) == 10_000
    assert all(re.fullmatch(r"[a-z -]+", numbering.words(n)) for n in range(10_000))


def test_a_count_above_9999_is_not_put_into_words() -> None:
    with pytest.raises(ValueError):
        numbering.words(10_000)


def test_ordinals() -> None:
    assert [numbering.ordinal(n) for n in (1, 2, 3, 4, 11, 12, 13, 21, 22, 101, 111)] == [
        "1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "22nd", "101st", "111th",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("7/25", PlainForm(None, 7, 25)),
        (" 7 / 25 ", PlainForm(None, 7, 25)),
        ("7 of 25", PlainForm(None, 7, 25)),
        ("no 7 of 25", PlainForm(None, 7, 25)),
        ("VII/XXV", PlainForm(None, 7, 25)),
        ("7", PlainForm(None, 7)),
        ("No. 17", PlainForm(None, 17)),
        ("#17", PlainForm(None, 17)),
        ("AP 2", PlainForm("AP", 2)),
        ("A/P 2", PlainForm("AP", 2)),
        ("A.P. 2/3", PlainForm("AP", 2, 3)),
        ("AP2", PlainForm("AP", 2)),
        ("ap ii", PlainForm("AP", 2)),
        ("AP II/III", PlainForm("AP", 2, 3)),
        ("A/P No. 2", PlainForm("AP", 2)),
        ("E.A. II/III", PlainForm("AP", 2, 3)),
        ("Épreuve d'artiste 2", PlainForm("AP", 2)),
        ("artist’s proof 1 of 3", PlainForm("AP", 1, 3)),
        ("H.C. I/III", PlainForm("HC", 1, 3)),
        ("PP 1/2", PlainForm("PP", 1, 2)),
        ("BAT", PlainForm("BAT")),
        ("B.A.T.", PlainForm("BAT")),
        ("bon à tirer", PlainForm("BAT")),
        ("AP", PlainForm("AP")),
    ],
)
def test_an_inscription_comes_to_the_same_however_it_is_written(text: str, plain: PlainForm) -> None:
    assert numbering.plain_form(text) == plain


@pytest.mark.parametrize(
    "text", ["", "Mix", "Civil", "Low water", "Apple 2", "Epic", "AP two", "7/25 Low water", "7/", "No. 0", "IIII/V"]
)
def test_other_words_are_left_to_the_search(text: str) -> None:
    assert numbering.plain_form(text) is None
