"""Pricing a sale: worked out once, shown before it is saved and recorded as it was shown."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from sqlmodel import Session, select

from ledger import consignments, editions, for_sale, making_costs, occasions, offers, pieces, sale_drafts, studio
from ledger.errors import Refusal
from ledger.making_costs import Making
from ledger.pieces import PieceView
from ledger.price_steps import SoldCount
from ledger.reckoning import money, numbering, prices, tax
from ledger.reckoning.money import half_up, shares
from ledger.reckoning.prices import DiscountBy
from ledger.sale_drafts import SaleDraft
from ledger.tables import Channel, Consigned, Consignment, Size

WITH_FEE = ("card", "site")


@dataclass(frozen=True)
class ReckonedLine:
    """One line worked out (minor units). `selling` has the tax on commission unless the maker reclaims it.

    `lent` is its row of the consignment it sells through; `making` is known where `work_out` shows what it leaves.
    """

    piece: PieceView
    size_id: int | None
    position: int | None
    list_price: int
    price: int
    frame: int
    discount_by: DiscountBy | None
    lent: Consigned | None = None
    making: Making | None = None
    charged: int = 0
    tax: int = 0
    commission: int = 0
    commission_tax: int = 0
    fee: int = 0
    packing: int = 0
    postage: int = 0
    selling: int = 0

    @property
    def gross(self) -> int:
        return self.price + self.frame + self.charged

    @property
    def due(self) -> int:
        """What reaches the maker of it."""
        return self.gross - self.commission - self.commission_tax

    @property
    def leaves(self) -> int:
        """What it leaves after tax, selling and making so far known; a stand's share is not known yet."""
        return self._less(self._made.with_own_labour)

    @property
    def leaves_without_own_labour(self) -> int:
        return self._less(self._made.without_own_labour)

    @property
    def _made(self) -> Making:
        assert self.making is not None
        return self.making

    def _less(self, made: Fraction) -> int:
        return half_up(self.gross - self.tax - self.selling - made)

    @property
    def to_be_made(self) -> bool:
        return self.piece.state in ("free", "allocated")


@dataclass(frozen=True)
class Reckoned:
    """A sale worked out (minor units). `fees` are those of the receipts; `notes` are worth stopping for."""

    lines: tuple[ReckonedLine, ...]
    fees: tuple[int, ...]
    received: int
    postage_paid: int
    peaks: dict[int, int]
    notes: tuple[str, ...] = ()

    @property
    def due(self) -> int:
        return sum(line.due for line in self.lines)

    @property
    def balance(self) -> int:
        return self.due - self.received

    @property
    def leaves(self) -> int:
        return sum(line.leaves for line in self.lines)

    @property
    def leaves_without_own_labour(self) -> int:
        return sum(line.leaves_without_own_labour for line in self.lines)


def spread(total: int, weights: Sequence[int]) -> list[int]:
    """`total` shared by weight, or equally where every weight is nothing."""
    return shares(total, weights if any(weights) else [1] * len(weights))


def fee_of(channel: Channel, how: str, amount: int) -> int:
    """What the card firm or the site keeps of one payment; cash, a transfer or a refund costs nothing."""
    return prices.fee(channel.fee_bp, channel.fee_minor, amount) if how in WITH_FEE and amount > 0 else 0


def work_out(session: Session, draft: SaleDraft) -> Reckoned:
    """A sale before it is saved: its sums, what each line leaves, and notes. Raises Refusal as `reckon`."""
    reckoned = reckon(session, draft)
    made = making_costs.of_pieces(session, {line.piece.id: line.piece.edition_id for line in reckoned.lines})
    lines = tuple(replace(line, making=made[line.piece.id]) for line in reckoned.lines)
    return replace(reckoned, lines=lines, notes=tuple(_notes(session, draft, reckoned)))


