"""Tax that a price includes. Rates are in hundredths of a percent (2000 is 20 %), amounts in minor units."""

from collections.abc import Sequence
from fractions import Fraction

from ledger.reckoning.money import half_up, shares


def included(gross: int, rate_bp: int) -> int:
    """The tax inside a price: gross x t / (1 + t), half up (HMRC manual VATREC12030; 1/6 of it at 20 %)."""
    return half_up(Fraction(gross * rate_bp, 10_000 + rate_bp))


def split_by_line(grosses: Sequence[int], rate_bp: int) -> list[int]:
    """The tax inside each line, each rounded by itself."""
    return [included(gross, rate_bp) for gross in grosses]


def split_by_invoice(grosses: Sequence[int], rate_bp: int) -> list[int]:
    """The tax inside the sum, rounded once, then shared over the lines so that they add up to it."""
    total = sum(grosses)
    return shares(included(total, rate_bp), grosses) if total else [0] * len(grosses)
