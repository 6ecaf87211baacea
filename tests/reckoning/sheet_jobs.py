"""Jobs for the layout of lab sheets, in whole millimetres."""

from ledger.reckoning.sheet_layout import Job, Sheet, Wanted

A1, A2, A3 = (594, 841), (420, 594), (297, 420)


def mm_job(
    sheet: tuple[int, int],
    *sizes: tuple[int, int],
    margin: int = 5,
    gutter: int = 4,
    quantities: tuple[int, ...] = (),
    may_turn: bool = True,
    bleed: int = 0,
    widest_cut: int | None = None,
    least_strip: int = 0,
) -> Job:
    wanted = tuple(
        Wanted(w * 1000, h * 1000, may_turn, quantities[place] if quantities else None)
        for place, (w, h) in enumerate(sizes)
    )
    return Job(
        Sheet(sheet[0] * 1000, sheet[1] * 1000, *[margin * 1000] * 4),
        wanted,
        gutter * 1000,
        bleed * 1000,
        None if widest_cut is None else widest_cut * 1000,
        least_strip * 1000,
    )
