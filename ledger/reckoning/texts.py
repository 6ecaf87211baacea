"""What may be written into the book: one line, composed, readable, of bounded length."""

import unicodedata
from itertools import pairwise

from ledger.errors import Refusal

# Characters that turn or hide the text around them (Unicode Standard Annex 9, directional formatting).
TURNING = frozenset("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
# Characters that show nothing wherever they stand (Unicode: Default_Ignorable_Code_Point, without the signs that turn
# text, the joiners, and the selectors that choose another shape of the letter before them).
_UNSEEN = frozenset(
    map(
        chr,
        (
            *(0x00AD, 0x034F, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x180E, 0x200B, 0x3164, 0xFEFF, 0xFFA0),
            *range(0x2060, 0x2066),
            *range(0x206A, 0x2070),
            *range(0xFFF0, 0xFFF9),
            *range(0x1D173, 0x1D17B),
            *range(0xE0000, 0xE0080),
        ),
    )
)
_JOINERS = "\u200c\u200d"
_RUNNING = ("ARABIC", "SYRIAC", "NKO", "MONGOLIAN")
_VIRAMA = 9  # the canonical combining class of the sign that takes a consonant's vowel away


def tidy(text: str | None, what: str, *, limit: int = 200, field: str | None = None, needed: bool = True) -> str:
    """The text in NFC with white space folded to single spaces; '' where nothing was written and none is needed.

    Signs that show nothing are left out. `what` names it in the refusal, as in 'The title'. Raises Refusal.
    """
    composed = unicodedata.normalize("NFC", " ".join(seen(text or "").split()))
    for character in composed:
        if character in TURNING:
            raise Refusal(f"{what} holds a hidden sign that turns text around. Type it again by hand.", field=field)
        if unicodedata.category(character) in ("Cc", "Cs", "Cn"):
            raise Refusal(
                f"{what} holds a character that cannot be printed (U+{ord(character):04X}). Type it again by hand.",
                field=field,
            )
    if needed and not composed:
        raise Refusal(f"{what} is empty. Write it.", field=field)
    if len(composed) > limit:
        raise Refusal(f"{what} has {len(composed):,} characters. Use {limit} at most.", field=field)
    return composed


def seen(text: str) -> str:
    """The text without signs that show nothing, so that no two names look alike and differ.

    Joiners stay where they shape letters: between two of a running script, and beside a virama (RFC 5892, A.1 and
    A.2; before one, as in Bengali ra with ya-phalaa, from memory).
    """
    bare = [character for character in text if character not in _UNSEEN]
    kept: list[str] = []
    for character, after in pairwise([*bare, " "]):
        if character not in _JOINERS or (kept and _shaped(kept[-1], after)):
            kept.append(character)
    return "".join(kept)


def _shaped(before: str, after: str) -> bool:
    """Whether a joiner between these two does something."""
    both = (before, after)
    return _VIRAMA in map(unicodedata.combining, both) or all(
        unicodedata.name(each, "").startswith(_RUNNING) for each in both
    )


def folded_words(text: str) -> list[str]:
    """The words of a text as they are looked up: no case, no accents, each once."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(" " if not (c.isalnum()) else c for c in plain if not unicodedata.combining(c))
    return list(dict.fromkeys(bare.split()))
