"""Who bought, learnt after the sale was recorded."""

from sqlmodel import Session, col, select

from ledger import journal, people, pieces, provenance, sales
from ledger.database import Book
from ledger.errors import Refusal
from ledger.sale_drafts import BuyerDraft
from ledger.tables import Holding, Piece, Sale, SaleLine


def name_buyer(book: Book, sale_id: int, draft: BuyerDraft) -> Sale:
    """Name the buyer of a sale recorded without one; what they bought is theirs by name. Raises Refusal."""
    sale = sales.get(book.session, sale_id)
    lines = sales.lines_of(book.session, sale_id)
    if not lines:
        raise Refusal("That sale was struck, so nobody bought. Record the sale that was made instead.")
    if sale.buyer_id is not None:
        name = people.shown(book.session, sale.buyer_id)
        raise Refusal(f"Its buyer is named: {name}. If the name is wrong, put it right on the page of that name.")
    if draft.person_id is None and not draft.name.strip():
        raise Refusal("Write the buyer’s name, or choose somebody in the book.", field="buyer")
    sale.buyer_shown, sale.buyer_id = sales.buyer_of(book, draft)
    book.session.add(sale)
    for line in lines:
        _name_owner(book, line, sale.buyer_id or 0)
    book.session.flush()
    journal.sealed(
        book,
        "buyer_named",
        {"sale": sale_id, "buyer": sale.buyer_id},
        *(sales.touched("buyer_named", book.today, book, line) for line in lines),
        person={"buyer": people.shown(book.session, sale.buyer_id or 0)},
        person_id=sale.buyer_id,
    )
    return sale


def _name_owner(book: Book, line: SaleLine, person_id: int) -> None:
    """The print of a line, and a second print of its number, under the buyer's name; an order has no owner yet."""
    bought = _bought(book.session, line)
    if bought is None:
        return
    for holding in (bought, *_second_prints(book.session, bought)):
        holding.holder, holding.person_id = "person", person_id
        book.session.add(holding)
        custody = provenance.custody_of(book.session, holding.piece_id)
        if holding.ended_on is None and custody is not None and custody.place in ("post", "holder"):
            custody.person_id = person_id
            book.session.add(custody)


def _bought(session: Session, line: SaleLine) -> Holding | None:
    """The holding that began with a line; of one that came back, the holding that ended on that day."""
    sold = select(Holding).where(Holding.piece_id == line.piece_id, Holding.how == "sale", ~col(Holding.struck))
    if line.outcome == "returned":
        sold = sold.where(Holding.ended_on == line.outcome_on)
    sale_day = sales.get(session, line.sale_id).sold_on
    return session.exec(sold.where(col(Holding.from_on) >= sale_day).order_by(col(Holding.id).desc())).first()


def _second_prints(session: Session, bought: Holding) -> list[Holding]:
    """What went to the same nameless owner in place of a print that was lost."""
    first = pieces.get(session, bought.piece_id)
    query = (
        select(Holding)
        .join(Piece, col(Piece.id) == Holding.piece_id)
        .where(
            Piece.class_id == first.class_id,
            Piece.number == first.number,
            Piece.generation > first.generation,
            Holding.how == "replacement",
            Holding.holder == bought.holder,
            ~col(Holding.struck),
        )
    )
    return list(session.exec(query))
