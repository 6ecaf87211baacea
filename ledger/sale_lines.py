"""A line of a sale once it is recorded: handed over, given another number, cancelled, returned, struck."""

from datetime import date

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import certificates, journal, pieces, price_steps, pricing, provenance, sales
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Fields, Touched
from ledger.reckoning import dates
from ledger.reckoning.texts import tidy
from ledger.sale_drafts import ReceiptDraft
from ledger.tables import Consigned, Cost, Custody, Edition, Piece, Receipt, Sale, SaleLine


class ReturnDraft(BaseModel):
    """A print came back, or an order was cancelled; `refund` is what was given back, above nothing."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    on: date
    paper_came_back: bool = True
    refund: ReceiptDraft | None = None
    why: str = ""


def get(session: Session, line_id: int) -> SaleLine:
    """Raises Refusal (missing)."""
    line = session.get(SaleLine, line_id)
    if line is None:
        raise Refusal(f"No sale line has the number {line_id}.", missing=True)
    return line


def nth(session: Session, sale_id: int, place: int) -> SaleLine:
    """The line at a place of a sale, counted from 1, struck ones too. Raises Refusal (missing)."""
    sales.get(session, sale_id)
    lines = session.exec(select(SaleLine).where(SaleLine.sale_id == sale_id).order_by(col(SaleLine.id))).all()
    if not 1 <= place <= len(lines):
        raise Refusal(f"That sale has no line {place}.", missing=True)
    return lines[place - 1]


def _live(session: Session, line_id: int) -> tuple[SaleLine, Sale, Piece]:
    """A line that stands sold, its sale, and the print it is about: the latest of its number."""
    line = get(session, line_id)
    if line.outcome != "sold":
        on = f" on {dates.said(line.outcome_on)}" if line.outcome_on else ""
        raise Refusal(f"That line was {line.outcome}{on} already.")
    piece = pieces.get(session, line.piece_id)
    if not piece.latest:
        latest = select(Piece).where(Piece.class_id == piece.class_id, Piece.number == piece.number, col(Piece.latest))
        piece = session.exec(latest).one()
    return line, sales.get(session, line.sale_id), piece


def _waits(session: Session, piece: Piece) -> bool:
    """Whether it is still to be handed over."""
    holding = provenance.holding_of(session, piece.id or 0)
    return piece.state == "allocated" or (holding is not None and holding.holder == "maker")


def _day(book: Book, on: date, sale: Sale) -> None:
    if on > book.today:
        raise Refusal("That day is still to come. Write the day it happened.", field="on")
    if on < sale.sold_on:
        raise Refusal(f"It was sold on {dates.said(sale.sold_on)}. Write a day from then on.", field="on")


def hand_over(book: Book, line_id: int, on: date) -> SaleLine:
    """A print sold to be made is signed, and the buyer has it now. Raises Refusal."""
    line, sale, piece = _live(book.session, line_id)
    _day(book, on, sale)
    seen = pieces.view(book.session, piece.id or 0)
    if piece.state != "inscribed":
        raise Refusal(f"{seen.shown} {pieces.what_it_is(seen)}. Number and sign it first.")
    if seen.holder not in (None, "maker"):
        raise Refusal(f"{seen.shown} has left you already.")
    if piece.condition in ("missing", "destroyed"):
        raise Refusal(f"{seen.shown} {pieces.what_it_is(seen)}. It cannot be handed over; cancel the order.")
    sales.pass_to_buyer(book, piece.id or 0, sale, on)
    journal.sealed(
        book,
        "handed_over",
        {"line": line_id, "piece": piece.id, "on": on.isoformat()},
        sales.touched("handed_over", on, book, line),
    )
    return line


def exchange_number(book: Book, line_id: int, piece_id: int) -> SaleLine:
    """An order for a number to be made takes another: position, list price and price stay as they were.

    Raises Refusal.
    """
    line, _, before = _live(book.session, line_id)
    if before.state != "allocated":
        seen = pieces.view(book.session, before.id or 0)
        raise Refusal(f"{seen.shown} {pieces.what_it_is(seen)}. Only an order for one still to be signed is exchanged.")
    piece = pieces.get(book.session, piece_id)
    seen = pieces.view(book.session, piece_id)
    if piece.class_id != before.class_id:
        raise Refusal(f"{seen.shown} is not of the same edition.", field="piece_id")
    if piece.state not in ("free", "allocated") or seen.line_id is not None or not piece.latest:
        raise Refusal(
            f"{seen.shown} {pieces.what_it_is(seen)}. {pieces.free_words(book.session, seen.class_id)}",
            field="piece_id",
        )
    if piece.size_id not in (None, before.size_id):
        raise Refusal(f"{seen.shown} is to be another size. Choose one of the size ordered.", field="piece_id")
    lines = [sales.touched("corrected", book.today, book, line, f"the order takes {seen.shown} instead")]
    if piece.state == "free":
        piece.state, piece.allocated_on = "allocated", book.today
        lines.append(Touched("allocated", book.today, edition_id=seen.edition_id, piece_id=piece_id))
    piece.size_id = before.size_id
    line.piece_id = piece_id
    book.session.add_all([piece, line])
    lines.append(sales.touched("corrected", book.today, book, line, "takes an order"))
    journal.sealed(book, "number_exchanged", {"line": line_id, "from": before.id, "to": piece_id}, *lines)
    return line


def strike_line(book: Book, line_id: int, why: str) -> SaleLine:
    """Not sold after all: the line counts nowhere, and the print is the maker's and where it was.

    Receipts beyond what is due for the rest of the sale are struck with it. Raises Refusal.
    """
    line, sale, piece = _live(book.session, line_id)
    reason = tidy(why, "The reason", limit=300, field="why")
    _check_strikable(book, line, piece)
    if not _waits(book.session, piece):
        provenance.strike_holding(book, piece)
        _put_back(book, piece, sale)
    line.outcome, line.outcome_on, line.reason = "struck", book.today, reason
    book.session.add(line)
    book.session.flush()
    struck, written = _trim_receipts(book, sale)
    sales.share_again(book, sale)
    _recount(book, line)
    facts: Fields = {
        "line": line_id,
        "receipts_struck": [receipt.id for receipt in struck],
        "receipts_written": [sales.receipt_facts(receipt) for receipt in written],
        "lines": [sales.line_facts(each) for each in sales.lines_of(book.session, sale.id or 0)],
    }
    _sealed(book, "struck", facts, book.today, line, sale, reason)
    return line


def _sealed(book: Book, act: str, facts: Fields, on: date, line: SaleLine, sale: Sale, why: str) -> None:
    journal.sealed(
        book,
        act,
        facts,
        sales.touched(act, on, book, line, why or None),
        person={"why": why} if why else None,
        person_id=sale.buyer_id,
    )


def _check_strikable(book: Book, line: SaleLine, piece: Piece) -> None:
    shown = pieces.shown(book.session, piece.id or 0)
    if piece.condition == "destroyed" or piece.id != line.piece_id:
        raise Refusal(f"{shown} was destroyed or printed again since. Record it as returned instead.")
    holding = provenance.holding_of(book.session, piece.id or 0)
    if holding is not None and holding.holder != "maker" and holding.how != "sale":
        raise Refusal(f"{shown} has passed on since that sale. It cannot be taken back as never sold.")
    others = [each for each in sales.lines_of(book.session, line.sale_id) if each.id != line.id]
    cost = select(Cost.id).where(Cost.sale_id == line.sale_id, col(Cost.struck_at).is_(None))
    if not others and book.session.exec(cost).first() is not None:
        raise Refusal("A cost lies on this sale. Strike that cost first, or choose what else it was spent on.")


def _put_back(book: Book, piece: Piece, sale: Sale) -> None:
    """Where it was before the sale, as if it had never left; on its consignment again."""
    false = provenance.custody_of(book.session, piece.id or 0)
    # A print is sold from one of these places; the rows of sales struck earlier are not among them.
    before = select(Custody).where(
        Custody.piece_id == piece.id,
        col(Custody.ended_on).is_not(None),
        col(Custody.place).in_(("studio", "van", "gallery")),
    )
    earlier = book.session.exec(before.order_by(col(Custody.id).desc())).first()
    assert false is not None and earlier is not None
    false.ended_on = false.since_on
    book.session.add(false)
    book.session.flush()
    earlier.ended_on = None
    book.session.add(earlier)
    out = book.session.exec(
        select(Consigned).where(
            Consigned.consignment_id == sale.consignment_id, Consigned.piece_id == piece.id, Consigned.outcome == "sold"
        )
    ).first()
    if out is not None:
        out.outcome, out.ended_on = "out", None
        book.session.add(out)


def _trim_receipts(book: Book, sale: Sale) -> tuple[list[Receipt], list[Receipt]]:
    """Strike the latest receipts beyond what is due; what of the last one is still due is written anew."""
    seen = sales.view(book.session, sale.id or 0)
    excess = -seen.balance
    struck: list[Receipt] = []
    written: list[Receipt] = []
    for receipt in reversed(seen.receipts):
        if excess <= 0:
            break
        if receipt.struck or receipt.amount_minor < 0:
            continue
        receipt.struck = True
        struck.append(receipt)
        if receipt.amount_minor > excess:
            rest = receipt.amount_minor - excess
            written.append(
                Receipt(
                    sale_id=receipt.sale_id,
                    received_on=receipt.received_on,
                    amount_minor=rest,
                    how=receipt.how,
                    fee_minor=pricing.fee_of(seen.channel, receipt.how, rest),
                )
            )
        excess -= receipt.amount_minor
    book.session.add_all(struck + written)
    book.session.flush()
    return struck, written


def _recount(book: Book, line: SaleLine) -> None:
    edition_id = pieces.edition_of(book.session, pieces.get(book.session, line.piece_id))
    edition = book.session.get_one(Edition, edition_id)
    edition.sold_peak = price_steps.recounted_peak(book.session, edition_id)
    book.session.add(edition)


def return_line(book: Book, line_id: int, draft: ReturnDraft) -> SaleLine:
    """A print came back and is the maker's again; the price step stays where it was.

    Without its paper the certificate is suspended, and replaced at the next sale. Raises Refusal.
    """
    line, sale, piece = _live(book.session, line_id)
    _day(book, draft.on, sale)
    shown = pieces.shown(book.session, piece.id or 0)
    if _waits(book.session, piece):
        raise Refusal(f"{shown} was not handed over yet. Cancel the order instead.")
    holding = provenance.holding_of(book.session, piece.id or 0)
    if holding is not None and holding.how not in ("sale", "replacement"):
        raise Refusal(f"{shown} has passed on since that sale. Its buyer cannot bring it back.")
    if holding is not None:
        provenance.pass_to(book, piece.id or 0, holder="maker", how="return", on=draft.on)
        provenance.put(book, piece.id or 0, place="unknown" if piece.condition == "missing" else "studio", on=draft.on)
    _close(book, line, sale, draft)
    if not draft.paper_came_back:
        certificates.suspend_of(book, piece.id or 0)
    return line


def cancel_order(book: Book, line_id: int, draft: ReturnDraft) -> SaleLine:
    """An order not handed over yet is cancelled; the number stays assigned, money not given back stays kept.

    Raises Refusal.
    """
    line, sale, piece = _live(book.session, line_id)
    _day(book, draft.on, sale)
    holding = provenance.holding_of(book.session, piece.id or 0)
    if holding is not None and holding.holder != "maker":
        shown = pieces.shown(book.session, piece.id or 0)
        raise Refusal(f"{shown} was handed over. Record that it came back instead.")
    _close(book, line, sale, draft)
    return line


def _close(book: Book, line: SaleLine, sale: Sale, draft: ReturnDraft) -> None:
    why = tidy(draft.why, "The reason", limit=300, needed=False, field="why")
    line.outcome, line.outcome_on, line.reason = "returned", draft.on, why or None
    book.session.add(line)
    book.session.flush()
    refunds = []
    if draft.refund is not None:
        if draft.refund.amount_minor <= 0:
            raise Refusal("Write what was given back, or leave it out.", field="refund")
        given_back = draft.refund.model_copy(update={"amount_minor": -draft.refund.amount_minor})
        refunds.append(sales.receive(book, sale.id or 0, given_back))
    facts: Fields = {
        "line": line.id,
        "on": draft.on.isoformat(),
        "paper_came_back": int(draft.paper_came_back),
        "receipts": [sales.receipt_facts(receipt) for receipt in refunds],
    }
    _sealed(book, "returned", facts, draft.on, line, sale, why)
