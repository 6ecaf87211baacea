"""Pieces: one place in a class, and the physical print once made. What each is, and how it stands now."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any, cast

from sqlalchemy import ColumnElement, bindparam, case, func
from sqlalchemy import select as columns
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from ledger.errors import Refusal
from ledger.journal import Fields
from ledger.reckoning import dates, numbering
from ledger.tables import (
    Certificate,
    Custody,
    Edition,
    Event,
    Holding,
    Person,
    Piece,
    PrintClass,
    Sale,
    SaleLine,
    Size,
    Work,
)

STANDINGS = ("free", "assigned", "in hand", "out", "passed on", "missing", "destroyed", "withdrawn")
AWAY = ("gallery", "framer", "loan", "post", "unknown")


@dataclass(frozen=True)
class PieceView:
    """Everything a page says about one piece, in one row."""

    id: int
    edition_id: int
    work_id: int
    title: str
    class_id: int
    class_kind: str
    label: str
    style: str
    number: int
    of: int
    inscription: str | None
    generation: int
    latest: bool
    origin: str
    state: str
    condition: str
    standing: str
    size_id: int | None
    size_label: str | None
    inscribed_on: date | None
    holder: str | None
    holder_id: int | None
    holder_name: str | None
    how: str | None
    place: str | None
    keeper_id: int | None
    keeper_name: str | None
    since_on: date | None
    certificate_id: int | None
    code: str | None
    certificate_state: str | None
    line_id: int | None
    sold_on: date | None
    from_words: str | None = None
    number_sold: bool = False

    @property
    def shown(self) -> str:
        """'7/25', 'AP II/III', 'No. 17'."""
        label = "" if self.class_kind == "numbered" else self.label
        return numbering.shown(cast(numbering.Style, self.style), self.number, self.of, label)

    @property
    def figure(self) -> str:
        """What stands inside its mark: '7', 'II', ''."""
        if self.style == "unnumbered":
            return ""
        return numbering.roman(self.number) if self.style.startswith("roman") else str(self.number)

    @property
    def order_stands(self) -> bool:
        """Sold and not handed over yet."""
        return self.line_id is not None and self.holder in (None, "maker") and self.condition != "destroyed"

    @property
    def ours(self) -> bool:
        return self.holder == "maker" and self.latest and self.condition in ("good", "damaged")


def standing_of() -> ColumnElement[str]:
    """The one word a page shows for a number, over `Piece` with its open holding and custody joined."""
    return case(
        (col(Piece.state) == "free", "free"),
        (col(Piece.state) == "allocated", "assigned"),
        (col(Piece.state) == "withdrawn", "withdrawn"),
        (col(Piece.condition) == "missing", "missing"),
        (col(Piece.condition) == "destroyed", "destroyed"),
        (col(Holding.holder) != "maker", "passed on"),
        (col(Custody.place).in_(AWAY), "out"),
        else_="in hand",
    )


def _open_holding() -> ColumnElement[bool]:
    return (col(Holding.piece_id) == Piece.id) & col(Holding.ended_on).is_(None) & ~col(Holding.struck)


def _open_custody() -> ColumnElement[bool]:
    return (col(Custody.piece_id) == Piece.id) & col(Custody.ended_on).is_(None)


def _number_sold() -> ColumnElement[bool]:
    """Whether a sale stands on any print of the number, an earlier one too."""
    print_of_it = aliased(Piece)
    return (
        columns(col(SaleLine.id))
        .join(print_of_it, col(print_of_it.id) == SaleLine.piece_id)
        .where(
            col(print_of_it.class_id) == Piece.class_id,
            col(print_of_it.number) == Piece.number,
            col(SaleLine.outcome) == "sold",
        )
        .correlate(Piece)
        .exists()
    )


def _shown_columns(holder: Any, keeper: Any) -> list[Any]:
    return [
        col(Piece.id),
        PrintClass.edition_id,
        Edition.work_id,
        Work.title,
        Piece.class_id,
        col(PrintClass.kind).label("class_kind"),
        PrintClass.label,
        PrintClass.style,
        Piece.number,
        col(PrintClass.count).label("of"),
        Piece.inscription,
        Piece.generation,
        Piece.latest,
        Piece.origin,
        Piece.state,
        Piece.condition,
        standing_of().label("standing"),
        Piece.size_id,
        col(Size.label).label("size_label"),
        Piece.inscribed_on,
        Holding.holder,
        col(Holding.person_id).label("holder_id"),
        col(holder.name).label("holder_name"),
        Holding.how,
        Custody.place,
        col(Custody.person_id).label("keeper_id"),
        col(keeper.name).label("keeper_name"),
        Custody.since_on,
        col(Certificate.id).label("certificate_id"),
        Certificate.code,
        col(Certificate.state).label("certificate_state"),
        col(SaleLine.id).label("line_id"),
        Sale.sold_on,
        Holding.from_words,
        _number_sold().label("number_sold"),
    ]


@cache
def _query() -> Any:
    """The pieces with what holds now, by class and number; built once, for building it takes longer than asking."""
    holder, keeper = aliased(Person), aliased(Person)
    return (
        columns(*_shown_columns(holder, keeper))
        .join(PrintClass, col(PrintClass.id) == Piece.class_id)
        .join(Edition, col(Edition.id) == PrintClass.edition_id)
        .join(Work, col(Work.id) == Edition.work_id)
        .outerjoin(Size, col(Size.id) == Piece.size_id)
        .outerjoin(Holding, _open_holding())
        .outerjoin(holder, col(holder.id) == Holding.person_id)
        .outerjoin(Custody, _open_custody())
        .outerjoin(keeper, col(keeper.id) == Custody.person_id)
        .outerjoin(
            Certificate, (col(Certificate.piece_id) == Piece.id) & col(Certificate.state).in_(("valid", "suspended"))
        )
        .outerjoin(SaleLine, (col(SaleLine.piece_id) == Piece.id) & (col(SaleLine.outcome) == "sold"))
        .outerjoin(Sale, col(Sale.id) == SaleLine.sale_id)
        .order_by(col(Piece.class_id), col(Piece.number), col(Piece.generation))
    )


@cache
def _query_of_one() -> Any:
    return _query().where(col(Piece.id) == bindparam("piece_id"))


def views(session: Session, *where: Any, limit: int | None = None) -> list[PieceView]:
    """The pieces that satisfy `where`, by class and number, each with what holds now."""
    query = _query().where(*where)
    if limit is not None:
        query = query.limit(limit)
    return [PieceView(**row._mapping) for row in session.execute(query)]


def view(session: Session, piece_id: int) -> PieceView:
    """One piece as pages show it. Raises Refusal (missing)."""
    row = session.execute(_query_of_one(), {"piece_id": piece_id}).first()
    if row is None:
        raise Refusal(f"No print has the number {piece_id} in this book.", missing=True)
    return PieceView(**row._mapping)


def run_of(session: Session, edition_id: int) -> list[PieceView]:
    """Every present piece of an edition, the numbered ones first."""
    return views(session, col(PrintClass.edition_id) == edition_id, col(Piece.latest))


def those(session: Session, piece_ids: Iterable[int]) -> dict[int, PieceView]:
    """These pieces by their ids; an id nobody has is left out."""
    ids = set(piece_ids)
    return {seen.id: seen for seen in views(session, col(Piece.id).in_(ids))} if ids else {}


def out(session: Session) -> list[PieceView]:
    """Every print of ours that is elsewhere, by edition and number."""
    ours = (col(Piece.state) == "inscribed") & col(Piece.condition).in_(("good", "damaged"))
    return views(session, col(Piece.latest), ours, col(Holding.holder) == "maker", col(Custody.place).in_(AWAY))


def get(session: Session, piece_id: int) -> Piece:
    """The row. Raises Refusal (missing)."""
    piece = session.get(Piece, piece_id)
    if piece is None:
        raise Refusal(f"No print has the number {piece_id} in this book.", missing=True)
    return piece


def class_of(session: Session, piece: Piece) -> PrintClass:
    found = session.get(PrintClass, piece.class_id)
    assert found is not None
    return found


def edition_of(session: Session, piece: Piece) -> int:
    return class_of(session, piece).edition_id


def public_fields(session: Session, piece: Piece) -> Fields:
    """What every public entry about a piece says of it: no free text, no cause."""
    print_class = class_of(session, piece)
    return {
        "edition": print_class.edition_id,
        "class": print_class.kind,
        "number": piece.number,
        "generation": piece.generation,
    }


def shown(session: Session, piece_id: int) -> str:
    """'7/25'."""
    return view(session, piece_id).shown


def titled(session: Session, piece_id: int) -> str:
    """'Forty Minutes of Road 7/25'."""
    seen = view(session, piece_id)
    return f"{seen.title} {seen.shown}"


def find_class(session: Session, edition_id: int, kind: str) -> PrintClass:
    """A class of an edition by its kind. Raises Refusal (missing)."""
    found = session.exec(select(PrintClass).where(PrintClass.edition_id == edition_id, PrintClass.kind == kind)).first()
    if found is None:
        raise Refusal(f"This edition has no {kind}. Only what was declared can be numbered.", missing=True)
    return found


def standings(session: Session, class_id: int) -> dict[str, int]:
    """How many pieces of a class have each standing; they sum to its count."""
    found: dict[str, int] = {row[0]: row[1] for row in session.exec(_standings(), params={"of": class_id})}
    return {name: found[name] for name in STANDINGS if name in found}


@cache  # put together anew for every class, the question takes longer than its answer
def _standings() -> Any:
    return (
        columns(standing_of().label("standing"), func.count())
        .select_from(Piece)
        .outerjoin(Holding, _open_holding())
        .outerjoin(Custody, _open_custody())
        .where(col(Piece.class_id) == bindparam("of"), col(Piece.latest))
        .group_by("standing")  # by name: PostgreSQL takes two writings of one expression for two
    )


def next_free(session: Session, class_id: int, how_many: int = 5) -> list[int]:
    """The lowest numbers nobody has taken."""
    return list(
        session.exec(
            select(Piece.number)
            .where(Piece.class_id == class_id, col(Piece.latest), Piece.state == "free")
            .order_by(col(Piece.number))
            .limit(how_many)
        )
    )


def free_words(session: Session, class_id: int) -> str:
    """'Free next: 8, 9, 10.' or that nothing is left."""
    numbers = next_free(session, class_id, 3)
    return f"Free next: {', '.join(map(str, numbers))}." if numbers else "No number of it is free."


def what_it_is(seen: PieceView) -> str:
    """The standing as the end of a sentence: 'was sold on 4 May 2026', 'is at Gallery Kelpstane'."""
    if seen.order_stands and seen.sold_on:
        return f"was sold on {dates.said(seen.sold_on)} and waits to be handed over"
    if seen.standing == "passed on":
        if seen.line_id is not None and seen.sold_on:
            return f"was sold on {dates.said(seen.sold_on)}"
        return {"gift": "was given away", "donation": "was donated", "exchange": "was exchanged"}.get(
            seen.how or "", "has left the studio for good"
        )
    if seen.standing == "out":
        where = {
            "gallery": f"at {seen.keeper_name}",
            "framer": "at the framer",
            "loan": "on loan",
            "post": "in the post",
        }.get(seen.place or "", "away")
        return f"is {where}"
    return {
        "free": "is not numbered yet",
        "assigned": "is assigned and not signed yet",
        "in hand": "is in hand",
        "withdrawn": "will never be made",
        "missing": "is missing",
        "destroyed": "was destroyed",
    }[seen.standing]


def order_on(session: Session, piece_id: int) -> SaleLine | None:
    """The live sale line of a piece."""
    return session.exec(select(SaleLine).where(SaleLine.piece_id == piece_id, SaleLine.outcome == "sold")).first()


def generations(session: Session, seen: PieceView) -> list[PieceView]:
    """Every print there was of this number, first to last."""
    return views(session, col(Piece.class_id) == seen.class_id, col(Piece.number) == seen.number)


def story(session: Session, piece_ids: Sequence[int]) -> list[Event]:
    """What happened to these pieces, oldest first."""
    return list(
        session.exec(
            select(Event).where(col(Event.piece_id).in_(piece_ids)).order_by(col(Event.entry_seq), col(Event.id))
        )
    )


def lately(session: Session, edition_id: int, limit: int = 6) -> list[Event]:
    """The last lines of an edition's story, newest first."""
    return list(
        session.exec(
            select(Event)
            .where(Event.edition_id == edition_id)
            .order_by(col(Event.entry_seq).desc(), col(Event.id).desc())
            .limit(limit)
        )
    )
