"""Pictures of 16 bits a channel as planes of mode I;16: Pillow itself knows colours of 8 bits only."""

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from PIL import ExifTags, Image, ImageFile, TiffImagePlugin

from ledger.picture_reading import TURNS, bits_of, opened, turning_of

ROWS = 256
_NATIVE_OTHER = "RGB;16B" if sys.byteorder == "little" else "RGB;16L"
_OTHER_END = {"RGB;16L": "RGB;16B", "RGB;16B": "RGB;16L", "RGB;16N": _NATIVE_OTHER}


def is_deep(image: ImageFile.ImageFile, master: Path) -> bool:
    """Whether an opened picture, not loaded yet, is plain grey or RGB of 16 bits and nothing see-through."""
    if bits_of(image, master) != 16 or "transparency" in image.info:
        return False
    grey = image.mode.startswith("I;16")
    if isinstance(image, TiffImagePlugin.TiffImageFile):
        # TIFF 6.0: in grey black is 0, and the channels of a pixel stand together
        black_is_0 = image.tag_v2.get(ExifTags.Base.PhotometricInterpretation) == 1
        if (grey and not black_is_0) or image.tag_v2.get(ExifTags.Base.PlanarConfiguration, 1) != 1:
            return False
    return grey or (bool(image.tile) and all(_raw_mode(tile.args) in _OTHER_END for tile in image.tile))


def deep_planes(master: Path, kind: str) -> Iterator[Image.Image]:
    """Red, green and blue of a deep picture one after another, upright; for a grey one the same plane thrice."""
    with opened(master, kind) as image:
        turning = turning_of(image)
        grey = image.mode.startswith("I;16")
        if grey:
            image.load()
    if grey:
        planes = iter([image.convert("I").convert("I;16")] * 3)
    else:
        high, low = _bytes(master, kind), _bytes(master, kind, lower=True)
        planes = (joined(low.pop(0), high.pop(0)) for _ in range(3))
    for plane in planes:
        yield plane.transpose(TURNS[turning]) if turning in TURNS else plane


def _bytes(master: Path, kind: str, *, lower: bool = False) -> list[Image.Image]:
    """Red, green and blue of the upper bytes, or the lower.

    Pillow keeps the upper byte of two; told that they come the other way round, it keeps the lower.
    """
    with opened(master, kind) as image:
        if lower:
            image.tile = [tile._replace(args=_swapped(tile.args)) for tile in image.tile]
        image.load()
        return list(image.split())


def joined(low: Image.Image, high: Image.Image) -> Image.Image:
    """One plane of 16 bits from two of 8, a few rows at a time for the memory's sake."""
    plane = Image.new("I;16", low.size)
    for top in range(0, low.height, ROWS):
        box = (0, top, low.width, min(low.height, top + ROWS))
        pairs = Image.merge("LA", (low.crop(box), high.crop(box)))
        plane.paste(Image.frombytes("I;16", pairs.size, pairs.tobytes()), box)
    return plane


def _raw_mode(args: Any) -> str:
    return str(args[0] if isinstance(args, tuple) else args)


def _swapped(args: Any) -> Any:
    other = _OTHER_END[_raw_mode(args)]
    return (other, *args[1:]) if isinstance(args, tuple) else other
