import json
from base64 import b64decode
from hashlib import sha256
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.reckoning import merkle
from ledger.reckoning.merkle import (
    Node,
    completed,
    consistency_proof,
    consistent,
    included,
    inclusion_proof,
    leaf_hash,
    node_hash,
    root,
    root_of,
    subtrees,
)

# The RFC 6962 reference leaves and roots, and the probes of a verifier; the file names its source.
# RFC 9162 section 2.1 is the same tree.
VECTORS = json.loads((Path(__file__).parent.parent / "vectors" / "merkle.json").read_text())
LEAVES = [leaf_hash(bytes.fromhex(leaf)) for leaf in VECTORS["leaves_hex"]]
MOST = 130
BYTES = [leaf_hash(bytes([n])) for n in range(MOST)]


def reader(leaves: list[bytes]) -> Node:
    nodes = {(level, index): made for level, index, made in subtrees(leaves)}
    return lambda level, index: nodes[level, index]


READ = reader(BYTES)


def test_leaves_and_nodes_hash_as_published() -> None:
    levels = VECTORS["node_hashes_hex_by_level"]
    assert [leaf.hex() for leaf in LEAVES] == levels[0]
    for below, level in pairwise(levels):
        pairs = [bytes.fromhex(node) for node in below]
        nodes = [node_hash(pairs[n], pairs[n + 1]).hex() for n in range(0, len(pairs) - 1, 2)]
        assert nodes == level


def test_the_complete_subtrees_are_the_published_nodes() -> None:
    found: dict[int, list[str]] = {}
    for level, index, made in subtrees(LEAVES):
        assert index == len(found.setdefault(level, []))  # each in its place, none left out
        found[level].append(made.hex())
    assert list(found.values()) == VECTORS["node_hashes_hex_by_level"]


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


def test_the_root_of_every_earlier_size_is_read_from_the_nodes_of_a_larger_tree() -> None:
    for size in range(1, MOST + 1):
        assert root_of(size, READ) == by_definition(BYTES[:size])


def test_one_leaf_more_adds_the_subtrees_that_a_tree_built_anew_has() -> None:
    nodes: dict[tuple[int, int], bytes] = {}
    for size, leaf in enumerate(BYTES):
        added = completed(size, leaf, lambda level, index: nodes[level, index])
        assert not {(level, index) for level, index, _ in added} & set(nodes)
        nodes.update({(level, index): made for level, index, made in added})
        assert nodes == {(level, index): made for level, index, made in subtrees(BYTES[: size + 1])}


def small_trees() -> list[tuple[int, int]]:
    """All (first, past) up to 130 with `first` on a multiple of a power of two no smaller than their distance."""
    return [
        (first, past)
        for past in range(MOST + 1)
        for first in range(past + 1)
        if past == first or first % (1 << (past - first - 1).bit_length()) == 0
    ]


def beginning_at(first: int) -> Node:
    """The tree that begins with that leaf, where it is a subtree of the large one."""
    return lambda level, index: READ(level, index + (first >> level))


def test_every_subtree_and_every_proof_in_it_is_as_published_up_to_130_leaves() -> None:
    hashes, proofs = sha256(), sha256()
    for first, past in small_trees():
        hashes.update(f"[{first}, {past}) {root_of(past - first, beginning_at(first)).hex()}\n".encode())
        for index in range(first, past):
            proof = inclusion_proof(index - first, past - first, beginning_at(first))
            words = [f"{index} [{first}, {past})", *(each.hex() for each in proof)]
            proofs.update(f"{' '.join(words)}\n".encode())
    assert hashes.hexdigest() == VECTORS["rolling"]["subtree_hash"]
    assert proofs.hexdigest() == VECTORS["rolling"]["subtree_inclusion"]


def plain(text: str) -> bytes:
    return b64decode(text or "")


@pytest.mark.parametrize("probe", VECTORS["inclusion_probes"], ids=lambda probe: probe["desc"])
def test_a_published_proof_of_inclusion_is_judged_as_published(probe: dict) -> None:
    proof = [plain(each) for each in probe["proof"] or []]
    said = included(plain(probe["leafHash"]), probe["leafIdx"], probe["treeSize"], proof, plain(probe["root"]))
    assert said is not probe["wantErr"]


@pytest.mark.parametrize("probe", VECTORS["consistency_probes"], ids=lambda probe: probe["desc"])
def test_a_published_proof_of_consistency_is_judged_as_published(probe: dict) -> None:
    roots = plain(probe["root1"]), plain(probe["root2"])
    said = consistent(probe["size1"], probe["size2"], *roots, [plain(each) for each in probe["proof"] or []])
    # One probe has the words "don't care" for two equal roots; here a root is 32 bytes, always.
    expected = not probe["wantErr"] and all(len(each) == 32 for each in roots)
    assert said is expected


