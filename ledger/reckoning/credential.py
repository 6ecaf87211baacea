"""A certificate as a W3C credential, and what goes with it so that anybody can check it without us.

Sources: W3C Verifiable Credentials Data Model v2.0; Data Integrity EdDSA Cryptosuites v1.0, section 3.3
(eddsa-jcs-2022). Contexts are named by address alone, so that nothing has to be fetched. Signed in `credentials`.
"""

from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from ledger.errors import Refusal
from ledger.reckoning import identity
from ledger.reckoning.canonical import CREDENTIAL_KEY, canonical, parsed
from ledger.reckoning.identity import PublicKeys
from ledger.reckoning.notes import Checkpoint, Proof, read_checkpoint, read_key, read_note, read_proof

FIRST_CONTEXT = "https://www.w3.org/ns/credentials/v2"
LAST_CONTEXT = "https://www.w3.org/ns/credentials/undefined-terms/v2"
_METHOD = {"type": "DataIntegrityProof", "cryptosuite": "eddsa-jcs-2022", "proofPurpose": "assertionMethod"}
CREDENTIAL, ENTRY, PROOF, KEYS = "credential.json", "entry.json", "proof.tlog-proof", "keys.json"
"""The files attached to a certificate, by name."""

Document = dict[str, Any]
Snapshot = dict[str, Any]


# --- what it says ---


def unsigned(said: Snapshot, *, keys: PublicKeys, place: Document, at: str) -> Document:
    """What is signed of a certificate: only what its public page shows, and where it stands in which record.

    `said` is its snapshot, `place` the public fields of its entry, `at` the moment of both.
    """
    return {
        "@context": [FIRST_CONTEXT, LAST_CONTEXT],
        "type": ["VerifiableCredential", "CertificateOfAuthenticity"],
        "issuer": {"id": keys.issuer, "name": said["signed_name"]},
        "validFrom": at,
        "credentialSubject": _print(said),
        "record": {"origin": read_key(keys.journal).name, **_camel(place)},
    }


def _print(said: Snapshot) -> Document:
    facts = dict(map(tuple, said["facts"]))
    return {
        "type": "Print",
        "title": said["title"],
        "artist": said["artist"],
        "year": said["year"],
        "number": said["number"],
        "inscription": said["inscription"],
        "edition": facts["Edition"],
        "process": said["process"],
        "paper": said["paper"],
        "image": said["size"],
        "sizes": facts["Sizes"],
        "marks": facts["Marked"],
        "pictureSha256": said["show"],
        "certificate": said["code"],
        "issuedOn": said["issued_on"],
    }


def _camel(fields: Document) -> Document:
    """The fields of an entry under the names a credential gives them: code_sha256 is codeSha256."""
    named = {name: name.title().replace("_", "") for name in fields}
    return {new[0].lower() + new[1:]: fields[name] for name, new in named.items()}


def agrees(document: Document, entry: Document) -> bool:
    """Whether an entry is the one a credential names: same print, same code, same snapshot, and its own hash."""
    place: Document = document["record"]
    fields = _camel(entry)
    return all(fields.get(name) == value for name, value in place.items() if name != "origin")


# --- how it is signed ---


def options_of(document: Document, key: str, at: str) -> Document:
    """How a document is signed, to be signed with it; `key` is the did:key that signs."""
    method = f"{key}#{key.removeprefix('did:key:')}"
    return {"@context": document["@context"], **_METHOD, "created": at, "verificationMethod": method}


def to_sign(document: Document, options: Document) -> bytes:
    """The 64 bytes that are signed: the hash of how, then the hash of what (section 3.3.4)."""
    return b"".join(sha256(canonical(each, CREDENTIAL_KEY)).digest() for each in (options, document))


def joined(document: Document, options: Document, signature: bytes) -> Document:
    """The document with its proof."""
    return {**document, "proof": {**options, "proofValue": f"z{identity.base58(signature)}"}}


@dataclass(frozen=True)
class Secured:
    """A document and its proof, taken apart and not yet tried; `public` is the key the proof names."""

    document: Document
    options: Document
    signature: bytes
    public: bytes


def read_secured(whole: Document) -> Secured:
    """A signed document taken apart (section 3.3.2). Raises Refusal for a proof of another kind, or none."""
    document = {name: value for name, value in whole.items() if name != "proof"}
    proof = whole.get("proof")
    if not isinstance(proof, dict) or any(proof.get(name) != value for name, value in _METHOD.items()):
        raise Refusal("It carries no proof of the kind in use here (eddsa-jcs-2022).")
    contexts, signed_under = document.get("@context"), proof.get("@context")
    if not isinstance(contexts, list) or not isinstance(signed_under, list):
        raise Refusal("It does not name the vocabulary it is written in.")
    if contexts[: len(signed_under)] != signed_under:
        raise Refusal("Its proof was made for another vocabulary.")
    options = {name: value for name, value in proof.items() if name != "proofValue"}
    key, _, fragment = str(proof.get("verificationMethod")).partition("#")
    if f"did:key:{fragment}" != key:
        raise Refusal("Its proof does not name one key.")
    value = str(proof.get("proofValue"))
    if not value.startswith("z"):
        raise Refusal("Its signature is not written in base58.")
    return Secured(document, options, identity.from_base58(value[1:]), identity.public_of(key))


# --- what goes with it ---


@dataclass(frozen=True)
class Evidence:
    """What a stranger needs to check a certificate: the exact bytes signed and recorded, the proof, both keys."""

    credential: bytes
    entry: bytes
    proof: Proof
    keys: PublicKeys

    @property
    def files(self) -> dict[str, bytes]:
        """As they are attached. The fingerprint is the beginning of the SHA-256 of `keys.json`."""
        return {
            CREDENTIAL: self.credential,
            ENTRY: self.entry,
            PROOF: self.proof.text.encode(),
            KEYS: canonical({"issuer": self.keys.issuer, "journal": self.keys.journal}),
        }

    @property
    def head(self) -> Checkpoint:
        """The head of the record its proof leads to; its signature is not tried."""
        return read_checkpoint(read_note(self.proof.note).text)


def read_evidence(files: dict[str, bytes]) -> Evidence:
    """The evidence in these files; nothing in it is tried yet. Raises Refusal for what is not there or is none."""
    if gone := [name for name in (CREDENTIAL, ENTRY, PROOF, KEYS) if name not in files]:
        raise Refusal(f"It does not carry {', '.join(gone)}.")
    named = parsed(files[KEYS])
    if set(named) != {"issuer", "journal"} or not all(isinstance(value, str) for value in named.values()):
        raise Refusal(f"{KEYS} does not name two keys.")
    try:
        proof = read_proof(files[PROOF].decode())
    except UnicodeDecodeError:
        raise Refusal(f"{PROOF} is not text.") from None
    return Evidence(files[CREDENTIAL], files[ENTRY], proof, PublicKeys(named["issuer"], named["journal"]))
