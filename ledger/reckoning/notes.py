"""Signed notes, heads of the record and proofs, as text: three formats of C2SP that auditors know.

Sources: c2sp.org/signed-note, c2sp.org/tlog-checkpoint, c2sp.org/tlog-proof@v1. What is read here is read strictly:
one way to write a thing, and only that one. Signatures are made and tried in `signing`.
"""

import base64
import re
from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256

from ledger.errors import Refusal
from ledger.reckoning.merkle import HASH_BYTES

ED25519 = 1
"""The only kind of signature this ledger makes, by its byte in the note format."""
PUBLIC_BYTES = 32
LARGEST_NOTE = 100_000
MOST_SIGNATURES = 64
LARGEST_SIZE = 2**63 - 1
PROOF_HEADING = "c2sp.org/tlog-proof@v1"
_NAME = re.compile(r"[^\s+\x00-\x1f\x7f]+")
_SIGNATURE = re.compile(r"— (\S+) (\S+)")
_WHOLE = re.compile(r"0|[1-9][0-9]{0,18}")


@dataclass(frozen=True)
class NoteKey:
    """A public Ed25519 key under the name it signs notes with."""

    name: str
    public: bytes

    def __post_init__(self) -> None:
        if not _NAME.fullmatch(self.name):
            raise Refusal("The name of a key has no space, no plus sign and no control character in it.")
        if len(self.public) != PUBLIC_BYTES:
            raise Refusal("A public key is 32 bytes.")

    @property
    def id(self) -> bytes:
        """The four bytes that tell keys of one name apart."""
        return sha256(self.name.encode() + b"\n" + bytes([ED25519]) + self.public).digest()[:4]

    @property
    def line(self) -> str:
        """The key as others take it in: name, id and key, plus signs between."""
        return f"{self.name}+{self.id.hex()}+{_b64(bytes([ED25519]) + self.public)}"


def read_key(line: str) -> NoteKey:
    """The key in such a line. Raises Refusal for anything else, and for an id that is not its own."""
    name, _, rest = line.partition("+")
    _, _, text = rest.partition("+")
    kind_and_key = _from_b64(text, "the key")
    if kind_and_key[:1] != bytes([ED25519]):
        raise Refusal("This is no key of the kind in use here (Ed25519).")
    key = NoteKey(name, kind_and_key[1:])
    if key.line != line:
        raise Refusal("The id in this key is not the key’s own.")
    return key


# --- signed notes ---


@dataclass(frozen=True)
class Signature:
    """One line under a note: who claims to have signed, with which key, and the bytes to be tried."""

    name: str
    key_id: bytes
    signature: bytes

    @property
    def line(self) -> str:
        return f"— {self.name} {_b64(self.key_id + self.signature)}\n"


@dataclass(frozen=True)
class Note:
    """A text that ends in a new line, and the signatures under it, none of them tried yet."""

    text: str
    signatures: tuple[Signature, ...]

    @property
    def whole(self) -> str:
        return f"{self.text}\n{''.join(each.line for each in self.signatures)}"


def read_note(whole: str) -> Note:
    """A note taken apart. Nothing in it is to be believed before a signature was tried. Raises Refusal."""
    if len(whole) > LARGEST_NOTE:
        raise Refusal("This is too long to be a signed note.")
    if any(character < " " and character != "\n" for character in whole):
        raise Refusal("This is no signed note: there is a control character in it.")
    text, parted, below = whole.rpartition("\n\n")
    if not parted or not below.endswith("\n"):
        raise Refusal("This is no signed note: it has no lines of signatures under an empty line.")
    lines = below.removesuffix("\n").split("\n")
    if len(lines) > MOST_SIGNATURES:
        raise Refusal(f"This note has more than {MOST_SIGNATURES} signatures.")
    note = Note(f"{text}\n", tuple(_read_signature(line) for line in lines))
    try:
        note.text.encode()
    except UnicodeEncodeError as cause:
        raise Refusal("This is no signed note: it is not text.") from cause
    return note


def _read_signature(line: str) -> Signature:
    found = _SIGNATURE.fullmatch(line)
    if not found or not _NAME.fullmatch(found[1]):
        raise Refusal(f"This is no line of a signature: “{line[:60]}”.")
    signed = _from_b64(found[2], "a signature")
    if len(signed) < 5:
        raise Refusal("A signature in this note is too short.")
    return Signature(found[1], signed[:4], signed[4:])


# --- heads of a record ---


@dataclass(frozen=True)
class Checkpoint:
    """The head of a record as it is signed: which record, how many entries, and the root over them."""

    origin: str
    size: int
    root: bytes

    @property
    def text(self) -> str:
        return f"{self.origin}\n{self.size}\n{_b64(self.root)}\n"


def read_checkpoint(text: str) -> Checkpoint:
    """The head in the text of a note: three lines, and no more, for nothing else in it could be audited.

    Raises Refusal.
    """
    lines = text.split("\n")
    if len(lines) != 4 or lines[3] or not lines[0]:
        raise Refusal("This is no head of a record: it has not three lines.")
    return Checkpoint(lines[0], _read_whole(lines[1], "the size"), _read_hash(lines[2]))


# --- proofs ---


@dataclass(frozen=True)
class Proof:
    """That an entry stands at its place in a record: what leads to the root, and the signed head with that root."""

    index: int
    hashes: tuple[bytes, ...]
    note: str

    @property
    def text(self) -> str:
        lines = [PROOF_HEADING, f"index {self.index}", *map(_b64, self.hashes), "", self.note]
        return "\n".join(lines)


def read_proof(text: str) -> Proof:
    """A proof taken apart; neither its hashes nor its note are tried. Raises Refusal."""
    if len(text) > 2 * LARGEST_NOTE:
        raise Refusal("This is too long to be a proof.")
    above, parted, note = text.partition("\n\n")
    lines = above.split("\n")
    if not parted or len(lines) < 2 or lines[0] != PROOF_HEADING or not lines[1].startswith("index "):
        raise Refusal(f"This is no proof as {PROOF_HEADING} has it.")
    index = _read_whole(lines[1].removeprefix("index "), "the place of the entry")
    return Proof(index, tuple(_read_hash(line) for line in lines[2:]), note)


# --- the small parts ---


def _b64(data: bytes) -> str:
    return base64.b64encode(data).decode()


def _from_b64(text: str, what: str) -> bytes:
    try:
        data = base64.b64decode(text, validate=True)
    except ValueError as cause:  # binascii.Error, or a letter outside ASCII
        raise Refusal(f"In {what} there is something that is not base64.") from cause
    if _b64(data) != text:
        raise Refusal(f"The base64 of {what} is not written the one way it can be.")
    return data


def _read_hash(text: str) -> bytes:
    data = _from_b64(text, "a hash")
    if len(data) != HASH_BYTES:
        raise Refusal("A hash is 32 bytes.")
    return data


def _read_whole(text: str, what: str) -> int:
    if not _WHOLE.fullmatch(text) or int(text) > LARGEST_SIZE:
        raise Refusal(f"For {what} stands “{text[:30]}”, which is not a whole number as it is written there.")
    return int(text)


def joined(text: str, signatures: Iterable[Signature]) -> str:
    """A note of this text and these signatures. Raises Refusal where that could not be read again as the same."""
    note = Note(text, tuple(signatures))
    if read_note(note.whole) != note:
        raise Refusal("This text cannot be made a signed note.")
    return note.whole
