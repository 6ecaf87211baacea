"""What an edition cost, took and leaves, from plain facts. Minor units; exact fractions until the last step.

Where making costs lie. A *carrier* is a numbered piece that was made and still counts: inscribed and not
destroyed, or destroyed after a sale that stands. A *sellable* number is one not withdrawn and not destroyed
unsold, made or not. Neither takes in what left before this record began. A *spare* is a good print of a run
that can still become a number. A cost for a piece lies on it; a cost for a run lies in equal parts on the carriers
and the spares of the run, for spoilt sheets and proofs carry nothing, and what lies on spares is in stock; a
cost for the edition lies in equal parts on its sellable numbers. A run with neither is spoilage, and gone.
An edition with no numbers yet (an open one before its first print) keeps its costs waiting.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Literal

from ledger.reckoning.money import half_up, shares

Bucket = Literal["sold", "stock", "waiting", "gone"]


@dataclass(frozen=True)
class PieceFacts:
    """One piece of the edition, as far as money is concerned."""

    piece_id: int
    class_kind: str
    numbered: bool
    carrier: bool
    sellable: bool
    bucket: Bucket
    run_id: int | None = None


@dataclass(frozen=True)
class MakingCost:
    """Money, or own time, spent on making; `target_id` is the piece, the run or the edition.

    `spares` are those of the run.
    """

    basis: Literal["piece", "run", "edition"]
    target_id: int
    amount: int
    own_labour: bool = False
    spares: int = 0


@dataclass(frozen=True)
class LineFacts:
    """One sale line. `selling` is all that selling it cost, sale costs included.

    Sales are taken by sold_on, then `order`. A returned line is given with `stands=False` and as `selling`
    only what was spent and not refunded; its gross and tax are left out. A struck line is not given at all.
    """

    line_id: int
    piece_id: int
    sold_on: date
    channel: str
    gross: int
    tax: int
    selling: int
    order: int
    stands: bool = True

    @property
    def before_making(self) -> int:
        """What the line brings towards making and occasions."""
        return self.gross - self.tax - self.selling if self.stands else -self.selling


@dataclass(frozen=True)
class OccasionShare:
    """The exact part of a fair's or a round's costs that lies on this edition's prints in one channel."""

    channel: str
    amount: Fraction


@dataclass(frozen=True)
class ChannelRow:
    """One way of selling. left = takings - tax - selling - making - occasions."""

    channel: str
    sold: int
    takings: int
    tax: int
    selling: int
    making: int
    occasions: int
    left: int


@dataclass(frozen=True)
class SaleStep:
    """The k-th sale: its price, what it brings before making, and the running sum of that."""

    line_id: int
    sold_on: date
    channel: str
    gross: int
    before_making: int
    running: int


@dataclass(frozen=True)
class Valuation:
    """An edition at a moment.

    making = making_sold + stock + waiting + gone; contribution = takings - tax - selling - making_sold;
    left = contribution - gone - occasions; the rows of `channels` sum to every column, and to left + gone.
    takings - tax - selling - occasions - making = left - stock - waiting.
    `paid_back_at` counts sales from 1; while it is None, `to_go` is what is still to come in, else 0.
    """

    sold: int
    takings: int
    tax: int
    selling: int
    making: int
    making_sold: int
    stock: int
    gone: int
    waiting: int
    occasions: int
    contribution: int
    left: int
    paid_back_at: int | None
    to_go: int
    channels: tuple[ChannelRow, ...]
    by_sale: tuple[SaleStep, ...]


def is_carrier(*, numbered: bool, state: str, condition: str, sold: bool, before: bool) -> bool:
    """Whether a piece carries its part of its run. `sold`: a sale line stands on it; `before`: it was sold,
    given or destroyed before this record began."""
    return numbered and not before and state == "inscribed" and (condition != "destroyed" or sold)


