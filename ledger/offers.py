"""Offers: how a size is made and sold from a day on, and for how much. Earlier ones are kept."""

from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from sqlmodel import Session, col, select

from ledger import mounts
from ledger.database import Book
from ledger.errors import Refusal
from ledger.promises import OfferDraft
from ledger.tables import Offer, PriceStep, Recipe


@dataclass(frozen=True)
class OfferFacts:
    """What is offered of a size now."""

    id: int
    from_on: date
    process: str
    paper: str
    mounting: str
    mount_plan_id: int | None
    recipe_id: int | None
    steps: tuple[tuple[int, int], ...]


def in_force(session: Session, size_id: int, day: date) -> OfferFacts:
    """The offer of a size in force on a day; before the first one, the first. Raises Refusal (missing)."""
    found = _in_order(session, Offer.size_id == size_id)
    if not found:
        raise Refusal(f"No size has the number {size_id}.", missing=True)
    return next((each for each in reversed(found) if each.from_on <= day), found[0])


def get(session: Session, offer_id: int) -> OfferFacts:
    """One offer. Raises Refusal (missing)."""
    found = _in_order(session, Offer.id == offer_id)
    if not found:
        raise Refusal(f"No offer has the number {offer_id}.", missing=True)
    return found[0]


def _in_order(session: Session, where: Any) -> list[OfferFacts]:
    """Offers with their price steps, the earliest first."""
    rows = session.exec(
        select(Offer, PriceStep)
        .join(PriceStep, col(PriceStep.offer_id) == Offer.id)
        .where(where)
        .order_by(col(Offer.from_on), col(Offer.id), col(PriceStep.from_sold))
    )
    found = []
    for _, of_one in groupby(rows, key=lambda row: row[0].id):
        steps = list(of_one)
        each = steps[0][0]
        found.append(
            OfferFacts(
                id=each.id or 0,
                from_on=each.from_on,
                process=each.process,
                paper=each.paper,
                mounting=each.mounting,
                steps=tuple((step.from_sold, step.price_minor) for _, step in steps),
                mount_plan_id=each.mount_plan_id,
                recipe_id=each.recipe_id,
            )
        )
    return found


def mounting_by_hand(session: Session, offer: OfferFacts) -> str:
    """An offer’s mounting as it was written for it; '' where it is what its plan says, and the plan stands."""
    said = "" if offer.mount_plan_id is None else mounts.standing_words(session, offer.mount_plan_id)
    return "" if offer.mounting == said else offer.mounting


def add(book: Book, size_id: int, draft: OfferDraft) -> int:
    """Write a size’s offer from today; appends no entry. Raises Refusal for a mount plan or a recipe it cannot have."""
    planned = "" if draft.mount_plan_id is None else mounts.offered(book.session, draft.mount_plan_id, size_id)
    if draft.recipe_id is not None and book.session.get(Recipe, draft.recipe_id) is None:
        raise Refusal(f"No recipe has the number {draft.recipe_id}.", field="offer.recipe_id")
    offer = Offer(
        size_id=size_id,
        from_on=book.today,
        process=draft.process,
        paper=draft.paper,
        mounting=draft.mounting or planned,
        mount_plan_id=draft.mount_plan_id,
        recipe_id=draft.recipe_id,
    )
    book.session.add(offer)
    book.session.flush()
    assert offer.id is not None
    book.write(PriceStep, [{"offer_id": offer.id, **step.model_dump()} for step in draft.prices])
    return offer.id
