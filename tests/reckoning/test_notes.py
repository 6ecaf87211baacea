import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import Refusal
from ledger.reckoning import notes
from ledger.reckoning.notes import (
    Checkpoint,
    NoteKey,
    Proof,
    Signature,
    read_checkpoint,
    read_key,
    read_note,
    read_proof,
)

# The example of c2sp.org/signed-note; the file names its source.
VECTORS = json.loads((Path(__file__).parent.parent / "vectors" / "signed_note.json").read_text())
HASHES = st.binary(min_size=32, max_size=32)
NAMES = st.text(st.characters(exclude_categories=("C", "Z"), exclude_characters="+"), min_size=1, max_size=20)
# The example of c2sp.org/tlog-checkpoint.
SOFA = "example.com/behind-the-sofa\n20852163\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n"


def test_the_published_key_is_read_and_written_as_it_is() -> None:
    key = read_key(VECTORS["vkey"])
    assert (key.name, key.id.hex(), key.line) == ("example.com/foo", "530d903a", VECTORS["vkey"])


def test_the_published_note_is_read_and_written_as_it_is() -> None:
    note = read_note(VECTORS["note"])
    assert note.text == "This is an example message.\n"
    assert [(each.name, each.key_id.hex()) for each in note.signatures] == [("example.com/foo", "530d903a")]
    assert note.whole == VECTORS["note"]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("530d903a", "530d903b"),  # an id that is not the key's own
        ("example.com/foo", "example.com/foe"),
        ("example.com/foo", ""),
        ("example.com/foo", "example com/foo"),
        ("+Aeky", "+Beky"),  # another kind of signature
        ("v3U2k", "v3U2l"),  # bits that base64 leaves over
        ("v3U2k", "v3U2"),
        ("+Aeky", " Aeky"),
        ("530d903a", "530D903A"),
    ],
)
def test_a_key_that_is_not_written_its_one_way_is_refused(old: str, new: str) -> None:
    with pytest.raises(Refusal):
        read_key(VECTORS["vkey"].replace(old, new))


@pytest.mark.parametrize(
    "spoil",
    [
        lambda note: note.removesuffix("\n"),
        lambda note: note.replace("\n\n", "\n"),
        lambda note: note.replace("— ", "- "),
        lambda note: note.replace("— ", "—  "),
        lambda note: note.replace("— example.com/foo", "— example+com"),
        lambda note: note.replace("example message", "example\tmessage"),
        lambda note: note.replace("example message", "example message\r"),
        lambda note: note.replace("eyaQM=", "eyaQM"),
        lambda note: note.replace("eyaQM=", "eyaQN="),
        lambda note: note.replace("eyaQM=", "eya\u2460M="),
        lambda note: note + "\n",
        lambda note: note + "and more\n",
        lambda note: note.split("\n\n")[0] + "\n\n— example.com/foo Uw2QOg==\n",  # an id and no signature
        lambda note: note + 64 * note.split("\n\n")[1],
        lambda note: "\ud800" + note,
        lambda note: note.replace("This", "This" * 30_000),
        lambda _: "",
    ],
)
def test_what_is_not_quite_a_note_is_refused(spoil) -> None:
    with pytest.raises(Refusal):
        read_note(spoil(VECTORS["note"]))


@given(st.text(max_size=300))
def test_any_text_at_all_is_read_or_refused_in_a_sentence(text: str) -> None:
    for read in (read_note, read_checkpoint, read_proof, read_key):
        try:
            read(text)
        except Refusal as refusal:
            assert refusal.message.endswith(".")


@given(
    st.text(st.characters(exclude_categories=("Cc", "Cs"))), st.lists(st.tuples(NAMES, HASHES), min_size=1, max_size=16)
)
def test_a_note_is_read_again_as_it_was_written(said: str, by: list[tuple[str, bytes]]) -> None:
    signatures = tuple(Signature(name, key[:4], key) for name, key in by)
    note = read_note(notes.joined(f"{said}\n", signatures))
    assert (note.text, note.signatures) == (f"{said}\n", signatures)


