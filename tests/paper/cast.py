"""One invented certificate, label and picture, and ways to read printed papers back."""

from io import BytesIO
from pathlib import Path

import pypdfium2
from PIL import Image
from pypdf import PdfReader
from pypdf.generic import DictionaryObject, IndirectObject

from ledger.paper.certificate import CertificateFace
from ledger.paper.label import LabelFacts
from ledger.paper.particulars import Particulars
from ledger.reckoning.answers import FIXED_SENTENCE

CODE = "5K7Q VX2M 91RD T4W9"
FACE = CertificateFace(
    title="Forty Minutes of Road",
    artist="Ottoline Marrack-Voe",
    year="2023",
    number_shown="7/25",
    facts=(
        ("Process", "Pigment print from a digital photograph. Not a reproduction of another work."),
        ("Paper", "Cotton rag, 308 gsm."),
        ("Sizes", "Image 127 × 127 mm on a sheet of 180 × 200 mm."),
        ("Years", "Photographed 2023. This print May 2026."),
        ("Edition", "25, numbered 1/25 to 25/25, one size. None unnumbered."),
        ("Beside it", "3 artist’s proofs, AP I to III; 1 bon à tirer. In all 29."),
        ("Other editions", "Earlier, none. Later, ruled out in any size or process."),
        ("Printed", "By the artist, at the artist’s own bench."),
        (
            "Marked",
            "Signed by the artist’s own hand in pencil, below right; numbered below left; blind stamp, a "
            "causeway broken by one wave, lower right margin.",
        ),
        ("Artist", "Living when photograph and print were made."),
    ),
    statement="One of twenty-five. I made this print, and I will make no more beyond the number stated.",
    fixed_sentence=FIXED_SENTENCE,
    place="Saltrigg",
    issued_on_words="12 May 2026",
    name_as_signed="Ottoline Marrack-Voe",
    code_grouped=CODE,
    qr_text="HTTPS://MARRACK-VOE.EXAMPLE/C/5K7QVX2M91RDT4W9",
    address_words="marrack-voe.example/c",
    write_to="Quern Slip, Saltrigg",
)
PARTICULARS = Particulars(
    items=(
        ("Artist", "Ottoline Marrack-Voe"),
        ("Signature", "Signed by the artist’s own hand, in pencil."),
        ("Year printed", "2026"),
        ("Most unsigned or unnumbered", "0"),
    ),
    not_applicable=("Approved in writing", "Printed after the artist’s death"),
    not_known=("Maker of the paper", "Year of the master"),
)
LABEL = LabelFacts(
    title=FACE.title,
    number_shown="7/25",
    maker=FACE.artist,
    year="2023",
    details=("Pigment print, cotton rag 308 gsm", "Image 127 × 127 mm"),
    code_grouped=CODE,
    qr_text=FACE.qr_text,
    address_words=FACE.address_words,
    write_to="The old net loft, Quern Slip, Saltrigg",
)


def grey_picture(path: Path, size: tuple[int, int] = (600, 600)) -> Path:
    Image.linear_gradient("L").resize(size).save(path, "JPEG")
    return path


def words(pdf: bytes, page: int = 0) -> str:
    """What the page says, on one line."""
    return " ".join(PdfReader(BytesIO(pdf)).pages[page].extract_text().split())


def sizes_mm(pdf: bytes) -> list[tuple[int, int]]:
    boxes = [page.mediabox for page in PdfReader(BytesIO(pdf)).pages]
    return [(round(float(box.width) / 72 * 25.4), round(float(box.height) / 72 * 25.4)) for box in boxes]


def rendered(pdf: bytes, page: int = 0, dpi: int = 150) -> Image.Image:
    image: Image.Image = pypdfium2.PdfDocument(pdf)[page].render(scale=dpi / 72).to_pil()
    return image.convert("L")


def objects(pdf: bytes, key: str, value: str) -> list[DictionaryObject]:
    """Every object of the PDF whose entry `key` is `value`."""
    reader = PdfReader(BytesIO(pdf))
    found = (reader.get_object(IndirectObject(n, 0, reader)) for n in range(1, int(reader.trailer["/Size"])))
    return [each for each in found if isinstance(each, DictionaryObject) and each.get(key) == value]


def assert_fonts_embedded(pdf: bytes) -> None:
    fonts = objects(pdf, "/Type", "/Font")
    assert fonts
    for font in fonts:
        assert "EBGaramond" in font["/BaseFont"], font["/BaseFont"]
        assert "/FontFile2" in font["/FontDescriptor"].get_object()
    assert b"Helvetica" not in pdf


def assert_no_metadata(pdf: bytes) -> None:
    plain = pdf + b"".join(each.get_data() for each in objects(pdf, "/Subtype", "/Image"))
    for marker in (b"Exif", b"http://ns.adobe.com/xap", b"<x:xmpmeta", b"GPS", b"/Metadata"):
        assert marker not in plain, marker
