"""What may be written into the book: one line, composed, readable, of bounded length."""

import unicodedata

from ledger.errors import Refusal

# Characters that turn or hide the text around them (Unicode Standard Annex 9, directional formatting).
TURNING = frozenset("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def tidy(text: str | None, what: str, *, limit: int = 200, field: str | None = None, needed: bool = True) -> str:
    """The text in NFC with white space folded to single spaces; '' where nothing was written and none is needed.

    `what` names it in the refusal, as in 'The title'. Raises Refusal.
    """
    composed = unicodedata.normalize("NFC", " ".join((text or "").split()))
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


def folded_words(text: str) -> list[str]:
    """The words of a text as they are looked up: no case, no accents, each once."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(" " if not (c.isalnum()) else c for c in plain if not unicodedata.combining(c))
    return list(dict.fromkeys(bare.split()))
