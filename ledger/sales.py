"""Sales: recorded as they were worked out, and the money that arrives for them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

from sqlalchemy import func
from sqlmodel import Session, col, select

from ledger import journal, numbers, occasions, people, pieces, pricing, provenance, studio
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Fields, Touched
from ledger.pieces import PieceView
from ledger.pricing import Reckoned, ReckonedLine, spread
from ledger.reckoning import money
from ledger.sale_drafts import BuyerDraft, ReceiptDraft, SaleDraft
from ledger.tables import Channel, Edition, Event, Journal, Piece, PrintClass, Receipt, Sale, SaleLine


@dataclass(frozen=True)
class SaleView:
    """A sale with its lines and receipts, struck ones too, and how it stands (minor units)."""

    sale: Sale
    channel: Channel
    buyer: str
    lines: tuple[SaleLine, ...]
    receipts: tuple[Receipt, ...]
    due: int
    received: int

    @property
    def balance(self) -> int:
        """What is still to come in; below nothing: more came in than stands due."""
        return self.due - self.received

    @property
    def deposit(self) -> bool:
        """Whether something came in, and less than the whole."""
        return 0 < self.received < self.due


def record(book: Book, draft: SaleDraft) -> Sale:
    """Record a sale with the sums `work_out` shows; signed prints pass to the buyer, numbers to be made wait.

    A free number sold is assigned in the same act. Raises Refusal.
    """
    told_on = _told_on(book, draft)
    reckoned = pricing.reckon(book.session, draft)
    shown, buyer_id = buyer_of(book, draft.buyer)
    sale = Sale(
        sold_on=draft.sold_on,
        told_on=told_on,
        channel_id=draft.channel_id,
        occasion_id=draft.occasion_id,
        consignment_id=draft.consignment_id,
        buyer_id=buyer_id,
        buyer_shown=shown,
        postage_charged_minor=draft.postage_charged_minor,
        postage_paid_minor=reckoned.postage_paid,
    )
    book.session.add(sale)
    book.session.flush()
    lines = [_line(sale, worked) for worked in reckoned.lines]
    receipts = [_receipt(book, sale, *paid) for paid in zip(draft.receipts, reckoned.fees, strict=True)]
    book.session.add_all([*lines, *receipts])
    for worked in reckoned.lines:
        _settle(book, sale, worked)
    for edition_id, peak in reckoned.peaks.items():
        book.session.get_one(Edition, edition_id).sold_peak = peak
    book.session.flush()
    _seal(book, sale, reckoned, lines, receipts)
    return sale


def _told_on(book: Book, draft: SaleDraft) -> date:
    told_on = draft.told_on or book.today
    for field, day in (("sold_on", draft.sold_on), ("told_on", told_on)):
        if day > book.today:
            raise Refusal("That day is still to come. Write the day it happened.", field=field)
    if told_on < draft.sold_on:
        raise Refusal("You were told of it before it was sold. Look at the days again.", field="told_on")
    return told_on


def _seal(book: Book, sale: Sale, reckoned: Reckoned, lines: Sequence[SaleLine], receipts: Sequence[Receipt]) -> None:
    story = (
        Touched(
            "sold",
            sale.sold_on,
            edition_id=worked.piece.edition_id,
            piece_id=line.piece_id,
            sale_line_id=line.id,
            person_id=sale.buyer_id,
        )
        for line, worked in zip(lines, reckoned.lines, strict=True)
    )
    written = {
        "lines": [line_facts(line) for line in lines],
        "receipts": [receipt_facts(receipt) for receipt in receipts],
    }
    named = {"buyer": people.shown(book.session, sale.buyer_id)} if sale.buyer_id is not None else None
    journal.sealed(book, "sold", _facts(sale) | written, *story, person=named, person_id=sale.buyer_id)


def buyer_of(book: Book, draft: BuyerDraft) -> tuple[str, int | None]:
    """What is said of a buyer, and the person where there is a name. Raises Refusal."""
    if draft.person_id is not None:
        if people.get(book.session, draft.person_id).erased_at is not None:
            raise Refusal("That name was erased. Choose somebody else, or no name.", field="buyer")
        return "named", draft.person_id
    if draft.name.strip():
        return "named", people.find_or_add(book, draft.name).id
    if draft.shown == "named":
        raise Refusal("Write the buyer’s name, or choose “private” or “not asked”.", field="buyer")
    return draft.shown, None


def _line(sale: Sale, worked: ReckonedLine) -> SaleLine:
    return SaleLine(
        sale_id=sale.id or 0,
        piece_id=worked.piece.id,
        position=worked.position,
        list_minor=worked.list_price,
        price_minor=worked.price,
        frame_minor=worked.frame,
        charged_minor=worked.charged,
        discount_by=worked.discount_by,
        tax_minor=worked.tax,
        commission_minor=worked.commission,
        commission_tax_minor=worked.commission_tax,
        fee_minor=worked.fee,
        packing_minor=worked.packing,
        postage_minor=worked.postage,
    )


def _settle(book: Book, sale: Sale, worked: ReckonedLine) -> None:
    """What the sale does to the print: it passes to the buyer, or its number waits to be made."""
    seen = worked.piece
    if seen.state == "free":
        numbers.allocate(
            book, seen.edition_id, kind=seen.class_kind, numbers=[seen.number], reason="sold before it is made"
        )
    if worked.to_be_made:
        pieces.get(book.session, seen.id).size_id = worked.size_id
    else:
        pass_to_buyer(book, seen.id, sale, sale.sold_on)
    if worked.lent is not None:
        worked.lent.outcome, worked.lent.ended_on = "sold", sale.sold_on


def pass_to_buyer(book: Book, piece_id: int, sale: Sale, on: date) -> None:
    """The print is the buyer's now, and with the buyer or in the post; appends no entry."""
    holder = {"named": "person", "private": "private"}.get(sale.buyer_shown, "unknown")
    provenance.pass_to(book, piece_id, holder=holder, how="sale", on=on, person_id=sale.buyer_id)
    posted = sale.postage_charged_minor or sale.postage_paid_minor
    provenance.put(book, piece_id, place="post" if posted else "holder", on=on, person_id=sale.buyer_id)


