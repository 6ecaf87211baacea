"""A TIFF with its pixels, its resolution and one colour profile, and no tag besides.

Written here because Pillow knows no colours of 16 bits a channel.
"""

import struct
from itertools import accumulate
from typing import BinaryIO

from PIL import Image

ROWS_A_STRIP = 256


def write(file: BinaryIO, planes: list[Image.Image], ppi: int, profile: bytes) -> None:
    """TIFF 6.0, section 6, uncompressed, and the profile in tag 34675 (ICC.1:2022, B.4): nothing besides."""
    width, height = planes[0].size
    depth = len(planes) // 3 + 1
    tops = range(0, height, ROWS_A_STRIP)
    lengths = [3 * depth * width * min(ROWS_A_STRIP, height - top) for top in tops]

    def head(first: int) -> bytes:
        return _tiff_head([
            (256, "L", [width]), (257, "L", [height]), (258, "H", [8 * depth] * 3), (259, "H", [1]), (262, "H", [2]),
            (273, "L", list(accumulate(lengths[:-1], initial=first))), (277, "H", [3]), (278, "L", [ROWS_A_STRIP]),
            (279, "L", lengths), (282, "LL", [ppi, 1]), (283, "LL", [ppi, 1]), (284, "H", [1]), (296, "H", [2]),
            (34675, "B", list(profile)),
        ])  # fmt: skip

    file.write(head(len(head(0))))
    for top in tops:
        strips = [plane.crop((0, top, width, min(height, top + ROWS_A_STRIP))) for plane in planes]
        file.write(_interleaved(strips) if depth == 2 else strips[0].tobytes())


def _tiff_head(fields: list[tuple[int, str, list[int]]]) -> bytes:
    """The header and one directory of fields: tag, form ('LL' is a fraction) and numbers."""
    types = {"H": 3, "L": 4, "LL": 5, "B": 7}
    table, beyond = b"", b""
    offset = 8 + 2 + 12 * len(fields) + 4
    for tag, form, numbers in fields:
        data = struct.pack(f"<{len(numbers)}{form[0]}", *numbers)
        if len(data) > 4:
            data, beyond = struct.pack("<L", offset + len(beyond)), beyond + data + bytes(len(data) % 2)
        table += struct.pack("<HHL", tag, types[form], len(numbers) // len(form)) + data.ljust(4, b"\0")
    return b"II*\0" + struct.pack("<LH", 8, len(fields)) + table + bytes(4) + beyond


def _interleaved(planes: list[Image.Image]) -> bytes:
    """The pixels of three planes one after another, two bytes a channel, the lower first."""
    together = bytearray(6 * planes[0].width * planes[0].height)
    for n, plane in enumerate(planes):
        data = plane.tobytes()
        together[2 * n :: 6] = data[::2]
        together[2 * n + 1 :: 6] = data[1::2]
    return bytes(together)
