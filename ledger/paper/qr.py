"""The square beside the code: a QR symbol, ISO/IEC 18004, level Q, upper-case letters and figures only."""

from collections.abc import Iterator
from functools import lru_cache
from itertools import groupby

import qrcode
from qrcode.exceptions import DataOverflowError
from qrcode.util import MODE_ALPHA_NUM, QRData

from ledger.errors import Refusal
from ledger.paper.sheet import INK, MM, Sheet

QUIET = 4
"""White modules kept clear on every side (ISO/IEC 18004)."""
SMALLEST_MODULE_MM = 0.5
ALPHANUMERIC = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")

Matrix = tuple[tuple[bool, ...], ...]


@lru_cache(maxsize=4096)
def matrix(text: str) -> Matrix:
    """The dark modules, row by row, without the quiet zone, in the mask that reads best.

    Raises Refusal for a text that is not in the 45 alphanumeric characters, or is too long.
    """
    if not text or not set(text) <= ALPHANUMERIC:
        raise Refusal("The address has a character the square cannot hold. Use letters, figures, . - and /.")
    symbol = qrcode.QRCode(error_correction=qrcode.constants.ERROR_CORRECT_Q, border=0)
    symbol.add_data(QRData(text, mode=MODE_ALPHA_NUM), optimize=0)
    try:
        symbol.make(fit=True)
    except (DataOverflowError, ValueError):
        raise Refusal("The address is too long for a square. Use a shorter one.") from None
    return tuple(tuple(bool(module) for module in row) for row in symbol.modules)


def side_mm(symbol: Matrix, module_mm: float = SMALLEST_MODULE_MM) -> float:
    """How wide the symbol is with its quiet zone."""
    return (len(symbol) + 2 * QUIET) * module_mm


def draw(sheet: Sheet, symbol: Matrix, x_mm: float, y_mm: float, module_mm: float = SMALLEST_MODULE_MM) -> None:
    """The symbol as one path; x, y is the top left corner of its quiet zone."""
    module = module_mm * MM
    canvas = sheet.canvas
    canvas.saveState()
    canvas.setFillColor(INK)
    canvas.translate(x_mm * MM + QUIET * module, -y_mm * MM - QUIET * module)
    canvas.scale(module, module)
    # In modules, so in whole numbers: ReportLab's own path would round and write a thousand fractions.
    canvas.addLiteral(" ".join([*(f"{left} {-down - 1} {wide} 1 re" for down, left, wide in _runs(symbol)), "f"]))
    canvas.restoreState()


def _runs(symbol: Matrix) -> Iterator[tuple[int, int, int]]:
    """Each unbroken stretch of dark modules: its row, where it begins and how long it is."""
    for down, row in enumerate(symbol):
        start = 0
        for dark, modules in groupby(row):
            length = len(list(modules))
            if dark:
                yield down, start, length
            start += length
