"""The child process of `pictures`: reads one strange file, makes its copies beside it, tells what it saw.

Run as `python -m ledger.picture_child MASTER KIND BYTES SECONDS`; answers in JSON on standard output.
"""

import contextlib
import errno
import json
import re
import sys
import unicodedata
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from PIL import ExifTags, Image, ImageCms, ImageFile, IptcImagePlugin, TiffImagePlugin

from ledger.errors import Refusal

try:
    import resource
except ImportError:  # Windows has none; there only the clock of the starting process holds
    resource = None  # type: ignore[assignment]

MOST_PIXELS = 200_000_000
COPIES = {"show": (1600, 88), "paper": (1200, 90), "thumb": (360, 85)}
"""Long side in px and JPEG quality, the largest first: each is made from the one before."""
# Exif 2.32, tag 0x0112: what the picture needs to stand upright
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
LONGEST_TEXT = 300
BIDIRECTIONAL = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
DAMAGED = (
    "The picture breaks off or is damaged: not all of it can be read. "
    "Copy it again from where it came and choose the fresh copy."
)


def answer(master: Path, kind: str) -> dict[str, Any]:
    """Make show.jpg, paper.jpg and thumb.jpg beside the master: what was read, 'refused' or 'disk'."""
    try:
        return _read(master, kind)
    except Refusal as refusal:
        return {"refused": refusal.message}
    except MemoryError:
        return {"refused": "The picture needs more memory than there is. Save a smaller copy, choose that."}
    except Exception as problem:  # a decoder may fail in any way it likes over a crafted file
        if isinstance(problem, OSError) and problem.errno in (errno.ENOSPC, errno.EDQUOT):
            return {"disk": problem.errno}
        return {"refused": DAMAGED}


def _hold(memory: int, seconds: int) -> None:
    if resource is None:
        return
    with contextlib.suppress(ValueError, OSError):  # some systems cannot hold the memory; the time still is
        resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _read(master: Path, kind: str) -> dict[str, Any]:
    Image.MAX_IMAGE_PIXELS = None  # our own bound, with its own sentence, takes its place
    with Image.open(master, formats=[kind]) as opened:
        _look_at_header(opened)
        if kind == "PNG":
            opened.verify()  # one that lost only its end would decode
    with Image.open(master, formats=[kind]) as opened:
        orientation = 1 if kind == "TIFF" else _orientation(opened)  # a TIFF is turned as it is loaded
        width, height = opened.size[::-1] if orientation >= 5 else opened.size
        bits = _bits(opened, master)
        small = _fitted(opened.size, COPIES["show"][0])
        opened.draft(None, (small[0] * 2, small[1] * 2))
        opened.load()
        facts = _facts(opened)
        profile = _profile(opened)
        image = _plain_mode(opened, bits).resize(small, Image.Resampling.LANCZOS, reducing_gap=3.0)
    if orientation in TURNS:
        image = image.transpose(TURNS[orientation])
    image = _to_srgb(image, profile)
    for copy, (long_side, quality) in COPIES.items():
        image = image.resize(_fitted(image.size, long_side), Image.Resampling.LANCZOS)
        image.info = {}
        image.save(master.with_name(f"{copy}.jpg"), "JPEG", quality=quality, subsampling=0, optimize=True)
    name = _name_of(profile) if profile else None
    return {"width_px": width, "height_px": height, "bits": bits, "profile": name, "facts": facts}


def _look_at_header(image: ImageFile.ImageFile) -> None:
    width, height = image.size
    if width * height > MOST_PIXELS:
        raise Refusal(
            f"The picture is {width:,} × {height:,} px, {width * height // 1_000_000:,} million pixels. "
            f"At most {MOST_PIXELS // 1_000_000} million can be kept: save a smaller copy and choose that."
        )
    alone = "Save the one picture you mean by itself and choose that."
    if isinstance(image, TiffImagePlugin.TiffImageFile):
        tags = image.tag_v2
        if ExifTags.Base.DNGVersion in tags or tags.get(ExifTags.Base.NewSubfileType, 0) & 1:
            raise Refusal("This is a camera’s raw file. Develop it and choose the JPEG or TIFF you made.")
        if image.n_frames > 1:
            raise Refusal(f"This TIFF holds {image.n_frames} pages. {alone}")
    elif image.format == "PNG" and getattr(image, "is_animated", False):
        raise Refusal(f"This PNG moves. {alone}")
    if image.mode in ("I", "F"):
        raise Refusal("The picture has 32 bits a channel. Save it with 8 or 16 and choose that.")


