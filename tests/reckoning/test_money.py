from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import Refusal
from ledger.reckoning import money

# ISO 4217 list one: letters, three-figure code, minor units.
ISO_4217 = [
    ("GBP", "826", 2),
    ("EUR", "978", 2),
    ("USD", "840", 2),
    ("CHF", "756", 2),
    ("SEK", "752", 2),
    ("HUF", "348", 2),
    ("AUD", "036", 2),
    ("JPY", "392", 0),
    ("KRW", "410", 0),
    ("ISK", "352", 0),
    ("CLP", "152", 0),
    ("KWD", "414", 3),
    ("BHD", "048", 3),
    ("TND", "788", 3),
]


@pytest.mark.parametrize(("code", "number", "digits"), ISO_4217)
def test_a_currency_has_the_number_and_the_decimals_iso_4217_gives_it(code: str, number: str, digits: int) -> None:
    assert money.currency(code) == money.Currency(code, number, digits)


def test_no_two_currencies_share_a_number() -> None:
    numbers = [currency.number for currency in money.CURRENCIES.values()]
    assert len(set(numbers)) == len(numbers)
    assert all(len(number) == 3 and number.isdigit() for number in numbers)


def test_letters_that_name_no_currency_are_refused() -> None:
    with pytest.raises(Refusal, match="“GPB” is not a currency"):
        money.currency("GPB")


@pytest.mark.parametrize(
    ("typed", "currency", "minor"),
    [
        ("65", "GBP", 6500),
        ("65.00", "GBP", 6500),
        ("65.5", "GBP", 6550),
        (" £ 65.50 ", "GBP", 6550),
        ("€65", "EUR", 6500),
        ("GBP 65", "GBP", 6500),
        ("chf 65", "CHF", 6500),
        ("1865.00", "GBP", 186500),
        ("0", "GBP", 0),
        ("0065", "GBP", 6500),
        ("1500", "JPY", 1500),
        ("1.234", "KWD", 1234),
    ],
)
def test_an_amount_is_read_as_it_is_usually_typed(typed: str, currency: str, minor: int) -> None:
    assert money.parse(typed, currency) == minor


@pytest.mark.parametrize(
    ("typed", "currency", "sentence"),
    [
        ("65.005", "GBP", "“65.005” has more decimals than GBP has: write 65.00 or 65.01."),
        ("65.000", "GBP", "“65.000” has more decimals than GBP has: write 65.00."),
        ("1.5", "JPY", "“1.5” has more decimals than JPY has: write 1 or 2."),
        ("6,5", "GBP", "“6,5” has a comma: write 6.50."),
        ("1,234", "GBP", "“1,234” has a comma: write 1234."),
        ("1,234.50", "GBP", "“1,234.50” has a comma: write 1234.50."),
        ("-5", "GBP", "“-5” is below nothing: write 5.00."),
        ("−5", "GBP", "“−5” is below nothing: write 5.00."),
        ("", "GBP", "Write an amount, such as 65.00."),
        ("  ", "JPY", "Write an amount, such as 65."),
        ("sixty", "GBP", "“sixty” is not an amount in GBP: write one such as 65.00."),
        ("$65", "GBP", "“$65” is not an amount in GBP: write one such as 65.00."),
        ("65.", "GBP", "“65.” is not an amount in GBP: write one such as 65.00."),
        ("6e3", "GBP", "“6e3” is not an amount in GBP: write one such as 65.00."),
        ("٦٥", "GBP", "“٦٥” is not an amount in GBP: write one such as 65.00."),
        ("1234567890123", "GBP", "“1234567890123” has more than 12 figures before the point. Look at it again."),
    ],
)
def test_anything_else_is_refused_with_what_to_write_instead(typed: str, currency: str, sentence: str) -> None:
    with pytest.raises(Refusal) as refused:
        money.parse(typed, currency)
    assert refused.value.message == sentence


@pytest.mark.parametrize("typed", ["-5", "−5", "-£5", "£-5.00"])
def test_money_given_back_may_be_below_nothing_where_that_is_asked_for(typed: str) -> None:
    assert money.parse(typed, "GBP", allow_negative=True) == -500


def test_amounts_are_shown_with_their_mark_and_commas_and_a_true_minus() -> None:
    assert money.shown(6500, "GBP") == "£65.00"
    assert money.shown(-104090, "GBP") == "−£1,040.90"
    assert money.shown(6500, "CHF") == "CHF 65.00"
    assert money.shown(1500, "JPY") == "¥1,500"
    assert money.bare(186500, "GBP") == "1,865.00"
    assert money.bare(-54090, "GBP") == "−540.90"
    assert money.bare(5, "KWD") == "0.005"
    assert money.plain(186500, "GBP") == "1865.00"
    assert money.plain(-5, "GBP") == "-0.05"


@given(st.integers(-(10**12) + 1, 10**12 - 1), st.sampled_from(sorted(money.CURRENCIES)))
def test_what_is_written_plainly_is_read_back_the_same(minor: int, currency: str) -> None:
    assert money.parse(money.plain(minor, currency), currency, allow_negative=True) == minor


def test_half_a_penny_goes_away_from_nothing() -> None:
    # Below 0.5p down, 0.5p and above up: HMRC manual VATREC12030.
    assert [money.half_up(Fraction(n, 100)) for n in (249, 250, 251)] == [2, 3, 3]
    assert money.half_up(Fraction(-5, 2)) == -3


@given(
    st.integers(-(10**9), 10**9),
    st.lists(st.fractions(min_value=0, max_value=10**6, max_denominator=997), min_size=1, max_size=20),
)
def test_shares_add_up_to_the_penny_and_none_is_a_penny_out(total: int, weights: list[Fraction]) -> None:
    whole = sum(weights)
    if not whole:
        with pytest.raises(ValueError, match="nothing to share over"):
            money.shares(total, weights)
        return
    parts = money.shares(total, weights)
    assert sum(parts) == total
    assert all(abs(part - total * weight / whole) < 1 for part, weight in zip(parts, weights, strict=True))
    assert all(part == 0 for part, weight in zip(parts, weights, strict=True) if weight == 0)


def test_the_odd_penny_goes_to_the_largest_remainder_and_then_to_the_earlier() -> None:
    assert money.shares(100, [1, 1, 1]) == [34, 33, 33]
    assert money.shares(101, [1, 1, 1]) == [34, 34, 33]
    assert money.shares(10, [1, 2, 6]) == [1, 2, 7]
    assert money.shares(-100, [1, 1, 1]) == [-34, -33, -33]


@pytest.mark.parametrize("weights", [[], [0, 0], [2, -1]])
def test_there_is_no_sharing_over_nothing(weights: list[int]) -> None:
    with pytest.raises(ValueError):
        money.shares(100, weights)
