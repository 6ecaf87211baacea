"""Provenance: who has owned a print, and where it has been."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import func
from sqlmodel import Session, col, select

from ledger.database import Book
from ledger.tables import Custody, Holding, Person, Piece


def holding_of(session: Session, piece_id: int) -> Holding | None:
    """Who owns it now."""
    return session.exec(
        select(Holding).where(Holding.piece_id == piece_id, col(Holding.ended_on).is_(None), ~col(Holding.struck))
    ).first()


def custody_of(session: Session, piece_id: int) -> Custody | None:
    """Where it is now."""
    return session.exec(select(Custody).where(Custody.piece_id == piece_id, col(Custody.ended_on).is_(None))).first()


def pass_to(
    book: Book,
    piece: Piece,
    *,
    holder: str,
    how: str,
    on: date | None,
    person_id: int | None = None,
    from_words: str | None = None,
) -> None:
    """End the open holding and open the next; appends no entry."""
    assert piece.id is not None
    end_holding(book, piece.id, on)
    book.session.add(
        Holding(piece_id=piece.id, holder=holder, how=how, from_on=on, person_id=person_id, from_words=from_words)
    )
    book.session.flush()


def end_holding(book: Book, piece_id: int, on: date | None) -> None:
    before = holding_of(book.session, piece_id)
    if before is not None:
        before.ended_on = on or book.today
        book.session.add(before)
        book.session.flush()


def strike_holding(book: Book, piece: Piece) -> None:
    """Strike the open holding as written in error and reopen the one before it; appends no entry."""
    assert piece.id is not None
    struck = holding_of(book.session, piece.id)
    if struck is None:
        return
    struck.struck = True
    book.session.add(struck)
    book.session.flush()
    before = book.session.exec(
        select(Holding).where(Holding.piece_id == piece.id, ~col(Holding.struck)).order_by(col(Holding.id).desc())
    ).first()
    if before is not None:
        before.ended_on = None
        book.session.add(before)
        book.session.flush()


def put(
    book: Book,
    piece: Piece,
    *,
    place: str,
    on: date | None,
    person_id: int | None = None,
    note: str = "",
    since_words: str | None = None,
) -> None:
    """End the open custody and open the next; appends no entry."""
    assert piece.id is not None
    end_custody(book, piece.id, on)
    book.session.add(
        Custody(piece_id=piece.id, place=place, since_on=on, person_id=person_id, note=note, since_words=since_words)
    )
    book.session.flush()


def end_custody(book: Book, piece_id: int, on: date | None) -> None:
    before = custody_of(book.session, piece_id)
    if before is not None:
        before.ended_on = on or book.today
        book.session.add(before)
        book.session.flush()


def ever_away(session: Session, piece_id: int) -> bool:
    """Whether it was ever anywhere but in the studio or the van; a sale struck as a slip took it nowhere."""
    away = select(func.count()).where(Custody.piece_id == piece_id, col(Custody.place).not_in(("studio", "van")))
    slips = select(func.count()).where(Holding.piece_id == piece_id, Holding.how == "sale", col(Holding.struck))
    return session.exec(away).one() > session.exec(slips).one()


@dataclass(frozen=True)
class Owner:
    """One owner in the chain: by name as the maker may know it, and how it came to them."""

    name: str
    how: str
    from_on: date | None
    from_words: str | None
    ended_on: date | None


def owners(session: Session, piece_id: int) -> list[Owner]:
    """Who has owned a print, first to last; what was struck as an error is left out."""
    rows = session.exec(
        select(Holding, Person.name)
        .outerjoin(Person, col(Person.id) == Holding.person_id)
        .where(Holding.piece_id == piece_id, ~col(Holding.struck))
        .order_by(col(Holding.id))
    )
    called = {"maker": "the maker", "estate": "the estate", "private": "a private owner", "unknown": "not known"}
    return [
        Owner(called.get(each.holder) or name or "name erased", each.how, each.from_on, each.from_words, each.ended_on)
        for each, name in rows
    ]
