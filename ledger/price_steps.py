"""Price steps: how many numbered prints of an edition stand sold, and the most that ever did at once.

The price of the next one goes by the most, so that a return does not make prints cheaper again.
"""

from dataclasses import dataclass
from typing import Any

from sqlalchemy import func
from sqlmodel import Session, col, select

from ledger import editions
from ledger.tables import Event, Piece, PrintClass, SaleLine


@dataclass
class SoldCount:
    """`standing` sold now and `peak`, the most at once, as lines are added one after another."""

    standing: int
    peak: int

    @classmethod
    def of(cls, session: Session, edition_id: int) -> "SoldCount":
        return cls(standing_sold(session, edition_id), editions.get(session, edition_id).sold_peak)

    def sell(self) -> int:
        """One more is sold: its position, which its price goes by."""
        position = self.peak + 1
        self.standing += 1
        self.peak = max(self.peak, self.standing)
        return position


def standing_sold(session: Session, edition_id: int) -> int:
    """How many numbered prints of an edition stand sold now, those sold before this record included."""
    lines = (
        select(func.count())
        .select_from(SaleLine)
        .join(Piece, col(Piece.id) == SaleLine.piece_id)
        .join(PrintClass, col(PrintClass.id) == Piece.class_id)
        .where(PrintClass.edition_id == edition_id, SaleLine.outcome == "sold", col(SaleLine.position).is_not(None))
    )
    both = lines.scalar_subquery() + _sold_before(edition_id).scalar_subquery()
    return int(session.exec(select(both)).one())


def sold_before(session: Session, edition_id: int) -> int:
    """How many numbered prints were sold before this record, as entered when the edition was declared."""
    return int(session.exec(_sold_before(edition_id)).one())


def _sold_before(edition_id: int) -> Any:
    return (
        select(func.count())
        .select_from(Event)
        .join(Piece, col(Piece.id) == Event.piece_id)
        .join(PrintClass, col(PrintClass.id) == Piece.class_id)
        .where(
            Event.edition_id == edition_id, Event.kind == "entered", Event.text == "sold", PrintClass.kind == "numbered"
        )
    )


def recounted_peak(session: Session, edition_id: int) -> int:
    """The peak worked out afresh in the order of the record, as if struck lines had never been."""
    query: Any = (
        select(Event.kind)
        .join(SaleLine, col(SaleLine.id) == Event.sale_line_id)
        .where(
            Event.edition_id == edition_id,
            col(Event.kind).in_(("sold", "returned")),
            SaleLine.outcome != "struck",
            col(SaleLine.position).is_not(None),
        )
        .order_by(col(Event.entry_seq), col(Event.id))
    )
    peak = standing = sold_before(session, edition_id)
    for kind in session.exec(query):
        standing += 1 if kind == "sold" else -1
        peak = max(peak, standing)
    return peak
