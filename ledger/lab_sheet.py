"""The file a lab prints a ganged sheet from: its exact pixels in one colour profile, or a PDF; and what to order.

Everything that opens a picture is done in a child process with limits on memory and time. Of the masters only
pixels and colour profiles reach the file: no place, device or name.
"""

import tempfile
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

from ledger.child import ask
from ledger.errors import Refusal
from ledger.home import FULL
from ledger.paper import faces, lab_pdf
from ledger.reckoning.lab_marks import PEN_UM, Box, LabMarks, Piece, TypeLine, lab_marks, pixels
from ledger.reckoning.lengths import INCH_UM
from ledger.reckoning.measures import by_measure
from ledger.reckoning.pixels import print_quality

Kind = Literal["tiff", "jpeg", "pdf"]
MOST_MEMORY = 3 << 30
"""Bytes of address space for the child."""
LONGEST_SECONDS = 300
MOST_PIXELS = 200_000_000
KINDS = {".jpg": "JPEG", ".png": "PNG", ".tif": "TIFF"}
INTENT = "relative colorimetric, with black point compensation"
ADVICE = "Print it at its own size: no resizing, no fit to sheet. Leave the colours as they are."
EDGES = "Paper of the same size: print to the edge without enlarging. Larger paper: leave it untrimmed."
RULE = "100 mm"
SMALL_CUT_BP = 100
"""Up to one part in a hundred of a picture is cut off without a word."""


@dataclass(frozen=True, kw_only=True)
class LaidPicture:
    """A kept master on its piece. The pixels are as seen, `turned` is a quarter turn clockwise on the sheet."""

    title: str
    master: Path
    width_px: int
    height_px: int
    piece: Piece
    turned: bool = False
    caption: str = ""

    @property
    def upright_um(self) -> tuple[int, int]:
        """Width and height of the picture as printed, seen upright, bleed and all."""
        size = self.piece.printed.width_um, self.piece.printed.height_um
        return size[::-1] if self.turned else size


