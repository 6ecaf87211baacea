"""Addresses of the web as somebody types them."""

from urllib.parse import SplitResult, urlsplit

from ledger.errors import Refusal


def scheme_and_host(url: str) -> SplitResult:
    """The parts of an address that is a scheme and a host, perhaps a port, alone; a last slash may stand.

    Raises Refusal.
    """
    try:
        parts = urlsplit(url.strip().rstrip("/"))
        alone = bool(parts.hostname) and not (parts.path or parts.query or parts.fragment or parts.username)
        _ = parts.port
    except ValueError:  # brackets left open, a port beyond 65535
        alone = False
    if not alone:
        raise Refusal(
            f"“{url}” is not an address of scheme and host alone. Write https://prints.example.org.", field="url"
        )
    return parts
