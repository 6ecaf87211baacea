"""What an edition took, cost and leaves; what a fair brought; who owes what."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from sqlalchemy import func, union
from sqlmodel import Session, col, select

from ledger import editions, making_costs, occasions, people, pieces, studio
from ledger.pricing import spread
from ledger.reckoning import chart as drawing
from ledger.reckoning import margin as reckoning
from ledger.reckoning import prices
from ledger.reckoning.chart import Chart, Sold
from ledger.reckoning.margin import LineFacts, OccasionShare, Valuation
from ledger.reckoning.money import half_up
from ledger.tables import Channel, Consigned, Consignment, Cost, Piece, PrintClass, Receipt, Sale, SaleLine, TaxStanding


@dataclass(frozen=True)
class Selling:
    """What selling an edition cost with own labour (minor units); the parts sum to its `selling`."""

    commission: int
    fees: int
    packing: int
    postage: int
    other: int


@dataclass(frozen=True)
class MarginReport:
    """An edition now, with and without own labour.

    `left_before` numbers had gone before this record; `asked` is the list price of each line; `to_sell`
    counts the numbers still to sell.
    """

    with_labour: Valuation
    without_labour: Valuation
    selling: Selling
    left_before: int
    asked: dict[int, int]
    to_sell: int


@dataclass(frozen=True)
class _Line:
    """A sale line of the edition that was not struck, as read."""

    row: Any
    registered: bool
    cost: int
    own_labour: int

    @property
    def stands(self) -> bool:
        return bool(self.row.outcome == "sold")

    @property
    def commission(self) -> int:
        """What the gallery keeps, with the tax on it that the maker cannot reclaim. Undone by a return."""
        row = self.row
        return (row.commission_minor + (0 if self.registered else row.commission_tax_minor)) if self.stands else 0

    def facts(self, *, with_own_labour: bool) -> LineFacts:
        row = self.row
        spent = row.fee_minor + row.packing_minor + row.postage_minor + self.cost
        return LineFacts(
            line_id=row.id,
            piece_id=row.piece_id,
            sold_on=row.sold_on,
            channel=row.channel,
            gross=row.price_minor + row.frame_minor + row.charged_minor if self.stands else 0,
            tax=row.tax_minor if self.stands else 0,
            selling=spent + self.commission + (self.own_labour if with_own_labour else 0),
            order=row.id,
            stands=self.stands,
        )


def margin(session: Session, edition_id: int) -> MarginReport:
    """What an edition took, what that cost, and what is left. Raises Refusal (missing)."""
    editions.get(session, edition_id)
    made = making_costs.facts(session, edition_id)
    lines = _lines(session, edition_id)
    both = [
        reckoning.value(
            made.pieces,
            made.costs,
            [line.facts(with_own_labour=with_own_labour) for line in lines],
            shares,
            with_own_labour=with_own_labour,
        )
        for with_own_labour, shares in zip((True, False), _occasion_shares(session, edition_id), strict=True)
    ]
    return MarginReport(
        with_labour=both[0],
        without_labour=both[1],
        selling=Selling(
            commission=sum(line.commission for line in lines),
            fees=sum(line.row.fee_minor for line in lines),
            packing=sum(line.row.packing_minor for line in lines),
            postage=sum(line.row.postage_minor for line in lines),
            other=sum(line.cost + line.own_labour for line in lines),
        ),
        left_before=made.left_before,
        asked={line.row.id: line.row.list_minor for line in lines},
        to_sell=sum(piece.sellable and piece.bucket in ("stock", "waiting") for piece in made.pieces),
    )


def _of_edition(edition_id: int) -> Any:
    """The ids of an edition's pieces, found by index."""
    return (
        select(Piece.id)
        .join(PrintClass, col(PrintClass.id) == Piece.class_id)
        .where(PrintClass.edition_id == edition_id)
    )


def _lines(session: Session, edition_id: int) -> list[_Line]:
    columns = (*SaleLine.__table__.columns, col(Sale.sold_on), col(Channel.name).label("channel"))  # type: ignore[attr-defined]  # SQLModel hides it
    query: Any = (
        select(*columns)
        .select_from(SaleLine)
        .join(Sale, col(Sale.id) == SaleLine.sale_id)
        .join(Channel, col(Channel.id) == Sale.channel_id)
        .where(col(SaleLine.piece_id).in_(_of_edition(edition_id)), SaleLine.outcome != "struck")
        .order_by(col(SaleLine.id))
    )
    rows = session.exec(query).all()
    costs = _sale_costs(session, edition_id)
    standings = session.exec(select(TaxStanding).order_by(col(TaxStanding.from_on))).all()
    days = [each.from_on for each in standings]

    def registered(day: date) -> bool:
        place = bisect_right(days, day)
        return place > 0 and standings[place - 1].registered

    return [_Line(row, registered(row.sold_on), costs[row.id, False], costs[row.id, True]) for row in rows]


