"""How a stranger's picture is looked at and decoded: its size, turning, depth and colour."""

import contextlib
import unicodedata
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

from PIL import ExifTags, Image, ImageCms, ImageFile, TiffImagePlugin

from ledger.errors import Refusal
from ledger.reckoning.texts import TURNING, seen

MOST_PIXELS = 200_000_000
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
DAMAGED = (
    "The picture breaks off or is damaged: not all of it can be read. "
    "Copy it again from where it came and choose the fresh copy."
)


@contextlib.contextmanager
def opened(master: Path, kind: str) -> Iterator[ImageFile.ImageFile]:
    """The picture with its header looked at and nothing decoded. Raises Refusal for one that is not taken."""
    Image.MAX_IMAGE_PIXELS = None  # our own bound, with its own sentence, takes its place
    with Image.open(master, formats=[kind]) as image:
        _look_at_header(image)
        if kind == "PNG":
            image.verify()  # one that lost only its end would decode
    with Image.open(master, formats=[kind]) as image:
        yield image


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
        apart = tags.get(ExifTags.Base.PlanarConfiguration, 1) != 1
        deep = max(tags.get(ExifTags.Base.BitsPerSample, (1,))) > 8
        if apart and deep and any(tile.codec_name == "raw" for tile in image.tile):
            # Pillow takes the halves of their numbers for pixels, and says nothing
            raise Refusal("This TIFF keeps its channels of 16 bits apart. Save it with them together and choose that.")
    elif image.format == "PNG" and getattr(image, "is_animated", False):
        raise Refusal(f"This PNG moves. {alone}")
    if image.mode in ("I", "F"):
        raise Refusal("The picture has 32 bits a channel. Save it with 8 or 16 and choose that.")


def turning_of(image: ImageFile.ImageFile) -> int:
    """What still has to be undone after loading, a key of TURNS or 1: a TIFF is turned as it is loaded."""
    with contextlib.suppress(Exception):  # junk metadata is no reason to refuse a good picture
        return 1 if image.format == "TIFF" else int(image.getexif().get(ExifTags.Base.Orientation, 1))
    return 1


def bits_of(image: ImageFile.ImageFile, master: Path) -> int:
    """Bits of one channel in the file, whatever Pillow makes of them."""
    if isinstance(image, TiffImagePlugin.TiffImageFile):
        return int(max(image.tag_v2.get(ExifTags.Base.BitsPerSample, (1,))))
    if image.format == "PNG":
        with master.open("rb") as opened:
            return opened.read(25)[24]  # the ninth byte of IHDR, which comes first: PNG third edition, 11.2.1
    return 8


def plain_mode(image: Image.Image, bits: int) -> Image.Image:
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


def profile_of(image: Image.Image) -> ImageCms.ImageCmsProfile | None:
    """The embedded colour profile, None without a readable one."""
    with contextlib.suppress(Exception):  # a broken profile is refused in several ways; then sRGB is meant
        if held := image.info.get("icc_profile"):
            return ImageCms.ImageCmsProfile(BytesIO(held))
    return None


def name_of(profile: ImageCms.ImageCmsProfile) -> str:
    """What a profile calls itself."""
    with contextlib.suppress(ImageCms.PyCMSError):
        return clean(ImageCms.getProfileDescription(profile)) or "unnamed"
    return "unnamed"


def in_profile(
    image: Image.Image, profile: ImageCms.ImageCmsProfile | None, wanted: ImageCms.ImageCmsProfile | None = None
) -> Image.Image:
    """The picture in RGB of the `wanted` profile, None for sRGB; see-through parts on white.

    Converted by relative colorimetric intent with black point compensation. Without a profile sRGB is meant.
    """
    alpha = image.getchannel("A") if image.mode in ("LA", "RGBA") else None
    colour = image.convert(image.mode[:-1]) if alpha else image
    if colour.mode == "LAB":
        profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
    if profile and colour.mode == "L" and profile.profile.xcolor_space == "RGB ":
        colour = colour.convert("RGB")
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    plain = None
    if profile:
        with contextlib.suppress(ImageCms.PyCMSError):  # a profile for some other kind of picture
            plain = _converted(colour, profile, wanted or srgb)
    if plain is None:
        plain = colour.convert("RGB")
        if wanted:
            plain = _converted(plain, srgb, wanted)
    return Image.composite(plain, Image.new("RGB", plain.size, "white"), alpha) if alpha else plain


def _converted(image: Image.Image, profile: ImageCms.ImageCmsProfile, wanted: ImageCms.ImageCmsProfile) -> Image.Image:
    intent, compensated = ImageCms.Intent.RELATIVE_COLORIMETRIC, ImageCms.Flags.BLACKPOINTCOMPENSATION
    converted = ImageCms.profileToProfile(image, profile, wanted, intent, "RGB", flags=compensated)
    assert converted is not None  # it is None only for a conversion in place
    return converted


def clean(value: object) -> str:
    """One line of plain text: no control, bidirectional, unseen or unassigned characters, at most 300 long."""
    kept = "".join(
        " " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c
        for c in unicodedata.normalize("NFC", seen(_text(value)))
        if c not in TURNING and unicodedata.category(c) not in ("Cs", "Cn", "Co")
    )
    return " ".join(kept.split())[:LONGEST_TEXT].strip()


def _text(value: object) -> str:
    if not isinstance(value, bytes):
        return str(value or "")
    try:
        return value.decode()
    except UnicodeDecodeError:
        return value.decode("latin-1")
