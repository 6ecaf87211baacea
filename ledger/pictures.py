"""Pictures of works: the master kept once by its hash, three plain copies of it, and what it says of itself.

Whatever a stranger's file can do, it does in a child process with limits on memory and time. The copies are
sRGB JPEGs without any metadata, so that no place, device or name leaves the studio with them.
"""

import contextlib
import hashlib
import re
import tempfile
import unicodedata
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, BinaryIO

from ledger.child import ask
from ledger.errors import Refusal
from ledger.home import FULL, place_of, put_in_place

MOST_MEMORY = 3 << 30
"""Bytes of address space for the child; 200 million pixels with transparency take about half of it."""
LONGEST_SECONDS = 120
EXTENSIONS = {"JPEG": "jpg", "PNG": "png", "TIFF": "tif"}

SAVE_AS = "Save it as a JPEG, PNG or TIFF and choose that."
KINDS = ((rb"\xff\xd8\xff", "JPEG"), (rb"\x89PNG\r\n\x1a\n", "PNG"), (rb"II[*+]\0|MM\0[*+]", "TIFF"))
OTHER_KINDS = (
    (rb"GIF8", "a GIF"),
    (rb"RIFF....WEBP", "a WebP picture"),
    (rb"....ftypavi[fs]", "an AVIF picture"),
    (rb"....ftyp(hei|hev|mif1|msf1)", "a HEIC picture"),
    (rb"%PDF", "a PDF"),
    (rb"8BPS", "a layered PSD file"),
    (rb"\xff\x0a|....JXL ", "a JPEG XL picture"),
    (rb"....jP  |\xff\x4f\xff\x51", "a JPEG 2000 picture"),
    (rb"BM....\0\0\0\0", "a BMP picture"),
)


@dataclass(frozen=True)
class EmbeddedFacts:
    """What a picture file says of itself, to fill a form with: no text or no date where it is silent."""

    title: str = ""
    creator: str = ""
    captured_on: date | None = None
    copyright: str = ""


@dataclass(frozen=True)
class StoredPicture:
    """A kept master and its three copies, which are JPEGs.

    `width_px` and `height_px` are as seen, after any turning the file asks for; `bits` is of one channel;
    `profile` is the name of the embedded colour profile, None without a readable one.
    """

    sha256: str
    bytes: int
    format: str
    width_px: int
    height_px: int
    bits: int
    profile: str | None
    show_sha256: str
    paper_sha256: str
    thumb_sha256: str
    facts: EmbeddedFacts


def path_of(folder: Path, sha256: str, ext: str = "jpg") -> Path:
    """Where the file with this SHA-256 lies in the data folder, whether or not it is there."""
    if ext not in EXTENSIONS.values():
        raise ValueError("a picture is a jpg, a png or a tif")
    return place_of(folder / "pictures", sha256, f".{ext}")


def store(folder: Path, source: BinaryIO | Path) -> StoredPicture:
    """Keep a picture and its copies in the data folder; all is on the disk for good when this returns.

    `source` is an open file, or the path of one already received, which is left where it is. Raises Refusal
    (field 'picture') and leaves no file behind for whatever is not one whole JPEG, PNG or TIFF picture of at
    most 200 million pixels, and when the disk is full.
    """
    try:
        (folder / "pictures").mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".incoming-", dir=folder / "pictures") as scratch:
            return _store(folder, source, Path(scratch))
    except OSError as problem:
        if problem.errno in FULL:
            raise _no("The disk is full: the picture was not kept. Make room and choose it again.") from None
        raise


def _store(folder: Path, source: BinaryIO | Path, scratch: Path) -> StoredPicture:
    master = scratch / "master"
    with source.open("rb") if isinstance(source, Path) else contextlib.nullcontext(source) as opened:
        size = _receive(opened, master)
    kind = _kind_of(master)
    told = _ask_child(master, kind)
    facts = told["facts"]
    day = facts.pop("captured_on")
    made = [(master, EXTENSIONS[kind])]
    made += [(scratch / f"{copy}.jpg", "jpg") for copy in ("show", "paper", "thumb")]
    sha256, show, paper, thumb = (_hash(file) for file, _ in made)
    names = zip(made, (sha256, show, paper, thumb), strict=True)
    put_in_place((file, path_of(folder, name, ext)) for (file, ext), name in names)
    return StoredPicture(
        sha256=sha256,
        bytes=size,
        format=kind,
        width_px=told["width_px"],
        height_px=told["height_px"],
        bits=told["bits"],
        profile=told["profile"],
        show_sha256=show,
        paper_sha256=paper,
        thumb_sha256=thumb,
        facts=EmbeddedFacts(**facts, captured_on=date.fromisoformat(day) if day else None),
    )


def _no(sentence: str) -> Refusal:
    return Refusal(sentence, field="picture")


# Files


def _receive(source: BinaryIO, master: Path) -> int:
    with master.open("xb") as kept:
        while chunk := source.read(1 << 20):
            kept.write(chunk)
        return kept.tell()


def _hash(path: Path) -> str:
    with path.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


# What kind of file it is, by its first bytes and never by its name


def _kind_of(path: Path) -> str:
    with path.open("rb") as opened:
        head = opened.read(4096)
    if not head:
        raise _no("The file is empty. Save the picture once more, then choose it again.")
    for start, kind in KINDS:
        if re.match(start, head):
            return kind
    for start, name in OTHER_KINDS:
        if re.match(start, head, re.DOTALL):
            raise _no(f"This is {name}. {SAVE_AS}")
    if re.match(rb"(\xef\xbb\xbf)?\s*<", head) and b"<svg" in head:
        raise _no(f"This is an SVG drawing, which has no pixels of its own. {SAVE_AS}")
    if _is_text(head):
        raise _no("This is a text file, whatever its name says. Choose a JPEG, PNG or TIFF.")
    raise _no(f"This is not a kind of picture that can be kept here. {SAVE_AS}")


def _is_text(head: bytes) -> bool:
    try:
        text = head.decode()
    except UnicodeDecodeError as problem:
        if problem.start < len(head) - 3:  # else only the last letter is cut in two
            return False
        text = head[: problem.start].decode()
    return not any(unicodedata.category(c) == "Cc" and c not in "\t\r\n\f" for c in text)


# The child, which does everything that reads more than the first bytes


def _ask_child(master: Path, kind: str) -> dict[str, Any]:
    try:
        return ask(
            "ledger.picture_child",
            {"master": str(master.resolve()), "kind": kind},
            memory=MOST_MEMORY,
            seconds=LONGEST_SECONDS,
            doing="Reading the picture",
            instead="Save it once more as an ordinary JPEG and choose that.",
        )
    except Refusal as refusal:
        raise _no(refusal.message) from None
