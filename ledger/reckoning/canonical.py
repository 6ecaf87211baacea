"""One way, and only one, to write a record down as bytes: RFC 8785, kept to a narrow profile.

Inside the profile every JSON tool that sorts its keys gives the same bytes, so that a record can be checked
decades later with whatever is at hand.
"""

import json
import re
import unicodedata
from typing import Any

from ledger.errors import Refusal
from ledger.reckoning.texts import TURNING

ENTRY_KEY = re.compile(r"[a-z][a-z0-9_.]*")
"""What an entry of the record calls its fields."""
CREDENTIAL_KEY = re.compile(r"[a-z@][A-Za-z0-9]*")
"""What a W3C credential calls its fields."""
_LARGEST = 2**53 - 1  # RFC 8785 writes numbers as doubles; beyond this neighbours run together


def canonical(value: dict[str, object], key: re.Pattern[str] = ENTRY_KEY) -> bytes:
    """The RFC 8785 bytes of a dict of str, int, list and dict, and nothing else.

    Raises TypeError for any other type (True, None, a float, a subclass) or a key not of this kind, ValueError for
    a whole number of 2^53 or more, and Refusal for text that is not NFC or holds a control or bidirectional
    character or half of a surrogate pair.
    """
    if type(value) is not dict:
        raise TypeError("a record is a dict")
    _check(value, key)
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()


def parsed(data: bytes, key: re.Pattern[str] = ENTRY_KEY) -> dict[str, Any]:
    """The dict again that these are the canonical bytes of. Raises Refusal for any other bytes."""
    try:
        value = json.loads(data)
        if canonical(value, key) == data:  # a field named twice, or spaced out, comes out otherwise
            return dict(value)
    except (ValueError, TypeError, RecursionError, Refusal):
        pass
    raise Refusal("It is not written the one way a record is.")


def _check(value: object, key: re.Pattern[str]) -> None:
    # Exact types: True is an int to isinstance, and a subclass may write itself differently.
    if type(value) is str:
        check_text(value)
    elif type(value) is int:
        if abs(value) > _LARGEST:
            raise ValueError(f"{value} is too large to be written exactly")
    elif type(value) is list:
        for member in value:
            _check(member, key)
    elif type(value) is dict:
        for name, member in value.items():
            if type(name) is not str or not key.fullmatch(name):
                raise TypeError(f"{name!r} is not a key of a record")
            _check(member, key)
    else:
        raise TypeError(f"{type(value).__name__} has no place in a record")


def check_text(text: str) -> None:
    """Refuse text that two tools could write, or two readers could see, in two ways."""
    if not unicodedata.is_normalized("NFC", text):
        raise Refusal(f"“{text}” holds a letter and its accent apart. Type it again.")
    for character in text:
        if character in TURNING or unicodedata.category(character) in ("Cc", "Cs"):
            raise Refusal(f"The text holds a hidden character (U+{ord(character):04X}). Type it again.")