@dataclass(frozen=True, kw_only=True)
class LabSheet:
    """A sheet ready to be drawn. `usable` is within its margins.

    `blank` are finished pieces without a picture: they have trim marks, and stay white. `profile` is 'sRGB', or 'own'
    for the one of the first picture.
    """

    width_um: int
    height_um: int
    usable: Box
    ppi: int
    pictures: tuple[LaidPicture, ...]
    blank: tuple[Box, ...] = ()
    profile: Literal["sRGB", "own"] = "sRGB"

    @property
    def box(self) -> Box:
        return Box(0, 0, self.width_um, self.height_um)

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height, each half rounded up: A3 at 300 pixels an inch has 3508 × 4961."""
        return pixels(self.width_um, self.ppi), pixels(self.height_um, self.ppi)

    @cached_property
    def marks(self) -> LabMarks:
        """Trim marks, room for captions and the rule."""
        pieces = [*(picture.piece for picture in self.pictures), *(Piece(box, box) for box in self.blank)]
        return lab_marks(self.box, self.usable, pieces)

    @property
    def captions(self) -> list[tuple[LaidPicture, TypeLine | None]]:
        """Every picture with the room for its caption, None where the gutter is too narrow."""
        return list(zip(self.pictures, self.marks.captions, strict=False))


@dataclass(frozen=True)
class Written:
    """What a file is: bits of a channel (0 for a PDF, which keeps those of its pictures), its profile's name, and a
    sentence for all that is otherwise than one might expect."""

    bits: int
    profile: str
    notes: tuple[str, ...]


def foretold(sheet: LabSheet, kind: Kind) -> Written:
    """What a file of this kind will be, from the headers of the pictures. Raises Refusal as `write_tiff` does."""
    return _written(_ask(sheet, kind, Path(), only_told=True))


def write_tiff(sheet: LabSheet, target: Path) -> Written:
    """Write the sheet as a TIFF: 16 bits where every picture has them in the sheet's profile, else 8.

    Raises Refusal, leaving no file, for a picture that is gone, damaged or too large, a sheet of more than 200
    million pixels, and when the disk is full.
    """
    return _write(sheet, target, "tiff")


def write_jpeg(sheet: LabSheet, target: Path) -> Written:
    """Write the sheet as a JPEG of the highest quality. Raises Refusal as `write_tiff` does."""
    return _write(sheet, target, "jpeg")


def write_pdf(sheet: LabSheet, target: Path, title: str) -> Written:
    """Write the sheet as a PDF at its true size.

    A JPEG of grey or RGB passes through with its own profile, less its metadata; another picture is converted
    to the sheet's profile, whole. Raises Refusal as `write_tiff` does.
    """
    with tempfile.TemporaryDirectory() as scratch:
        told = _ask(sheet, "pdf", Path(scratch))
        ready = {each["master"]: (each, *_files(each)) for each in told["ready"]}
    printed = []
    for picture in sheet.pictures:
        about, jpeg, profile = ready[str(picture.master.resolve())]
        size = picture.width_px, picture.height_px
        kept = lab_pdf.KeptPicture(jpeg, profile, *size, turning=about["turning"], grey=about["grey"])
        printed.append(lab_pdf.PrintedPicture(kept, picture.piece.printed, picture.turned))
    page = lab_pdf.render(title, sheet.box, printed, sheet.marks.lines, _texts(sheet))
    target.write_bytes(page)
    return _written(told)


def _files(about: dict[str, Any]) -> tuple[bytes, bytes]:
    return Path(about["jpeg"]).read_bytes(), Path(about["icc"]).read_bytes()


def shortcomings(sheet: LabSheet) -> tuple[str, ...]:
    """Sentences for all that is not as one would wish: low pictures, cut pictures, captions or a rule left out."""
    told = [_too_few_pixels(picture) for picture in sheet.pictures]
    told += [_cut_off(picture) for picture in sheet.pictures]
    captioned = [place for picture, place in sheet.captions if picture.caption]
    if without := captioned.count(None):
        have = "has" if without == 1 else "have"
        told.append(f"{without} of {len(captioned)} prints {have} no caption: the gutter below is too narrow for one.")
    if sheet.marks.rule is None:
        told.append("The rule of 100 mm is left out: no free place on the sheet is long enough.")
    return tuple(dict.fromkeys(sentence for sentence in told if sentence))


def _too_few_pixels(picture: LaidPicture) -> str:
    quality = print_quality(picture.width_px, picture.height_px, *picture.upright_um)
    return "" if quality.word == "good" else f"“{picture.title}”: {quality.sentence}"


def _cut_off(picture: LaidPicture) -> str:
    width, height = picture.upright_um
    one, other = picture.width_px * height, picture.height_px * width
    lost_bp = 10_000 - 10_000 * min(one, other) // max(one, other)
    if lost_bp <= SMALL_CUT_BP:
        return ""
    ends = "left and right" if one > other else "at the top and the bottom"
    return f"“{picture.title}” is not of the shape of its place: {lost_bp / 100:.0f} % is cut off, {ends} alike."


def order_note(sheet: LabSheet, written: Written, file: str, copies: int) -> str:
    """What to write to the lab with the order of so many copies of a file, a line for each thing it should know."""
    width, height = sheet.size_px
    size = by_measure(sheet.width_um, sheet.height_um)
    kind = f"{width} × {height} px at {sheet.ppi} pixels an inch" if written.bits else "a PDF at its true size"
    colours = (
        f"Colour profile {written.profile}, embedded; {written.bits} bits a channel."
        if written.bits
        else "Each picture has its colour profile."
    )
    return "\n".join([
        f"File {file}: {copies:,} {'copy' if copies == 1 else 'copies'}.",
        f"Sheet {size}: {kind}.",
        ADVICE,
        EDGES,
        colours,
        f"Rendering intent {INTENT}.",
        *(["The rule on the sheet is 100 mm long: please measure it on the print."] if sheet.marks.rule else []),
    ])  # fmt: skip


# The child


def _write(sheet: LabSheet, target: Path, kind: Kind) -> Written:
    try:
        return _written(_ask(sheet, kind, target))
    except BaseException:
        target.unlink(missing_ok=True)
        raise


def _written(told: dict[str, Any]) -> Written:
    return Written(told["bits"], told["profile"], tuple(told["notes"]))


def _ask(sheet: LabSheet, kind: Kind, target: Path, *, only_told: bool = False) -> dict[str, Any]:
    width, height = sheet.size_px
    if width * height > MOST_PIXELS:
        raise Refusal(
            f"The sheet would have {width:,} × {height:,} px. At most {MOST_PIXELS // 1_000_000} million can be made: "
            "choose a smaller sheet, or fewer pixels an inch.",
            field="ppi",
        )
    try:
        return ask(
            "ledger.lab_sheet_child",
            {
                "kind": kind,
                "only_told": only_told,
                "target": str(target.resolve()),
                "width_px": width,
                "height_px": height,
                "ppi": sheet.ppi,
                "profile": sheet.profile,
                "memory": MOST_MEMORY,
                "pictures": [_picture(picture, sheet.ppi) for picture in sheet.pictures],
                "lines": [_stroke(line, sheet.ppi) for line in sheet.marks.lines],
                "texts": [_text(place, text, sheet.ppi) for place, text in _texts(sheet)],
                "face": str(faces.file_of(faces.REGULAR)),
            },
            memory=MOST_MEMORY,
            seconds=LONGEST_SECONDS,
            doing="Making the sheet",
            instead="Put fewer or smaller pictures on it.",
        )
    except OSError as problem:
        if problem.errno in FULL:
            raise Refusal("The disk is full: the sheet was not made. Make room and try again.") from None
        raise


def _picture(picture: LaidPicture, ppi: int) -> dict[str, Any]:
    if not picture.master.is_file():
        raise Refusal(f"The picture of “{picture.title}” is not in the ledger’s folder. Restore it from a backup.")
    return {
        "title": picture.title,
        "master": str(picture.master.resolve()),
        "kind": KINDS[picture.master.suffix],
        "box": picture.piece.printed.in_pixels(ppi),
        "ratio": picture.upright_um,
        "turned": picture.turned,
    }


def _stroke(line: Box, ppi: int) -> tuple[int, int, int, int]:
    """A stroke is one pen wide everywhere, however its edges fall on the pixels."""
    left, top, right, bottom = line.in_pixels(ppi)
    pen = max(1, pixels(PEN_UM, ppi))
    return (
        left, top, left + pen if line.width_um == PEN_UM else right, top + pen if line.height_um == PEN_UM else bottom
    )  # fmt: skip


def _text(place: TypeLine, text: str, ppi: int) -> dict[str, Any]:
    size = place.size_um * ppi / INCH_UM
    return {"x_px": pixels(place.x_um, ppi), "y_px": pixels(place.y_um, ppi), "size_px": size, "text": text}


def _texts(sheet: LabSheet) -> list[tuple[TypeLine, str]]:
    """The captions that have room, cut where they are too long, and the name of the rule."""
    texts = []
    for picture, place in sheet.captions:
        if place and picture.caption:
            faces.check_text(picture.caption, f"The caption of “{picture.title}”")
            points = place.size_um / 1000 * faces.POINTS_A_MM
            texts.append((place, faces.cut(faces.folded(picture.caption), place.width_um / 1000, (points,))[0]))
    if sheet.marks.rule:
        texts.append((sheet.marks.rule, RULE))
    return texts