def test_a_text_may_hold_empty_lines_and_lines_like_signatures() -> None:
    text = "one\n\n— example.com/foo " + VECTORS["note"].split()[-1] + "\n\n\n"
    assert read_note(notes.joined(text, [Signature("ines.example", b"1234", b"signed")])).text == text


@pytest.mark.parametrize("text", ["no new line", "a\ttab\n"])
def test_a_text_that_cannot_be_a_note_is_not_made_one(text: str) -> None:
    with pytest.raises(Refusal):
        notes.joined(text, [Signature("ines.example", b"1234", b"signed")])


def test_the_published_head_is_read_and_written_as_it_is() -> None:
    head = read_checkpoint(SOFA)
    assert (head.origin, head.size, head.root.hex()[:8]) == ("example.com/behind-the-sofa", 20852163, "0ac5186a")
    assert head.text == SOFA


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("20852163", "020852163"),
        ("20852163", "+20852163"),
        ("20852163", "-1"),
        ("20852163", "２０８５２１６３"),
        ("20852163", "20852163 "),
        ("20852163", str(2**63)),
        ("example.com/behind-the-sofa", ""),
        ("CsUY", "CsU"),
        ("q2I=\n", "q2I=\nand a line more\n"),
        ("q2I=\n", "q2I="),
        ("CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=", "CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jx"),
    ],
)
def test_a_head_that_is_not_written_its_one_way_is_refused(old: str, new: str) -> None:
    with pytest.raises(Refusal):
        read_checkpoint(SOFA.replace(old, new))


@given(st.integers(0, 2**63 - 1), st.lists(HASHES, max_size=20), HASHES)
def test_a_proof_is_read_again_as_it_was_written(index: int, hashes: list[bytes], root: bytes) -> None:
    head = Checkpoint("example.com/record", index + 1, root) if index < 2**63 - 1 else Checkpoint("x", 1, root)
    proof = Proof(index, tuple(hashes), notes.joined(head.text, [Signature("example.com/record", b"1234", b"s" * 64)]))
    assert read_proof(proof.text) == proof
    assert read_checkpoint(read_note(read_proof(proof.text).note).text) == head


def test_a_proof_looks_as_its_format_says() -> None:
    note = notes.joined(SOFA, [Signature("example.com/behind-the-sofa", b"1234", b"s" * 64)])
    lines = Proof(7, (bytes(32), bytes([255] * 32)), note).text.split("\n")
    assert lines[:5] == ["c2sp.org/tlog-proof@v1", "index 7", "A" * 43 + "=", "/" * 42 + "8=", ""]
    assert "\n".join(lines[5:]) == note


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("@v1", "@v2"),
        ("index 7", "index 07"),
        ("index 7", "index 7\n"),
        ("index 7", "extra eA==\nindex 7"),
        ("index 7\n", ""),
        ("AAA=", "AAA"),
        ("AAA=", "AAAAAAA="),
    ],
)
def test_a_proof_that_is_not_written_its_one_way_is_refused(old: str, new: str) -> None:
    note = notes.joined(SOFA, [Signature("example.com/behind-the-sofa", b"1234", b"s" * 64)])
    text = Proof(7, (bytes(32),), note).text
    with pytest.raises(Refusal):
        changed = read_proof(text.replace(old, new, 1))
        read_checkpoint(read_note(changed.note).text)  # an empty line too many moves the rest into the note


def test_a_key_has_a_name_that_fits_into_a_line() -> None:
    for name in ("", "two words", "a+b", "a\u2003b", "a\x00b"):
        with pytest.raises(Refusal, match="name of a key"):
            NoteKey(name, bytes(32))
    with pytest.raises(Refusal, match="32 bytes"):
        NoteKey("ines.example", bytes(31))