def is_sellable(*, numbered: bool, state: str, condition: str, sold: bool, before: bool) -> bool:
    """Whether a number carries its part of the edition's own costs."""
    return numbered and not before and state != "withdrawn" and (condition != "destroyed" or sold)


def bucket_of(*, state: str, condition: str, sold: bool, held_by_maker: bool) -> Bucket:
    """Where what a piece cost to make is counted."""
    if sold:
        return "sold"
    if state in ("free", "allocated"):
        return "waiting"
    if state == "inscribed" and held_by_maker and condition in ("good", "damaged"):
        return "stock"
    return "gone"


@dataclass(frozen=True)
class _Making:
    on_piece: dict[int, Fraction]
    on_spares: Fraction
    spoilage: Fraction
    unplaced: Fraction

    def in_buckets(self, by_bucket: dict[int, Bucket]) -> list[Fraction]:
        """Sold, stock, waiting, gone."""
        exact = {"sold": Fraction(0), "stock": self.on_spares, "waiting": self.unplaced, "gone": self.spoilage}
        for piece_id, amount in self.on_piece.items():
            exact[by_bucket[piece_id]] += amount
        return list(exact.values())


def _making(pieces: Sequence[PieceFacts], costs: Sequence[MakingCost], with_own_labour: bool) -> _Making:
    on_piece = {piece.piece_id: Fraction(0) for piece in pieces}
    sellable = [piece.piece_id for piece in pieces if piece.sellable]
    any_number = any(piece.numbered for piece in pieces)
    on_spares = spoilage = unplaced = Fraction(0)
    for cost in costs:
        if cost.own_labour and not with_own_labour:
            continue
        if cost.basis == "piece":
            bearers = [cost.target_id]
        elif cost.basis == "run":
            bearers = [piece.piece_id for piece in pieces if piece.carrier and piece.run_id == cost.target_id]
        else:
            bearers = sellable
        among = len(bearers) + cost.spares
        for piece_id in bearers:
            on_piece[piece_id] += Fraction(cost.amount, among)
        if among:
            on_spares += Fraction(cost.amount * cost.spares, among)
        elif cost.basis == "edition" and not any_number:
            unplaced += cost.amount
        else:
            spoilage += cost.amount
    return _Making(on_piece, on_spares, spoilage, unplaced)


def making_of_piece(
    pieces: Sequence[PieceFacts], costs: Sequence[MakingCost], piece_id: int, *, with_own_labour: bool
) -> Fraction:
    """Making so far known for that piece, exact: its own, its part of its run, its part of the edition."""
    return making_of_each(pieces, costs, with_own_labour=with_own_labour)[piece_id]


def making_of_each(
    pieces: Sequence[PieceFacts], costs: Sequence[MakingCost], *, with_own_labour: bool
) -> dict[int, Fraction]:
    """The same of every piece, by its id."""
    return _making(pieces, costs, with_own_labour).on_piece


def making_of_spare(
    pieces: Sequence[PieceFacts], costs: Sequence[MakingCost], spares: dict[int, int], *, with_own_labour: bool
) -> Fraction:
    """What of its run lies on one spare, exact: the mean over these (run to how many); nothing where there are none."""
    on_spares = Fraction(0)
    for cost in costs:
        if cost.basis == "run" and spares.get(cost.target_id) and (with_own_labour or not cost.own_labour):
            carriers = sum(piece.carrier and piece.run_id == cost.target_id for piece in pieces)
            on_spares += Fraction(cost.amount * spares[cost.target_id], carriers + spares[cost.target_id])
    return on_spares / max(1, sum(spares.values()))