def reckon(session: Session, draft: SaleDraft) -> Reckoned:
    """Every sum a sale is recorded with. Raises Refusal for what cannot be sold so."""
    channel = occasions.get_channel(session, draft.channel_id)
    sale_drafts.check(draft)
    if draft.occasion_id is not None:
        occasions.get(session, draft.occasion_id)
    note = consignments.get(session, draft.consignment_id) if draft.consignment_id is not None else None
    counts: dict[int, SoldCount] = {}
    lines = [_asked(session, draft, note, at, counts) for at in range(len(draft.lines))]
    fees = tuple(fee_of(channel, receipt.how, receipt.amount_minor) for receipt in draft.receipts)
    paid = channel.postage_minor if draft.postage_paid_minor is None else draft.postage_paid_minor
    packing = channel.packing_minor if draft.packing_minor is None else draft.packing_minor
    reckoned = Reckoned(
        lines=tuple(_summed(session, draft, note, lines, sum(fees), paid, packing)),
        fees=fees,
        received=sum(receipt.amount_minor for receipt in draft.receipts),
        postage_paid=paid,
        peaks={edition_id: count.peak for edition_id, count in counts.items()},
    )
    _check_money(session, reckoned)
    return reckoned


def _asked(
    session: Session, draft: SaleDraft, note: Consignment | None, at: int, counts: dict[int, SoldCount]
) -> ReckonedLine:
    """A line with its position and price, no sums yet."""
    line = draft.lines[at]
    seen = pieces.view(session, line.piece_id)
    told = for_sale.check_sellable(session, seen, note, line.assign, f"lines.{at}.piece_id")
    if line.discount_by is not None and note is None:
        raise Refusal(
            "No gallery has a part in this sale. Leave out who bears the discount.", field=f"lines.{at}.discount_by"
        )
    size_id = _size(session, seen, line.size_id, f"lines.{at}.size_id")
    position = _position(session, seen, counts)
    listed = told.told_price_minor if told else None
    if listed is None and position is not None and size_id is not None:
        steps = offers.in_force(session, size_id, draft.sold_on).steps
        listed = prices.step_price(steps, position)
    price = listed if line.price_minor is None else line.price_minor
    if price is None:
        raise Refusal(f"{seen.shown} has no price step. Write its price.", field=f"lines.{at}.price")
    told_frame = told.told_frame_minor if told else 0
    frame = told_frame if line.frame_minor is None else line.frame_minor
    if price < 0 or frame < 0:
        field = f"lines.{at}.{'price' if price < 0 else 'frame'}"
        raise Refusal("A discount cannot be more than the price. Write what was paid.", field=field)
    return ReckonedLine(
        piece=seen,
        size_id=size_id,
        position=position,
        list_price=price if listed is None else listed,
        price=price,
        frame=frame,
        discount_by=(line.discount_by or note.discount_by) if note else None,  # type: ignore[arg-type]  # a CHECK holds the column to these words
        lent=told,
    )


def _position(session: Session, seen: PieceView, counts: dict[int, SoldCount]) -> int | None:
    """Its place among the numbered prints sold of its edition; a proof has none."""
    if seen.class_kind != "numbered":
        return None
    if seen.edition_id not in counts:
        counts[seen.edition_id] = SoldCount.of(session, seen.edition_id)
    return counts[seen.edition_id].sell()


def _size(session: Session, seen: PieceView, asked: int | None, field: str) -> int | None:
    """The size a print has or is to have; None only for one made before this record, its size not known."""
    if seen.size_id is not None:
        if asked not in (None, seen.size_id):
            raise Refusal(f"{seen.shown} is another size already. Leave the size out.", field=field)
        return seen.size_id
    sizes = session.exec(select(Size.id).where(Size.edition_id == seen.edition_id)).all()
    if asked is not None and asked not in sizes:
        raise Refusal("That size is not one of this edition. Choose one that was declared.", field=field)
    size_id = asked if asked is not None else sizes[0] if len(sizes) == 1 else None
    if size_id is None and seen.state != "inscribed":
        raise Refusal(f"{seen.shown} has no size yet. Choose the size it is to have.", field=field)
    return size_id


