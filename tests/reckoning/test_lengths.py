"""Lengths as they are typed at a bench, and as they are written back."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import Refusal
from ledger.reckoning import lengths
from ledger.reckoning.lengths import Unit


@pytest.mark.parametrize(
    ("typed", "unit", "um"),
    [
        ("203", "mm", 203_000),
        ("203.2 mm", "mm", 203_200),
        ("20.3 cm", "mm", 203_000),
        (" .5 ", "mm", 500),
        ("8", "in", 203_200),
        ("8 in", "in", 203_200),
        ('8"', "in", 203_200),
        ("8.5 inches", "in", 215_900),
        ("8 1/16 in", "in", 204_788),
        ("8-1/16", "in", 204_788),
        ("1/2", "in", 12_700),
        ("0", "mm", 0),
    ],
)
def test_a_length_is_read_as_it_is_typed(typed: str, unit: Unit, um: int) -> None:
    assert lengths.parse(typed, unit, field="image.width") == um


@pytest.mark.parametrize(
    ("typed", "unit", "sentence"),
    [
        ("6,5", "mm", "“6,5” has a comma: write 6.5."),
        ("1,200", "mm", "“1,200” has a comma: write 1200 or 1.200."),
        ("8 in", "mm", "This plan is in millimetres, and “8 in” is not. Write 203.2 mm for it"),
        ("203 mm", "in", "This plan is in inches, and “203 mm” is not. Write 8 in for it"),
        ("8 1/16", "mm", "“8 1/16” is a fraction, as inches are written. In inches it is 204.79 mm"),
        ("8 in 203 mm", "mm", "“8 in 203 mm” is more than one length. Write one, in one unit."),
        ("-5", "mm", "“-5” is below nothing."),
        ("wide", "mm", "“wide” is not a length. Write it in figures, such as 203."),
        ("", "in", "“” is not a length. Write it in figures, such as 8 1/16."),
        ("5 ft", "mm", "“ft” is not a unit used here. Write mm, cm or in."),
        ("1/0", "in", "“1/0” divides by nothing."),
        ("20000", "mm", "“20000” is more than 10 m."),
        ("1.0005", "mm", "finer than a thousandth of a millimetre"),
    ],
)
def test_what_cannot_be_read_one_way_is_refused_and_says_what_to_write(typed: str, unit: Unit, sentence: str) -> None:
    with pytest.raises(Refusal) as refused:
        lengths.parse(typed, unit, field="image.width")
    assert sentence in refused.value.message
    assert refused.value.field == "image.width"


def test_a_picture_of_8_without_a_unit_could_be_inches_and_asks() -> None:
    with pytest.raises(Refusal) as refused:
        lengths.parse("8", "mm", side=True)
    assert refused.value.message == (
        "“8” has no unit and can be read in more than one way. "
        "Write 203.2 mm if inches are meant, 80 mm if centimetres are meant, 8 mm if millimetres are meant."
    )
    with pytest.raises(Refusal, match="8 in if millimetres are meant"):
        lengths.parse("203", "in", side=True)
    assert lengths.parse("8 mm", "mm", side=True) == 8_000
    assert lengths.parse("8 1/2", "in", side=True) == 215_900


def test_two_sides_are_read_together_and_share_the_unit_behind_them() -> None:
    assert lengths.parse_size("302 x 402", "mm") == (302_000, 402_000)
    assert lengths.parse_size("20.3 × 25.4 cm", "mm") == (203_000, 254_000)
    assert lengths.parse_size("8in x 10 in", "in") == (203_200, 254_000)
    assert lengths.parse_size("8 1/2 by 11", "in") == (215_900, 279_400)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("8 x 8", "Write 203.2 x 203.2 mm if inches are meant, 80 x 80 mm if centimetres are meant"),
        ("8 x 8 in", "Write 203.2 mm for it"),
        ("203 mm x 8 in", "two units"),
        ("203 mm x 254", "a unit for one side only"),
        ("203", "“203” is not a width and a height. Write both, such as 203 x 254."),
        ("203 x", "is not a width and a height"),
    ],
)
def test_two_sides_that_can_be_read_two_ways_are_refused(typed: str, sentence: str) -> None:
    with pytest.raises(Refusal) as refused:
        lengths.parse_size(typed, "mm", field="frame")
    assert sentence in refused.value.message
    assert refused.value.field == "frame"


def test_lengths_are_written_as_a_rule_reads() -> None:
    assert [lengths.shown(um, "mm") for um in (69_000, 59_500, 48_180, 1_979, 0)] == [
        "69",
        "59.5",
        "48.18",
        "1.98",
        "0",
    ]
    assert [lengths.shown(um, "in") for um in (203_200, 204_788, 12_700, 0, -1_588)] == [
        "8",
        "8 1/16",
        "1/2",
        "0",
        "−1/16",
    ]
    assert lengths.said(59_500, "mm") == "59.5 mm"
    assert lengths.size_said(300_000, 250_000, "mm") == "300 × 250 mm"


@given(st.integers(0, 6_000), st.sampled_from(["mm", "in"]))
def test_what_is_written_is_read_back_the_same(steps: int, unit: Unit) -> None:
    um = lengths.parse(lengths.from_steps(steps, unit), unit)
    assert lengths.written_steps(um, unit) == steps
    assert lengths.on_the_rule(um, unit)


@given(st.fractions(0, 10**7), st.sampled_from(["mm", "in"]))
def test_rounding_moves_a_line_by_half_a_step_at_most(um: Fraction, unit: Unit) -> None:
    near = lengths.rounded(um, unit)
    assert abs(near - um) <= lengths.ROUNDING_UM[unit] / 2 + Fraction(1, 2)
    assert lengths.rounded(Fraction(near), unit) == near


@pytest.mark.parametrize(
    ("words", "set_"),
    [
        ("4 3/16 in", "4³⁄₁₆\u00a0in"),
        ("1/16 in (1.4 mm) past", "¹⁄₁₆\u00a0in (1.4\u00a0mm) past"),
        ("3 1/8 + 7 3/4 + 3 = 13 7/8.", "3¹⁄₈ + 7³⁄₄ + 3 = 13⁷⁄₈."),
        ("300 × 250 mm in a frame", "300 × 250\u00a0mm in a frame"),
    ],
)
def test_a_fraction_is_set_so_that_it_is_not_read_with_the_figure_before_it(words: str, set_: str) -> None:
    assert lengths.typeset(words) == set_
