"""The hash tree over the journal: RFC 9162 section 2.1, the same as RFC 6962's. SHA-256 throughout.

The tree is kept as its complete subtrees, which never change once they are there: `level` is the height of one,
`index` its place among those of its height, so that it covers the leaves from index * 2^level on. Whatever else is
asked of the tree is worked out from a few of them, read through a `Node`.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from hashlib import sha256

HASH_BYTES = 32
Node = Callable[[int, int], bytes]
"""Gives the hash of the complete subtree at (level, index)."""


def leaf_hash(data: bytes) -> bytes:
    """SHA-256 of 0x00 and the data."""
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """SHA-256 of 0x01 and both children. The two prefixes keep a node from passing for a leaf."""
    return sha256(b"\x01" + left + right).digest()


def empty_root() -> bytes:
    """The root over no leaves: the hash of nothing."""
    return sha256().digest()


# --- the complete subtrees ---


def completed(size: int, leaf: bytes, node: Node) -> list[tuple[int, int, bytes]]:
    """The complete subtrees that one leaf more adds to a tree of `size`, as (level, index, hash), its own first."""
    level, index, made = 0, size, _whole(leaf)
    added = [(level, index, made)]
    while index & 1:
        made = node_hash(_whole(node(level, index - 1)), made)
        level, index = level + 1, index >> 1
        added.append((level, index, made))
    return added


def subtrees(leaf_hashes: Iterable[bytes]) -> Iterator[tuple[int, int, bytes]]:
    """Every complete subtree over these leaves, in the order in which they are completed."""
    newest: dict[int, bytes] = {}
    for size, leaf in enumerate(leaf_hashes):
        for level, index, made in completed(size, leaf, lambda level, _: newest[level]):
            newest[level] = made
            yield level, index, made


def root(leaf_hashes: Iterable[bytes]) -> bytes:
    """The root over these leaves, in order."""
    size, newest = 0, dict[int, bytes]()
    for level, _, made in subtrees(leaf_hashes):
        newest[level] = made
        size += level == 0
    return root_of(size, lambda level, _: newest[level])


def root_of(size: int, node: Node) -> bytes:
    """The root of the first `size` leaves. Raises ValueError for a size below nothing."""
    if size < 0:
        raise ValueError("a tree has no leaf, or some")
    return _span(0, size, node) if size else empty_root()


def _span(first: int, past: int, node: Node) -> bytes:
    """The hash over the leaves from `first` until before `past`."""
    count = past - first
    if count & (count - 1) == 0:
        level = count.bit_length() - 1
        return _whole(node(level, first >> level))
    split = first + _left_of(count)
    return node_hash(_span(first, split, node), _span(split, past, node))


def _left_of(count: int) -> int:
    """How many of `count` leaves are to the left: the largest power of two that is smaller."""
    return 1 << ((count - 1).bit_length() - 1)


def _whole(value: bytes) -> bytes:
    if not _all_hashes(value):
        raise ValueError("a hash is 32 bytes")
    return value


def _all_hashes(*values: object) -> bool:
    return all(type(value) is bytes and len(value) == HASH_BYTES for value in values)


# --- proofs ---


def inclusion_proof(index: int, size: int, node: Node) -> list[bytes]:
    """What leads from the leaf at `index` to the root of the first `size` leaves (RFC 9162, 2.1.3.1).

    Raises ValueError when there is no such leaf.
    """
    if not 0 <= index < size:
        raise ValueError(f"there is no leaf {index} among {size}")
    proof: list[bytes] = []
    first, past = 0, size
    while past - first > 1:
        split = first + _left_of(past - first)
        if index < split:
            proof.append(_span(split, past, node))
            past = split
        else:
            proof.append(_span(first, split, node))
            first = split
    return proof[::-1]


def consistency_proof(old: int, new: int, node: Node) -> list[bytes]:
    """What shows that the first `new` leaves begin with the first `old` (RFC 9162, 2.1.4.1).

    Empty where there is nothing to show: from no leaves, and from a size to itself. Raises ValueError for sizes
    that do not follow one another.
    """
    if not 0 <= old <= new:
        raise ValueError(f"a tree of {new} leaves does not come after one of {old}")
    proof: list[bytes] = []
    first, past = 0, new
    while old and past != old:
        split = first + _left_of(past - first)
        if old <= split:
            proof.append(_span(split, past, node))
            past = split
        else:
            proof.append(_span(first, split, node))
            first = split
    if first:  # with the old tree on the left edge, its own root begins the proof and is known already
        proof.append(_span(first, past, node))
    return proof[::-1]


def included(leaf: bytes, index: int, size: int, proof: Sequence[bytes], root: bytes) -> bool:
    """Whether the proof leads from the leaf at `index` to this root over `size` leaves (RFC 9162, 2.1.3.2)."""
    if not 0 <= index < size or not _all_hashes(leaf, root, *proof):
        return False
    at, last, reached = index, size - 1, leaf
    for beside in proof:
        if last == 0:
            return False
        if at & 1 or at == last:
            reached = node_hash(beside, reached)
            at, last = _past_the_edge(at, last)
        else:
            reached = node_hash(reached, beside)
        at, last = at >> 1, last >> 1
    return last == 0 and reached == root


def consistent(old: int, new: int, old_root: bytes, new_root: bytes, proof: Sequence[bytes]) -> bool:
    """Whether the proof shows that the tree of `new` leaves begins with that of `old` (RFC 9162, 2.1.4.2)."""
    if not 0 <= old <= new or not _all_hashes(old_root, new_root, *proof):
        return False
    if old == new:
        return not proof and old_root == new_root
    if old == 0:
        return not proof and old_root == empty_root()
    at, last = old - 1, new - 1
    while at & 1:
        at, last = at >> 1, last >> 1
    hashes = [old_root, *proof] if at == 0 else list(proof)
    if not hashes:
        return False
    before = after = hashes[0]
    for beside in hashes[1:]:
        if last == 0:
            return False
        if at & 1 or at == last:
            before, after = node_hash(beside, before), node_hash(beside, after)
            at, last = _past_the_edge(at, last)
        else:
            after = node_hash(after, beside)
        at, last = at >> 1, last >> 1
    return last == 0 and before == old_root and after == new_root


def _past_the_edge(at: int, last: int) -> tuple[int, int]:
    """On the right edge, the levels on which there is nothing beside are passed over."""
    while at and not at & 1:
        at, last = at >> 1, last >> 1
    return at, last
