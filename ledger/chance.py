"""The one source of chance."""

import secrets


def below(top: int) -> int:
    return secrets.randbelow(top)


def salt() -> bytes:
    """32 fresh random bytes."""
    return secrets.token_bytes(32)


def token() -> str:
    """A secret for an address or a header, 256 bits, safe in both."""
    return secrets.token_urlsafe(32)
