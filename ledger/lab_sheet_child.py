"""The child process of `lab_sheet`: reads the masters, draws the sheet or readies them for a PDF.

Lengths are pixels of the sheet. Nothing but pixels of a master, and one colour profile, ever reaches the sheet.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from itertools import groupby
from pathlib import Path
from typing import Any

from PIL import Image, ImageCms, ImageDraw, ImageFont

from ledger import child, plain_tiff
from ledger.deep_picture import deep_planes, is_deep, joined
from ledger.errors import Refusal
from ledger.picture_reading import TURNS, bits_of, in_profile, name_of, opened, plain_mode, profile_of, turning_of
from ledger.plain_jpeg import without_metadata
from ledger.profiles import grey_file, srgb_file

INK = 40
"""The grey of marks and captions, of 255."""
BEST_JPEG = {"quality": 98, "subsampling": 0}
SRGB = "sRGB"
DEEP_SHEET_BYTES, DEEP_MASTER_BYTES, OTHER_BYTES = 6, 13, 150 << 20
"""Memory a sheet of 16 bits takes for each pixel of its own and of its largest master, and beside those: measured."""

Asked = dict[str, Any]


def answer(asked: Asked) -> dict[str, Any]:
    """Make what is asked for in `kind`: 'tiff', 'jpeg' or the pictures of a 'pdf'; or only tell what it will be."""
    profile, name = _sheet_profile(asked)
    if asked["kind"] == "pdf":
        changed = list(dict.fromkeys(picture["title"] for picture in asked["pictures"] if not _passes(picture)))
        notes = [f"“{title}” goes into the PDF as a new JPEG, in {name}." for title in changed]
        ready = [] if asked["only_told"] else _ready_for_pdf(asked, profile)
        return {"bits": 0, "profile": name, "notes": notes, "ready": ready}
    why_8 = _why_8_bits(asked, profile, name) if asked["kind"] == "tiff" else ""
    deep = asked["kind"] == "tiff" and not why_8
    if not asked["only_told"]:
        _draw(asked, profile, deep=deep)
    return {"bits": 16 if deep else 8, "profile": name, "notes": [why_8] if why_8 else []}


# The sheet


def _draw(asked: Asked, profile: bytes, *, deep: bool) -> None:
    paper = _paper(asked)
    sheet = [joined(paper, paper) for _ in range(3)] if deep else [paper.convert("RGB")]
    del paper
    for _, placed in groupby(sorted(asked["pictures"], key=_master), key=_master):
        _place(sheet, list(placed), profile, deep=deep)
    target = Path(asked["target"])
    if asked["kind"] == "jpeg":
        density = (asked["ppi"], asked["ppi"])
        sheet[0].save(target, "JPEG", dpi=density, icc_profile=profile, **BEST_JPEG)
    else:
        with target.open("wb") as opened_target:
            plain_tiff.write(opened_target, sheet, asked["ppi"], profile)


def _master(picture: Asked) -> str:
    return str(picture["master"])


def _paper(asked: Asked) -> Image.Image:
    """White paper with its marks and captions and no picture yet, grey of 8 bits."""
    paper = Image.new("L", (asked["width_px"], asked["height_px"]), 255)
    draw = ImageDraw.Draw(paper)
    for left, top, right, bottom in asked["lines"]:
        draw.rectangle((left, top, max(left, right - 1), max(top, bottom - 1)), fill=INK)
    for line in asked["texts"]:
        face = ImageFont.truetype(asked["face"], line["size_px"])
        draw.text((line["x_px"], line["y_px"]), line["text"], fill=INK, font=face, anchor="ls")
    return paper


def _place(sheet: list[Image.Image], placed: list[Asked], profile: bytes, *, deep: bool) -> None:
    """Put one master, decoded once, on all its places."""
    master, kind = Path(placed[0]["master"]), placed[0]["kind"]
    with _named(placed[0]):
        if deep:
            for plane, ground in zip(deep_planes(master, kind), sheet, strict=True):
                for picture in placed:
                    _paste(ground, _sized(plane, picture), picture)
        else:
            image, own = _decoded(master, kind)
            for picture in placed:
                _paste(sheet[0], _in_sheet_profile(_sized(image, picture), own, profile), picture)


def _decoded(master: Path, kind: str) -> tuple[Image.Image, bytes]:
    """The picture upright with 8 bits a channel, and its profile."""
    with opened(master, kind) as image:
        turning = turning_of(image)
        image.load()
        plain = plain_mode(image, bits_of(image, master))
        return plain.transpose(TURNS[turning]) if turning in TURNS else plain, _held_profile(image)


def _sized(image: Image.Image, picture: Asked) -> Image.Image:
    """The picture with the pixels of its place, upright: made smaller or larger once, by Lanczos."""
    left, top, right, bottom = picture["box"]
    size = (bottom - top, right - left) if picture["turned"] else (right - left, bottom - top)
    return image.resize(size, Image.Resampling.LANCZOS, box=_visible(image.size, picture["ratio"]))


def _paste(ground: Image.Image, image: Image.Image, picture: Asked) -> None:
    if picture["turned"]:
        image = image.transpose(Image.Transpose.ROTATE_270)  # Pillow turns to the left
    ground.paste(image, tuple(picture["box"][:2]))


def _visible(size: tuple[int, int], ratio: list[int]) -> tuple[float, float, float, float]:
    """The part of a picture that fills a place of this width to height, the same cut off at both ends."""
    (width, height), (across, down) = size, ratio
    wide, high = min(width, height * across / down), min(height, width * down / across)
    left, top = (width - wide) / 2, (height - high) / 2
    return left, top, left + wide, top + high


@contextmanager
def _named(picture: Asked) -> Iterator[None]:
    """Name the picture in whatever is said about its file, and find words where a decoder has none."""
    title = picture["title"]
    try:
        yield
    except MemoryError:
        raise
    except Refusal as refusal:
        raise Refusal(f"“{title}”: {refusal.message}") from None
    except Exception:  # a decoder may fail in any way it likes over a crafted file
        raise Refusal(
            f"The picture of “{title}” breaks off or is damaged: not all of it can be read. "
            "Restore it from a backup, or add it again."
        ) from None


# Colour and depth


def _held_profile(image: Image.Image) -> bytes:
    """The embedded profile, nothing without a readable one."""
    return bytes(image.info["icc_profile"]) if profile_of(image) else b""


def _sheet_profile(asked: Asked) -> tuple[bytes, str]:
    """The one profile of the sheet, sRGB or the first picture's own, and its name."""
    first = asked["pictures"][0] if asked["pictures"] else None
    if asked["profile"] == SRGB or first is None:
        return srgb_file(), SRGB
    with _named(first), opened(Path(first["master"]), first["kind"]) as image:
        profile = profile_of(image)
        if profile is None:
            return srgb_file(), SRGB
        if profile.profile.xcolor_space.strip() != "RGB":
            raise Refusal("Its colour profile is not one of RGB, and a sheet needs one. Choose sRGB for the sheet.")
        return _held_profile(image), name_of(profile)


