"""Unsold prints at the year's end. Figures invented and computed; the rule from memory, own time common practice."""

from fractions import Fraction

from ledger.reckoning.floor_price import Terms, sold
from ledger.reckoning.stock_value import StockValue, Unsold, value


def test_seven_slow_prints_are_worth_what_a_clearance_brings_or_what_they_cost() -> None:
    # 21.64 each, 8.00 of it own time; cleared through a gallery at 30.00, it keeps 13.50, packing 1.10.
    brings = sold(3000, Terms(commission_bp=4500, packing=110), Fraction(0)).leaves
    assert brings == 1540
    seven = [Unsold(Fraction(2164), Fraction(1364), brings)] * 7
    judged = value(seven, with_own_labour=True)
    assert (judged.cost, judged.worth, judged.written_down) == (15148, 10780, 4368)
    assert value(seven, with_own_labour=False) == StockValue(cost=9548, worth=9548)


def test_each_print_is_valued_by_itself_and_a_good_one_makes_up_for_no_bad_one() -> None:
    good, bad = Unsold(Fraction(2000), Fraction(2000), 9000), Unsold(Fraction(2000), Fraction(2000), 500)
    assert value([good, bad], with_own_labour=True) == StockValue(cost=4000, worth=2500)


def test_a_print_that_would_cost_more_to_sell_than_it_brings_is_worth_nothing() -> None:
    assert value([Unsold(Fraction(2000), Fraction(1200), -300)], with_own_labour=True).worth == 0


def test_exact_costs_are_rounded_once_for_all_prints() -> None:
    prints = [Unsold(Fraction("2163.6"), Fraction("1363.6"), 9000)] * 25
    assert value(prints, with_own_labour=True) == StockValue(cost=54090, worth=54090)
    assert value([], with_own_labour=True) == StockValue(cost=0, worth=0)