def _receipt(book: Book, sale: Sale, draft: ReceiptDraft, fee: int) -> Receipt:
    received_on = draft.received_on or book.today
    if received_on > book.today:
        raise Refusal("That day is still to come. Write the day the money came.", field="received_on")
    return Receipt(
        sale_id=sale.id or 0, received_on=received_on, amount_minor=draft.amount_minor, how=draft.how, fee_minor=fee
    )


def _facts(sale: Sale) -> Fields:
    return {
        "sale": sale.id,
        "sold_on": sale.sold_on.isoformat(),
        "told_on": sale.told_on.isoformat(),
        "channel": sale.channel_id,
        "occasion": sale.occasion_id or 0,
        "consignment": sale.consignment_id or 0,
        "buyer": sale.buyer_id or 0,
        "postage_charged": sale.postage_charged_minor,
        "postage_paid": sale.postage_paid_minor,
    }


def line_facts(line: SaleLine) -> Fields:
    """A line as the record keeps it for ever: ids and figures."""
    return {
        "line": line.id,
        "piece": line.piece_id,
        "position": line.position or 0,
        "list": line.list_minor,
        "price": line.price_minor,
        "frame": line.frame_minor,
        "charged": line.charged_minor,
        "tax": line.tax_minor,
        "commission": line.commission_minor,
        "commission_tax": line.commission_tax_minor,
        "fee": line.fee_minor,
        "packing": line.packing_minor,
        "postage": line.postage_minor,
    }


def receipt_facts(receipt: Receipt) -> Fields:
    """A receipt as the record keeps it for ever."""
    return {
        "receipt": receipt.id,
        "on": receipt.received_on.isoformat(),
        "amount": receipt.amount_minor,
        "how": receipt.how,
        "fee": receipt.fee_minor,
    }


