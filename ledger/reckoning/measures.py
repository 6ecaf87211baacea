"""Lengths in words, from whole micrometres."""


def millimetres(um: int) -> str:
    """'127' or '101.6', as a page says it and a form holds it."""
    return f"{um // 1000}.{um % 1000:03}".rstrip("0").rstrip(".")


def by_measure(width_um: int, height_um: int) -> str:
    """'127 × 127 mm'."""
    return f"{millimetres(width_um)} × {millimetres(height_um)} mm"