def test_every_proof_verifies_at_every_size() -> None:
    for new in range(1, MOST + 1):
        top = root_of(new, READ)
        for index in range(new):
            assert included(BYTES[index], index, new, inclusion_proof(index, new, READ), top)
        for old in range(new + 1):
            assert consistent(old, new, root_of(old, READ), top, consistency_proof(old, new, READ))


def test_a_proof_is_no_longer_than_the_tree_is_high() -> None:
    for new in range(1, MOST + 1):
        height = (new - 1).bit_length()
        assert max(len(inclusion_proof(index, new, READ)) for index in range(new)) == height
        assert max(len(consistency_proof(old, new, READ)) for old in range(new + 1)) <= height + 1


def with_one_bit_changed(hashes: list[bytes], bit: int) -> list[bytes]:
    joined = bytearray(b"".join(hashes))
    joined[bit // 8] ^= 1 << bit % 8
    return [bytes(joined[at : at + 32]) for at in range(0, len(joined), 32)]


@given(st.data())
def test_a_proof_of_inclusion_with_any_bit_changed_is_refused(data: st.DataObject) -> None:
    size = data.draw(st.integers(1, MOST))
    index = data.draw(st.integers(0, size - 1))
    hashes = [BYTES[index], root_of(size, READ), *inclusion_proof(index, size, READ)]
    leaf, top, *proof = with_one_bit_changed(hashes, data.draw(st.integers(0, 256 * len(hashes) - 1)))
    assert not included(leaf, index, size, proof, top)


@given(st.data())
def test_a_proof_of_inclusion_holds_in_its_own_place_and_whole(data: st.DataObject) -> None:
    size = data.draw(st.integers(2, MOST))
    index = data.draw(st.integers(0, size - 1))
    other = data.draw(st.integers(0, size - 1).filter(lambda n: n != index))
    proof, top = inclusion_proof(index, size, READ), root_of(size, READ)
    assert not included(BYTES[index], other, size, proof, top)
    assert not included(BYTES[index], index, size, proof[:-1], top)
    assert not included(BYTES[index], index, size, [*proof, top], top)
    assert not included(BYTES[index], index, size, proof, root_of(size - 1, READ))


@given(st.data())
def test_a_proof_of_consistency_with_any_bit_changed_is_refused(data: st.DataObject) -> None:
    new = data.draw(st.integers(1, MOST))
    old = data.draw(st.integers(1, new))
    hashes = [root_of(old, READ), root_of(new, READ), *consistency_proof(old, new, READ)]
    before, after, *proof = with_one_bit_changed(hashes, data.draw(st.integers(0, 256 * len(hashes) - 1)))
    assert not consistent(old, new, before, after, proof)


@given(st.data())
def test_a_record_changed_in_one_entry_is_not_consistent_with_its_earlier_head(data: st.DataObject) -> None:
    new = data.draw(st.integers(2, MOST))
    old = data.draw(st.integers(1, new - 1))
    changed = list(BYTES[:new])
    changed[data.draw(st.integers(0, old - 1))] = leaf_hash(b"another entry")
    forged = reader(changed)
    assert not consistent(old, new, root_of(old, READ), root_of(new, forged), consistency_proof(old, new, forged))


def test_nothing_but_32_bytes_is_taken_for_a_hash() -> None:
    top = root_of(2, READ)
    for wrong in (top[:31], top + b"\0", bytearray(BYTES[1]), BYTES[1].hex(), None):
        assert not included(BYTES[0], 0, 2, [wrong], top)
        assert not consistent(1, 2, BYTES[0], top, [wrong])
        with pytest.raises(ValueError, match="32 bytes"):
            list(subtrees([wrong]))
        with pytest.raises(ValueError, match="32 bytes"):
            root_of(1, lambda *_, given=wrong: given)


def test_sizes_that_cannot_be_are_refused() -> None:
    for index, size in ((-1, 3), (3, 3), (0, 0)):
        assert not included(BYTES[0], index, size, [], BYTES[0])
        with pytest.raises(ValueError, match="no leaf"):
            inclusion_proof(index, size, READ)
    for old, new in ((-1, 3), (4, 3)):
        assert not consistent(old, new, BYTES[0], BYTES[0], [])
        with pytest.raises(ValueError, match="does not come after"):
            consistency_proof(old, new, READ)
    with pytest.raises(ValueError):
        root_of(-1, READ)


def test_every_record_continues_the_empty_one_and_only_that() -> None:
    assert consistent(0, 7, merkle.empty_root(), root_of(7, READ), [])
    assert not consistent(0, 7, BYTES[0], root_of(7, READ), [])
