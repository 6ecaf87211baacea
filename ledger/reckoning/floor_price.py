"""The lowest price that leaves what is wanted, looked for in the sums of a real sale, roundings included.

Minor units and hundredths of a percent. One print sold alone is worked out with the functions that work out
every sale; no formula is turned round. P is its price without the tax in it, C all that making and selling it
costs: mark-up = (P - C) / C, margin = (P - C) / P.
"""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from ledger.errors import Refusal
from ledger.reckoning import prices, tax
from ledger.reckoning.money import half_up
from ledger.reckoning.prices import CommissionOf, CommissionOn

# No roundings together move what is left by more: tax, commission, tax on it and fee by four and a half.
_ROUNDINGS = 10
# Where less than this is left of each further penny of a price, no price that anybody pays is found.
_LEAST = Fraction(1, 100)


@dataclass(frozen=True)
class Terms:
    """What selling one print in one way takes.

    `tax_bp` is the rate that a registered maker's price includes, 0 for any other. The fee is of the payment:
    the price, or what the gallery passes on.
    """

    fee_bp: int = 0
    fee_minor: int = 0
    packing: int = 0
    postage: int = 0
    tax_bp: int = 0
    commission_bp: int = 0
    commission_on: CommissionOn = "print"
    commission_of: CommissionOf = "with_tax"
    commission_tax_bp: int = 0


@dataclass(frozen=True)
class Sold:
    """One print sold alone, `price` with its frame.

    `due` reaches the maker; `selling` has the tax on commission unless reclaimed.
    """

    price: int
    tax: int
    due: int
    selling: int
    making: Fraction

    @property
    def leaves(self) -> int:
        return half_up(self.price - self.tax - self.selling - self.making)

    @property
    def without_tax(self) -> int:
        """P."""
        return self.price - self.tax

    @property
    def cost(self) -> int:
        """C, so that P - C is what it leaves."""
        return self.without_tax - self.leaves

    @property
    def margin(self) -> Fraction | None:
        """None where there is no price."""
        return Fraction(self.leaves, self.without_tax) if self.without_tax else None

    @property
    def mark_up(self) -> Fraction | None:
        """None where it costs nothing."""
        return Fraction(self.leaves, self.cost) if self.cost else None


def sold(price: int, terms: Terms, making: Fraction, frame: int = 0) -> Sold:
    """One print at this price, and what is asked for its frame, worked out as a sale of it is."""
    kept = prices.commission(
        price,
        price,
        frame,
        rate_bp=terms.commission_bp,
        on=terms.commission_on,
        of=terms.commission_of,
        tax_bp_if_registered=terms.tax_bp,
        discount_by="shared",
    )
    kept_tax = prices.commission_tax(kept, terms.commission_tax_bp)
    gross = price + frame
    due = gross - kept - kept_tax
    fee = prices.fee(terms.fee_bp, terms.fee_minor, due)
    selling = kept + (0 if terms.tax_bp else kept_tax) + fee + terms.packing + terms.postage
    return Sold(gross, tax.included(gross, terms.tax_bp), due, selling, making)


def at_any_price(terms: Terms, making: Fraction) -> int:
    """What a print costs whatever its price: making, packing, postage, the fixed part of a fee."""
    return sold(0, terms, making).cost


def lowest_leaving(wanted: int, terms: Terms, making: Fraction) -> int:
    """The lowest price from which on one print never leaves less than `wanted`; 1 at least.

    Raises Refusal where no price does.
    """
    if wanted < 0:
        raise Refusal("What a print is to leave is nought or more.", field="leaves")
    found = _lowest(lambda price: Fraction(sold(price, terms, making).leaves - wanted), terms)
    if found is None:
        raise Refusal(
            "Hardly anything of a price is left after tax, commission and fees, however high it is.", field="leaves"
        )
    return found


def lowest_with_margin(margin_bp: int, terms: Terms, making: Fraction) -> int:
    """The lowest price from which on the margin is never less than `margin_bp`; 1 at least.

    Raises Refusal where no price has it.
    """
    if not 0 <= margin_bp < 10_000:
        raise Refusal("A margin is less than 100 %, for a print always costs something.", field="margin")
    margin = Fraction(margin_bp, 10_000)

    def over(price: int) -> Fraction:
        worked = sold(price, terms, making)
        return worked.leaves - margin * worked.without_tax

    found = _lowest(over, terms)
    if found is None:
        raise Refusal(
            "No price has this margin: after tax, commission and fees less of it is left than that.", field="margin"
        )
    return found


def _lowest(over: Callable[[int], Fraction], terms: Terms) -> int | None:
    """The lowest price from which on `over` is never below nothing; None where it hardly grows with the price.

    After a span that every rate divides the roundings come round again, so growth over it is exact, and from
    `high` on no rounding takes `over` below nothing. The first price that fails is looked for from there down,
    not up: a rounding may let a price pass and the next one fail. Raises Refusal where a gallery keeps it all.
    """
    span = 10_000**3 * (10_000 + terms.tax_bp)
    if sold(span, terms, Fraction(0)).due <= 0:
        raise Refusal(
            "The commission and any tax on it are all of the price or more. Agree on less.", field="commission"
        )
    at_nothing = over(0)
    growth = (over(span) - at_nothing) / span
    if growth < _LEAST:
        return None
    high = max(1, ceil((_ROUNDINGS - at_nothing) / growth))
    while high > 1 and over(high - 1) >= 0:
        high -= 1
    return high
