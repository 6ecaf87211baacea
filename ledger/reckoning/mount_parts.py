"""What mounts are made of: sizes, edges, and ways of placing a window.

Lengths are whole micrometres, shares exact fractions. The formulas are common practice, no source; the diagonal
construction is derived here.
"""

import re
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.errors import Refusal
from ledger.reckoning.lengths import Unit, rounded, size_said, step_below


@dataclass(frozen=True)
class Size:
    """Width and height as it hangs."""

    width_um: int
    height_um: int

    def grown(self, um: int) -> "Size":
        """So much more in both directions."""
        return Size(self.width_um + um, self.height_um + um)

    def holds(self, inner: "Size") -> bool:
        """Whether `inner` fits as it lies, not turned."""
        return self.width_um >= inner.width_um and self.height_um >= inner.height_um

    def on_the_rule(self, unit: Unit) -> "Size":
        """The largest size within this one that a rule can be read to."""
        return Size(step_below(self.width_um, unit), step_below(self.height_um, unit))

    @property
    def turned(self) -> "Size":
        return Size(self.height_um, self.width_um)

    def said(self, unit: Unit) -> str:
        return size_said(self.width_um, self.height_um, unit)


@dataclass(frozen=True, kw_only=True)
class Edges:
    """One length at each edge, seen from the front."""

    top_um: int
    right_um: int
    bottom_um: int
    left_um: int

    @classmethod
    def all(cls, um: int) -> "Edges":
        return cls(top_um=um, right_um=um, bottom_um=um, left_um=um)

    def less(self, um: int) -> "Edges":
        return Edges(
            top_um=self.top_um - um,
            right_um=self.right_um - um,
            bottom_um=self.bottom_um - um,
            left_um=self.left_um - um,
        )

    @property
    def mirrored(self) -> "Edges":
        """The same edges with the board turned over, top still at the top."""
        return replace(self, left_um=self.right_um, right_um=self.left_um)

    def named(self) -> tuple[tuple[str, int], ...]:
        return (("top", self.top_um), ("right", self.right_um), ("bottom", self.bottom_um), ("left", self.left_um))


@dataclass(frozen=True)
class Weighted:
    """The bottom border wider than the top by this share, in hundredths of a per cent; 0 is equal."""

    by_bp: int = 0

    def top_share(self, outer: Size, inner: Size) -> Fraction:
        return 1 / (2 + Fraction(self.by_bp, 10_000))


@dataclass(frozen=True)
class Ratio:
    """Bottom to top, as in 3:1."""

    bottom: Fraction
    top: Fraction = Fraction(1)

    def top_share(self, outer: Size, inner: Size) -> Fraction:
        return self.top / (self.bottom + self.top)


def parse_ratio(text: str, field: str = "placing") -> Ratio:
    """Bottom to top as typed: '3:1', '1.5 : 1', or the first figure alone. Raises Refusal."""
    found = re.fullmatch(r"\s*([0-9]+(?:\.[0-9]+)?)\s*(?::\s*([0-9]+(?:\.[0-9]+)?)\s*)?", text)
    if found is None or not Fraction(found[1]) or not Fraction(found[2] or 1):
        raise Refusal(f"“{text}” is not a ratio. Write bottom to top, such as 3:1.", field=field)
    return Ratio(Fraction(found[1]), Fraction(found[2] or 1))


@dataclass(frozen=True)
class Diagonal:
    """By construction: the window, laid into the top left corner, gives a line from its lower left corner to the
    middle of the gap on the right-hand edge; where that line meets half the side gap the lower right corner sits.
    """

    def top_share(self, outer: Size, inner: Size) -> Fraction:
        return Fraction(outer.width_um + inner.width_um, 4 * outer.width_um)


Placing = Weighted | Ratio | Diagonal
EQUAL = Weighted()


def placed(outer: Size, inner: Size, left_share: Fraction, top_share: Fraction, unit: Unit) -> Edges:
    """The borders: left and top are rounded to the plan's step, right and bottom take the rest."""
    across, down = outer.width_um - inner.width_um, outer.height_um - inner.height_um
    left = min(across, rounded(across * left_share, unit))
    top = min(down, rounded(down * top_share, unit))
    return Edges(top_um=top, right_um=across - left, bottom_um=down - top, left_um=left)


def check_lengths(lengths: dict[str, int], what: str, field: str) -> None:
    """Raises Refusal for a side under 1 mm or over 10 m."""
    for name, um in lengths.items():
        if not 1_000 <= um <= 10_000_000:
            raise Refusal(f"{what} measures between 1 mm and 10 m. Measure it again.", field=f"{field}.{name}")


def check_size(size: Size, what: str, field: str) -> None:
    """Raises Refusal as `check_lengths` does."""
    check_lengths({"width_um": size.width_um, "height_um": size.height_um}, what, field)
