"""A JPEG without anything but its picture (ITU-T T.81): the compressed pixels pass through as they are."""

import re

_APP0, _APP14, _SOS, _EOI = 0xE0, 0xEE, 0xDA, 0xD9
# B.1.1.2, B.1.1.5: within a scan FF is followed by 00 or by a restart marker, a marker may begin with several FF
_END_OF_SCAN = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")


def without_metadata(jpeg: bytes) -> bytes:
    """The same picture, less every comment and application segment but the two that say how colours are coded.

    So without place, device, name, preview or colour profile, and without whatever follows the picture.
    Raises ValueError for what is not one whole JPEG.
    """
    if jpeg[:2] != b"\xff\xd8":
        raise ValueError("this does not begin as a JPEG does")
    kept, at = [jpeg[:2]], 2
    while True:
        at = _marker_at(jpeg, at)
        marker = jpeg[at + 1]
        if marker == _EOI:
            return b"".join([*kept, jpeg[at : at + 2]])
        end = at + 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
        segment = jpeg[at:end]
        if marker == _SOS:
            found = _END_OF_SCAN.search(jpeg, end)
            if not found:
                raise ValueError("this JPEG breaks off")
            segment, end = jpeg[at : found.start()], found.start()
        if not (_APP0 <= marker <= 0xEF or marker == 0xFE) or _tells_colour(marker, segment):
            kept.append(segment)
        at = end


def _marker_at(jpeg: bytes, at: int) -> int:
    while jpeg[at : at + 2] == b"\xff\xff":  # B.1.1.2: fill bytes
        at += 1
    if len(jpeg) < at + 2 or jpeg[at] != 0xFF:
        raise ValueError("this JPEG breaks off")
    return at


def _tells_colour(marker: int, segment: bytes) -> bool:
    """Whether it is the JFIF head without a preview (ITU-T T.871, 10.1), or APP14 of Adobe (T.872, 6.5.3)."""
    if marker == _APP0:
        return segment[4:9] == b"JFIF\0" and len(segment) == 18
    return marker == _APP14 and segment[4:9] == b"Adobe" and len(segment) == 16
