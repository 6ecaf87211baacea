"""Certificates signed, and signatures under them tried (W3C eddsa-jcs-2022); what they say is in `reckoning`."""

from ledger.errors import Refusal
from ledger.reckoning import credential
from ledger.reckoning.canonical import CREDENTIAL_KEY, canonical, parsed
from ledger.reckoning.credential import Document
from ledger.reckoning.identity import did_of
from ledger.signing import Signer, signed_by


def sign(document: Document, signer: Signer, at: str) -> Document:
    """The document with the proof that this key signed it at this moment."""
    options = credential.options_of(document, did_of(signer.public), at)
    return credential.joined(document, options, signer.sign(credential.to_sign(document, options)))


def signed_bytes(document: Document, signer: Signer, at: str) -> bytes:
    """The signed document in the one way it is kept and attached."""
    return canonical(sign(document, signer, at), CREDENTIAL_KEY)


def signer_of(whole: Document) -> bytes:
    """The public key that signed a document. Raises Refusal where its proof does not hold, or is none."""
    found = credential.read_secured(whole)
    if not signed_by(found.public, found.signature, credential.to_sign(found.document, found.options)):
        raise Refusal("Its signature does not hold: this text is not what was signed.")
    return found.public


def opened(data: bytes) -> Document:
    """What a certificate of ours says, once its signature was tried; whose the key is, is not asked here.

    Raises Refusal for bytes that are none, and where it is signed by another than its issuer.
    """
    whole = parsed(data, CREDENTIAL_KEY)
    public = signer_of(whole)
    issuer = whole.get("issuer")
    if not isinstance(issuer, dict) or issuer.get("id") != did_of(public):
        raise Refusal("It is signed by another than the issuer it names.")
    if not isinstance(whole.get("record"), dict) or not isinstance(whole.get("credentialSubject"), dict):
        raise Refusal("It names no print, or no record.")
    return whole