def _fitted(size: tuple[int, int], long_side: int) -> tuple[int, int]:
    longest = max(size)
    if longest <= long_side:
        return size
    return max(1, round(size[0] * long_side / longest)), max(1, round(size[1] * long_side / longest))


def _orientation(image: ImageFile.ImageFile) -> int:
    with contextlib.suppress(Exception):  # junk metadata is no reason to refuse a good picture
        return int(image.getexif().get(ExifTags.Base.Orientation, 1))
    return 1


def _bits(image: ImageFile.ImageFile, master: Path) -> int:
    if isinstance(image, TiffImagePlugin.TiffImageFile):
        return int(max(image.tag_v2.get(ExifTags.Base.BitsPerSample, (1,))))
    if image.format == "PNG":
        with master.open("rb") as opened:
            return opened.read(25)[24]  # the ninth byte of IHDR, which comes first: PNG third edition, 11.2.1
    return 8


# Colour


def _plain_mode(image: Image.Image, bits: int) -> Image.Image:
    """Eight bits a channel, with an alpha channel where anything is see-through."""
    if image.mode.startswith("I;16"):
        top = (1 << bits) - 1
        rounded = [min(255, (value * 255 + top // 2) // top) for value in range(1 << 16)]
        return image.convert("I").point(rounded, "L")
    if "transparency" in image.info or image.mode in ("PA", "RGBa", "La"):
        return image.convert("LA" if image.mode in ("1", "L", "La") else "RGBA")
    if image.mode in ("L", "LA", "RGB", "RGBA", "CMYK", "LAB"):
        return image
    return image.convert("L" if image.mode == "1" else "RGB")


def _profile(image: Image.Image) -> ImageCms.ImageCmsProfile | None:
    with contextlib.suppress(Exception):  # a broken profile is refused in several ways; then sRGB is meant
        if held := image.info.get("icc_profile"):
            return ImageCms.ImageCmsProfile(BytesIO(held))
    return None


def _name_of(profile: ImageCms.ImageCmsProfile) -> str:
    with contextlib.suppress(ImageCms.PyCMSError):
        return _clean(ImageCms.getProfileDescription(profile)) or "unnamed"
    return "unnamed"


def _to_srgb(image: Image.Image, profile: ImageCms.ImageCmsProfile | None) -> Image.Image:
    alpha = image.getchannel("A") if image.mode in ("LA", "RGBA") else None
    colour = image.convert(image.mode[:-1]) if alpha else image
    if colour.mode == "LAB":
        profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
    if profile and colour.mode == "L" and profile.profile.xcolor_space == "RGB ":
        colour = colour.convert("RGB")
    converted = None
    if profile:
        with contextlib.suppress(ImageCms.PyCMSError):  # a profile for some other kind of picture
            converted = ImageCms.profileToProfile(
                colour,
                profile,
                ImageCms.createProfile("sRGB"),
                ImageCms.Intent.RELATIVE_COLORIMETRIC,
                "RGB",
                flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
            )
    plain = converted or colour.convert("RGB")
    return Image.composite(plain, Image.new("RGB", plain.size, "white"), alpha) if alpha else plain


# What the file says of itself: XMP first, then IPTC, then Exif (common practice, no source)


def _facts(image: ImageFile.ImageFile) -> dict[str, str | None]:
    told = [_from_xmp(image), _from_iptc(image), _from_exif(image)]
    facts: dict[str, str | None] = {
        name: next((text for one in told if (text := _clean(one.get(name)))), "")
        for name in ("title", "creator", "copyright")
    }
    facts["captured_on"] = next((day for one in told if (day := _day(one.get("day")))), None)
    return facts


def _clean(value: object) -> str:
    """One line of plain text: no control, bidirectional or unassigned characters, at most 300 long."""
    kept = "".join(
        " " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c
        for c in unicodedata.normalize("NFC", _text(value))
        if c not in BIDIRECTIONAL and unicodedata.category(c) not in ("Cs", "Cn", "Co")
    )
    return " ".join(kept.split())[:LONGEST_TEXT].strip()


def _text(value: object) -> str:
    if not isinstance(value, bytes):
        return str(value or "")
    try:
        return value.decode()
    except UnicodeDecodeError:
        return value.decode("latin-1")


def _day(value: object) -> str | None:
    found = re.match(r"(\d{4})[:-]?(\d\d)[:-]?(\d\d)", _clean(value), re.ASCII)
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
    _hold(int(sys.argv[3]), int(sys.argv[4]))
    json.dump(answer(Path(sys.argv[1]), sys.argv[2]), sys.stdout)
