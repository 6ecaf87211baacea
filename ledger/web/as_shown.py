"""A form that shows what it comes to before it is kept: nothing is kept but what was shown.

A program that keeps without looking uses the API.
"""

from dataclasses import replace

from ledger import repeats
from ledger.web.forms import Posted

SHOWN = "shown"
"""The field of a form that holds the digest of what the page shows over it."""
CHANGED = "What is asked was changed since. Look at what it comes to now, then keep it."


def digest(*parts: str) -> str:
    """What tells one thing shown from another."""
    return repeats.fingerprint(parts)


def taken_from(sent: Posted) -> tuple[str, Posted]:
    """The digest of what was shown over a form, '' where nothing was, and the form without it."""
    return sent.text(SHOWN), replace(sent, typed={name: typed for name, typed in sent.typed.items() if name != SHOWN})
