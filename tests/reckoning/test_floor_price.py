"""The price a print needs. All figures are invented and computed; the ratios are common practice, no source."""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.errors import Refusal
from ledger.reckoning import prices, tax
from ledger.reckoning.floor_price import Sold, Terms, at_any_price, lowest_leaving, lowest_with_margin, sold
from ledger.reckoning.margin import more_sales

LADDER = [(1, 6500), (11, 7500), (19, 8500), (24, 9500)]
MAKING = Fraction("2163.6")
FAIR = Terms(fee_bp=175, packing=60)
WEB = Terms(fee_bp=200, fee_minor=20, packing=290, postage=635)
GALLERY = Terms(packing=110, commission_bp=4500)
NOTHING = Terms()


def test_mark_up_and_margin_are_two_things() -> None:
    worked = sold(5000, NOTHING, Fraction(2000))
    assert (worked.without_tax, worked.cost) == (5000, 2000)
    assert (worked.mark_up, worked.margin) == (Fraction(150, 100), Fraction(60, 100))


def test_where_there_is_no_price_or_no_cost_there_is_no_ratio() -> None:
    assert sold(0, NOTHING, Fraction(2000)).margin is None
    assert sold(5000, NOTHING, Fraction(0)).mark_up is None


def test_a_price_for_a_margin_is_the_cost_over_what_the_margin_leaves() -> None:
    # P = C / (1 - margin): 20.00 at 60 % is 50.00; a mark-up of 60 % would be 32.00.
    assert lowest_with_margin(6000, NOTHING, Fraction(2000)) == 5000


def test_a_margin_of_50_after_a_commission_of_45_needs_twenty_times_the_cost() -> None:
    # P (1 - 0.45) - C = 0.5 P, so P = C / 0.05.
    terms = replace(NOTHING, commission_bp=4500)
    price = lowest_with_margin(5000, terms, Fraction(2000))
    assert price == 20 * at_any_price(terms, Fraction(2000)) == 40000
    assert sold(price, terms, Fraction(2000)).margin == Fraction(1, 2)


@pytest.mark.parametrize(
    ("tax_on_it", "received", "kept_in_all"), [(2000, 2990, Fraction(54, 100)), (0, 3575, Fraction(45, 100))]
)
def test_a_gallery_that_adds_tax_to_its_45_keeps_54(tax_on_it: int, received: int, kept_in_all: Fraction) -> None:
    worked = sold(6500, Terms(commission_bp=4500, commission_tax_bp=tax_on_it), Fraction(0))
    assert worked.due == worked.leaves == received
    assert 1 - Fraction(worked.leaves, 6500) == kept_in_all


def test_a_registered_maker_pays_the_tax_in_the_price_and_reclaims_that_on_commission() -> None:
    # 65.00 at 20 %: net 54.17 and 10.83 tax (HMRC VATREC12030, half up); commission 29.25 of the gross, 24.38 of
    # the net (24.375), 4.87 apart.
    gross = Terms(tax_bp=2000, commission_bp=4500, commission_tax_bp=2000)
    net = replace(gross, commission_of="without_tax")
    of_gross, of_net = sold(6500, gross, Fraction(0)), sold(6500, net, Fraction(0))
    assert (of_gross.without_tax, of_gross.tax) == (5417, 1083)
    assert (of_gross.selling, of_net.selling, of_gross.selling - of_net.selling) == (2925, 2438, 487)
    assert of_net.leaves - of_gross.leaves == 487
    assert of_net.margin == Fraction(5417 - 2438, 5417)


def test_the_floor_through_a_gallery_is_cost_and_wish_over_what_it_passes_on() -> None:
    # P = (C + wanted) / (1 - k): (22.736 + 15.00) / 0.55 = 68.61; with tax on it / (1 - 1.2 k): 37.736 / 0.46 = 82.03.
    assert lowest_leaving(1500, GALLERY, MAKING) == 6861
    assert lowest_leaving(1500, replace(GALLERY, commission_tax_bp=2000), MAKING) == 8203
    assert sold(6861, GALLERY, MAKING).leaves == 1500 and sold(6860, GALLERY, MAKING).leaves == 1499


def test_at_65_a_fair_leaves_41_62_and_five_prints_pay_for_the_stand() -> None:
    each = sold(6500, FAIR, MAKING).leaves
    assert each == 4162
    assert more_sales(12000 + 5400, each) == 5
    assert more_sales(17400, 0) is None and more_sales(17400, -5) is None