def _sale_costs(session: Session, edition_id: int) -> dict[tuple[int, bool], int]:
    """The part of costs with basis *sale* on each line (id, own labour): shared over the sale by gross."""
    sales = select(SaleLine.sale_id).where(col(SaleLine.piece_id).in_(_of_edition(edition_id)))
    costs = session.exec(
        select(Cost.sale_id, Cost.own_labour, func.sum(Cost.amount_minor))
        .where(col(Cost.sale_id).in_(sales), col(Cost.struck_at).is_(None))
        .group_by(col(Cost.sale_id), col(Cost.own_labour))
    ).all()
    parts: dict[tuple[int, bool], int] = defaultdict(int)
    if not costs:
        return parts
    lines: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for line in session.exec(
        select(SaleLine)
        .where(col(SaleLine.sale_id).in_({sale_id for sale_id, _, _ in costs}), SaleLine.outcome != "struck")
        .order_by(col(SaleLine.id))
    ):
        lines[line.sale_id].append((line.id or 0, line.price_minor + line.frame_minor + line.charged_minor))
    for sale_id, own_labour, amount in costs:
        of_sale = lines[sale_id or 0]
        for (line_id, _), part in zip(of_sale, spread(int(amount), [gross for _, gross in of_sale]), strict=True):
            parts[line_id, own_labour] += part
    return parts


def _occasion_shares(session: Session, edition_id: int) -> tuple[list[OccasionShare], list[OccasionShare]]:
    """The edition's part of what fairs and rounds cost, equally over the prints sold at, or lent on, each.

    First with own labour, then without it.
    """
    ours = _of_edition(edition_id)
    sold_at = (
        select(Sale.occasion_id)
        .join(SaleLine, col(SaleLine.sale_id) == Sale.id)
        .where(col(SaleLine.piece_id).in_(ours), SaleLine.outcome == "sold")
    )
    lent_on = (
        select(Consignment.occasion_id)
        .join(Consigned, col(Consigned.consignment_id) == Consignment.id)
        .where(col(Consigned.piece_id).in_(ours))
    )
    spent = session.exec(
        select(Cost.occasion_id, Cost.own_labour, func.sum(Cost.amount_minor))
        .where(col(Cost.occasion_id).in_(union(sold_at, lent_on)), col(Cost.struck_at).is_(None))
        .group_by(col(Cost.occasion_id), col(Cost.own_labour))
        .order_by(col(Cost.occasion_id))
    ).all()
    on = {occasion_id: _bearers(session, occasion_id or 0, ours) for occasion_id, *_ in spent}
    shares: list[tuple[bool, OccasionShare]] = [
        (own_labour, OccasionShare(channel, Fraction(int(amount) * count, on[occasion_id][0])))
        for occasion_id, own_labour, amount in spent
        for channel, count in on[occasion_id][1]
    ]
    return [share for _, share in shares], [share for own_labour, share in shares if not own_labour]


def _bearers(session: Session, occasion_id: int, ours: Any) -> tuple[int, list[tuple[str, int]]]:
    """How many prints an occasion's cost lies on, and how many of them are these, by channel."""
    occasion = occasions.get(session, occasion_id)
    if occasion.kind == "round":
        lent = (
            select(func.count(func.distinct(Consigned.piece_id)))
            .join(Consignment, col(Consignment.id) == Consigned.consignment_id)
            .where(Consignment.occasion_id == occasion.id)
        )
        everything = int(session.exec(lent).one())
        if everything:
            channel = occasions.get_channel(session, occasion.channel_id).name if occasion.channel_id else occasion.name
            return everything, [(channel, int(session.exec(lent.where(col(Consigned.piece_id).in_(ours))).one()))]
    sold: Any = (
        select(Channel.name, func.count())
        .join(Sale, col(Sale.channel_id) == Channel.id)
        .join(SaleLine, col(SaleLine.sale_id) == Sale.id)
        .where(Sale.occasion_id == occasion.id, SaleLine.outcome == "sold")
        .group_by(col(Channel.name))
        .order_by(col(Channel.name))
    )
    of_edition = [(name, int(count)) for name, count in session.exec(sold.where(col(SaleLine.piece_id).in_(ours)))]
    return sum(int(count) for _, count in session.exec(sold)), of_edition


