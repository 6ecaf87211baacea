"""Provenance: who has owned a print, and where it has been."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import bindparam, func, update
from sqlmodel import Session, col, select

from ledger.database import Book
from ledger.tables import Custody, Holding, Person, Piece

_OWNS = (col(Holding.piece_id) == bindparam("piece"), col(Holding.ended_on).is_(None), ~col(Holding.struck))
_KEEPS = (col(Custody.piece_id) == bindparam("piece"), col(Custody.ended_on).is_(None))
_HOLDING, _CUSTODY = select(Holding).where(*_OWNS), select(Custody).where(*_KEEPS)
_END_HOLDING = update(Holding).where(*_OWNS).values(ended_on=bindparam("on"))
_END_CUSTODY = update(Custody).where(*_KEEPS).values(ended_on=bindparam("on"))


def holding_of(session: Session, piece_id: int) -> Holding | None:
    """Who owns it now."""
    return session.exec(_HOLDING, params={"piece": piece_id}).first()


def custody_of(session: Session, piece_id: int) -> Custody | None:
    """Where it is now."""
    return session.exec(_CUSTODY, params={"piece": piece_id}).first()


def pass_to(book: Book, piece_id: int, *, holder: str, how: str, on: date | None, person_id: int | None = None) -> None:
    """End the open holding and open the next; appends no entry."""
    end_holding(book, piece_id, on)
    begin_holding(book, [piece_id], holder=holder, how=how, on=on, person_id=person_id)


def end_holding(book: Book, piece_id: int, on: date | None) -> None:
    book.session.execute(_END_HOLDING, {"piece": piece_id, "on": on or book.today})
    _read_again(book.session, Holding, piece_id)


def _read_again(session: Session, table: type[Holding | Custody], piece_id: int) -> None:
    """Rows of a print that were read before the statement changed them are read again when they are next looked at."""
    for row in session.identity_map.values():
        if isinstance(row, table) and row.piece_id == piece_id:
            session.expire(row, ["ended_on"])


def begin_holding(
    book: Book,
    piece_ids: Sequence[int],
    *,
    holder: str,
    how: str,
    on: date | None,
    person_id: int | None = None,
    from_words: str | None = None,
) -> None:
    """Open the holding of prints nobody owns yet; appends no entry."""
    facts = {"holder": holder, "how": how, "from_on": on, "person_id": person_id, "from_words": from_words}
    book.write(Holding, [{"piece_id": piece_id, **facts} for piece_id in piece_ids])


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
    book: Book, piece_id: int, *, place: str, on: date | None, person_id: int | None = None, note: str = ""
) -> None:
    """End the open custody and open the next; appends no entry."""
    end_custody(book, piece_id, on)
    begin_custody(book, [piece_id], place=place, on=on, person_id=person_id, note=note)


def end_custody(book: Book, piece_id: int, on: date | None) -> None:
    book.session.execute(_END_CUSTODY, {"piece": piece_id, "on": on or book.today})
    _read_again(book.session, Custody, piece_id)


def begin_custody(
    book: Book,
    piece_ids: Sequence[int],
    *,
    place: str,
    on: date | None,
    person_id: int | None = None,
    note: str = "",
    since_words: str | None = None,
) -> None:
    """Open the custody of prints that are nowhere yet; appends no entry."""
    facts = {"place": place, "since_on": on, "person_id": person_id, "note": note, "since_words": since_words}
    book.write(Custody, [{"piece_id": piece_id, **facts} for piece_id in piece_ids])


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
