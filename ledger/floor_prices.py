"""The price a print needs: what the book knows of its making, its ways of selling and its steps, put to the sums."""

from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from typing import Any, cast

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import editions, making_costs, occasions, people, price_steps, pricing, recipes, reports, runs
from ledger.editions import SizeFacts
from ledger.errors import Refusal
from ledger.making_costs import Making, MakingFacts
from ledger.reckoning import floor_price, margin, prices
from ledger.reckoning import recipe as recipe_sums
from ledger.reckoning.floor_price import Sold, Terms
from ledger.reckoning.margin import PieceFacts
from ledger.reckoning.prices import CommissionOf, CommissionOn
from ledger.tables import Channel, Consignment, Occasion, Piece, Recipe


class Wish(BaseModel):
    """What one print is to leave (minor units), or its margin instead; and what to reckon with.

    Without a size the first one, without a recipe what the book says of making, without a flat price the first
    step. A commission is that of a gallery no print is lent to yet.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    leaves_minor: int | None = None
    margin_bp: int | None = None
    size_id: int | None = None
    recipe_id: int | None = None
    flat_minor: int | None = None
    commission_bp: int | None = None
    commission_tax_bp: int = 0


@dataclass(frozen=True)
class Way:
    """One way of selling; `tried` where the commission of a gallery was only asked about."""

    name: str
    terms: Terms
    tried: bool = False


@dataclass(frozen=True)
class Answer:
    """One way answered: a print sold at the floor, one at today's price, or why there is no floor.

    `floor_without_own_time` is the lowest price (minor units) with one's own time not counted.
    """

    way: Way
    now: Sold
    floor: Sold | None = None
    floor_without_own_time: int | None = None
    why_not: str = ""


@dataclass(frozen=True)
class SoldThrough:
    """What all `count` numbers take by the steps, and at one flat price (minor units)."""

    count: int
    by_steps: int
    flat: int
    at_flat: int


@dataclass(frozen=True)
class AtFair:
    """A fair that is on or to come: what it costs, what one print leaves there, how many pay for it (or None)."""

    fair: Occasion
    cost: int
    each: int
    count: int | None


@dataclass(frozen=True)
class Needed:
    """The whole answer. `price` is what the next print of the size costs today (minor units).

    Of `making`, `to_come` is what the recipe adds to what the book has. `left_out` is the recipe the size is offered
    with, where the book may hold what finishing cost otherwise, so that it is not reckoned with unasked.
    `uncosted` counts its prints on whose printing no cost lies while on another's one does.
    """

    size: SizeFacts
    recipe: Recipe | None
    left_out: Recipe | None
    making: Making
    to_come: Making
    uncosted: int
    price: int
    answers: tuple[Answer, ...]
    sold_through: SoldThrough | None
    fairs: tuple[AtFair, ...]


def look(session: Session, edition_id: int, wish: Wish, day: date) -> Needed:
    """What price a print of an edition needs in each way of selling. Raises Refusal."""
    _check(wish)
    facts = editions.facts(session, edition_id, day)
    size = next((size for size in facts.sizes if wish.size_id in (None, size.id)), None)
    if size is None:
        raise Refusal("That size is not one of this edition. Choose one that was declared.", field="size_id")
    one_of = size.id if len(facts.sizes) > 1 else None
    made, to_come = _making(session, edition_id, one_of, wish.recipe_id)
    usual = recipes.of_offer(session, size.offer) if wish.recipe_id is None else None
    price = prices.step_price(size.offer.steps, facts.edition.sold_peak + 1)
    return Needed(
        size=size,
        recipe=recipes.get(session, wish.recipe_id) if wish.recipe_id is not None else None,
        left_out=usual if _by_hand(session, edition_id) else None,
        making=made,
        to_come=to_come,
        uncosted=_uncosted(session, edition_id, one_of),
        price=price,
        answers=tuple(_answer(way, wish, made, price) for way in ways(session, wish, day)),
        sold_through=_sold_through(session, edition_id, size, wish) if facts.edition.kind == "limited" else None,
        fairs=tuple(_at_fairs(session, made.with_own_labour, price, day)),
    )


def proposed(session: Session, edition_id: int, size: SizeFacts) -> Recipe | None:
    """The recipe a size is offered with, while the book says nothing yet of what finishing its prints cost.

    What a printing cost is not that; what was spent on the edition or on a print may be, and is taken for it.
    """
    known = making_costs.facts(session, edition_id)
    held = any(cost.basis != "run" for cost in known.costs)
    return None if held else recipes.of_offer(session, size.offer)


def _by_hand(session: Session, edition_id: int) -> bool:
    """Whether costs of the edition or of its prints were written down, and none of them by a recipe."""
    known = making_costs.facts(session, edition_id)
    charged = recipes.spent(session, [piece.piece_id for piece in known.pieces])
    return not charged and any(cost.basis != "run" for cost in known.costs)


def _check(wish: Wish) -> None:
    if wish.leaves_minor is not None and wish.margin_bp is not None:
        raise Refusal("Write an amount or a margin, not both.", field="margin")
    if wish.flat_minor is not None and wish.flat_minor <= 0:
        raise Refusal("A price is more than nothing. Write what is asked.", field="flat")
    _lowest(wish, Terms(), Fraction(0))  # what cannot be had where selling costs nothing cannot be had at all


def _lowest(wish: Wish, terms: Terms, made: Fraction) -> int:
    if wish.margin_bp is not None:
        return floor_price.lowest_with_margin(wish.margin_bp, terms, made)
    return floor_price.lowest_leaving(wish.leaves_minor or 0, terms, made)


def _answer(way: Way, wish: Wish, made: Making, price: int) -> Answer:
    now = floor_price.sold(price, way.terms, made.with_own_labour)
    try:
        lowest = _lowest(wish, way.terms, made.with_own_labour)
        without = _lowest(wish, way.terms, made.without_own_labour)
    except Refusal as no:
        if way.tried and no.field == "commission":
            raise
        return Answer(way, now, why_not=no.message)
    return Answer(way, now, floor_price.sold(lowest, way.terms, made.with_own_labour), without)


def _making(session: Session, edition_id: int, size_id: int | None, recipe_id: int | None) -> tuple[Making, Making]:
    """What one print costs to make and finish, exact: the mean of those made, else of those to be made.

    Those to be made come from the good prints that wait for a number, where there are any of the size.
    What recipes charged is taken as the mean of those finished, for others may still wait. By a recipe, while any
    print is not finished, it is what that one charges: the second part, still to come.
    """
    known = making_costs.facts(session, edition_id)
    made = [piece.piece_id for piece in _made(session, known, size_id)]
    meant = made or [piece.piece_id for piece in known.pieces if piece.sellable and not piece.carrier]
    charged = recipes.spent(session, meant)
    waits = len(charged) < len(made) or _more_are_made(session, edition_id)
    lines = recipes.lines_of(session, recipe_id) if recipe_id is not None and waits else None
    spares = {} if made else _spares(session, known, size_id)
    both, to_come = [], []
    for with_own_labour in (True, False):
        each = margin.making_of_each(known.pieces, known.costs, with_own_labour=with_own_labour)
        in_all = sum((each[piece_id] for piece_id in meant), start=Fraction(0))
        by_recipes = sum(part.materials + (part.own_time if with_own_labour else 0) for part in charged.values())
        so_far = Fraction(0) if lines else Fraction(by_recipes, max(1, len(charged)))
        to_come.append(recipe_sums.a_print(lines or [], with_own_labour=with_own_labour))
        waiting = margin.making_of_spare(known.pieces, known.costs, spares, with_own_labour=with_own_labour)
        both.append((in_all - by_recipes) / max(1, len(meant)) + waiting + so_far + to_come[-1])
    return Making(*both), Making(*to_come)


def _uncosted(session: Session, edition_id: int, size_id: int | None) -> int:
    """How many prints made have no printing, or one without a cost, while another printing has one."""
    known = making_costs.facts(session, edition_id)
    paid = {cost.target_id for cost in known.costs if cost.basis == "run"}
    made = _made(session, known, size_id)
    return sum(piece.run_id not in paid for piece in made) if paid else 0


def _made(session: Session, known: MakingFacts, size_id: int | None) -> list[PieceFacts]:
    """The prints made that count, of the size or of any where no size is said."""
    made = [piece for piece in known.pieces if piece.sellable and piece.carrier]
    if size_id is None:
        return made
    sized: Any = select(Piece.id).where(Piece.size_id == size_id)
    of_size = set(session.exec(sized))
    return [piece for piece in made if piece.piece_id in of_size]


def _more_are_made(session: Session, edition_id: int) -> bool:
    edition = editions.get(session, edition_id)
    return editions.to_make(session, edition_id, proofs=False) > 0 or (
        edition.kind == "open" and edition.closed_on is None
    )


def _spares(session: Session, known: MakingFacts, size_id: int | None) -> dict[int, int]:
    """Of each run its spares that are of the size, or of any where no size is said."""
    sizes = {run_id: runs.get(session, run_id).size_id for run_id in known.spares}
    return {run_id: left for run_id, left in known.spares.items() if size_id is None or sizes[run_id] == size_id}


def ways(session: Session, wish: Wish, day: date) -> list[Way]:
    """Every way of selling, then every gallery by the terms of the last note, then the one asked about."""
    tax_bp = pricing.tax_rate(session, day)
    channels = occasions.channels(session)
    found = [Way(each.name, _terms(each, tax_bp)) for each in channels if each.kind != "gallery"]
    hung = at_a_gallery(session, day)
    last = {note.person_id: note for note in session.exec(select(Consignment).order_by(col(Consignment.id)))}
    for person_id, note in last.items():
        found.append(Way(people.shown(session, person_id), agreed(hung, note)))
    if wish.commission_bp is not None:
        asked = replace(hung, commission_bp=wish.commission_bp, commission_tax_bp=wish.commission_tax_bp)
        found.append(Way("Another gallery", asked, tried=True))
    return found


def at_a_gallery(session: Session, day: date) -> Terms:
    """What selling at any gallery takes, no commission agreed yet."""
    tax_bp = pricing.tax_rate(session, day)
    hung = (_terms(each, tax_bp) for each in occasions.channels(session) if each.kind == "gallery")
    return next(hung, Terms(tax_bp=tax_bp))


def agreed(hung: Terms, note: Consignment) -> Terms:
    """The same by the terms of one note."""
    return replace(
        hung,
        commission_bp=note.commission_bp,
        commission_on=cast(CommissionOn, note.commission_on),
        commission_of=cast(CommissionOf, note.commission_of),
        commission_tax_bp=note.commission_tax_bp,
    )


def _terms(channel: Channel, tax_bp: int) -> Terms:
    return Terms(
        fee_bp=channel.fee_bp,
        fee_minor=channel.fee_minor,
        packing=channel.packing_minor,
        postage=channel.postage_minor,
        tax_bp=tax_bp,
    )


def _sold_through(session: Session, edition_id: int, size: SizeFacts, wish: Wish) -> SoldThrough:
    """All numbers this book can sell, sold or not; those gone before it only count for the steps."""
    steps = size.offer.steps
    count = sum(piece.sellable for piece in making_costs.facts(session, edition_id).pieces)
    before = price_steps.sold_before(session, edition_id)
    flat = wish.flat_minor if wish.flat_minor is not None else steps[0][1]
    by_steps = prices.sold_through(steps, before + count) - prices.sold_through(steps, before)
    return SoldThrough(count, by_steps, flat, flat * count)


def _at_fairs(session: Session, made: Fraction, price: int, day: date) -> list[AtFair]:
    tax_bp = pricing.tax_rate(session, day)
    found = []
    for fair in reversed(occasions.listing(session)):
        if fair.kind != "selling" or fair.to_on < day:
            continue
        cost = reports.pitch(session, fair.id or 0).cost
        channel = occasions.get_channel(session, fair.channel_id) if fair.channel_id is not None else None
        terms = _terms(channel, tax_bp) if channel else Terms(tax_bp=tax_bp)
        each = floor_price.sold(price, terms, made).leaves
        found.append(AtFair(fair, cost, each, margin.more_sales(cost, each)))
    return found
