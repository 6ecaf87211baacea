"""Board that is left over: which offcut serves a mount, and what a cut window gives back.

Common practice, no source.
"""

from collections.abc import Sequence

from ledger.reckoning.mount_parts import Size

SQUARED_OFF_UM = 2_000


def smallest_offcut(offcuts: Sequence[Size], mount: Size) -> int | None:
    """Which of the offcuts, by its place, is the smallest by area that holds the mount, turned if need be.

    Of equals the earlier; None where none serves.
    """
    serving = [
        (each.width_um * each.height_um, at)
        for at, each in enumerate(offcuts)
        if each.holds(mount) or each.turned.holds(mount)
    ]
    return min(serving)[1] if serving else None


def fall_out(window: Size) -> Size | None:
    """What the board cut out of a window gives once squared; None where nothing worth keeping is left."""
    usable = window.grown(-SQUARED_OFF_UM)
    return usable if min(usable.width_um, usable.height_um) > 0 else None
