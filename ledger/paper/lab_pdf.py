"""The sheet for a lab as a PDF at its true size: pictures as they are kept, each in its own colours."""

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from reportlab.pdfbase import pdfdoc

from ledger.paper.faces import POINTS_A_MM
from ledger.paper.sheet import INK, Sheet, press
from ledger.reckoning.lab_marks import Box, TypeLine

_POINTS_A_UM = POINTS_A_MM / 1000
# Exif 2.32, tag 0x0112, as a PDF turns a picture about its middle (ISO 32000-1, 8.3.3)
_TURNINGS = {
    1: (1, 0, 0, 1), 2: (-1, 0, 0, 1), 3: (-1, 0, 0, -1), 4: (1, 0, 0, -1),
    5: (0, -1, -1, 0), 6: (0, -1, 1, 0), 7: (0, 1, 1, 0), 8: (0, 1, -1, 0),
}  # fmt: skip


@dataclass(frozen=True)
class KeptPicture:
    """A JPEG to be printed: bytes, ICC profile, size upright, and the turning it needs, by Exif's numbers."""

    jpeg: bytes
    profile: bytes
    width_px: int
    height_px: int
    turning: int
    grey: bool


@dataclass(frozen=True)
class PrintedPicture:
    """A picture and where it is printed, bleed and all; `turned` a quarter clockwise."""

    picture: KeptPicture
    box: Box
    turned: bool


def render(
    title: str,
    sheet: Box,
    pictures: Sequence[PrintedPicture],
    lines: Sequence[Box],
    texts: Sequence[tuple[TypeLine, str]],
) -> bytes:
    """The PDF, one page of the sheet's size; a picture printed several times is kept in it once.

    Raises Refusal for a character of a text that the face lacks.
    """
    with press(title) as printing:
        drawing = printing.sheet
        with drawing.page(sheet.width_um / 1000, sheet.height_um / 1000):
            for each in pictures:
                _draw_picture(drawing, each)
            for line in lines:
                _fill(drawing, line)
            for place, text in texts:
                drawing.text(place.x_um / 1000, place.y_um / 1000, text, place.size_um * _POINTS_A_UM)
    return printing.pdf


def _fill(sheet: Sheet, box: Box) -> None:
    sheet.canvas.setFillColor(INK)
    sheet.canvas.rect(*_on_page(box), stroke=0, fill=1)


def _on_page(box: Box) -> tuple[float, float, float, float]:
    """Left, bottom, width and height in points, from the page's top left corner up."""
    across, up = box.left_um * _POINTS_A_UM, -box.bottom_um * _POINTS_A_UM
    return across, up, box.width_um * _POINTS_A_UM, box.height_um * _POINTS_A_UM


def _draw_picture(sheet: Sheet, printed: PrintedPicture) -> None:
    """The picture over its whole place, the same cut off at both ends where the two differ in shape."""
    canvas, picture = sheet.canvas, printed.picture
    left, bottom, width, height = _on_page(printed.box)
    canvas.saveState()
    frame = canvas.beginPath()
    frame.rect(left, bottom, width, height)
    canvas.clipPath(frame, stroke=0, fill=0)
    canvas.translate(left + width / 2, bottom + height / 2)
    if printed.turned:
        canvas.rotate(-90)
        width, height = height, width
    scale = max(width / picture.width_px, height / picture.height_px)
    canvas.scale(picture.width_px * scale, picture.height_px * scale)
    canvas.transform(*_TURNINGS[picture.turning], 0, 0)
    canvas.translate(-0.5, -0.5)
    canvas.addLiteral(f"/{_registered(canvas, picture)} Do")
    canvas.restoreState()


def _registered(canvas: Any, picture: KeptPicture) -> str:
    """The picture's name in the PDF, where it is kept once."""
    document, name = canvas._doc, f"picture-{sha256(picture.jpeg).hexdigest()[:20]}"
    reference = str(document.getXObjectName(name))
    if reference not in document.idToObject:
        document.addForm(name, _Photograph(picture, _colours(document, picture)))
    canvas._formsinuse.append(name)
    return reference


class _Photograph(pdfdoc.PDFObject):  # type: ignore[misc]  # ReportLab ships no types
    """A JPEG as an image of a PDF, byte for byte: ReportLab's own would take every colour for the printer's."""

    def __init__(self, picture: KeptPicture, colours: Any) -> None:
        self.picture, self.colours = picture, colours

    def format(self, document: Any) -> bytes:
        picture = self.picture
        stream = pdfdoc.PDFStream(content=picture.jpeg)
        size = picture.width_px, picture.height_px
        width, height = size[::-1] if picture.turning >= 5 else size
        stream.dictionary.dict.update(
            Type=pdfdoc.PDFName("XObject"),
            Subtype=pdfdoc.PDFName("Image"),
            Width=width,
            Height=height,
            BitsPerComponent=8,
            ColorSpace=self.colours,
            Filter=pdfdoc.PDFName("DCTDecode"),
        )
        return bytes(stream.format(document))


def _colours(document: Any, picture: KeptPicture) -> Any:
    """By its profile, which is kept once (ISO 32000-1, 8.6.5.5)."""
    name = f"profile-{sha256(picture.profile).hexdigest()[:20]}"
    if name not in document.idToObject:
        number = {"N": 1 if picture.grey else 3}
        document.Reference(pdfdoc.PDFStream(pdfdoc.PDFDictionary(number), picture.profile), name)
    return pdfdoc.PDFArray([pdfdoc.PDFName("ICCBased"), pdfdoc.PDFObjectReference(name)])
