"""The typeface of every printed paper: EB Garamond, embedded; what it lacks is told before printing."""

import re
from collections.abc import Sequence
from functools import cache, lru_cache
from pathlib import Path

import fontpkg_eb_garamond
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from ledger.errors import Refusal

REGULAR, ITALIC = "EBGaramond", "EBGaramond-Italic"
_FILES = {REGULAR: "EBGaramond[wght].ttf", ITALIC: "EBGaramond-Italic[wght].ttf"}
POINTS_A_MM = 72 / 25.4
DESCENT = 0.298
"""How far the face reaches below its line, as a share of its size."""


def name_of(italic: bool) -> str:
    """The name under which ReportLab knows the face."""
    return ITALIC if italic else REGULAR


def file_of(name: str) -> Path:
    """The TrueType file of the face."""
    return Path(fontpkg_eb_garamond.ROOT) / "files" / _FILES[name]


@cache
def face(name: str) -> TTFont:
    """The face, read from its package and made known to ReportLab once a process."""
    font = TTFont(name, str(file_of(name)))
    pdfmetrics.registerFont(font)
    return font


def folded(text: str) -> str:
    """The text on one line: breaks and tabs are spaces, and the thin fixed space is a plain fixed one."""
    return re.sub(r"[ \t\r\n]+", " ", text).strip().replace("\u202f", "\u00a0")


def check_text(text: str, where: str, *, italic: bool = False, field: str | None = None) -> None:
    """Raises Refusal naming the first character the face cannot print; `where` as in 'The title'."""
    glyphs = face(name_of(italic)).face.charToGlyph
    for character in folded(text):
        if ord(character) not in glyphs:
            sign = (
                f"“{character}” (U+{ord(character):04X})"
                if character.isprintable()
                else (f"a hidden sign (U+{ord(character):04X})")
            )
            slope = " in italic" if italic else ""
            raise Refusal(
                f"{where} has {sign}, which the typeface of the printed papers does not have{slope}. "
                "Write it in Latin, Greek or Cyrillic letters.",
                field=field,
            )


@lru_cache(maxsize=16384)  # a batch measures the same words again and again
def width_mm(text: str, size: float, *, italic: bool = False, spacing: float = 0.0) -> float:
    """How wide the text is, in mm; `size` and the `spacing` between letters in points."""
    line = folded(text)
    points = face(name_of(italic)).stringWidth(line, size) + spacing * max(0, len(line) - 1)
    return float(points) / POINTS_A_MM


def wrap(text: str, width: float, size: float, *, italic: bool = False) -> list[str]:
    """The text in lines of at most `width` mm; a wider word is broken, best after a point or stroke."""
    lines: list[str] = []
    line = ""
    for word in folded(text).split(" "):
        longer = f"{line} {word}" if line else word
        if width_mm(longer, size, italic=italic) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        *broken, line = _broken(word, width, size, italic)
        lines += broken
    return [*lines, line] if line else lines


def _broken(word: str, width: float, size: float, italic: bool) -> list[str]:
    parts = []
    while width_mm(word, size, italic=italic) > width and len(word) > 1:
        ends = range(2, len(word) + 1)
        fits = next(end for end in ends if width_mm(word[:end], size, italic=italic) > width) - 1
        at = max(word.rfind(sign, 0, fits) for sign in "./@-") + 1 or fits
        parts.append(word[:at])
        word = word[at:]
    return [*parts, word]


def fit(text: str, width: float, sizes: Sequence[float], *, italic: bool = False, spacing: float = 0.0) -> float | None:
    """The first of the sizes at which the text is one line of at most `width` mm; None if it never is."""
    fitting = (size for size in sizes if width_mm(text, size, italic=italic, spacing=spacing) <= width)
    return next(fitting, None)


def fit_lines(
    text: str, width: float, steps: Sequence[tuple[float, int]], *, italic: bool = False
) -> tuple[float, list[str]] | None:
    """The first (size, most lines) step the text keeps to, its size and its lines; None if none."""
    for size, most in steps:
        lines = wrap(text, width, size, italic=italic)
        if len(lines) <= most:
            return size, lines
    return None


def cut(text: str, width: float, sizes: Sequence[float], *, italic: bool = False) -> tuple[str, float]:
    """The text at the first size that fits, cut at the smallest if it must be: the record has it whole."""
    size = fit(text, width, sizes, italic=italic)
    if size is not None:
        return text, size
    while text and width_mm(f"{text}…", sizes[-1], italic=italic) > width:
        text = text[:-1]
    return f"{text.rstrip()}…", sizes[-1]