def more_sales(to_go: int, each: int) -> int | None:
    """How many more sales that bring `each` cover `to_go`; None where such a sale brings nothing."""
    return -(-to_go // each) if each > 0 else None


def value(
    pieces: Sequence[PieceFacts],
    costs: Sequence[MakingCost],
    lines: Sequence[LineFacts],
    occasions: Sequence[OccasionShare],
    *,
    with_own_labour: bool,
) -> Valuation:
    """The edition at the moment these facts describe.

    Raises ValueError where the pieces in the bucket *sold* are not exactly those with a line that stands.
    """
    standing = [line for line in lines if line.stands]
    by_bucket = {piece.piece_id: piece.bucket for piece in pieces}
    if sorted(line.piece_id for line in standing) != sorted(p for p, b in by_bucket.items() if b == "sold"):
        raise ValueError("the pieces counted as sold are not those with a standing sale line")
    made = _making(pieces, costs, with_own_labour)
    making = sum(cost.amount for cost in costs if with_own_labour or not cost.own_labour)
    making_sold, stock, waiting, gone = _spread(making, made.in_buckets(by_bucket))
    on_occasions = half_up(sum((share.amount for share in occasions), start=Fraction(0)))
    takings = sum(line.gross for line in standing)
    tax = sum(line.tax for line in standing)
    selling = sum(line.selling for line in lines)
    contribution = takings - tax - selling - making_sold
    by_sale, paid_back_at, to_go = _paid_back(lines, making + on_occasions)
    return Valuation(
        sold=len(standing),
        takings=takings,
        tax=tax,
        selling=selling,
        making=making,
        making_sold=making_sold,
        stock=stock,
        gone=gone,
        waiting=waiting,
        occasions=on_occasions,
        contribution=contribution,
        left=contribution - gone - on_occasions,
        paid_back_at=paid_back_at,
        to_go=to_go,
        channels=_channels(lines, occasions, made.on_piece, making_sold, on_occasions),
        by_sale=by_sale,
    )


def _spread(total: int, weights: Sequence[Fraction]) -> list[int]:
    """`shares`, and nothing to each where there is nothing to share."""
    return shares(total, weights) if total else [0] * len(weights)


def _in_order(lines: Sequence[LineFacts]) -> list[LineFacts]:
    return sorted(lines, key=lambda line: (line.sold_on, line.order, line.line_id))


def _paid_back(lines: Sequence[LineFacts], needed: int) -> tuple[tuple[SaleStep, ...], int | None, int]:
    """The sales in order, the first whose running sum covers `needed`, and what is still to come in."""
    steps: list[SaleStep] = []
    running, paid_back_at = 0, None
    for line in _in_order(lines):
        running += line.before_making
        if line.stands:
            steps.append(SaleStep(line.line_id, line.sold_on, line.channel, line.gross, line.before_making, running))
            if paid_back_at is None and running >= needed:
                paid_back_at = len(steps)
    return tuple(steps), paid_back_at, 0 if paid_back_at else max(0, needed - running)


def _channels(
    lines: Sequence[LineFacts],
    occasions: Sequence[OccasionShare],
    on_piece: dict[int, Fraction],
    making_sold: int,
    on_occasions: int,
) -> tuple[ChannelRow, ...]:
    """A row for each channel, in the order of their first sales, then those that so far only cost."""
    names = list(dict.fromkeys([line.channel for line in _in_order(lines)] + [s.channel for s in occasions]))
    all_of = {name: [line for line in lines if line.channel == name] for name in names}
    standing = {name: [line for line in all_of[name] if line.stands] for name in names}
    making = _spread(
        making_sold, [sum((on_piece[line.piece_id] for line in standing[name]), start=Fraction(0)) for name in names]
    )
    on_each = _spread(
        on_occasions, [sum((s.amount for s in occasions if s.channel == name), start=Fraction(0)) for name in names]
    )
    rows = []
    for place, name in enumerate(names):
        takings = sum(line.gross for line in standing[name])
        tax = sum(line.tax for line in standing[name])
        selling = sum(line.selling for line in all_of[name])
        rows.append(
            ChannelRow(
                channel=name,
                sold=len(standing[name]),
                takings=takings,
                tax=tax,
                selling=selling,
                making=making[place],
                occasions=on_each[place],
                left=takings - tax - selling - making[place] - on_each[place],
            )
        )
    return tuple(rows)
