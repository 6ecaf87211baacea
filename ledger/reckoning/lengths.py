"""Lengths as a bench writes them: typed in millimetres or inches, kept in whole micrometres, written back.

A plan is in one unit. A bare figure is in the plan's unit; centimetres count as millimetres written otherwise;
the other system is refused with the figure to write instead, for 8 in and 8 x 203 mm on one plan end in a board
cut wrong.
"""

import re
from fractions import Fraction
from typing import Literal

from ledger.errors import Refusal
from ledger.reckoning.measures import millimetres
from ledger.reckoning.money import half_up

Unit = Literal["mm", "in"]

INCH_UM = 25_400  # by definition since 1959
ROUNDING_UM: dict[Unit, Fraction] = {"mm": Fraction(500), "in": Fraction(INCH_UM, 16)}
"""What a rule is read to at the bench: half a millimetre, a sixteenth of an inch."""
_WRITTEN_TO_UM: dict[Unit, Fraction] = {"mm": Fraction(10), "in": Fraction(INCH_UM, 16)}

_UM = {"mm": 1_000, "cm": 10_000, "in": INCH_UM}
_UNITS = {"mm": "mm", "cm": "cm", "in": "in", "inch": "in", "inches": "in", '"': "in", "″": "in", "”": "in"}
_NAMES = {"mm": "millimetres", "in": "inches"}
_FIGURE = r"(?:[0-9]+[ -])?[0-9]+/[0-9]+|[0-9]*\.?[0-9]+|[0-9]+\."
_LENGTH = re.compile(rf"({_FIGURE})\s*([a-z]+|[\"″”])?", re.IGNORECASE)
_RAISED, _LOWERED = (str.maketrans("0123456789", shapes) for shapes in ("⁰¹²³⁴⁵⁶⁷⁸⁹", "₀₁₂₃₄₅₆₇₈₉"))
_SMALLEST_BARE_MM = 40
_LARGEST_BARE_IN = 60
_MOST_UM = 10_000_000


def parse(text: str, unit: Unit, *, field: str | None = None, side: bool = False) -> int:
    """The micrometres typed: '203', '20.3 cm', '8 1/16 in'. Inches are kept to the nearest micrometre.

    `side` says that it is the side of a picture, sheet or frame: there a bare 8 in a plan in millimetres, or a bare
    203 in one in inches, could be read in either, and is refused. Raises Refusal.
    """
    typed = text.strip()
    figure, written = _split(typed, unit, field)
    if side and written is None:
        _check_one_reading(typed, [figure], unit, field)
    return _um(typed, figure, written or unit, unit, field)


def parse_size(text: str, unit: Unit, *, field: str | None = None) -> tuple[int, int]:
    """Width and height typed together: '302 x 402', '8 × 10 in'; a unit behind the second is that of both.

    Raises Refusal.
    """
    typed = text.strip()
    parts = re.split(r"\s*(?:[x×*]|\bby\b)\s*", typed, flags=re.IGNORECASE)
    if len(parts) != 2 or not all(parts):
        raise Refusal(
            f"“{typed}” is not a width and a height. Write both, such as {_example(unit, size=True)}.", field=field
        )
    (width, width_unit), (height, height_unit) = (_split(part, unit, field) for part in parts)
    if width_unit and width_unit != height_unit:
        raise Refusal(f"“{typed}” has a unit for one side only, or two units. Write one, at the end.", field=field)
    if height_unit is None:
        _check_one_reading(typed, [width, height], unit, field)
    written = height_unit or unit
    return _um(typed, width, written, unit, field), _um(typed, height, written, unit, field)


def _example(unit: Unit, *, size: bool = False) -> str:
    return {("mm", False): "203", ("mm", True): "203 x 254", ("in", False): "8 1/16", ("in", True): "8 x 10"}[
        unit, size
    ]


def _split(typed: str, unit: Unit, field: str | None) -> tuple[str, str | None]:
    """The figure and the unit written behind it, if one was."""
    if typed[:1] in ("-", "−"):
        raise Refusal(f"“{typed}” is below nothing. Write a length, such as {_example(unit)}.", field=field)
    if "," in typed:
        raise Refusal(f"“{typed}” has a comma: write {_without_comma(typed)}.", field=field)
    found = _LENGTH.fullmatch(typed)
    if found is None and len(_LENGTH.findall(typed)) > 1 and _LENGTH.sub("", typed).strip() == "":
        raise Refusal(f"“{typed}” is more than one length. Write one, in one unit.", field=field)
    if found is None:
        raise Refusal(f"“{typed}” is not a length. Write it in figures, such as {_example(unit)}.", field=field)
    figure, word = found[1], found[2]
    if word and word.lower() not in _UNITS:
        raise Refusal(f"“{word}” is not a unit used here. Write mm, cm or in.", field=field)
    return figure, _UNITS[word.lower()] if word else None


def _without_comma(typed: str) -> str:
    """What was most likely meant; 1,200 has two readings."""
    point = typed.replace(",", ".")
    return f"{typed.replace(',', '')} or {point}" if re.search(r",[0-9]{3}(?![0-9])", typed) else point


