"""Pictures on pages: a plate in its margin, and an upload that is looked at before anything is recorded of it."""

import re
from dataclasses import dataclass
from pathlib import Path

from ledger import pictures
from ledger.errors import Refusal
from ledger.pictures import EXTENSIONS, StoredPicture
from ledger.reckoning.pixels import print_quality
from ledger.tables import Picture

SHOWN_AT = 1600  # the longer side of the copy made for pages, in pixels
SMALL_AT = 360
_REF = re.compile(r"([0-9a-f]{64})\.(jpg|png|tif) ([0-9a-f]{64}) ([0-9]{1,6})x([0-9]{1,6})")


@dataclass(frozen=True)
class Plate:
    """A picture as its template takes it; `width` and `height` are pixels of the copy."""

    src: str
    width: int
    height: int
    alt: str


@dataclass(frozen=True)
class Upload:
    """A picture that lies in the folder and in no record yet, as a form carries it from page to page."""

    sha256: str
    ext: str
    show_sha256: str
    width_px: int
    height_px: int

    @property
    def ref(self) -> str:
        return f"{self.sha256}.{self.ext} {self.show_sha256} {self.width_px}x{self.height_px}"


def upload_of(stored: StoredPicture) -> Upload:
    return Upload(stored.sha256, EXTENSIONS[stored.format], stored.show_sha256, stored.width_px, stored.height_px)


def read_ref(ref: str) -> Upload | None:
    """The upload a form carries; None where it carries none, or something else."""
    found = _REF.fullmatch(ref)
    if not found or not (int(found[4]) and int(found[5])):
        return None
    return Upload(found[1], found[2], found[3], int(found[4]), int(found[5]))


def store_again(data_dir: Path, ref: str) -> StoredPicture | None:
    """What is true of an upload, read afresh from its file; None where the form carries none.

    A form is only believed about which file it means. Raises Refusal when that is gone.
    """
    if not ref:
        return None
    upload = read_ref(ref)
    path = pictures.path_of(data_dir, upload.sha256, upload.ext) if upload else None
    if path is None or not path.is_file():
        raise Refusal("The picture is not here any more. Choose it again.", field="picture")
    return pictures.store(data_dir, path)


def _fitted(width: int, height: int, most: int) -> tuple[int, int]:
    longer = max(width, height)
    if longer <= most:
        return width, height
    return max(1, round(width * most / longer)), max(1, round(height * most / longer))


def plate(picture: Picture | None, title: str, *, small: bool = False) -> Plate | None:
    """The plate of a work's picture; None without one."""
    if picture is None:
        return None
    width, height = _fitted(picture.width_px, picture.height_px, SMALL_AT if small else SHOWN_AT)
    name = picture.thumb_sha256 if small else picture.show_sha256
    return Plate(f"/pictures/{name}.jpg", width, height, title)


def plate_of_upload(upload: Upload | None, title: str) -> Plate | None:
    if upload is None:
        return None
    width, height = _fitted(upload.width_px, upload.height_px, SHOWN_AT)
    return Plate(f"/pictures/{upload.show_sha256}.jpg", width, height, title or "The picture chosen")


def quality(width_px: int, height_px: int, image_w_um: int, image_h_um: int) -> str:
    """Whether the picture has pixels enough for a size, as a sentence."""
    return print_quality(width_px, height_px, image_w_um, image_h_um).sentence
