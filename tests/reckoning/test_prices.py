from typing import Any

import pytest

from ledger.errors import Refusal
from ledger.reckoning import prices

LADDER = [(1, 6500), (11, 7500), (19, 8500), (24, 9500)]

PLAIN: dict[str, Any] = {
    "rate_bp": 4000,
    "on": "print",
    "of": "with_tax",
    "tax_bp_if_registered": 0,
    "discount_by": "shared",
}


def test_the_price_follows_how_many_were_sold() -> None:
    at = [prices.step_price(LADDER, position) for position in (1, 10, 11, 18, 19, 23, 24, 25)]
    assert at == [6500, 6500, 7500, 7500, 8500, 8500, 9500, 9500]


def test_good_steps_pass() -> None:
    prices.check_steps(LADDER)


@pytest.mark.parametrize(
    ("steps", "field"),
    [
        ([], "prices"),
        ([(2, 6500)], "prices.0.from_sold"),
        ([(1, 6500), (1, 7500)], "prices.1.from_sold"),
        ([(1, 6500), (11, 7500), (10, 8500)], "prices.2.from_sold"),
        ([(1, 0)], "prices.0.price"),
        ([(1, 6500), (11, -1)], "prices.1.price"),
    ],
)
def test_steps_that_leave_a_print_without_one_price_are_refused(steps: list[tuple[int, int]], field: str) -> None:
    with pytest.raises(Refusal) as refused:
        prices.check_steps(steps)
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("discount_by", "maker_receives"), [("shared", 6480), ("maker", 6000), ("gallery", 7200), ("half", 6600)]
)
def test_a_discount_from_120_to_108_is_borne_as_agreed(discount_by: str, maker_receives: int) -> None:
    kept = prices.commission(12000, 10800, 0, **PLAIN | {"discount_by": discount_by})
    assert 10800 - kept == maker_receives


@pytest.mark.parametrize(
    ("discount_by", "maker_receives"), [("shared", 3480), ("maker", 3200), ("gallery", 3900), ("half", 3550)]
)
def test_told_65_and_sold_at_58_leaves_the_maker_what_was_agreed(discount_by: str, maker_receives: int) -> None:
    kept = prices.commission(6500, 5800, 0, **PLAIN | {"discount_by": discount_by})
    assert 5800 - kept == maker_receives


@pytest.mark.parametrize("discount_by", ["shared", "maker", "gallery", "half"])
def test_a_price_above_the_list_is_simply_shared(discount_by: str) -> None:
    assert prices.commission(6500, 7000, 0, **PLAIN | {"discount_by": discount_by}) == 2800


def test_a_gallery_that_gives_away_more_than_its_commission_keeps_nothing() -> None:
    assert prices.commission(10000, 5000, 0, **PLAIN | {"discount_by": "gallery"}) == 0
    assert prices.commission(10000, 5000, 0, **PLAIN | {"discount_by": "half"}) == 2000


def test_a_frame_priced_apart_bears_commission_only_where_agreed() -> None:
    assert prices.commission(6500, 6500, 3000, **PLAIN) == 2600
    assert prices.commission(6500, 6500, 3000, **PLAIN | {"on": "print_and_frame"}) == 3800


def test_a_registered_maker_may_agree_commission_on_the_price_without_tax() -> None:
    # 65.00 with 20 % inside, 45 %: 29.25 on the gross, 24.38 (24.375) on the net.
    registered = PLAIN | {"rate_bp": 4500, "tax_bp_if_registered": 2000}
    assert prices.commission(6500, 6500, 0, **registered) == 2925
    assert prices.commission(6500, 6500, 0, **registered | {"of": "without_tax"}) == 2438
    unregistered = PLAIN | {"rate_bp": 4500, "of": "without_tax"}
    assert prices.commission(6500, 6500, 0, **unregistered) == 2925


def test_a_registered_gallery_adds_tax_to_its_commission() -> None:
    # 45 % of 65.00 becomes 54 % for a maker who cannot reclaim it: 65.00 - 29.25 - 5.85 = 29.90.
    kept = prices.commission(6500, 6500, 0, **PLAIN | {"rate_bp": 4500})
    added = prices.commission_tax(kept, 2000)
    assert (kept, added, 6500 - kept - added) == (2925, 585, 2990)
    assert prices.commission_tax(kept, 0) == 0


def test_a_fee_belongs_to_the_payment_not_to_the_print() -> None:
    # Three prints at 65.00 on one card at 1.75 % cost 3.41, not three times 1.14.
    assert prices.fee(175, 0, 6500) == 114
    assert prices.fee(175, 0, 3 * 6500) == 341
    assert [prices.fee(200, 20, amount) for amount in (6500, 7500, 8500, 9500)] == [150, 170, 190, 210]