def _exact(typed: str, figure: str, field: str | None) -> Fraction:
    *whole, last = re.split(r"[ -]", figure)
    if re.search(r"/0+$", last):
        raise Refusal(f"“{typed}” divides by nothing. Look at it again.", field=field)
    return sum((Fraction(part) for part in whole), start=Fraction(last.removesuffix(".")))


def _check_one_reading(typed: str, figures: list[str], unit: Unit, field: str | None) -> None:
    exact = [_exact(typed, figure, field) for figure in figures]
    doubtful = min(exact) < _SMALLEST_BARE_MM if unit == "mm" else max(exact) > _LARGEST_BARE_IN
    if not doubtful or any("/" in figure for figure in figures):
        return
    readings = {"inches": INCH_UM, "centimetres": 10_000, "millimetres": 1_000}
    written = {name: " x ".join(shown(half_up(value * um), unit) for value in exact) for name, um in readings.items()}
    said = ", ".join(f"{figure} {unit} if {name} are meant" for name, figure in written.items())
    raise Refusal(f"“{typed}” has no unit and can be read in more than one way. Write {said}.", field=field)


def _um(typed: str, figure: str, written: str, unit: Unit, field: str | None) -> int:
    exact = _exact(typed, figure, field)
    if "/" in figure and written != "in":
        meant = shown(half_up(exact * INCH_UM), "mm")
        raise Refusal(
            f"“{typed}” is a fraction, as inches are written. In inches it is {meant} mm: write that, or decimals of "
            "a millimetre.",
            field=field,
        )
    um = exact * _UM[written]
    if um > _MOST_UM:
        raise Refusal(f"“{typed}” is more than 10 m. Look at it again.", field=field)
    if (written == "in") != (unit == "in"):
        raise Refusal(
            f"This plan is in {_NAMES[unit]}, and “{typed}” is not. Write {shown(half_up(um), unit)} {unit} for it, "
            f"or write the whole plan in {_NAMES['mm' if unit == 'in' else 'in']}.",
            field=field,
        )
    if written != "in" and um.denominator != 1:
        raise Refusal(f"“{typed}” is finer than a thousandth of a millimetre. Use fewer decimals.", field=field)
    return half_up(um)


def rounded(um: Fraction, unit: Unit) -> int:
    """The nearest half millimetre, or sixteenth of an inch kept to the micrometre; a tie goes up."""
    return half_up(half_up(um / ROUNDING_UM[unit]) * ROUNDING_UM[unit])


def next_step(um: int, unit: Unit) -> int:
    """The least half millimetre, or sixteenth of an inch, that is not below this length."""
    return half_up(-(-um // ROUNDING_UM[unit]) * ROUNDING_UM[unit])


def step_below(um: int, unit: Unit) -> int:
    """The largest half millimetre, or sixteenth of an inch, that is not above this length."""
    # A sixteenth of an inch, kept to the micrometre, may stand half a micrometre below itself.
    return half_up((um + 1) // ROUNDING_UM[unit] * ROUNDING_UM[unit])


def shown(um: int, unit: Unit) -> str:
    """The figure alone: '203', '59.5', '48.18'; '8 1/16' in inches, to the nearest sixteenth."""
    return from_steps(written_steps(um, unit), unit)


def said(um: int, unit: Unit) -> str:
    """The figure with its unit: '59.5 mm', '8 1/16 in'."""
    return f"{shown(um, unit)} {unit}"


def thickness_said(um: int) -> str:
    """In millimetres whatever the plan is in: a board of 1.4 mm and one of 2 mm are both a sixteenth of an inch."""
    return said(um, "mm")


def size_said(width_um: int, height_um: int, unit: Unit) -> str:
    """'300 × 250 mm', '8 × 10 in'."""
    return f"{shown(width_um, unit)} × {said(height_um, unit)}"


def written_steps(um: int, unit: Unit) -> int:
    """How many hundredths of a millimetre, or sixteenths of an inch, a length is written as."""
    return half_up(um / _WRITTEN_TO_UM[unit])


def from_steps(steps: int, unit: Unit) -> str:
    """The figure of so many hundredths of a millimetre or sixteenths of an inch."""
    sign, size = ("−" if steps < 0 else ""), abs(steps)
    if unit == "mm":
        return sign + millimetres(size * 10)
    whole, part = divmod(size, 16)
    fraction = str(Fraction(part, 16)) if part else ""
    return sign + (" ".join(filter(None, (str(whole) if whole else "", fraction))) or "0")


def typeset(words: str) -> str:
    """As set for people: a fraction in its own shape, for 4 3/16 may be read as 43/16 or break over two lines, and no
    line ending between a figure and its unit.
    """

    def fraction(found: re.Match[str]) -> str:
        return f"{found[1].translate(_RAISED)}\u2044{found[2].translate(_LOWERED)}"

    shaped = re.sub(r"(?:(?<=[0-9]) )?\b([0-9]+)/([0-9]+)\b", fraction, words)
    return re.sub(r"(?<=[0-9₀-₉]) (?=(?:mm|in)\b)", "\u00a0", shaped)


def on_the_rule(um: int, unit: Unit) -> bool:
    """Whether a length is written exactly as it is, to the micrometre."""
    return abs(um - written_steps(um, unit) * _WRITTEN_TO_UM[unit]) < 1
