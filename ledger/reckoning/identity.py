"""How keys are called outside: an issuer's name that holds its own key, and the fingerprint printed on papers."""

import base64
from dataclasses import dataclass
from hashlib import sha256

from ledger.errors import Refusal
from ledger.reckoning.canonical import canonical

_ED25519 = b"\xed\x01"  # the multicodec of an Ed25519 public key, as an unsigned varint
_BASE58 = "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz"
_DID = "did:key:z"  # z: base58, the Bitcoin alphabet


@dataclass(frozen=True)
class PublicKeys:
    """What anybody may know of a ledger's keys: the did:key of its issuer, the note key of its journal."""

    issuer: str
    journal: str

    @property
    def fingerprint(self) -> str:
        return fingerprint(self.issuer, self.journal)


def did_of(public: bytes) -> str:
    """The did:key of an Ed25519 public key of 32 bytes (W3C CCG, The did:key Method v0.9, section 3.1)."""
    if len(public) != 32:
        raise ValueError("a public key is 32 bytes")
    return _DID + base58(_ED25519 + public)


def public_of(did: str) -> bytes:
    """The public key in a did:key. Raises Refusal where there is none of Ed25519."""
    data = from_base58(did.removeprefix(_DID)) if did.startswith(_DID) else b""
    if len(data) != 34 or not data.startswith(_ED25519) or did_of(data[2:]) != did:
        raise Refusal(f"“{did[:60]}” names no key of the kind in use here (did:key, Ed25519).")
    return data[2:]


def fingerprint(issuer: str, journal: str) -> str:
    """32 symbols in eight groups that stand for both keys: the did:key of the issuer, the note key of the journal.

    The first 160 bits of SHA-256 over the canonical bytes of `{"issuer": ..., "journal": ...}`, in the base-32
    of RFC 4648, so that any tool can work it out.
    """
    digest = sha256(canonical({"issuer": issuer, "journal": journal})).digest()[:20]
    symbols = base64.b32encode(digest).decode()
    return " ".join(symbols[at : at + 4] for at in range(0, 32, 4))


def base58(data: bytes) -> str:
    """Bytes as a number written in 58 letters and figures; a leading zero byte is a leading 1."""
    number, symbols = int.from_bytes(data), ""
    while number:
        number, rest = divmod(number, 58)
        symbols = _BASE58[rest] + symbols
    return "1" * (len(data) - len(data.lstrip(b"\0"))) + symbols


def from_base58(symbols: str) -> bytes:
    """The bytes again. Raises Refusal for a symbol that is none of the 58, or more than a signature could need."""
    if len(symbols) > 100 or set(symbols) - set(_BASE58):
        raise Refusal("In a key or a signature there is a symbol that does not belong there.")
    number = 0
    for symbol in symbols:
        number = number * 58 + _BASE58.index(symbol)
    zeros = len(symbols) - len(symbols.lstrip("1"))
    return bytes(zeros) + number.to_bytes((number.bit_length() + 7) // 8)
