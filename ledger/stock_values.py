"""What unsold prints are worth, say at the year’s end: the lower of cost and what they would bring, print by print."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from sqlmodel import Session

from ledger import editions, floor_prices, making_costs, pieces
from ledger.errors import Refusal
from ledger.floor_prices import Way, Wish
from ledger.pieces import PieceView
from ledger.reckoning import floor_price, prices
from ledger.reckoning.stock_value import StockValue, Unsold, value


@dataclass(frozen=True)
class Lot:
    """Unsold prints of an edition that cost the same and would bring the same."""

    edition_id: int
    prints: tuple[PieceView, ...]
    each: Unsold

    def value(self, *, with_own_labour: bool) -> StockValue:
        return value([self.each] * len(self.prints), with_own_labour=with_own_labour)


def look(session: Session, day: date, way: str = "", fetched: Mapping[int, int] | None = None) -> list[Lot]:
    """The signed prints that are still the maker’s, each as it would sell today.

    A print at a gallery is sold by its terms, any other in the way named, or the first. `fetched` says of an edition
    what a print of it would fetch (minor units) where that is not today’s price. Raises Refusal.
    """
    ways = floor_prices.ways(session, Wish(), day)
    chosen = next((each for each in ways if way in ("", each.name)), None)
    if chosen is None:
        raise Refusal("That is no way of selling of this book. Choose one of the list, or write one down.", field="way")
    found = editions.listing(session)
    return [lot for each in found for lot in _lots(session, each.id or 0, day, ways, chosen, fetched or {})]


def _lots(
    session: Session, edition_id: int, day: date, ways: list[Way], chosen: Way, fetched: Mapping[int, int]
) -> Iterator[Lot]:
    facts = editions.facts(session, edition_id, day)
    asked = {size.id: prices.step_price(size.offer.steps, facts.edition.sold_peak + 1) for size in facts.sizes}
    galleries = {each.person_id: each for each in ways if each.person_id is not None}
    ours = [seen for seen in pieces.run_of(session, edition_id) if seen.standing in ("in hand", "out")]
    made = making_costs.of_pieces(session, {seen.id: edition_id for seen in ours})

    def unsold(seen: PieceView) -> Unsold:
        way = galleries.get(seen.keeper_id or 0, chosen) if seen.place == "gallery" else chosen
        price = fetched.get(edition_id, asked[seen.size_id or facts.sizes[0].id])
        sold = floor_price.sold(price, way.terms, made[seen.id].with_own_labour)
        brings = sold.without_tax - sold.selling
        return Unsold(made[seen.id].with_own_labour, made[seen.id].without_own_labour, brings)

    for each, alike in groupby(ours, key=unsold):
        yield Lot(edition_id, tuple(alike), each)
