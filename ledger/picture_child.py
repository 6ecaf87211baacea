"""The child process of `pictures`: reads one strange file, makes its copies beside it, tells what it saw."""

import contextlib
import re
from datetime import date
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from PIL import ExifTags, Image, ImageFile, IptcImagePlugin

from ledger import child
from ledger.picture_reading import (
    DAMAGED,
    TURNS,
    bits_of,
    clean,
    in_profile,
    name_of,
    opened,
    plain_mode,
    profile_of,
    turning_of,
)

COPIES = {"show": (1600, 88), "paper": (1200, 90), "thumb": (360, 85)}
"""Long side in px and JPEG quality, the largest first: each is made from the one before."""


def make_copies(asked: dict[str, Any]) -> dict[str, Any]:
    """Make show.jpg, paper.jpg and thumb.jpg beside the `master`, a file of this `kind`: what was read."""
    master, kind = Path(asked["master"]), asked["kind"]
    with opened(master, kind) as picture:
        turning = turning_of(picture)
        width, height = picture.size[::-1] if turning >= 5 else picture.size
        bits = bits_of(picture, master)
        small = _fitted(picture.size, COPIES["show"][0])
        picture.draft(None, (small[0] * 2, small[1] * 2))
        picture.load()
        facts = _facts(picture)
        profile = profile_of(picture)
        image = plain_mode(picture, bits).resize(small, Image.Resampling.LANCZOS, reducing_gap=3.0)
    if turning in TURNS:
        image = image.transpose(TURNS[turning])
    image = in_profile(image, profile)
    for copy, (long_side, quality) in COPIES.items():
        image = image.resize(_fitted(image.size, long_side), Image.Resampling.LANCZOS)
        image.info = {}
        image.save(master.with_name(f"{copy}.jpg"), "JPEG", quality=quality, subsampling=0, optimize=True)
    name = name_of(profile) if profile else None
    return {"width_px": width, "height_px": height, "bits": bits, "profile": name, "facts": facts}


def _fitted(size: tuple[int, int], long_side: int) -> tuple[int, int]:
    longest = max(size)
    if longest <= long_side:
        return size
    return max(1, round(size[0] * long_side / longest)), max(1, round(size[1] * long_side / longest))


# What the file says of itself: XMP first, then IPTC, then Exif (common practice, no source)


def _facts(image: ImageFile.ImageFile) -> dict[str, str | None]:
    told = [_from_xmp(image), _from_iptc(image), _from_exif(image)]
    facts: dict[str, str | None] = {
        name: next((text for one in told if (text := clean(one.get(name)))), "")
        for name in ("title", "creator", "copyright")
    }
    facts["captured_on"] = next((day for one in told if (day := _day(one.get("day")))), None)
    return facts


def _day(value: object) -> str | None:
    found = re.match(r"(\d{4})[:-]?(\d\d)[:-]?(\d\d)", clean(value), re.ASCII)
    with contextlib.suppress(ValueError):  # cameras without a clock write 0000:00:00
        return date(int(found[1]), int(found[2]), int(found[3])).isoformat() if found else None
    return None


def _from_exif(image: ImageFile.ImageFile) -> dict[str, object]:
    with contextlib.suppress(Exception):  # junk metadata says nothing, and stands in nobody's way
        exif = image.getexif()
        inner = exif.get_ifd(ExifTags.IFD.Exif)
        tags = {"title": "ImageDescription", "creator": "Artist", "copyright": "Copyright"}
        texts = {name: str(exif.get(ExifTags.Base[tag]) or "") for name, tag in tags.items()}
        day = inner.get(ExifTags.Base.DateTimeOriginal) or inner.get(ExifTags.Base.DateTimeDigitized)
        # the standard says ASCII, most programs write UTF-8, Pillow reads Latin-1
        return {**{name: text.encode("latin-1", "replace") for name, text in texts.items()}, "day": day}
    return {}


def _from_iptc(image: ImageFile.ImageFile) -> dict[str, object]:
    with contextlib.suppress(Exception):
        told = IptcImagePlugin.getiptcinfo(image) or {}
        # IPTC-IIM 4.2, record 2: object name, by-line, copyright notice, date created
        numbers = {"title": 5, "creator": 80, "copyright": 116, "day": 55}
        found = {name: told.get((2, number)) for name, number in numbers.items()}
        return {name: value[0] if isinstance(value, list) else value for name, value in found.items()}
    return {}


RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
XMP_NAMES = {
    "title": "{http://purl.org/dc/elements/1.1/}title",
    "creator": "{http://purl.org/dc/elements/1.1/}creator",
    "copyright": "{http://purl.org/dc/elements/1.1/}rights",
    "day": "{http://ns.adobe.com/photoshop/1.0/}DateCreated",
}


def _from_xmp(image: ImageFile.ImageFile) -> dict[str, object]:
    """XMP (ISO 16684-1): Dublin Core title, creator and rights, and the date a photograph was made."""
    with contextlib.suppress(Exception):
        packet: bytes = image.info.get("xmp") or b""
        text = packet.decode()
        if "<!" in re.sub(r"<!--.*?-->", "", text, flags=re.DOTALL):
            return {}  # no declarations: an entity could unfold without end
        root = ElementTree.fromstring(text.strip("\0 \r\n\t\ufeff"))
        return {name: _xmp_text(root, tag) for name, tag in XMP_NAMES.items()}
    return {}


def _xmp_text(root: ElementTree.Element, tag: str) -> str:
    for described in root.iter(f"{RDF}Description"):
        if tag in described.attrib:
            return described.attrib[tag]
        if (found := described.find(tag)) is not None:
            texts = [item.text or "" for item in found.iter(f"{RDF}li")] or [found.text or ""]
            # an Alt is one text in several languages, the usual one first; a Seq is several names
            return texts[0] if found.find(f"{RDF}Alt") is not None else ", ".join(texts)
    return ""


if __name__ == "__main__":
    child.answer(make_copies, failed=DAMAGED)