def test_each_way_leaves_at_65_what_the_worked_edition_says() -> None:
    assert sold(6500, WEB, Fraction(0)) == Sold(6500, 0, 6500, 150 + 290 + 635, Fraction(0))
    assert sold(6500, GALLERY, Fraction(0)).selling == 2925 + 110


def test_the_ladder_takes_240_more_than_a_flat_price() -> None:
    assert prices.sold_through(LADDER, 25) == 186500
    assert prices.sold_through([(1, 6500)], 25) == 162500
    assert prices.sold_through(LADDER, 10) == 65000 and prices.sold_through(LADDER, 0) == 0


terms = st.builds(
    Terms,
    fee_bp=st.integers(0, 600),
    fee_minor=st.integers(0, 50),
    packing=st.integers(0, 400),
    postage=st.integers(0, 900),
    tax_bp=st.sampled_from([0, 0, 500, 2000, 2550]),
    commission_bp=st.sampled_from([0, 3333, 4000, 4500, 5000]),
    commission_of=st.sampled_from(["with_tax", "without_tax"]),
    commission_tax_bp=st.sampled_from([0, 2000]),
)
making = st.fractions(0, 4000, max_denominator=25)


def is_the_lowest(price: int, enough: Callable[[int], bool]) -> bool:
    """Whether every price from this one on is enough, for as far as is looked, and the one before is not."""
    return all(enough(each) for each in range(price, price + 400)) and (price == 1 or not enough(price - 1))


@given(terms, making, st.integers(0, 5000))
@settings(max_examples=150, deadline=None)
def test_from_the_floor_on_no_price_leaves_less_than_is_wanted(terms: Terms, making: Fraction, wanted: int) -> None:
    found = lowest_leaving(wanted, terms, making)
    assert is_the_lowest(found, lambda price: sold(price, terms, making).leaves >= wanted)


@given(terms, making, st.integers(0, 2000))
@settings(max_examples=150, deadline=None)
def test_from_the_floor_on_no_price_has_less_than_the_margin(terms: Terms, making: Fraction, margin_bp: int) -> None:
    def enough(price: int) -> bool:
        worked = sold(price, terms, making)
        return 10_000 * worked.leaves >= margin_bp * worked.without_tax

    assert is_the_lowest(lowest_with_margin(margin_bp, terms, making), enough)


def test_a_price_that_only_a_rounding_lets_pass_is_not_the_floor() -> None:
    # Tax and commission are each rounded by itself: 40.16 leaves 15.40, 40.17 leaves 15.39, 40.18 leaves 15.40 again.
    terms = Terms(tax_bp=2000, commission_bp=4500)
    assert [sold(price, terms, Fraction(0)).leaves for price in (4015, 4016, 4017, 4018)] == [1539, 1540, 1539, 1540]
    assert lowest_leaving(1540, terms, Fraction(0)) == 4018


@pytest.mark.parametrize(("commission", "tax_on_it"), [(10_000, 0), (10_000, 2000), (8_334, 2000), (5_000, 10_000)])
def test_a_gallery_that_keeps_all_is_refused_at_any_price(commission: int, tax_on_it: int) -> None:
    terms = Terms(commission_bp=commission, commission_tax_bp=tax_on_it)
    for seek in (lambda: lowest_leaving(1500, terms, MAKING), lambda: lowest_with_margin(1000, terms, MAKING)):
        with pytest.raises(Refusal, match="all of the price or more") as refused:
            seek()
        assert refused.value.field == "commission"


@pytest.mark.parametrize(("margin_bp", "commission"), [(5500, 4500), (9000, 4500), (4600, 4500), (9999, 0)])
def test_a_margin_that_selling_does_not_leave_is_refused(margin_bp: int, commission: int) -> None:
    terms = Terms(commission_bp=commission, commission_tax_bp=2000)
    with pytest.raises(Refusal, match="No price has this margin") as refused:
        lowest_with_margin(margin_bp, terms, MAKING)
    assert refused.value.field == "margin"


def test_what_nobody_can_want_is_refused() -> None:
    with pytest.raises(Refusal, match="A margin is less than 100 %"):
        lowest_with_margin(10_000, NOTHING, MAKING)
    with pytest.raises(Refusal, match="nought or more"):
        lowest_leaving(-1, NOTHING, MAKING)
    with pytest.raises(Refusal, match="Hardly anything of a price is left"):
        lowest_leaving(1500, Terms(fee_bp=10_000), MAKING)


def test_what_a_registered_maker_takes_is_the_price_without_its_tax() -> None:
    terms = Terms(tax_bp=2000)
    floor = lowest_leaving(1500, terms, Fraction(2000))
    assert floor == 4200 and floor - tax.included(floor, 2000) == 3500
