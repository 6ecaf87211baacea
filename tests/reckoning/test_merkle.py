import json
from hashlib import sha256
from itertools import pairwise
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from ledger.reckoning.merkle import leaf_hash, node_hash, root

# The RFC 6962 reference leaves and roots; the file names its source. RFC 9162 section 2.1 is the same tree.
VECTORS = json.loads((Path(__file__).parent.parent / "vectors" / "merkle.json").read_text())
LEAVES = [leaf_hash(bytes.fromhex(leaf)) for leaf in VECTORS["leaves_hex"]]


def test_leaves_and_nodes_hash_as_published() -> None:
    levels = VECTORS["node_hashes_hex_by_level"]
    assert [leaf.hex() for leaf in LEAVES] == levels[0]
    for below, level in pairwise(levels):
        pairs = [bytes.fromhex(node) for node in below]
        nodes = [node_hash(pairs[n], pairs[n + 1]).hex() for n in range(0, len(pairs) - 1, 2)]
        assert nodes == level


def test_the_root_of_every_size_is_as_published() -> None:
    published = VECTORS["root_hashes_hex_by_size"]
    assert [root(LEAVES[:size]).hex() for size in range(len(LEAVES) + 1)] == published


def test_the_root_of_no_entries_is_the_hash_of_nothing() -> None:
    assert root([]) == sha256(b"").digest()


def by_definition(leaves: list[bytes]) -> bytes:
    """RFC 9162 2.1.1 word for word: split at the largest power of two smaller than the number of leaves."""
    if len(leaves) == 1:
        return leaves[0]
    split = 1 << ((len(leaves) - 1).bit_length() - 1)
    return node_hash(by_definition(leaves[:split]), by_definition(leaves[split:]))


@given(st.lists(st.binary(max_size=8).map(leaf_hash), min_size=1, max_size=70))
def test_the_root_is_that_of_the_definition_at_any_size(leaves: list[bytes]) -> None:
    assert root(leaves) == by_definition(leaves)
