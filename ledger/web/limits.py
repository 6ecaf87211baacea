"""How often a stranger may be told no. Counted in memory, by network, and never stored."""

import ipaddress
import threading
from collections import deque
from datetime import datetime, timedelta

MOST_CODES = 20
WITHIN = timedelta(hours=1)
MOST_NETWORKS = 50_000  # about 20 MB; beyond it the longest known are forgotten first


def network_of(address: str | None) -> str:
    """The network a caller counts under: an IPv4 address, or an IPv6 one's /64, which is one household."""
    try:
        parsed = ipaddress.ip_address((address or "").split("%")[0])
    except ValueError:
        return "unknown"
    if isinstance(parsed, ipaddress.IPv6Address):
        if parsed.ipv4_mapped:
            return str(parsed.ipv4_mapped)
        return str(ipaddress.ip_network((parsed, 64), strict=False))
    return str(parsed)


class UnknownCodes:
    """Well-formed codes not in the record, by network: so many an hour, then nothing is looked up.

    Slips of the pen are not counted: the check character gives them away without looking anything up.
    """

    def __init__(self, most: int = MOST_CODES, within: timedelta = WITHIN) -> None:
        self._most = most
        self._within = within
        self._seen: dict[str, deque[datetime]] = {}
        self._lock = threading.Lock()

    def spent(self, network: str, now: datetime) -> bool:
        """Whether this network has used up what it may ask."""
        with self._lock:
            return len(self._lately(network, now)) >= self._most

    def count(self, network: str, now: datetime) -> None:
        """Count one unknown code against this network."""
        with self._lock:
            times = self._lately(network, now)
            times.append(now)
            self._seen[network] = times
            while len(self._seen) > MOST_NETWORKS:
                del self._seen[next(iter(self._seen))]

    def _lately(self, network: str, now: datetime) -> deque[datetime]:
        times = self._seen.get(network) or deque(maxlen=self._most)
        while times and times[0] <= now - self._within:
            times.popleft()
        if not times:
            self._seen.pop(network, None)
        return times