def _summed(
    session: Session,
    draft: SaleDraft,
    note: Consignment | None,
    lines: Sequence[ReckonedLine],
    fees: int,
    postage: int,
    packing: int,
) -> list[ReckonedLine]:
    rate = tax_rate(session, draft.sold_on)
    paid = [line.price + line.frame for line in lines]
    charged = spread(draft.postage_charged_minor, paid)
    grosses = [sum(both) for both in zip(paid, charged, strict=True)]
    taxes = split_tax(session, grosses, rate)
    fee_parts, postage_parts = spread(fees, grosses), spread(postage, paid)
    summed = []
    for at, line in enumerate(lines):
        kept = _commission(note, line, rate)
        kept_tax = prices.commission_tax(kept, note.commission_tax_bp) if note else 0
        selling = kept + (0 if rate else kept_tax) + fee_parts[at] + packing + postage_parts[at]
        summed.append(
            replace(
                line,
                charged=charged[at],
                tax=taxes[at],
                commission=kept,
                commission_tax=kept_tax,
                fee=fee_parts[at],
                packing=packing,
                postage=postage_parts[at],
                selling=selling,
            )
        )
    return summed


def tax_rate(session: Session, day: date) -> int:
    """The rate (hundredths of a percent) that prices of a day include; nothing while not registered."""
    standing = studio.tax_on(session, day)
    return standing.rate_bp if standing and standing.registered else 0


def split_tax(session: Session, grosses: Sequence[int], rate_bp: int) -> list[int]:
    """The tax in each line, rounded as the studio does: by line, or by invoice."""
    if not rate_bp:
        return [0] * len(grosses)
    by_line = studio.the_studio(session).tax_by == "line"
    return (tax.split_by_line if by_line else tax.split_by_invoice)(grosses, rate_bp)


def _commission(note: Consignment | None, line: ReckonedLine, rate_bp: int) -> int:
    if note is None or line.discount_by is None:
        return 0
    return prices.commission(
        line.list_price,
        line.price,
        line.frame,
        rate_bp=note.commission_bp,
        on=note.commission_on,  # type: ignore[arg-type]  # a CHECK holds the column to these words
        of=note.commission_of,  # type: ignore[arg-type]  # a CHECK holds the column to these words
        tax_bp_if_registered=rate_bp,
        discount_by=line.discount_by,
    )


def _check_money(session: Session, reckoned: Reckoned) -> None:
    for at, line in enumerate(reckoned.lines):
        if line.due < 0:
            said = studio.currency(session)
            raise Refusal(
                f"By these terms the gallery keeps {money.shown(line.gross - line.due, said)} of "
                f"{money.shown(line.gross, said)}. Choose who else bears the discount.",
                field=f"lines.{at}.discount_by",
            )
    if reckoned.balance < 0:
        said = studio.currency(session)
        raise Refusal(
            f"Only {money.shown(reckoned.due, said)} is due for this sale. Write what of it came in.", field="receipts"
        )


def _notes(session: Session, draft: SaleDraft, reckoned: Reckoned) -> list[str]:
    """Sentences on price steps crossed, and on galleries that have to be told."""
    said = studio.currency(session)
    last = {line.piece.edition_id: line for line in reckoned.lines if line.position and line.size_id}
    ids = {line.piece.id for line in reckoned.lines}
    notes = []
    for edition_id, line in last.items():
        assert line.size_id is not None
        steps = offers.in_force(session, line.size_id, draft.sold_on).steps
        peak = reckoned.peaks[edition_id]
        before = prices.step_price(steps, editions.get(session, edition_id).sold_peak + 1)
        now = prices.step_price(steps, peak + 1)
        if now == before:
            continue
        notes.append(f"This is the {numbering.ordinal(peak)} sold. The next one is {money.shown(now, said)}.")
        low: dict[str, int] = {}
        for lent in consignments.told_too_low(session, edition_id, draft.sold_on, peak=peak):
            if lent.piece_id not in ids:
                low[lent.gallery] = low.get(lent.gallery, 0) + 1
        notes += [
            f"{numbering.words(count).capitalize()} at {gallery} need{'s' * (count == 1)} a price notice."
            for gallery, count in low.items()
        ]
    return notes
