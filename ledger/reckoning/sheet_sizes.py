"""The sizes sheets and rolls are sold in."""

from dataclasses import dataclass

from ledger.errors import Refusal
from ledger.reckoning.lengths import INCH_UM
from ledger.reckoning.measures import millimetres as mm


@dataclass(frozen=True)
class NamedSheet:
    """A size of sheet as it is sold, upright."""

    name: str
    width_um: int
    height_um: int


SHEETS: tuple[NamedSheet, ...] = (
    *(NamedSheet(f"{w} × {h} in", w * INCH_UM, h * INCH_UM)  # common practice, no source
      for w, h in ((8, 10), (10, 12), (11, 14), (12, 16), (16, 20), (20, 24), (24, 36))),
    NamedSheet("A4", 210_000, 297_000),  # the A sizes: ISO 216
    NamedSheet("A3", 297_000, 420_000),
    NamedSheet("A2", 420_000, 594_000),
    NamedSheet("A1", 594_000, 841_000),
    NamedSheet("A3+", 329_000, 483_000),  # common practice, no source
    NamedSheet("SRA3", 320_000, 450_000),  # common practice, no source
)  # fmt: skip
ROLLS_UM: dict[str, int] = {"24 in roll": 24 * INCH_UM, "44 in roll": 44 * INCH_UM}
"""The widths of rolls; common practice, no source."""


def roll_cut(roll: str, length_um: int) -> NamedSheet:
    """A length off a roll. Raises Refusal for a roll that is not in ROLLS_UM or a length of nothing."""
    if roll not in ROLLS_UM:
        raise Refusal(f"“{roll}” is not a roll known here. Choose one of: {', '.join(ROLLS_UM)}.", field="sheet")
    if length_um <= 0:
        raise Refusal("The length cut off the roll is nothing. Write how long it is.", field="sheet")
    return NamedSheet(f"{roll}, {mm(length_um)} mm", ROLLS_UM[roll], length_um)
