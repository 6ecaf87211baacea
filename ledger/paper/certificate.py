"""The certificate of authenticity: its face, and Particulars on its second side.

Drawn on an A5 sheet lying down. On A4 everything stands 1.414 times as large, and words that would leave no
room for the signature may be set smaller again, never under 7 points on the paper.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from ledger.errors import Refusal
from ledger.paper import faces, qr
from ledger.paper.particulars import Particulars, SetParticulars, check_particulars, set_particulars
from ledger.paper.sheet import GRAPHITE, Line, Sheet, press
from ledger.paper.standing import SMALLEST, Standing, draw_foot

Paper = Literal["a5", "a4"]
PAPERS: dict[Paper, tuple[float, float]] = {"a5": (210, 148), "a4": (297, 210)}
"""Width and height in mm of the sheet lying down (ISO 216)."""
WIDTH, HEIGHT = PAPERS["a5"]
SIGNATURE_ROOM_MM = 14
"""The least clear paper above the signature line."""

LEFT, PLACE = 13, 80
QUIET_MM = qr.QUIET * qr.SMALLEST_MODULE_MM
COLUMN, COLUMN_END = 102, 197
LABELS = 21
SIGNATURE_Y = HEIGHT - 15.4
TITLE_STEPS = ((26, 1), (22, 1), (18, 1), (18, 3), (14, 5))
NUMBER_SIZES = (32, 28, 24, 20, 16, 13)
FACT_SIZES: dict[Paper, tuple[tuple[float, float], ...]] = {
    "a5": ((9, 10.8), (8.5, 10.8), (8, 10.8)),
    "a4": ((9, 10.8), (8.5, 10.8), (8, 10.8), (7.5, 10), (7, 9.4), (6.5, 8.8), (6, 8.2), (5.7, 7.6)),
}
"""Type of the facts and of the statement, in points on the A5 grid."""
_ITALIC = ("The title", "The statement", "A label")


@dataclass(frozen=True, kw_only=True)
class CertificateFace:
    """The words of the face, ready to print.

    `issued_on_words` as in '12 May 2026'; `write_to` is the postal or e-mail address alone. Without `qr_text`
    and `address_words` the code stands in letters with `write_to` only.
    """

    title: str
    artist: str
    year: str
    number_shown: str
    facts: tuple[tuple[str, str], ...]
    statement: str
    place: str
    issued_on_words: str
    name_as_signed: str
    code_grouped: str
    write_to: str
    picture_path: Path | None = None
    picture_px: tuple[int, int] | None = None
    fixed_sentence: str | None = None
    qr_text: str | None = None
    address_words: str | None = None


@dataclass(frozen=True)
class CertificatePages:
    """One certificate: its face, its second side if it is to have one, and where it stands once it is signed."""

    face: CertificateFace
    particulars: Particulars | None = None
    standing: Standing | None = None


@dataclass(frozen=True)
class _Column:
    """The right column as it falls: its lines, its one inner rule, and where the last line ends."""

    lines: tuple[Line, ...]
    rule_y: float
    bottom: float


@dataclass(frozen=True)
class _SetFace:
    """A face set in type and not yet drawn: every reason to refuse lies before it."""

    lines: tuple[Line, ...]
    rule_y: float
    symbol: qr.Matrix | None


def check(pages: CertificatePages, paper: Paper) -> None:
    """Set a certificate in type and draw nothing. Raises Refusal wherever `render` would."""
    _set(pages, paper)


def render(
    pages: Sequence[CertificatePages], *, paper: Paper, title: str, files: Mapping[str, bytes] | None = None
) -> bytes:
    """The PDF of one certificate or of a batch; a picture named by the same path is kept in it once.

    `files` are carried in it.

    Raises Refusal, before anything is printed, for a character the face lacks, and where the words leave no
    room for the signature.
    """
    if not pages:
        raise Refusal("There is no certificate to print. Choose at least one.")
    ready = [(each.face, each.standing, *_set(each, paper)) for each in pages]
    width, height = PAPERS[paper]
    scale = width / WIDTH
    with press(title, files) as printing:
        sheet = printing.sheet
        for face, standing, first, second in ready:
            with sheet.page(width, height), sheet.place(0, (height - HEIGHT * scale) / 2, scale):
                _draw_face(sheet, face, first)
            if second:
                with sheet.page(width, height), sheet.place(0, (height - HEIGHT * scale) / 2, scale):
                    second.draw(sheet)
                    if standing:
                        draw_foot(sheet, standing)
    return printing.pdf


def _set(pages: CertificatePages, paper: Paper) -> tuple[_SetFace, SetParticulars | None]:
    face, told = pages.face, pages.particulars
    _check(face)
    if told is None:
        return _set_face(face, paper, pages.standing), None
    check_particulars(told)
    smallest = 7 * WIDTH / PAPERS[paper][0]
    second = set_particulars(told, face.title, face.number_shown, face.code_grouped, smallest=smallest)
    return _set_face(face, paper), second


def _room(column: _Column, paper: Paper) -> float:
    return (SIGNATURE_Y - column.bottom) * PAPERS[paper][0] / WIDTH


def _check(face: CertificateFace) -> None:
    for where, text in (
        ("The artist’s name", face.artist),
        ("The year", face.year),
        ("The number", face.number_shown),
        ("The place", face.place),
        ("The date", face.issued_on_words),
        ("The name as signed", face.name_as_signed),
        ("The code", face.code_grouped),
        ("The address to write to", face.write_to),
        ("The address in words", face.address_words or ""),
        ("The fixed sentence", face.fixed_sentence or ""),
        *((f"“{label}”", value) for label, value in face.facts),
        ("The title", face.title),
        ("The statement", face.statement),
        *(("A label", label) for label, _ in face.facts),
    ):
        check_words(where, text)


def check_words(where: str, text: str, field: str | None = None) -> None:
    """Raises Refusal for a character lacking in the face a certificate prints these words in; `where`: 'The title'."""
    faces.check_text(text, where, italic=where in _ITALIC, field=field)


def _column(face: CertificateFace, paper: Paper) -> _Column:
    for fact_size, statement_size in FACT_SIZES[paper]:
        column = _compose(face, fact_size, statement_size)
        if _room(column, paper) >= SIGNATURE_ROOM_MM:
            return column
    raise Refusal(
        f"The words on this certificate leave less than {SIGNATURE_ROOM_MM} mm for the signature. "
        + ("Print it on A4, or use fewer words." if paper == "a5" else "Use fewer words.")
    )


def _compose(face: CertificateFace, fact_size: float, statement_size: float) -> _Column:
    lines, y = _heading(face)
    y += 7.6
    lead = 3.65 * fact_size / 9
    for label, value in face.facts:
        labels = faces.wrap(label, LABELS - 1, fact_size, italic=True)
        values = faces.wrap(value, COLUMN_END - COLUMN - LABELS, fact_size)
        for n, text in enumerate(labels):
            lines.append(Line(COLUMN, y + n * lead, text, fact_size, italic=True, colour=GRAPHITE))
        for n, text in enumerate(values):
            lines.append(Line(COLUMN + LABELS, y + n * lead, text, fact_size))
        y += max(len(labels), len(values)) * lead + 0.75
    rule_y = y - lead - 0.75 + 2.6 * fact_size / 9
    y = rule_y + 4.6 * statement_size / 10.8
    step = 4.5 * statement_size / 10.8
    wide = COLUMN_END - COLUMN
    last_size = statement_size
    for text in faces.wrap(face.statement, wide, statement_size, italic=True):
        lines.append(Line(COLUMN, y, text, statement_size, italic=True))
        y += step
    y -= step
    if face.fixed_sentence:
        last_size = min(7.5, fact_size)
        y += 4.8 - 3.1
        for text in faces.wrap(face.fixed_sentence, wide, last_size):
            y += 3.1
            lines.append(Line(COLUMN, y, text, last_size, colour=GRAPHITE))
    return _Column(tuple(lines), rule_y, y + faces.DESCENT * last_size / faces.POINTS_A_MM)


def _heading(face: CertificateFace) -> tuple[list[Line], float]:
    """Title, artist and year, and the y on which the artist's name stands."""
    wide = COLUMN_END - COLUMN
    fitted = faces.fit_lines(face.title, wide, TITLE_STEPS, italic=True)
    if fitted is None:
        raise Refusal("The title is too long to be set large on a certificate. Use a shorter one.")
    size, titles = fitted
    y = 26.2 if len(titles) == 1 else 18 + size * 0.36
    lead = size * 0.4
    lines = [Line(COLUMN, y + n * lead, text, size, italic=True) for n, text in enumerate(titles)]
    y += (len(titles) - 1) * lead + (6.8 if len(titles) == 1 else 6.2)
    room = wide - faces.width_mm(face.year, 13) - 5
    artist = faces.fit_lines(face.artist, room, ((13, 1), (11, 1), (9.5, 3)))
    if artist is None or room < wide / 3:
        raise Refusal("The artist’s name and the year are too long for a certificate. Use shorter ones.")
    lines.append(Line(COLUMN_END, y, face.year, 13, right=True))
    for n, text in enumerate(artist[1]):
        y += 4.2 if n else 0
        lines.append(Line(COLUMN, y, text, artist[0]))
    return lines, y


