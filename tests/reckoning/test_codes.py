import random
from itertools import combinations

import pytest
from stdnum.iso7064 import mod_37_2

from ledger.errors import Refusal
from ledger.reckoning import codes

DRAW = random.Random(7064).randrange
CODES = [codes.new_code(DRAW) for _ in range(10_000)]


def test_ten_thousand_codes_pass_another_hands_iso_7064() -> None:
    assert all(mod_37_2.is_valid(code) for code in CODES)
    assert all(codes.well_formed(code) for code in CODES)
    assert len(set(CODES)) == len(CODES)


@pytest.mark.parametrize(
    ("payload", "check"),
    [
        ("G123489654321", "Y"),  # the worked example of python-stdnum's iso7064.mod_37_2
        ("7K3M9QZ4", "P"),  # these six reckoned with the same
        ("K5T8W2X6", "4"),
        ("PRNT0001", "R"),
        ("9V6D2R0T", "N"),
        ("E7A3K9P2", "O"),
        ("00000001", "*"),
    ],
)
def test_the_check_character_is_that_of_iso_7064_mod_37_2(payload: str, check: str) -> None:
    assert codes.check_character(payload) == mod_37_2.calc_check_digit(payload) == check


def test_a_code_is_sixteen_characters_of_the_alphabet_without_i_l_o_or_u() -> None:
    assert not set("ILOU") & set(codes.ALPHABET)
    assert len(codes.ALPHABET) == 32
    assert all(len(code) == 16 and set(code) <= set(codes.ALPHABET) for code in CODES)


def test_a_draw_whose_check_is_not_in_the_alphabet_is_drawn_again() -> None:
    # A payload of fourteen noughts and 1 has the check "*", which is in no code; with 2 it has Y.
    assert codes.check_character("000000000000001") == "*"
    drawn = iter([0] * 14 + [1] + [0] * 14 + [2])
    assert codes.new_code(lambda top: next(drawn)) == "000000000000002Y"


@pytest.mark.parametrize("code", CODES[:20])
def test_every_single_slip_and_every_two_exchanged_are_noticed(code: str) -> None:
    for place in range(16):
        for other in set(codes.ALPHABET) - {code[place]}:
            assert not codes.well_formed(code[:place] + other + code[place + 1 :])
    for one, two in combinations(range(16), 2):
        if code[one] != code[two]:
            swapped = list(code)
            swapped[one], swapped[two] = code[two], code[one]
            assert not codes.well_formed("".join(swapped))


CODE = next(code for code in CODES if "0" in code and "1" in code)


@pytest.mark.parametrize(
    "typed",
    [
        CODE,
        CODE.lower(),
        codes.grouped(CODE),
        codes.grouped(CODE).replace(" ", "-"),
        codes.grouped(CODE).replace(" ", " – "),
        f"  {CODE}\n",
        CODE.replace("0", "O").replace("1", "I"),
        CODE.replace("0", "o").replace("1", "l"),
    ],
)
def test_a_code_is_read_however_it_is_typed(typed: str) -> None:
    assert codes.read(typed) == CODE


def test_a_code_is_printed_in_four_groups_of_four() -> None:
    assert codes.grouped("0123456789ABCDEF") == "0123 4567 89AB CDEF"


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("", "Type the sixteen characters printed beside the square."),
        (CODE[:4] + "U" + CODE[5:], "The 5th character, “U”, is in no code. Look again."),
        (CODE[:15], "This has 15 characters; a code has 16, in four groups of four. Look at the paper."),
        (CODE + "0", "This has 17 characters; a code has 16, in four groups of four. Look at the paper."),
        (
            CODE[:15] + ("2" if CODE[15] != "2" else "3"),
            "One of the characters is not as printed. Compare them with the paper, group by group.",
        ),
    ],
)
def test_a_slip_is_told_so_that_it_can_be_found(typed: str, sentence: str) -> None:
    with pytest.raises(Refusal) as refused:
        codes.read(typed)
    assert refused.value.message == sentence


@pytest.mark.parametrize(
    ("typed", "run"),
    [
        ("7k3q", "7K3Q"),
        ("7K3Q-o1l", "7K3Q011"),
        (" 7k 3q w", "7K3QW"),
        (CODE[:15], CODE[:15]),
        (CODE, None),
        ("7K3", None),
        ("7K3U", None),
        ("7/25", None),
    ],
)
def test_a_part_of_a_code_is_four_characters_or_more_and_not_all(typed: str, run: str | None) -> None:
    assert codes.read_run(typed) == run
