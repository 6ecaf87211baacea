"""Making: what the prints of an edition cost to make, read into the facts that `reckoning.margin` takes."""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from sqlmodel import Session, col, select

from ledger import editions, spares
from ledger.reckoning import margin
from ledger.reckoning.margin import MakingCost, PieceFacts
from ledger.tables import Cost, Holding, Piece, PrintClass, Run, SaleLine


@dataclass(frozen=True)
class MakingFacts:
    """An edition's pieces, making costs and spares of each run. `left_before` counts those gone before this record."""

    pieces: tuple[PieceFacts, ...]
    costs: tuple[MakingCost, ...]
    spares: dict[int, int]
    left_before: int


@dataclass(frozen=True)
class Making:
    """What one print cost to make so far (exact minor units), with own labour and without it."""

    with_own_labour: Fraction
    without_own_labour: Fraction


def facts(session: Session, edition_id: int) -> MakingFacts:
    """Every piece of an edition and every making cost on it, its runs and its pieces."""
    rows = _piece_rows(session, edition_id)
    # Each number once: of several generations the sold one bears the number's part, else the latest.
    sold = {(row.class_id, row.number) for row in rows if row.line_id is not None}
    found, left_before = [], 0
    for row in rows:
        before = row.origin == "entered" and not row.ours_when_entered
        left_before += before
        is_sold = row.line_id is not None
        numbered = row.kind == "numbered"
        stands_for_number = is_sold or (row.latest and (row.class_id, row.number) not in sold)
        known = {
            "numbered": numbered,
            "state": row.state,
            "condition": row.condition,
            "sold": is_sold,
            "before": before,
        }
        found.append(
            PieceFacts(
                piece_id=row.id,
                class_kind=row.kind,
                numbered=numbered,
                carrier=margin.is_carrier(**known),
                sellable=stands_for_number and margin.is_sellable(**known),
                bucket=margin.bucket_of(
                    state=row.state, condition=row.condition, sold=is_sold, held_by_maker=row.holder == "maker"
                ),
                run_id=row.run_id,
            )
        )
    to_make = sum(row.kind == "numbered" and row.latest and row.state in ("free", "allocated") for row in rows)
    spares = _spares(session, edition_id, to_make)
    return MakingFacts(tuple(found), tuple(_costs(session, edition_id, spares)), spares, left_before)


def _spares(session: Session, edition_id: int, to_make: int) -> dict[int, int]:
    """For each run its spares that can still become one of the numbers to make; an open edition makes new ones."""
    edition = editions.get(session, edition_id)
    if edition.kind == "open" and edition.closed_on is None:
        return spares.by_run(session, edition_id)
    found = {}
    for run_id, left in spares.by_run(session, edition_id).items():
        found[run_id] = max(0, min(left, to_make))
        to_make -= found[run_id]
    return found


def _piece_rows(session: Session, edition_id: int) -> list[Any]:
    ours_when_entered = (
        select(Holding.id)
        .where(col(Holding.piece_id) == Piece.id, Holding.how == "entered", Holding.holder == "maker")
        .correlate(Piece)
        .exists()
    )
    query: Any = (
        select(  # type: ignore[call-overload]  # SQLModel types four columns at most
            Piece.id,
            Piece.class_id,
            Piece.number,
            Piece.latest,
            Piece.state,
            Piece.condition,
            Piece.origin,
            Piece.run_id,
            PrintClass.kind,
            Holding.holder,
            col(SaleLine.id).label("line_id"),
            ours_when_entered.label("ours_when_entered"),
        )
        .join(PrintClass, col(PrintClass.id) == Piece.class_id)
        .outerjoin(
            Holding, (col(Holding.piece_id) == Piece.id) & col(Holding.ended_on).is_(None) & ~col(Holding.struck)
        )
        .outerjoin(SaleLine, (col(SaleLine.piece_id) == Piece.id) & (col(SaleLine.outcome) == "sold"))
        .where(PrintClass.edition_id == edition_id)
        .order_by(col(Piece.class_id), col(Piece.number), col(Piece.generation))
    )
    return list(session.exec(query))


def _costs(session: Session, edition_id: int, spares: dict[int, int]) -> Iterable[MakingCost]:
    bases: tuple[tuple[Any, Any], ...] = (
        (Cost.piece_id, select(Piece.id).join(PrintClass).where(PrintClass.edition_id == edition_id)),
        (Cost.run_id, select(Run.id).where(Run.edition_id == edition_id)),
        (Cost.edition_id, (edition_id,)),
    )
    for target, of_edition in bases:
        query: Any = select(Cost.basis, target, Cost.amount_minor, Cost.own_labour).where(
            col(target).in_(of_edition), col(Cost.struck_at).is_(None)
        )
        for basis, target_id, amount, own_labour in session.exec(query.order_by(col(Cost.id))):
            yield MakingCost(basis, target_id, amount, own_labour, spares.get(target_id, 0) if basis == "run" else 0)


def of_pieces(session: Session, edition_of: dict[int, int]) -> dict[int, Making]:
    """What each piece (id to its edition's id) cost to make so far."""
    known = {edition_id: facts(session, edition_id) for edition_id in set(edition_of.values())}
    return {
        piece_id: Making(
            *(
                margin.making_of_piece(
                    known[edition_id].pieces, known[edition_id].costs, piece_id, with_own_labour=with_own_labour
                )
                for with_own_labour in (True, False)
            )
        )
        for piece_id, edition_id in edition_of.items()
    }
