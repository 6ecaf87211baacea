"""Signed heads: what the record held at a moment, put so that it cannot be taken back.

A head is signed in the act that issues a certificate, as its last step. Whoever keeps one, on paper or anywhere
else, can tell later whether the record still continues it.
"""

import logging
from pathlib import Path

from sqlmodel import Session, col, select

from ledger import home, journal, signing
from ledger.database import Book, Engine
from ledger.errors import Refusal
from ledger.reckoning import merkle, notes
from ledger.reckoning.notes import Checkpoint, NoteKey, Proof
from ledger.signing import Keys
from ledger.tables import SignedHead

log = logging.getLogger(__name__)
_PLACE = "newest_head"  # the engine's option that says where it is kept


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
    if place := book.session.get_bind().get_execution_options().get(_PLACE):
        book.afterwards.append(lambda: _keep_beside(place, head.note))
    return head


def _keep_beside(place: Path, note: str) -> None:
    # The act is durable by now, and must not be answered with a no. The head before this one stays good.
    try:
        home.keep_private(place, note.encode())
    except (Refusal, OSError) as cause:
        log.warning("the newest head was not kept in %s: %s", place, cause)


def keep_newest_in(engine: Engine, folder: Path) -> None:
    """Keep the newest head beside the ledger too from now on, so that an older ledger put in its place is seen."""
    engine.update_execution_options(**{_PLACE: folder / home.NEWEST_HEAD})


def any_beside(folder: Path) -> bool:
    """Whether a head is kept beside the ledger."""
    return (folder / home.NEWEST_HEAD).is_file()


def newest_beside(folder: Path, key: NoteKey) -> Checkpoint | None:
    """What the head kept beside the ledger says; None where there is none.

    Raises Refusal for a file that is none, or none of this key's.
    """
    place = folder / home.NEWEST_HEAD
    if not place.is_file():
        return None
    try:
        note = place.read_text(encoding="utf-8")
    except ValueError:
        raise Refusal(f"{place} is no signed head.") from None
    return notes.read_checkpoint(signing.open_note(note, key))


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
