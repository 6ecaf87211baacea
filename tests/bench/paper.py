"""A certificate against a page drawn with ReportLab alone: same picture, same square, same words."""

from dataclasses import replace
from io import BytesIO
from pathlib import Path

import qrcode
from PIL import Image
from qrcode.util import MODE_ALPHA_NUM, QRData
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from ledger.paper import certificate, faces
from ledger.paper import qr as squares
from ledger.paper.certificate import CertificateFace, CertificatePages
from tests.bench.measure import Row, in_turns, ms
from tests.paper.cast import FACE

BATCH = 250


def rows(folder: Path) -> list[Row]:
    picture = folder / "picture.jpg"
    Image.effect_noise((1200, 1200), 40).save(picture, "JPEG", quality=90)
    face = replace(FACE, picture_path=picture, picture_px=(1200, 1200))
    batch = [replace(face, qr_text=f"{face.qr_text}{n}") for n in range(BATCH)]
    words = certificate._set_face(face, "a5").lines

    def ours() -> bytes:
        squares.matrix.cache_clear()
        return certificate.render([CertificatePages(face)], paper="a5", title="One")

    def bare() -> bytes:
        return _bare(face, words)

    def many() -> bytes:
        squares.matrix.cache_clear()
        return certificate.render([CertificatePages(each) for each in batch], paper="a5", title="Many")

    one, plain = in_turns(25, ours, bare)
    (all_of_them,) = in_turns(3, many)
    size, kept = len(many()), picture.stat().st_size
    return [
        Row("certificate, one side", ms(one), f"bare ReportLab page {ms(plain)}", f"{one / plain:.2f}x", "1.3x"),
        Row(f"certificates, {BATCH} in one PDF", f"{all_of_them:.2f} s, {size / 1e6:.2f} MB",
            f"the picture alone {kept / 1e6:.2f} MB", f"{all_of_them / BATCH / one:.2f}x of one", "picture once"),
    ]  # fmt: skip


def _bare(face: CertificateFace, words: tuple[certificate.Line, ...]) -> bytes:
    page = Canvas(BytesIO(), pagesize=(210 * mm, 148 * mm), invariant=1)
    page.drawImage(str(face.picture_path), 13 * mm, 55 * mm, 80 * mm, 80 * mm)
    symbol = qrcode.QRCode(error_correction=qrcode.constants.ERROR_CORRECT_Q, border=0)
    symbol.add_data(QRData(face.qr_text, mode=MODE_ALPHA_NUM), optimize=0)
    symbol.make(fit=True)
    path = page.beginPath()
    for down, row in enumerate(symbol.modules):
        start = None
        for across, dark in enumerate([*row, False]):
            if dark and start is None:
                start = across
            elif not dark and start is not None:
                path.rect(start * 0.5 * mm, (40 - down * 0.5) * mm, (across - start) * 0.5 * mm, 0.5 * mm)
                start = None
    page.drawPath(path, stroke=0, fill=1)
    for line in words:
        page.setFont(faces.name_of(line.italic), line.size)
        page.drawString(line.x * mm, (148 - line.y) * mm, line.text)
    page.showPage()
    return bytes(page.getpdfdata())
