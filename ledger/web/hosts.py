"""Under which names this ledger answers, and which address a request came in by."""

import ipaddress
import re
from collections.abc import Iterable
from functools import lru_cache
from urllib.parse import urlsplit

from starlette.types import Scope

from ledger.settings import Settings

_HOST = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9_](?:[a-z0-9_.-]*[a-z0-9_])?)(?::([0-9]{1,5}))?", re.IGNORECASE)
_EVERYWHERE = ("0.0.0.0", "::", "")


def header(scope: Scope, name: bytes) -> str | None:
    """The one value of a header; None where it is missing, or stands there twice."""
    found = [value for key, value in scope["headers"] if key == name]
    return found[0].decode("latin-1") if len(found) == 1 else None


@lru_cache(maxsize=256)
def name_of(host: str | None) -> str | None:
    """The name in a Host header, in small letters and without its port; None for anything else."""
    found = _HOST.fullmatch(host or "")
    return found[1].lower().strip("[]") if found else None


def is_loopback(name: str) -> bool:
    """Whether a name leads back to the same machine."""
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return name == "localhost" or name.endswith(".localhost")


class Hosts:
    """The names answered: public ones, past and present, the machine's own, and those the settings allow."""

    def __init__(self, settings: Settings, former: Iterable[str] = ()) -> None:
        self._names = {name_of(name) for name in settings.hosts()}
        if settings.host not in _EVERYWHERE:
            self._names.add(settings.host.lower().strip("[]"))
        self._secure: set[str] = set()
        for url in (settings.public_url, *former):
            if url:
                self.answer_to(url)

    def answer_to(self, url: str) -> None:
        """Answer under this address too, from now on."""
        parts = urlsplit(url)
        name = (parts.hostname or "").lower()
        self._names.add(name)
        if parts.scheme == "https":
            self._secure.add(name)

    def allows(self, scope: Scope) -> bool:
        """Whether this request came to a name of ours."""
        name = name_of(header(scope, b"host"))
        return name is not None and (name in self._names or is_loopback(name))

    def secure(self, scope: Scope) -> bool:
        """Whether the browser sees https: the connection is, or the name was only ever given out as https."""
        return scope["scheme"] == "https" or name_of(header(scope, b"host")) in self._secure

    def origin(self, scope: Scope) -> str:
        """This request's own origin, as a browser would write it."""
        return f"{'https' if self.secure(scope) else 'http'}://{(header(scope, b'host') or '').lower()}"
