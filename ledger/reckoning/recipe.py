"""What finishing one print costs, line by line: minor units, whole minutes, hundredths of a percent.

Money and one's own time stand apart, for every sum of the book is shown with own labour and without it.
Packing is no line of a recipe: it is a cost of selling, and each way of selling has its own.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.errors import Refusal
from ledger.reckoning.money import half_up, shares

_MOST = 10**14  # minor units; all amounts that can be typed are less


@dataclass(frozen=True)
class Line:
    """What serves `prints` prints: `amount` spent, or `minutes` of own time at `amount` an hour.

    `spoilage_bp` is the part of all that is begun and does not come out good.
    """

    name: str
    amount: int
    prints: int = 1
    minutes: int | None = None
    spoilage_bp: int = 0

    @property
    def own_labour(self) -> bool:
        return self.minutes is not None

    @property
    def a_print(self) -> Fraction:
        """Its part of one good print, exact: cost / (1 - s) (common practice, no source)."""
        spent = Fraction(self.amount) if self.minutes is None else Fraction(self.amount * self.minutes, 60)
        return spent / self.prints / Fraction(10_000 - self.spoilage_bp, 10_000)


@dataclass(frozen=True)
class Charge:
    """What one print is charged, in whole minor units."""

    materials: int
    own_time: int


def check_lines(lines: Sequence[Line]) -> None:
    """Refuse lines that cost nothing, serve no print or leave none good.

    Raises Refusal, its field the line at fault ("lines.1.spoilage_bp").
    """
    if not lines:
        raise Refusal("Write at least one line.", field="lines.0.name")
    for at, line in enumerate(lines):
        field = f"lines.{at}"
        if line.prints < 1:
            raise Refusal("Say for how many prints it is enough: 1 or more.", field=f"{field}.prints")
        if line.minutes is not None and line.minutes < 1:
            raise Refusal("Own time is a minute or more. Write it, or leave it out.", field=f"{field}.minutes")
        if line.amount <= 0:
            what = "An hour of your own time" if line.own_labour else "A line"
            raise Refusal(f"{what} costs more than nothing. Write the sum, or leave it out.", field=f"{field}.amount")
        if not 0 <= line.spoilage_bp < 10_000:
            raise Refusal(
                "Where all of it is spoilt, no print is ever finished. Write less than 100 %.",
                field=f"{field}.spoilage_bp",
            )
        if line.a_print > _MOST:
            raise Refusal("That is more than a print can cost. Look at the figures again.", field=f"{field}.amount")


def a_print(lines: Iterable[Line], *, with_own_labour: bool) -> Fraction:
    """What one good print costs, exact."""
    return sum((line.a_print for line in lines if with_own_labour or not line.own_labour), start=Fraction(0))


def charges(lines: Sequence[Line], count: int) -> list[Charge]:
    """What each of `count` prints finished together is charged.

    Materials and own time are each rounded once for all of them, half up, and shared so that no penny is lost.
    """
    materials, own_time = (shares(total, [1] * count) for total in _totals(lines, count))
    return [Charge(*both) for both in zip(materials, own_time, strict=True)]


def by_line(lines: Sequence[Line], count: int) -> list[int]:
    """What each line comes to for `count` prints; together they are what those are charged."""
    materials, own_time = _totals(lines, count)
    parts = [0] * len(lines)
    for total, own_labour in ((materials, False), (own_time, True)):
        places = [at for at, line in enumerate(lines) if line.own_labour == own_labour]
        shared = shares(total, [lines[at].a_print for at in places]) if places else []
        for at, part in zip(places, shared, strict=True):
            parts[at] = part
    return parts


def _totals(lines: Sequence[Line], count: int) -> tuple[int, int]:
    materials = a_print(lines, with_own_labour=False)
    own_time = a_print(lines, with_own_labour=True) - materials
    return half_up(materials * count), half_up(own_time * count)