def add_receipt(book: Book, sale_id: int, draft: ReceiptDraft) -> Receipt:
    """Money arrived for a sale, or was given back. Raises Refusal beyond what is due, or what came in."""
    receipt = receive(book, sale_id, draft)
    said = money.shown(receipt.amount_minor, studio.currency(book.session))
    lines = lines_of(book.session, sale_id)
    journal.sealed(
        book,
        "received",
        {"sale": sale_id, "receipts": [receipt_facts(receipt)], "lines": [line_facts(line) for line in lines]},
        *(touched("received", receipt.received_on, book, line, said) for line in lines),
    )
    return receipt


def touched(kind: str, on: date, book: Book, line: SaleLine, text: str | None = None) -> Touched:
    """The story line of a sale line."""
    edition_id = pieces.edition_of(book.session, pieces.get(book.session, line.piece_id))
    buyer_id = get(book.session, line.sale_id).buyer_id
    return Touched(
        kind, on, edition_id=edition_id, piece_id=line.piece_id, sale_line_id=line.id, person_id=buyer_id, text=text
    )


def receive(book: Book, sale_id: int, draft: ReceiptDraft) -> Receipt:
    """Write the receipt and share its fee over the lines; appends no entry. Raises Refusal."""
    seen = view(book.session, sale_id)
    said = studio.currency(book.session)
    if draft.amount_minor == 0:
        raise Refusal("Write what came in.", field="amount")
    if draft.amount_minor > 0 and seen.balance <= 0:
        raise Refusal("Nothing is due any more for this sale.", field="amount")
    if draft.amount_minor > max(seen.balance, 0):
        raise Refusal(f"Only {money.shown(seen.balance, said)} is still due for this sale.", field="amount")
    if draft.amount_minor < 0 and -draft.amount_minor > seen.received:
        raise Refusal(f"Only {money.shown(seen.received, said)} has come in for this sale.", field="amount")
    fee = pricing.fee_of(seen.channel, draft.how, draft.amount_minor)
    receipt = _receipt(book, seen.sale, draft, fee)
    book.session.add(receipt)
    book.session.flush()
    share_fees(book, seen.sale)
    return receipt


def share_fees(book: Book, sale: Sale) -> None:
    """Share the fees of the receipts anew over the lines that stand sold, by gross; appends no entry.

    What lies on a returned line was spent, and stays there.
    """
    fees = select(func.coalesce(func.sum(Receipt.fee_minor), 0))
    total = book.session.exec(fees.where(Receipt.sale_id == sale.id, ~col(Receipt.struck))).one()
    takers, kept = _takers(book, sale)
    _share(takers, kept, "fee_minor", int(total), [gross(line) for line in takers])
    book.session.flush()


def share_again(book: Book, sale: Sale) -> None:
    """Share postage, tax and fees anew after a line was struck; appends no entry."""
    takers, kept = _takers(book, sale)
    paid = [line.price_minor + line.frame_minor for line in takers]
    _share(takers, kept, "charged_minor", sale.postage_charged_minor, paid)
    _share(takers, kept, "postage_minor", sale.postage_paid_minor, paid)
    rate = pricing.tax_rate(book.session, sale.sold_on)
    taxes = pricing.split_tax(book.session, [gross(line) for line in takers], rate)
    for line, amount in zip(takers, taxes, strict=True):
        line.tax_minor = amount
    share_fees(book, sale)


def _takers(book: Book, sale: Sale) -> tuple[list[SaleLine], list[SaleLine]]:
    lines = lines_of(book.session, sale.id or 0)
    takers = [line for line in lines if line.outcome == "sold"] or lines
    return takers, [line for line in lines if line not in takers]


def _share(takers: list[SaleLine], kept: list[SaleLine], column: str, total: int, weights: Sequence[int]) -> None:
    rest = max(total - sum(getattr(line, column) for line in kept), 0)
    for line, part in zip(takers, spread(rest, weights) if takers else [], strict=True):
        setattr(line, column, part)


def gross(line: SaleLine) -> int:
    return line.price_minor + line.frame_minor + line.charged_minor


