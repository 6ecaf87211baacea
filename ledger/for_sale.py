"""What is for sale now: signed prints that are here, and numbers an order may take."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, func, or_
from sqlmodel import Session, col, select

from ledger import editions, offers, pieces
from ledger.errors import Refusal
from ledger.pieces import PieceView
from ledger.reckoning import prices
from ledger.tables import Consigned, Consignment, Custody, Edition, Holding, Piece, PrintClass, Sale, SaleLine

MOST_FREE = 5


@dataclass(frozen=True)
class Hung:
    """A print on the wall of the stall, its price (minor units), and how many of its edition sold at this fair."""

    piece: PieceView
    price: int
    sold_here: int
    several_sizes: bool


def _unsold() -> tuple[Any, ...]:
    return col(Piece.latest), col(SaleLine.id).is_(None), col(Edition.withdrawn_on).is_(None)


def _is_here() -> ColumnElement[bool]:
    return (
        (col(Piece.state) == "inscribed")
        & col(Piece.condition).in_(("good", "damaged"))
        & (col(Holding.holder) == "maker")
        & col(Custody.place).in_(("studio", "van"))
    )


def here(session: Session, *where: Any) -> list[PieceView]:
    """The prints that can be handed to a buyer at once, by class and number."""
    # A second print of a number sold before is owed to that buyer.
    return [seen for seen in pieces.views(session, *_unsold(), _is_here(), *where) if not seen.number_sold]


def of_class(session: Session, class_id: int) -> list[PieceView]:
    """What can be sold of a class: prints here, numbers assigned, and the lowest free ones."""
    free = pieces.next_free(session, class_id, MOST_FREE)
    to_be_made = or_(col(Piece.state) == "allocated", (col(Piece.state) == "free") & col(Piece.number).in_(free))
    found = pieces.views(session, *_unsold(), Piece.class_id == class_id, or_(_is_here(), to_be_made))
    return [seen for seen in found if not seen.number_sold]


def one_of_each(session: Session) -> list[PieceView]:
    """Of every class the lowest print that is here, and the lowest number that an order may take."""
    lowest = (
        select(func.min(Piece.number), Piece.class_id)
        .where(col(Piece.latest), Piece.state == "free")
        .group_by(col(Piece.class_id))
    )
    free = {(class_id, number) for number, class_id in session.exec(lowest)}
    numbers = {number for _, number in free}
    orders = pieces.views(session, *_unsold(), Piece.state == "free", col(Piece.number).in_(numbers))
    first: dict[int, PieceView] = {}
    for seen in here(session):
        first.setdefault(seen.class_id, seen)
    to_be_made = [seen for seen in orders if (seen.class_id, seen.number) in free]
    return sorted([*first.values(), *to_be_made], key=lambda seen: (seen.edition_id, seen.class_id, seen.number))


def hung(session: Session, day: date, occasion_id: int | None) -> list[Hung]:
    """The lowest print of each edition and size that is here; what sells most at this fair comes first."""
    first: dict[tuple[int, int], PieceView] = {}
    for seen in here(session, PrintClass.kind == "numbered", col(Piece.size_id).is_not(None)):
        first.setdefault((seen.edition_id, seen.size_id or 0), seen)
    sold = _sold_at(session, occasion_id)
    sizes = Counter(edition_id for edition_id, _ in first)
    wall = [
        Hung(seen, price_of(session, seen, day), sold.get(edition_id, 0), sizes[edition_id] > 1)
        for (edition_id, _), seen in first.items()
    ]
    return sorted(wall, key=lambda each: (-each.sold_here, -each.piece.edition_id, each.piece.number))


def price_of(session: Session, seen: PieceView, day: date) -> int:
    """The price step the next numbered print of its edition and size is sold at (minor units)."""
    assert seen.size_id is not None
    peak = editions.get(session, seen.edition_id).sold_peak
    return prices.step_price(offers.in_force(session, seen.size_id, day).steps, peak + 1)


def check_sellable(
    session: Session, seen: PieceView, note: Consignment | None, assign: bool, field: str
) -> Consigned | None:
    """The row of its consignment where it sells through one. Raises Refusal where it cannot be sold so."""
    editions.standing(session, seen.edition_id)
    out = session.exec(select(Consigned).where(Consigned.piece_id == seen.id, Consigned.outcome == "out")).first()
    if note is not None:
        if out is None or out.consignment_id != note.id or not seen.ours:
            raise Refusal(
                f"{seen.shown} {pieces.what_it_is(seen)}; it is not out on that note. Record it by itself.", field=field
            )
        return out
    if out is not None and seen.ours:
        raise Refusal(
            f"{seen.shown} {pieces.what_it_is(seen)}. Sell it through that gallery, or take it back first.", field=field
        )
    if seen.state == "free" and not assign:
        raise Refusal(f"{seen.shown} is not numbered yet. Assign it first, then sell it.", field=field)
    to_be_made = seen.state in ("free", "allocated") and seen.latest
    if seen.number_sold or not (to_be_made or (seen.ours and seen.place in ("studio", "van"))):
        printed_again = seen.number_sold and seen.line_id is None and seen.generation > 1
        said = "was sold before it was printed again" if printed_again else pieces.what_it_is(seen)
        raise Refusal(f"{seen.shown} {said}. {_what_else(session, seen.class_id)}", field=field)
    return None


def _what_else(session: Session, class_id: int) -> str:
    ready = here(session, Piece.class_id == class_id)[:3]
    if ready and ready[0].of and not pieces.next_free(session, class_id, 1):
        said = " and ".join(filter(None, (", ".join(seen.shown for seen in ready[:-1]), ready[-1].shown)))
        return f"All {ready[0].of} are given out; {said} {'is' if len(ready) == 1 else 'are'} in hand and can be sold."
    in_hand = f"In hand: {', '.join(str(seen.number) for seen in ready)}. " if ready else ""
    return in_hand + pieces.free_words(session, class_id)


def others(session: Session, seen: PieceView) -> Sequence[PieceView]:
    """The other prints of its class and size that are here."""
    found = here(session, Piece.class_id == seen.class_id)
    return [each for each in found if each.id != seen.id and each.size_id == seen.size_id]


def _sold_at(session: Session, occasion_id: int | None) -> dict[int, int]:
    query: Any = (
        select(PrintClass.edition_id, func.count())
        .join(Piece, col(Piece.class_id) == PrintClass.id)
        .join(SaleLine, col(SaleLine.piece_id) == Piece.id)
        .join(Sale, col(Sale.id) == SaleLine.sale_id)
        .where(Sale.occasion_id == occasion_id, SaleLine.outcome == "sold")
        .group_by(col(PrintClass.edition_id))
    )
    return {edition_id: int(count) for edition_id, count in session.exec(query)}
