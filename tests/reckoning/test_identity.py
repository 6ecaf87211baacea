import base64
import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import Refusal
from ledger.reckoning.identity import base58, did_of, fingerprint, from_base58, public_of

# github.com/w3c/vc-di-eddsa @abb673e, the key of its examples: public key and the did:key over it.
PUBLISHED = "did:key:z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2"


def test_the_published_name_holds_a_key_and_is_written_again_as_it_is() -> None:
    public = public_of(PUBLISHED)
    assert len(public) == 32
    assert did_of(public) == PUBLISHED


@pytest.mark.parametrize(
    ("hexadecimal", "symbols"),
    [("", ""), ("61", "2g"), ("626262", "a3gV"), ("516b6fcd0f", "ABnLTmg"), ("00000000000000000000", "1111111111")],
)
def test_base58_is_written_as_published(hexadecimal: str, symbols: str) -> None:
    """github.com/bitcoin/bitcoin, src/test/data/base58_encode_decode.json (from memory)."""
    assert base58(bytes.fromhex(hexadecimal)) == symbols
    assert from_base58(symbols) == bytes.fromhex(hexadecimal)


@given(st.binary(max_size=40))
def test_base58_is_read_as_it_was_written(data: bytes) -> None:
    assert from_base58(base58(data)) == data


@given(st.binary(min_size=32, max_size=32))
def test_a_name_holds_its_key(public: bytes) -> None:
    assert public_of(did_of(public)) == public


@pytest.mark.parametrize(
    "did",
    [
        "",
        "did:key:",
        "did:web:ines.example",
        PUBLISHED[:-1],
        PUBLISHED + "1",
        PUBLISHED.replace("z6", "z0"),
        "did:key:z" + "2" * 200,
    ],
)
def test_a_name_without_a_key_is_refused(did: str) -> None:
    with pytest.raises(Refusal):
        public_of(did)


def test_the_fingerprint_is_worked_out_with_plain_tools_too() -> None:
    text = f'{{"issuer":"{PUBLISHED}","journal":"ines.example+00000000+AAAA"}}'
    symbols = base64.b32encode(hashlib.sha256(text.encode()).digest()).decode()[:32]
    said = fingerprint(PUBLISHED, "ines.example+00000000+AAAA")
    assert said.replace(" ", "") == symbols
    assert [len(group) for group in said.split(" ")] == [4] * 8


def test_either_key_changes_the_fingerprint() -> None:
    one = fingerprint(PUBLISHED, "ines.example+00000000+AAAA")
    assert one != fingerprint(PUBLISHED, "ines.example+00000000+AAAB")
    assert one != fingerprint(did_of(bytes(32)), "ines.example+00000000+AAAA")
