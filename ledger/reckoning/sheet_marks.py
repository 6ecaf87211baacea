"""Trim marks: short lines beside the corners of the pieces, in the gutters and margins, for cutting by eye."""

from collections.abc import Iterable, Sequence

from ledger.reckoning.sheet_layout import Job, Placed

LONGEST_UM = 3_000

Line = tuple[int, int, int, int]
"""x1, y1, x2, y2, from the sheet's left and top edge."""


def trim_marks(job: Job, placed: Sequence[Placed]) -> tuple[Line, ...]:
    """Up to eight lines a piece, each along one of its edges and outside every piece and its bleed.

    A mark is as long as there is room, 3 mm at most; where pieces touch there is none.
    """
    rects = [(p.x_um, p.y_um, p.x_um + p.width_um, p.y_um + p.height_um) for p in placed]
    turned = [(top, left, bottom, right) for left, top, right, bottom in rects]
    level = {(x, y, x2, y) for x, y, x2 in _along(rects, job, job.sheet.width_um)}
    upright = {(x, y, x, y2) for y, x, y2 in _along(turned, job, job.sheet.height_um)}
    return tuple(sorted(level | upright))


def _along(rects: Sequence[Line], job: Job, length: int) -> Iterable[tuple[int, int, int]]:
    """Level lines before and after each piece, as x, y and the x where they end, on a sheet so long."""
    bleed = job.bleed_um
    for start, near, end, far in rects:
        for at in (near, far):
            beside = [rect for rect in rects if rect[1] - bleed <= at <= rect[3] + bleed]
            before = max((rect[2] + bleed for rect in beside if rect[2] <= start), default=0)
            after = min((rect[0] - bleed for rect in beside if rect[0] >= end), default=length)
            if start - bleed > before:
                yield max(before, start - bleed - LONGEST_UM), at, start - bleed
            if end + bleed < after:
                yield end + bleed, at, min(after, end + bleed + LONGEST_UM)
