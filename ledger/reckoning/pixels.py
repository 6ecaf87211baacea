"""Whether a picture has pixels enough for a size."""

from dataclasses import dataclass
from typing import Literal

from ledger.reckoning.lengths import INCH_UM

GOOD_PPI = 300  # this and the next: common practice, no source
LOWEST_PPI = 180


@dataclass(frozen=True)
class PrintQuality:
    """Pixels an inch at a size, the word for it, and the sentence the page shows."""

    ppi: int
    word: Literal["good", "low", "too low"]
    sentence: str


def ppi(width_px: int, width_um: int) -> int:
    """Pixels an inch where so many lie over so many micrometres; rounded down: 299.9 is not called 300."""
    return width_px * INCH_UM // width_um


def print_quality(width_px: int, height_px: int, image_w_um: int, image_h_um: int) -> PrintQuality:
    """Good from 300 pixels an inch, too low under 180, low between; the direction with fewer decides."""
    fewest = min(ppi(width_px, image_w_um), ppi(height_px, image_h_um))
    if fewest >= GOOD_PPI:
        return PrintQuality(fewest, "good", f"{fewest} pixels an inch at this size: sharp.")
    if fewest >= LOWEST_PPI:
        return PrintQuality(
            fewest, "low", f"{fewest} pixels an inch at this size: soft when seen close. {GOOD_PPI} is usual."
        )
    return PrintQuality(
        fewest,
        "too low",
        f"{fewest} pixels an inch at this size is too few: add a larger picture, or choose a smaller size.",
    )
