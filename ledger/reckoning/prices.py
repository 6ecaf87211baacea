"""What a print is offered at, and what a gallery or a card firm keeps.

Amounts are minor units, rates hundredths of a percent.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from ledger.errors import Refusal
from ledger.reckoning.money import half_up

CommissionOn = Literal["print", "print_and_frame"]
CommissionOf = Literal["with_tax", "without_tax"]
DiscountBy = Literal["shared", "maker", "gallery", "half"]


def check_steps(steps: Sequence[tuple[int, int]]) -> None:
    """Refuse price steps (from_sold, price_minor) that leave a position without a price, or with two.

    Raises Refusal, its field the step at fault ("prices.1.from_sold").
    """
    if not steps:
        raise Refusal("Write at least one price.", field="prices")
    if steps[0][0] != 1:
        raise Refusal(
            f"The first price starts at {steps[0][0]}. Start it at 1, the first print sold.", field="prices.0.from_sold"
        )
    last = 0
    for place, (from_sold, price) in enumerate(steps):
        if from_sold <= last:
            raise Refusal(
                f"A step from {from_sold} comes after one from {last}. Put the steps in order.",
                field=f"prices.{place}.from_sold",
            )
        if price <= 0:
            raise Refusal("A price is more than nothing. Write what is asked.", field=f"prices.{place}.price")
        last = from_sold


def step_price(steps: Sequence[tuple[int, int]], position: int) -> int:
    """The price of the print sold at `position` (1 is the first), by steps that `check_steps` let through."""
    if position < 1:
        raise ValueError("positions start at 1")
    return [price for from_sold, price in steps if from_sold <= position][-1]


def sold_through(steps: Sequence[tuple[int, int]], count: int) -> int:
    """What all of `count` prints take by these steps, each at the price of its position."""
    return sum(step_price(steps, position) for position in range(1, count + 1))


def commission(
    list_minor: int,
    price_minor: int,
    frame_minor: int,
    *,
    rate_bp: int,
    on: CommissionOn,
    of: CommissionOf,
    tax_bp_if_registered: int,
    discount_by: DiscountBy,
) -> int:
    """What the gallery keeps of one sale, before tax on it; exact until one rounding, half up.

    The base is the print, or print and frame, `without_tax` only where the maker is registered (the rate is 0
    otherwise). A discount is what the list price lies above the price obtained. It is borne by the maker (the
    gallery keeps its rate of the list), by the gallery (the same less the discount, never below nothing),
    half and half (the mean of those two), or shared by taking the rate of the price obtained, as is also done
    where nothing was taken off.
    """
    rate = Fraction(rate_bp, 10_000)
    untaxed = Fraction(10_000, 10_000 + (tax_bp_if_registered if of == "without_tax" else 0))
    frame = frame_minor if on == "print_and_frame" else 0
    obtained, listed = (untaxed * (price + frame) for price in (price_minor, list_minor))
    if discount_by == "shared" or price_minor >= list_minor:
        return half_up(rate * obtained)
    by_maker = rate * listed
    by_gallery = max(Fraction(0), by_maker - (listed - obtained))
    borne = {"maker": by_maker, "gallery": by_gallery, "half": (by_maker + by_gallery) / 2}
    return half_up(borne[discount_by])


def commission_tax(commission: int, rate_bp: int) -> int:
    """The tax a registered gallery adds to its commission, half up."""
    return half_up(Fraction(commission * rate_bp, 10_000))


def fee(rate_bp: int, fixed_minor: int, amount: int) -> int:
    """What a card firm or a site keeps of one payment: its rate of it, half up, and a fixed sum."""
    return half_up(Fraction(amount * rate_bp, 10_000)) + fixed_minor
