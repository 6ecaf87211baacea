"""What proves a certificate, gathered from the record: its exact bytes, its entry, the proof and the keys."""

from dataclasses import dataclass

from sqlalchemy import func
from sqlmodel import Session, col, select

from ledger import checkpoints, keys
from ledger.reckoning.credential import Evidence
from ledger.tables import Certificate, Event, Journal, SigningKeys


@dataclass(frozen=True)
class Place:
    """The entry that issued a certificate, and whether it was signed then."""

    entry: int
    signed: bool

    @property
    def words(self) -> str:
        """For pages: 'Signed, entry 412 of the record.'"""
        if self.signed:
            return f"Signed, entry {self.entry} of the record."
        return f"Issued before signing began, entry {self.entry} of the record; a reissue signs it."


def place_of(session: Session, certificate_id: int) -> Place:
    """Where a certificate stands in the record."""
    issued = select(func.min(Event.entry_seq)).where(
        Event.certificate_id == certificate_id, col(Event.kind) == "certified"
    )
    signed = select(col(Certificate.credential).is_not(None)).where(Certificate.id == certificate_id)
    return Place(session.exec(issued).one() or 0, session.exec(signed).one())


def of(session: Session, certificate_id: int) -> Evidence | None:
    """What proves a certificate, the same at every time; None for one issued before signing began."""
    credential = session.exec(select(Certificate.credential).where(Certificate.id == certificate_id)).one()
    if credential is None:
        return None
    entry = place_of(session, certificate_id).entry
    proof = checkpoints.proof(session, entry)
    assert proof is not None  # the act that issues signs the head
    signing = session.exec(
        select(SigningKeys).where(SigningKeys.entry_seq < entry).order_by(col(SigningKeys.entry_seq).desc()).limit(1)
    ).one()
    body = session.exec(select(Journal.body).where(Journal.seq == entry)).one()
    return Evidence(credential, body, proof, keys.public_of(signing))