def due(line: SaleLine) -> int:
    """What of a line that stands reaches the maker: through a gallery, less what it keeps."""
    return gross(line) - line.commission_minor - line.commission_tax_minor


def get(session: Session, sale_id: int) -> Sale:
    """Raises Refusal (missing)."""
    sale = session.get(Sale, sale_id)
    if sale is None:
        raise Refusal(f"No sale has the number {sale_id}.", missing=True)
    return sale


def lines_of(session: Session, sale_id: int) -> list[SaleLine]:
    """The lines of a sale in order, without those struck."""
    return list(
        session.exec(
            select(SaleLine).where(SaleLine.sale_id == sale_id, SaleLine.outcome != "struck").order_by(col(SaleLine.id))
        )
    )


def view(session: Session, sale_id: int) -> SaleView:
    """One sale. Raises Refusal (missing)."""
    sale = get(session, sale_id)
    lines = session.exec(select(SaleLine).where(SaleLine.sale_id == sale_id).order_by(col(SaleLine.id))).all()
    receipts = session.exec(select(Receipt).where(Receipt.sale_id == sale_id).order_by(col(Receipt.id))).all()
    nameless = {"private": "private", "unknown": "not known", "not_asked": "not asked"}
    return SaleView(
        sale=sale,
        channel=occasions.get_channel(session, sale.channel_id),
        buyer=people.shown(session, sale.buyer_id) if sale.buyer_id is not None else nameless[sale.buyer_shown],
        lines=tuple(lines),
        receipts=tuple(receipts),
        due=sum(due(line) for line in lines if line.outcome == "sold"),
        received=sum(receipt.amount_minor for receipt in receipts if not receipt.struck),
    )


def orders(session: Session) -> list[tuple[SaleLine, PieceView]]:
    """The lines sold and not handed over yet, oldest first, each with its print."""
    waiting = [
        seen for seen in pieces.views(session, col(SaleLine.id).is_not(None), col(Piece.latest)) if seen.order_stands
    ]
    lines = [(session.get_one(SaleLine, seen.line_id), seen) for seen in waiting]
    return sorted(lines, key=lambda each: each[0].id or 0)


def recorded_at(session: Session, sale_id: int) -> datetime:
    """The moment a sale was recorded, UTC."""
    query = (
        select(Journal.at)
        .join(Event, col(Event.entry_seq) == Journal.seq)
        .join(SaleLine, col(SaleLine.id) == Event.sale_line_id)
        .where(SaleLine.sale_id == sale_id, Event.kind == "sold")
    )
    return session.exec(query).first() or datetime.max.replace(tzinfo=UTC)


def listing(session: Session, *, before: int | None = None, limit: int = 50) -> list[SaleView]:
    """Sales as they were recorded, the last first; `before` is the id where the page before ended."""
    query = select(Sale.id).order_by(col(Sale.id).desc()).limit(limit)
    if before is not None:
        query = query.where(col(Sale.id) < before)
    return [view(session, sale_id) for sale_id in session.exec(query) if sale_id is not None]


def after(session: Session, sale_id: int, limit: int) -> list[SaleView]:
    """Sales in the order they were recorded, from the one after this id."""
    query = select(Sale.id).where(col(Sale.id) > sale_id).order_by(col(Sale.id)).limit(limit)
    return [view(session, found) for found in session.exec(query) if found is not None]


def sold_of_edition(session: Session, edition_id: int) -> dict[tuple[int, int], tuple[date, int]]:
    """Day and price, print and frame (minor units), of every standing sale of an edition, by class and number."""
    rows = session.exec(
        select(SaleLine, col(Sale.sold_on), Piece)
        .join(Sale, col(Sale.id) == SaleLine.sale_id)
        .join(Piece, col(Piece.id) == SaleLine.piece_id)
        .join(PrintClass, col(PrintClass.id) == Piece.class_id)
        .where(PrintClass.edition_id == edition_id, SaleLine.outcome == "sold")
    )
    return {
        (piece.class_id, piece.number): (sold_on, line.price_minor + line.frame_minor) for line, sold_on, piece in rows
    }
