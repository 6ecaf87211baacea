"""Numbers as the trade writes them: 7/25, AP II/III, No. 17; ranges of them; and in words."""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from ledger.errors import Refusal

Style = Literal["of_count", "roman_of_count", "roman", "serial", "unnumbered"]
"""7/25, II/III, II, No. 17, or no number at all; the words the class keeps."""

_ROMAN = (
    (1000, "M"), (900, "CM"), (500, "D"), (400, "CD"), (100, "C"), (90, "XC"),
    (50, "L"), (40, "XL"), (10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I"),
)  # fmt: skip


def roman(n: int) -> str:
    """Capital roman numerals, 1 to 9999 (thousands repeat the M). Raises ValueError outside that."""
    if not 1 <= n <= 9999:
        raise ValueError(f"{n} is not written in roman numerals here")
    written = ""
    for amount, letters in _ROMAN:
        written += letters * (n // amount)
        n %= amount
    return written


def parse_roman(text: str) -> int | None:
    """The number these roman numerals stand for, in either case; None where they are not well formed."""
    letters = text.strip().upper()
    rest, n = letters, 0
    for amount, numeral in _ROMAN:
        while rest.startswith(numeral):
            rest, n = rest[len(numeral) :], n + amount
    return n if not rest and 1 <= n <= 9999 and roman(n) == letters else None


def shown(style: Style, number: int, count: int, label: str = "") -> str:
    """The number of a piece as it is written: "7/25", "AP II/III", "AP II", "No. 17", "BAT".

    `label` stands in front and is empty for the numbered class; styles that name no count leave it out. An
    unnumbered piece is its label.
    """
    if style == "unnumbered":
        return label or "unnumbered"
    written = {
        "of_count": lambda: f"{number}/{count}",
        "roman_of_count": lambda: f"{roman(number)}/{roman(count)}",
        "roman": lambda: roman(number),
        "serial": lambda: f"No. {number}",
    }[style]()
    return f"{label} {written}".strip()


def ranges(text: str, top: int) -> list[int]:
    """The numbers meant by "1-12, 14, 20-", rising; an open end runs to `top`, the highest there is.

    Raises Refusal, quoting what was typed, for anything else than whole numbers from 1 to `top`, each once.
    """
    parts = [part.strip() for part in re.split(r"[,;]|\band\b", text) if part.strip()]
    if not parts:
        raise Refusal("Write numbers, such as 1-12, 14.")
    found: set[int] = set()
    for part in parts:
        low, dash, high = re.sub(r"\s*(?:-|–|—|\bto\b)\s*", "-", part).partition("-")
        if dash and not low:
            raise Refusal(f"“{part}” has no first number. Write 1-{high}.")
        first = _whole(low, top)
        last = (_whole(high, top) if high else top) if dash else first
        if last < first:
            raise Refusal(f"“{part}” runs backwards. Write {last}-{first}.")
        for number in range(first, last + 1):
            if number in found:
                raise Refusal(f"{number} is named twice. Name each number once.")
            found.add(number)
    return sorted(found)


def _whole(text: str, top: int) -> int:
    if not re.fullmatch(r"[0-9]{1,9}", text):
        figures = re.search(r"[0-9]+", text)
        instead = figures[0].lstrip("0") if figures else ""
        raise Refusal(f"“{text}” is not a whole number. Write {instead or 'numbers, such as 1-12, 14'}.")
    number = int(text)
    if number < 1:
        raise Refusal("There is no number 0. The first is 1.")
    if number > top:
        raise Refusal(f"There is no number {number}. The highest is {top}.")
    return number


def said(numbers: Iterable[int]) -> str:
    """Numbers for a sentence, rising: "1 to 12, 14"; three or more in a row are drawn together."""
    rows: list[list[int]] = []
    for number in sorted(set(numbers)):
        if rows and number == rows[-1][-1] + 1:
            rows[-1].append(number)
        else:
            rows.append([number])
    together = (f"{row[0]} to {row[-1]}" if len(row) > 2 else ", ".join(map(str, row)) for row in rows)
    return ", ".join(together) or "none"


_SMALL = (
    "nought", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")


def words(n: int) -> str:
    """A count in words, 0 to 9999: "twenty-five". Raises ValueError outside that."""
    if not 0 <= n <= 9999:
        raise ValueError(f"{n} is not put into words here")
    if n < 20:
        return _SMALL[n]
    if n < 100:
        tens = _TENS[n // 10 - 2]
        return f"{tens}-{_SMALL[n % 10]}" if n % 10 else tens
    unit, name = (1000, "thousand") if n >= 1000 else (100, "hundred")
    rest = n % unit
    head = f"{_SMALL[n // unit]} {name}"
    if not rest:
        return head
    return f"{head} {'and ' if rest < 100 else ''}{words(rest)}"


def ordinal(n: int) -> str:
    """1st, 2nd, 3rd, 11th, 21st."""
    ending = {1: "st", 2: "nd", 3: "rd"}.get(n % 10, "th") if n % 100 not in (11, 12, 13) else "th"
    return f"{n}{ending}"


@dataclass(frozen=True)
class PlainForm:
    """What an inscription comes to, however it was written; `kind` is None for the numbered class."""

    kind: str | None = None
    number: int | None = None
    count: int | None = None


_KINDS = {
    "AP": ("AP", "EA", "PA", "ARTISTSPROOF", "ARTISTPROOF", "EPREUVEDARTISTE"),
    "PP": ("PP", "PRINTERSPROOF"),
    "HC": ("HC", "HORSCOMMERCE"),
    "BAT": ("BAT", "BONATIRER"),
    "EP": ("EP", "EXHIBITIONPRINT"),
    "TP": ("TP", "WP", "TRIALPROOF", "WORKINGPROOF"),
}
_KIND_OF = {letters: kind for kind, all_letters in _KINDS.items() for letters in all_letters}
_NUMERAL = r"([0-9]{1,9}|[IVXLCDM]+)"
_COUNTED = re.compile(rf"(?:(?:NUMBER|NO\.?|N°|#)\s*)?{_NUMERAL}(?:\s*(?:/|OF)\s*{_NUMERAL})?")


def plain_form(text: str) -> PlainForm | None:
    """What "A/P 2", "AP II/III", "7/25", "no 7 of 25", "No. 17" or "BAT" comes to; None for other words.

    Roman numerals count only after a class's letters or before a count, so that the title Mix stays a title.
    """
    unaccented = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    typed = " ".join(unaccented.upper().split())
    for end in range(len(typed), 0, -1):
        kind = _KIND_OF.get(re.sub(r"[ ./'’-]", "", typed[:end]))
        if kind and (end == len(typed) or not typed[end].isalpha() or typed[end - 1] in " ./"):
            rest = typed[end:].strip(" .,")
            if not rest:
                return PlainForm(kind)
            numbers = _numbers(rest)
            return PlainForm(kind, *numbers) if numbers else None
    numbers = _numbers(typed)
    if numbers and (typed[-1].isdigit() or numbers[1] is not None):
        return PlainForm(None, *numbers)
    return None


def _numbers(text: str) -> tuple[int, int | None] | None:
    found = _COUNTED.fullmatch(text)
    if not found:
        return None
    number, count = (_numeral(part) for part in found.groups(default=""))
    if not number or (found[2] and not count):
        return None
    return number, count


def _numeral(text: str) -> int | None:
    return int(text) if text.isdigit() else parse_roman(text)
