"""Ed25519 over notes: published examples hold, and whatever was changed does not.

The cast: Ines signs. Gabel Stroud, who must not get in, has a key of his own.
"""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import Refusal
from ledger.reckoning import notes
from ledger.reckoning.identity import did_of, from_base58
from ledger.reckoning.notes import NoteKey, read_key, read_note
from ledger.signing import Signer, open_note, sign_note, signed_by

VECTORS = json.loads((Path(__file__).parent / "vectors" / "signed_note.json").read_text())
PUBLISHED = read_key(VECTORS["vkey"])
INES, GABEL = Signer(bytes(range(32))), Signer(bytes(range(1, 33)))
NAME = "ines.example/record"
KEY = NoteKey(NAME, INES.public)


def test_a_key_signs_as_published() -> None:
    """RFC 8032, section 7.1, test 2."""
    signer = Signer(bytes.fromhex("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb"))
    assert signer.public.hex() == "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c"
    assert signer.sign(b"\x72").hex() == (
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    )


def test_the_published_seed_has_the_published_name() -> None:
    """github.com/w3c/vc-di-eddsa @abb673e: the key pair of its examples; 0x8026 before a seed is its multicodec."""
    seed = from_base58("3u2en7t5LR2WtQH5PfFqMqwVHBeXouLzo6haApm8XHqvjxq").removeprefix(b"\x80\x26")
    assert did_of(Signer(seed).public) == "did:key:z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2"


def test_the_published_note_opens() -> None:
    assert open_note(VECTORS["note"], PUBLISHED) == "This is an example message.\n"


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("example message", "exemple message", "does not hold"),
        ("neyaQM=", "nexaQM=", "does not hold"),
        ("Uw2QOk", "Uw2QOl", "does not hold"),
        ("Uw2QOk", "Uw2QPk", "no key that is known"),  # another id
        ("— example.com/foo", "— example.com/foe", "no key that is known"),
    ],
)
def test_the_published_note_with_a_change_does_not_open(old: str, new: str, says: str) -> None:
    assert old in VECTORS["note"]
    with pytest.raises(Refusal, match=says):
        open_note(VECTORS["note"].replace(old, new), PUBLISHED)


@given(st.text(st.characters(exclude_categories=("Cc", "Cs"))), st.data())
def test_a_note_opens_as_it_was_signed_and_not_with_any_bit_changed(said: str, data: st.DataObject) -> None:
    whole = sign_note(f"{said}\n", NAME, INES)
    assert open_note(whole, KEY) == f"{said}\n"
    changed = bytearray(whole.encode())
    changed[data.draw(st.integers(0, len(changed) - 1))] ^= 1 << data.draw(st.integers(0, 7))
    try:
        text = changed.decode()
    except UnicodeDecodeError:
        return
    with pytest.raises(Refusal):
        open_note(text, KEY)


def test_a_note_signed_with_another_key_under_the_same_name_is_not_hers() -> None:
    with pytest.raises(Refusal, match="no key that is known"):
        open_note(sign_note("mine\n", NAME, GABEL), KEY)


def test_signatures_of_others_are_passed_over_and_a_broken_one_of_hers_is_not() -> None:
    text = "said\n"
    hers, his = (read_note(sign_note(text, NAME, each)).signatures[0] for each in (INES, GABEL))
    assert open_note(notes.joined(text, [his, hers]), KEY) == text
    broken = notes.Signature(hers.name, hers.key_id, bytes(64))
    for signatures in ([broken], [hers, broken], [broken, hers]):
        with pytest.raises(Refusal, match="does not hold"):
            open_note(notes.joined(text, signatures), KEY)


def test_bytes_that_are_no_key_have_signed_nothing() -> None:
    assert not signed_by(bytes([255] * 32), INES.sign(b"x"), b"x")
    assert not signed_by(b"short", INES.sign(b"x"), b"x")
    assert not signed_by(INES.public, b"short", b"x")
    assert signed_by(INES.public, INES.sign(b"x"), b"x")


def test_a_seed_does_not_show_where_a_signer_is_printed() -> None:
    assert repr(bytes(range(32)))[2:-1] not in repr(INES) + str(vars(INES))