def _same_profile(own: bytes, profile: bytes) -> bool:
    return (own or srgb_file()) == profile


def _in_sheet_profile(image: Image.Image, own: bytes, profile: bytes) -> Image.Image:
    if _same_profile(own, profile):
        return in_profile(image, None)
    held = ImageCms.ImageCmsProfile(BytesIO(own)) if own else None
    return in_profile(image, held, ImageCms.ImageCmsProfile(BytesIO(profile)))


def _why_8_bits(asked: Asked, profile: bytes, name: str) -> str:
    """Why the sheet has 8 bits a channel; nothing where it can have 16."""
    largest = 0
    for picture in asked["pictures"]:
        title, master = picture["title"], Path(picture["master"])
        with _named(picture), opened(master, picture["kind"]) as image:
            bits = bits_of(image, master)
            if bits < 16:
                return f"8 bits a channel, not 16: “{title}” itself has {bits}."
            if not _same_profile(_held_profile(image), profile):
                held = profile_of(image)
                return (
                    f"8 bits a channel, not 16: “{title}” has to be converted from "
                    f"{name_of(held) if held else SRGB} to {name}, which is done with 8."
                )
            if not is_deep(image, master):
                return f"8 bits a channel, not 16: “{title}” is not plain grey or RGB."
            largest = max(largest, image.width * image.height)
    needed = DEEP_SHEET_BYTES * asked["width_px"] * asked["height_px"] + DEEP_MASTER_BYTES * largest + OTHER_BYTES
    if needed > asked["memory"]:
        return (
            f"8 bits a channel, not 16: with 16 the sheet and its largest picture would need {needed / 2**30:.1f} GB."
        )
    return "" if asked["pictures"] else "8 bits a channel, not 16: there is no picture on the sheet."


# The pictures for a PDF


def _passes(picture: Asked) -> bool:
    """Whether a master goes into a PDF as it is: a JPEG of grey or RGB whose profile is of the same."""
    with _named(picture), opened(Path(picture["master"]), picture["kind"]) as image:
        held = profile_of(image)
        fitting = held is None or held.profile.xcolor_space.strip() == ("GRAY" if image.mode == "L" else "RGB")
        return picture["kind"] == "JPEG" and image.mode in ("L", "RGB") and fitting


def _ready_for_pdf(asked: Asked, profile: bytes) -> list[dict[str, Any]]:
    """Each distinct master as a JPEG without metadata: one of grey or RGB as it is, another converted whole."""
    ready: dict[str, dict[str, Any]] = {}
    for picture in asked["pictures"]:
        if picture["master"] not in ready:
            with _named(picture):
                ready[picture["master"]] = _jpeg_of(picture, Path(asked["target"]) / f"{len(ready)}", profile)
    return list(ready.values())


def _jpeg_of(picture: Asked, beside: Path, profile: bytes) -> dict[str, Any]:
    master, kind, passes = Path(picture["master"]), picture["kind"], _passes(picture)
    jpeg, icc = beside.with_suffix(".jpg"), beside.with_suffix(".icc")
    turning, grey = 1, False
    if passes:
        with opened(master, kind) as image:
            turning, grey = turning_of(image), image.mode == "L"
            image.load()  # so that none goes in that breaks off
            profile = _held_profile(image) or (grey_file() if grey else srgb_file())
        jpeg.write_bytes(without_metadata(master.read_bytes()))
    else:
        plain = _in_sheet_profile(*_decoded(master, kind), profile)
        plain.info = {}
        plain.save(jpeg, "JPEG", **BEST_JPEG)
    icc.write_bytes(profile)
    return {"master": str(master), "jpeg": str(jpeg), "icc": str(icc), "turning": turning, "grey": grey}


if __name__ == "__main__":
    child.answer(answer, failed="The sheet could not be made of these pictures. Make it without one after another.")