def _set_face(face: CertificateFace, paper: Paper, standing: Standing | None = None) -> _SetFace:
    column = _column(face, paper)
    size = faces.fit(face.number_shown, PLACE, NUMBER_SIZES)
    if size is None:
        raise Refusal("The number is too long to be set large on a certificate. Use a shorter one.")
    heads = (
        Line(LEFT, 106, face.number_shown, size),
        Line(COLUMN, 15.2, "CERTIFICATE OF AUTHENTICITY", 6.8, spacing=1.25, colour=GRAPHITE),
    )
    symbol = qr.matrix(face.qr_text) if face.qr_text else None
    checked = _check_lines(face, _beside(symbol))
    if standing:
        checked.append(_standing_line(standing, _beside(symbol), checked[-1].y))
    lines = (*heads, *column.lines, *checked, *_signing_lines(face))
    return _SetFace(lines, column.rule_y, symbol)


def _beside(symbol: qr.Matrix | None) -> float:
    """Where the words beside the square begin; its quiet zone may reach into the edge of the sheet."""
    return float(LEFT) if symbol is None else LEFT - QUIET_MM + qr.side_mm(symbol) + 2


def _check_lines(face: CertificateFace, x: float) -> list[Line]:
    told = "SCAN OR TYPE THIS TO CHECK" if face.qr_text else "CHECK THIS CERTIFICATE"
    write = f"or write to {face.write_to}" if face.address_words else f"Write to {face.write_to}"
    for size in (8.8, 8, 7.5, 7):
        lines = [
            line
            for text in (face.address_words, write)
            if text
            for line in faces.wrap(text, LEFT + PLACE + 3 - x, size)
        ]
        if len(lines) <= 3:
            break
    else:
        raise Refusal("The addresses on the certificate are too long. Use shorter ones.")
    return [
        Line(x, HEIGHT - 26.4, told, 6.6, spacing=1.25, colour=GRAPHITE),
        Line(x, HEIGHT - 21.6, face.code_grouped, 12.5, spacing=0.6),
        *(Line(x, HEIGHT - (17.6, 14.0, 10.5)[n], text, size) for n, text in enumerate(lines)),
    ]


