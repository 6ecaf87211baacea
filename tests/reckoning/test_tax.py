import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.reckoning import tax


@pytest.mark.parametrize(
    ("gross", "inside"),
    # The VAT fraction at 20 % is 1/6 (HMRC Notice 700); the figures are that fraction, half up.
    [(10000, 1667), (15000, 2500), (18500, 3083), (24999, 4167), (25000, 4167), (6500, 1083)],
)
def test_the_tax_inside_a_price_at_20_percent_is_a_sixth_of_it(gross: int, inside: int) -> None:
    assert tax.included(gross, 2000) == inside


def test_nothing_is_inside_a_price_where_nothing_is_charged() -> None:
    assert tax.included(6500, 0) == 0


def test_by_line_and_by_invoice_may_differ_by_a_penny() -> None:
    # HMRC manual VATREC12010 lets a trader round by line or by invoice, consistently. Nets of 12.49, 7.33 and
    # 3.99 at 20 % bear 2.50 + 1.47 + 0.80 = 4.77 by line and 4.76 by invoice; these are the same with tax in.
    grosses = [1499, 880, 479]
    assert tax.split_by_line(grosses, 2000) == [250, 147, 80]
    assert tax.split_by_invoice(grosses, 2000) == [250, 146, 80]


@given(st.lists(st.integers(0, 10**7), max_size=12), st.integers(0, 3000))
def test_an_invoice_split_over_its_lines_adds_up_to_the_invoice(grosses: list[int], rate_bp: int) -> None:
    assert sum(tax.split_by_invoice(grosses, rate_bp)) == tax.included(sum(grosses), rate_bp)
