"""The sixteen characters in a certificate's QR link.

Fifteen drawn at random from Crockford's base-32 alphabet and one check character by ISO/IEC 7064 MOD 37-2,
which finds every single mistaken character and every two exchanged. A code opens only public facts.
"""

from collections.abc import Callable

from ledger.errors import Refusal
from ledger.reckoning.numbering import ordinal

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 16
LEAST_RUN = 4
"""Fewer characters than one printed group are no part of a code to look for."""
_CHECKS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
_FORGIVEN = str.maketrans({"O": "0", "I": "1", "L": "1"} | dict.fromkeys("-‐‑‒–—−"))


def check_character(payload: str) -> str:
    """The ISO/IEC 7064 MOD 37-2 check character of letters and figures; one of 37, the last of them "*"."""
    remainder = 0
    for character in payload:
        remainder = (remainder + _CHECKS.index(character)) * 2 % 37
    return _CHECKS[(1 - remainder) % 37]


def new_code(draw: Callable[[int], int]) -> str:
    """A fresh code, drawn again until its check is in the alphabet; `draw(n)` gives a number below n."""
    while True:
        payload = "".join(ALPHABET[draw(len(ALPHABET))] for _ in range(LENGTH - 1))
        check = check_character(payload)
        if check in ALPHABET:
            return payload + check


def grouped(code: str) -> str:
    """Four groups of four, for paper and for reading aloud."""
    return " ".join(code[start : start + 4] for start in range(0, len(code), 4))


def well_formed(code: str) -> bool:
    """Whether this is a code in its plain form: sixteen of the alphabet, the last of them the right check."""
    return (
        len(code) == LENGTH
        and all(character in ALPHABET for character in code)
        and check_character(code[:-1]) == code[-1]
    )


def read(typed: str) -> str:
    """The plain form of a code somebody typed.

    Case, spaces and hyphens do not matter; O is read as 0, I and L as 1. Raises Refusal, telling a slip by
    its position where that can be known.
    """
    code = _plain(typed)
    if not code:
        raise Refusal("Type the sixteen characters printed beside the square.")
    for position, character in enumerate(code, start=1):
        if character not in ALPHABET:
            raise Refusal(f"The {ordinal(position)} character, “{character}”, is in no code. Look again.")
    if len(code) != LENGTH:
        count = "1 character" if len(code) == 1 else f"{len(code)} characters"
        raise Refusal(f"This has {count}; a code has {LENGTH}, in four groups of four. Look at the paper.")
    if not well_formed(code):
        raise Refusal("One of the characters is not as printed. Compare them with the paper, group by group.")
    return code


def read_run(typed: str) -> str | None:
    """The plain form of a part of a code, read as forgivingly; None for what is in no code, or too short a part."""
    run = _plain(typed)
    fits = LEAST_RUN <= len(run) < LENGTH and all(character in ALPHABET for character in run)
    return run if fits else None


def _plain(typed: str) -> str:
    return "".join(typed.split()).upper().translate(_FORGIVEN)
