"""Signed heads: what the record held at a moment, put so that it cannot be taken back.

A head is signed in the act that issues a certificate, as its last step. Whoever keeps one, on paper or anywhere
else, can tell later whether the record still continues it.
"""

from sqlmodel import Session, col, select

from ledger import journal, signing
from ledger.database import Book
from ledger.errors import Refusal
from ledger.reckoning import merkle, notes
from ledger.reckoning.notes import Checkpoint, NoteKey, Proof
from ledger.signing import Keys
from ledger.tables import SignedHead


def sign(book: Book, keys: Keys) -> SignedHead:
    """Sign the record as it stands within this act, and keep that; the same head is signed once.

    Raises Refusal where the record does not continue the last head that was signed.
    """
    now, before = journal.head(book.session), latest(book.session)
    if before is not None:
        signed = opened(before, keys.note_key)
        if not _continues(book.session, signed, now):
            raise Refusal(
                f"The record does not continue what was signed when it held {signed.size} entries, so nothing "
                "more is signed. Look for the change, or restore the last backup."
            )
        if signed.size == now.size:
            return before
    text = Checkpoint(keys.origin, now.size, now.root).text
    head = SignedHead(size=now.size, note=signing.sign_note(text, keys.origin, keys.journal), at=book.at)
    book.session.add(head)
    book.session.flush()
    return head


def _continues(session: Session, signed: Checkpoint, now: journal.Head) -> bool:
    if signed.size > now.size:
        return False
    proof = journal.consistency_proof(session, signed.size, now.size)
    return merkle.consistent(signed.size, now.size, signed.root, now.root, proof)


def opened(head: SignedHead, key: NoteKey) -> Checkpoint:
    """What a signed head says. Raises Refusal where this key did not sign it, or it is kept as another."""
    signed = notes.read_checkpoint(signing.open_note(head.note, key))
    if (signed.origin, signed.size) != (key.name, head.size):
        raise Refusal(f"The head kept as that of {head.size} entries says something else.")
    return signed


def latest(session: Session) -> SignedHead | None:
    """The last head that was signed; None before the first."""
    return session.exec(select(SignedHead).order_by(col(SignedHead.size).desc()).limit(1)).first()


def every(session: Session) -> list[SignedHead]:
    """All heads that were signed, the first one first."""
    return list(session.exec(select(SignedHead).order_by(col(SignedHead.size))))


def proof(session: Session, seq: int) -> Proof | None:
    """That an entry stands in the record, under the first head signed after it; None while there is none."""
    after = select(SignedHead).where(col(SignedHead.size) > seq).order_by(col(SignedHead.size)).limit(1)
    head = session.exec(after).first()
    if head is None:
        return None
    return Proof(seq, tuple(journal.inclusion_proof(session, seq, head.size)), head.note)
