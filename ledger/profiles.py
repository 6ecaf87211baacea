"""The colour profiles a sheet may need and a picture may lack, as files: the same bytes every time."""

import struct
from functools import cache

from PIL import ImageCms


@cache
def srgb_file() -> bytes:
    """sRGB, as littleCMS makes it."""
    made = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    return made[:24] + struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + made[36:]  # else the moment of making is in it


@cache
def grey_file() -> bytes:
    """The greys of sRGB in one channel (ICC.1:2001-04, 6.3.2.1; its curve from IEC 61966-2-1)."""
    steps = [step / 1023 for step in range(1024)]
    light = [step / 12.92 if step <= 0.04045 else ((step + 0.055) / 1.055) ** 2.4 for step in steps]
    name = b"Grey with the curve of sRGB"
    tags = {
        b"desc": b"desc\0\0\0\0" + struct.pack(">L", len(name) + 1) + name + bytes(1 + 4 + 4 + 2 + 1 + 67),
        b"cprt": b"text\0\0\0\0none\0",
        b"wtpt": b"XYZ \0\0\0\0" + struct.pack(">3l", 63_190, 65_536, 54_061),  # D50
        b"kTRC": b"curv\0\0\0\0" + struct.pack(">L1024H", 1024, *(round(value * 65_535) for value in light)),
    }
    table, body = struct.pack(">L", len(tags)), b""
    for tag, data in tags.items():
        table += tag + struct.pack(">2L", 128 + 4 + 12 * len(tags) + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    size = 128 + len(table) + len(body)
    head = struct.pack(">L4xL4s4s4s6H4s", size, 0x02400000, b"mntr", b"GRAY", b"XYZ ", 2026, 1, 1, 0, 0, 0, b"acsp")
    head += bytes(68 - len(head)) + struct.pack(">3l", 63_190, 65_536, 54_061)
    return head.ljust(128, b"\0") + table + body
