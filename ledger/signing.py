"""Ed25519: a ledger's two keys, notes signed and notes opened."""

from dataclasses import dataclass

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from ledger.errors import Refusal
from ledger.reckoning import notes
from ledger.reckoning.identity import PublicKeys, did_of
from ledger.reckoning.notes import NoteKey, Signature

SEED_BYTES = 32


class Signer:
    """A private key: it signs and tells its public half, and keeps its seed to itself."""

    def __init__(self, seed: bytes) -> None:
        if len(seed) != SEED_BYTES:
            raise ValueError("a seed is 32 bytes")
        self._private = Ed25519PrivateKey.from_private_bytes(seed)

    @property
    def public(self) -> bytes:
        return self._private.public_key().public_bytes_raw()

    def sign(self, data: bytes) -> bytes:
        """64 bytes over the data (RFC 8032)."""
        return self._private.sign(data)


@dataclass(frozen=True)
class Keys:
    """The two keys of a ledger, able to sign: one its heads, under the record's name, one its certificates."""

    origin: str
    journal: Signer
    certificate: Signer

    @property
    def note_key(self) -> NoteKey:
        return NoteKey(self.origin, self.journal.public)

    @property
    def public(self) -> PublicKeys:
        return PublicKeys(did_of(self.certificate.public), self.note_key.line)


def new_keys(journal_seed: bytes, certificate_seed: bytes) -> Keys:
    """Keys of these seeds. The record is named after its issuer, so that no other record can take its name."""
    certificate = Signer(certificate_seed)
    return Keys(f"{did_of(certificate.public)}/journal", Signer(journal_seed), certificate)


def signed_by(public: bytes, signature: bytes, data: bytes) -> bool:
    """Whether the private half of this public key signed the data (RFC 8032)."""
    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, data)
    except (InvalidSignature, ValueError):  # ValueError: these bytes are no public key
        return False
    return True


def sign_note(text: str, name: str, signer: Signer) -> str:
    """The text as a note signed under this name. Raises Refusal for a text that cannot be one."""
    key = NoteKey(name, signer.public)
    return notes.joined(text, [Signature(name, key.id, signer.sign(text.encode()))])


def open_note(whole: str, *known: NoteKey) -> str:
    """The text of a note that one of the known keys signed.

    Signatures of other keys are passed over, as c2sp.org/signed-note has it; a known key's that does not hold
    spoils the note. Raises Refusal.
    """
    note = notes.read_note(whole)
    tried = 0
    for each in note.signatures:
        for key in known:
            if (each.name, each.key_id) == (key.name, key.id):
                if not signed_by(key.public, each.signature, note.text.encode()):
                    raise Refusal(f"The signature of {key.name} does not hold: this text is not what was signed.")
                tried += 1
    if not tried:
        raise Refusal("This note is signed by no key that is known here.")
    return note.text
