"""What each piece on a sheet bears of its cost."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.reckoning.money import shares
from ledger.reckoning.sheet_layout import Job, Placed, area_with_gutter
from ledger.reckoning.sheet_one import best_plan, count


@dataclass(frozen=True)
class SizeShare:
    """The pieces of one size: what each bears (minor units, the larger first), and what it would cost alone.

    `alone` is exact: the sheet's cost over the most of that size that one sheet gives; None where it gives none.
    """

    wanted: int
    pieces: tuple[int, ...]
    alone: Fraction | None

    @property
    def above_alone(self) -> bool:
        """Whether a piece bears more than on a sheet of its own kind."""
        return self.alone is not None and any(share > self.alone for share in self.pieces)


def cost_shares(job: Job, placed: Sequence[Placed], cost_minor: int) -> tuple[SizeShare, ...]:
    """The sheet's cost over the pieces planned on it, by area with a gutter each way; waste goes along with that.

    The shares sum to the cost. Raises ValueError where no piece is placed.
    """
    in_order = sorted(each.wanted for each in placed)
    parts = shares(cost_minor, [area_with_gutter(job.wanted[place], job.gutter_um) for place in in_order])
    result = []
    for place in sorted(set(in_order)):
        pieces = tuple(part for size, part in zip(in_order, parts, strict=True) if size == place)
        most = count(best_plan(replace(job, wanted=(job.wanted[place],)))[0])
        result.append(SizeShare(place, pieces, Fraction(cost_minor, most) if most else None))
    return tuple(result)
