"""What unsold prints are worth, say at the year’s end: the lower of cost and what they would bring, print by print."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session

from ledger import consignments, editions, floor_prices, making_costs, pieces
from ledger.errors import Refusal
from ledger.floor_prices import Wish
from ledger.pieces import PieceView
from ledger.reckoning import floor_price, prices
from ledger.reckoning.floor_price import Terms
from ledger.reckoning.stock_value import StockValue, Unsold, value


@dataclass(frozen=True)
class Lot:
    """Unsold prints of an edition that cost the same and would bring the same."""

    edition_id: int
    prints: tuple[PieceView, ...]
    each: Unsold

    def value(self, *, with_own_labour: bool) -> StockValue:
        return value([self.each] * len(self.prints), with_own_labour=with_own_labour)


@dataclass(frozen=True)
class _Asked:
    """What is asked for a print and for its frame (minor units), and the terms it is sold on."""

    price: int
    terms: Terms
    frame: int = 0


def look(session: Session, day: date, way: str = "", fetched: Mapping[int, int] | None = None) -> list[Lot]:
    """The signed prints that are still the maker’s, each as it would sell today.

    A print lent to a gallery is sold by the note it is out on, at the price and with the frame the gallery was told;
    any other at today’s price, in the way named or the first. `fetched` says of an edition what a print of it would
    fetch (minor units) instead of that price. Raises Refusal.
    """
    ways = floor_prices.ways(session, Wish(), day)
    chosen = next((each for each in ways if way in ("", each.name)), None)
    if chosen is None:
        raise Refusal("That is no way of selling of this book. Choose one of the list, or write one down.", field="way")
    lent = dict(_lent(session, day))
    found = editions.listing(session)
    return [lot for each in found for lot in _lots(session, each.id or 0, day, chosen.terms, lent, fetched or {})]


def _lent(session: Session, day: date) -> Iterator[tuple[int, _Asked]]:
    hung = floor_prices.at_a_gallery(session, day)
    for each in consignments.lent_out(session):
        terms = floor_prices.agreed(hung, consignments.get(session, each.consignment_id))
        yield each.piece.id, _Asked(each.told_price, terms, each.told_frame)


def _lots(
    session: Session, edition_id: int, day: date, terms: Terms, lent: Mapping[int, _Asked], fetched: Mapping[int, int]
) -> Iterator[Lot]:
    facts = editions.facts(session, edition_id, day)
    now = {size.id: prices.step_price(size.offer.steps, facts.edition.sold_peak + 1) for size in facts.sizes}
    ours = [seen for seen in pieces.run_of(session, edition_id) if seen.standing in ("in hand", "out")]
    made = making_costs.of_pieces(session, {seen.id: edition_id for seen in ours})
    alike = defaultdict[Unsold, list[PieceView]](list)
    for seen in ours:
        asked = lent.get(seen.id) or _Asked(now[seen.size_id or facts.sizes[0].id], terms)
        cost = made[seen.id]
        price = fetched.get(edition_id, asked.price)
        sold = floor_price.sold(price, asked.terms, cost.with_own_labour, asked.frame)
        brings = sold.without_tax - sold.selling
        alike[Unsold(cost.with_own_labour, cost.without_own_labour, brings)].append(seen)
    for each, prints in alike.items():
        yield Lot(edition_id, tuple(prints), each)