def _standing_line(standing: Standing, x: float, above: float) -> Line:
    """The last line of the face; under all others where it would meet the date, or the addresses need its place."""
    short = x + faces.width_mm(standing.in_short, SMALLEST) < COLUMN - 2
    up = 10.5 if short and above < HEIGHT - 10.5 else 7.2
    return Line(x, HEIGHT - up, standing.in_short, SMALLEST, colour=GRAPHITE)


def _signing_lines(face: CertificateFace) -> list[Line]:
    place = faces.fit_lines(face.place, 28, ((8.9, 2), (8, 3), (7, 3)))
    signed = faces.fit_lines(f"{face.name_as_signed}, by hand", COLUMN_END - 132, ((7.6, 1), (7, 2)))
    if place is None or signed is None:
        raise Refusal("The place or the name beside the signature is too long. Use a shorter one.")
    return [
        *(Line(COLUMN, HEIGHT - 15.9 - 3.8 * n, text, place[0]) for n, text in enumerate(reversed(place[1]))),
        Line(COLUMN, HEIGHT - 11.9, face.issued_on_words, 8.9),
        *(Line(132, HEIGHT - 11.9 + 2.8 * n, text, signed[0], colour=GRAPHITE) for n, text in enumerate(signed[1])),
    ]


def _draw_face(sheet: Sheet, face: CertificateFace, ready: _SetFace) -> None:
    if face.picture_path and face.picture_px:
        sheet.picture(face.picture_path, face.picture_px, LEFT, 13, PLACE)
    if ready.symbol:
        qr.draw(sheet, ready.symbol, LEFT - QUIET_MM, HEIGHT - 9 - qr.side_mm(ready.symbol))
    for line in ready.lines:
        line.draw(sheet)
    sheet.rule(COLUMN, COLUMN_END, 18, 0.6)
    sheet.rule(COLUMN, COLUMN_END, ready.rule_y, 0.3)
    sheet.rule(132, COLUMN_END, SIGNATURE_Y, 0.5)
