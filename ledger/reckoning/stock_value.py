"""Unsold prints at the year's end: the lower of cost and net realisable value, print by print.

Net realisable value is the price expected in ordinary trade less what is still to be spent to get it. Own time
is a cost where the maker judges an edition, and none in the accounts of somebody who trades alone: both values
are worked out (all this from memory, not checked against the law of any country). Minor units.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.reckoning.money import half_up


@dataclass(frozen=True)
class Unsold:
    """One print: what it cost with own labour and without it, exact, and its net realisable value."""

    cost: Fraction
    cost_without_own_labour: Fraction
    realisable: int


@dataclass(frozen=True)
class StockValue:
    """All of them: what they cost, what they are worth, and what is written down; cost = worth + written_down."""

    cost: int
    worth: int

    @property
    def written_down(self) -> int:
        return self.cost - self.worth


def value(prints: Sequence[Unsold], *, with_own_labour: bool) -> StockValue:
    """The prints valued one by one, so that a good one makes up for no bad one; their sum rounded once, half up.

    The total of several such values is that of the rounded figures, so that a column adds up to its foot. A print
    that would bring less than nothing is worth nothing.
    """
    costs = [each.cost if with_own_labour else each.cost_without_own_labour for each in prints]
    worth = sum(
        (min(cost, Fraction(max(0, each.realisable))) for cost, each in zip(costs, prints, strict=True)),
        start=Fraction(0),
    )
    return StockValue(half_up(sum(costs, start=Fraction(0))), half_up(worth))