def chart(session: Session, edition_id: int, report: MarginReport, day: date) -> Chart | None:
    """The drawing of an edition's sales beside its margin; None before the first sale."""
    facts = editions.facts(session, edition_id, day)
    worth = report.with_labour
    steps, peak = facts.sizes[0].offer.steps, facts.edition.sold_peak
    return drawing.chart(
        [Sold(report.asked[step.line_id], step.gross, step.before_making) for step in worth.by_sale],
        [prices.step_price(steps, peak + ahead) for ahead in range(1, report.to_sell + 1)],
        id=f"sales-of-{edition_id}",
        title=f"Each sale of {facts.work.title}, and what is left",
        laid_out=worth.making + worth.occasions,
        final=worth.takings - worth.tax - worth.selling - worth.making - worth.occasions,
        finished=worth.stock + worth.waiting == 0,
        paid_back_at=worth.paid_back_at,
        currency=studio.currency(session),
    )


def left_of_lines(session: Session, lines: Sequence[SaleLine]) -> dict[int, int]:
    """What each of these lines that stands sold leaves, own labour counted (minor units), by its id."""
    edition_of = {
        seen.id: seen.edition_id for seen in pieces.those(session, (line.piece_id for line in lines)).values()
    }
    made = making_costs.of_pieces(session, edition_of)
    known = {
        each.row.id: each.facts(with_own_labour=True)
        for edition_id in set(edition_of.values())
        for each in _lines(session, edition_id)
    }
    return {
        line.id or 0: half_up(known[line.id].before_making - made[line.piece_id].with_own_labour)
        for line in lines
        if line.outcome == "sold"
    }


@dataclass(frozen=True)
class Pitch:
    """A fair so far (minor units, own labour in): what it cost, and what its sales brought towards that."""

    cost: int
    brought: int
    sold: int

    @property
    def to_go(self) -> int:
        return max(0, self.cost - self.brought)


def pitch(session: Session, occasion_id: int) -> Pitch:
    """What a fair cost, and what its sales bring after tax, selling and making. Raises Refusal (missing)."""
    occasions.get(session, occasion_id)
    cost = session.exec(
        select(func.coalesce(func.sum(Cost.amount_minor), 0)).where(
            Cost.occasion_id == occasion_id, col(Cost.struck_at).is_(None)
        )
    ).one()
    sold: Any = (
        select(SaleLine.id, SaleLine.piece_id, PrintClass.edition_id)
        .join(Sale, col(Sale.id) == SaleLine.sale_id)
        .join(Piece, col(Piece.id) == SaleLine.piece_id)
        .join(PrintClass, col(PrintClass.id) == Piece.class_id)
        .where(Sale.occasion_id == occasion_id, SaleLine.outcome == "sold")
    )
    rows = session.exec(sold).all()
    made = making_costs.of_pieces(session, {piece_id: edition_id for _, piece_id, edition_id in rows})
    ids = {line_id for line_id, _, _ in rows}
    brought = sum(
        (
            line.facts(with_own_labour=True).before_making - made[line.row.piece_id].with_own_labour
            for edition_id in {edition_id for _, _, edition_id in rows}
            for line in _lines(session, edition_id)
            if line.row.id in ids
        ),
        start=Fraction(0),
    )
    return Pitch(int(cost), half_up(brought), len(rows))


@dataclass(frozen=True)
class Owed:
    """A sale of which something is still to come in (minor units), and for how many days that has been so."""

    sale_id: int
    person_id: int | None
    who: str
    sold_on: date
    days: int
    balance: int


def owed(session: Session, day: date) -> list[Owed]:
    """Every sale with something still to come in, the oldest first: by the gallery, or else by the buyer."""
    in_: Any = (
        select(Receipt.sale_id, func.sum(Receipt.amount_minor).label("amount"))
        .where(~col(Receipt.struck))
        .group_by(col(Receipt.sale_id))
        .subquery()
    )
    line_due = (
        col(SaleLine.price_minor)
        + col(SaleLine.frame_minor)
        + col(SaleLine.charged_minor)
        - col(SaleLine.commission_minor)
        - col(SaleLine.commission_tax_minor)
    )
    balance = func.sum(line_due) - func.coalesce(func.max(in_.c.amount), 0)
    query: Any = (
        select(Sale.id, Sale.sold_on, Sale.buyer_id, Consignment.person_id, balance)  # type: ignore[call-overload]  # SQLModel types four columns at most
        .join(SaleLine, col(SaleLine.sale_id) == Sale.id)
        .outerjoin(Consignment, col(Consignment.id) == Sale.consignment_id)
        .outerjoin(in_, in_.c.sale_id == Sale.id)
        .where(SaleLine.outcome == "sold")
        .group_by(col(Sale.id), col(Sale.sold_on), col(Sale.buyer_id), col(Consignment.person_id))
        .having(balance > 0)
        .order_by(col(Sale.sold_on), col(Sale.id))
    )
    found = []
    for sale_id, sold_on, buyer_id, gallery_id, amount in session.exec(query):
        person_id = gallery_id or buyer_id
        who = people.shown(session, person_id) if person_id is not None else "a buyer without a name"
        found.append(Owed(sale_id, person_id, who, sold_on, (day - sold_on).days, int(amount)))
    return found
