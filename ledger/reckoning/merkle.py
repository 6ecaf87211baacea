"""The hash tree over the journal: RFC 9162 section 2.1, the same as RFC 6962's. SHA-256 throughout."""

from collections.abc import Iterable
from hashlib import sha256


def leaf_hash(data: bytes) -> bytes:
    """SHA-256 of 0x00 and the data."""
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """SHA-256 of 0x01 and both children. The two prefixes keep a node from passing for a leaf."""
    return sha256(b"\x01" + left + right).digest()


def root(leaf_hashes: Iterable[bytes]) -> bytes:
    """The root over these leaves, in order; of none, the hash of nothing."""
    peaks: list[tuple[int, bytes]] = []  # complete subtrees from the left, as (height, hash)
    for leaf in leaf_hashes:
        height, node = 0, leaf
        while peaks and peaks[-1][0] == height:
            node = node_hash(peaks.pop()[1], node)
            height += 1
        peaks.append((height, node))
    if not peaks:
        return sha256().digest()
    _, top = peaks.pop()
    while peaks:
        top = node_hash(peaks.pop()[1], top)
    return top
