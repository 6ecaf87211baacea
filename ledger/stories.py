"""What the maker's own story of a print names: the gallery, the way of selling, the price and the buyer."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select as columns
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from ledger.tables import Channel, Consignment, Event, Occasion, Person, Sale, SaleLine

OF_A_GALLERY = ("lent", "taken_back", "told")
OF_A_SALE = ("sold", "buyer_named")


@dataclass(frozen=True)
class Named:
    """Who an event is about, the gallery or the buyer, '' where there is no name; of a sale where, and for how much.

    The price (minor units) is what the buyer paid for the print and its frame.
    """

    who: str
    where: str = ""
    price: int = 0


def named(session: Session, events: Sequence[Event]) -> dict[int, Named]:
    """What lending and selling events name, by their ids; an erased name is said to be erased."""
    lent = {event.id or 0: event.person_id for event in events if event.kind in OF_A_GALLERY and event.person_id}
    sold = {event.id or 0: event.sale_line_id for event in events if event.kind in OF_A_SALE and event.sale_line_id}
    people = _names(session, set(lent.values()))
    lines = _sales(session, set(sold.values()))
    found = {event_id: Named(people[person_id]) for event_id, person_id in lent.items()}
    return found | {event_id: lines[line_id] for event_id, line_id in sold.items()}


def _names(session: Session, ids: set[int]) -> dict[int, str]:
    found: dict[int, str] = {}
    for part in _parts(ids):
        rows = session.exec(select(Person.id, Person.name).where(col(Person.id).in_(part)))
        found |= {person_id or 0: name or "name erased" for person_id, name in rows}
    return found


def _sales(session: Session, ids: set[int]) -> dict[int, Named]:
    buyer, gallery = aliased(Person), aliased(Person)
    query: Any = (
        columns(
            col(SaleLine.id), col(SaleLine.price_minor) + col(SaleLine.frame_minor), col(Sale.buyer_id),
            col(buyer.name), col(Channel.name), col(Occasion.name), col(gallery.name),
        )
        .join(Sale, col(Sale.id) == SaleLine.sale_id)
        .join(Channel, col(Channel.id) == Sale.channel_id)
        .outerjoin(Occasion, col(Occasion.id) == Sale.occasion_id)
        .outerjoin(buyer, col(buyer.id) == Sale.buyer_id)
        .outerjoin(Consignment, col(Consignment.id) == Sale.consignment_id)
        .outerjoin(gallery, col(gallery.id) == Consignment.person_id)
    )  # fmt: skip
    found: dict[int, Named] = {}
    for part in _parts(ids):
        rows = session.execute(query.where(col(SaleLine.id).in_(part)))
        for line_id, price, buyer_id, name, channel, fair, through in rows:
            who = (name or "name erased") if buyer_id else ""
            found[line_id] = Named(who, ", ".join(filter(None, (channel, fair, through))), price)
    return found


def _parts(ids: set[int]) -> list[list[int]]:
    """SQLite takes only so many values in one statement."""
    found = sorted(ids)
    return [found[start : start + 500] for start in range(0, len(found), 500)]
