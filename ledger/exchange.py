"""Out of the book into a spreadsheet: sale lines and costs of some days, as comma-separated values."""

import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from ledger import costs, pieces, studio
from ledger.errors import Refusal
from ledger.reckoning import money
from ledger.spent_on import SpentOn
from ledger.tables import Channel, Consignment, Cost, Occasion, Person, Piece, Sale, SaleLine

SALE_HEADS = (
    *("sold on", "you were told on", "sale no.", "title", "number", "where", "fair", "gallery", "buyer"),
    *("how it stands", "price asked", "price of the print", "frame", "postage they paid", "they paid in all"),
    *("sales tax in it", "gallery keeps", "tax on that", "card or site fee", "bag and tube", "postage it cost"),
    "currency",
)
COST_HEADS = ("day", "spent on", "own time", "amount", "currency", "what for")
STANDS = {"sold": "sold", "struck": "not sold after all", "returned": "came back"}
NAMELESS = {"private": "private", "unknown": "not known", "not_asked": "not asked"}
_BEGINS_A_FORMULA = tuple("=+-@")
_PLAIN_NUMBER = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?")


def guarded(text: str) -> str:
    """The text, with ' before it where a spreadsheet could take it for a formula (CWE-1236)."""
    bare = unicodedata.normalize("NFKC", text).strip()
    formula = bare.startswith(_BEGINS_A_FORMULA) and not _PLAIN_NUMBER.fullmatch(text.strip())
    return f"'{text}" if formula or text.startswith(("\t", "\r")) else text


def _written(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(heads)
    for row in rows:
        writer.writerow([guarded(str(cell)) for cell in row])
    return out.getvalue()


def _check(from_on: date, to_on: date) -> None:
    if to_on < from_on:
        raise Refusal("The last day comes before the first. Put one of them right.", field="to_on")


def sales_csv(session: Session, from_on: date, to_on: date) -> str:
    """A row for each sale line of these days, struck and returned ones marked so. Raises Refusal."""
    _check(from_on, to_on)
    currency = studio.currency(session)
    buyer, gallery = aliased(Person), aliased(Person)
    query: Any = (
        select(SaleLine, Sale, Channel.name, Occasion.name, gallery, buyer)  # type: ignore[call-overload]  # SQLModel types four columns at most
        .join(Sale, col(Sale.id) == SaleLine.sale_id)
        .join(Channel, col(Channel.id) == Sale.channel_id)
        .outerjoin(Occasion, col(Occasion.id) == Sale.occasion_id)
        .outerjoin(Consignment, col(Consignment.id) == Sale.consignment_id)
        .outerjoin(gallery, col(gallery.id) == Consignment.person_id)
        .outerjoin(buyer, col(buyer.id) == Sale.buyer_id)
        .where(col(Sale.sold_on) >= from_on, col(Sale.sold_on) <= to_on)
        .order_by(col(Sale.sold_on), col(SaleLine.id))
    )
    found = session.exec(query).all()
    seen = _views(session, sorted({line.piece_id for line, *_ in found}))

    def row(
        line: SaleLine, sale: Sale, where: str, occasion: str | None, lent_to: Person | None, who: Person | None
    ) -> list[object]:
        piece = seen[line.piece_id]
        sold = [sale.sold_on, sale.told_on, sale.id, piece.title, piece.shown, where, occasion or ""]
        amounts = [money.plain(amount, currency) for amount in _amounts(line)]
        buyer = _name(who) or NAMELESS[sale.buyer_shown]
        return [*sold, _name(lent_to), buyer, STANDS[line.outcome], *amounts, currency]

    return _written(SALE_HEADS, (row(*each) for each in found))


def _amounts(line: SaleLine) -> tuple[int, ...]:
    paid = (line.price_minor, line.frame_minor, line.charged_minor)
    kept = (line.tax_minor, line.commission_minor, line.commission_tax_minor)
    return (line.list_minor, *paid, sum(paid), *kept, line.fee_minor, line.packing_minor, line.postage_minor)


def _name(person: Person | None) -> str:
    return "" if person is None else person.name or "name erased"


def _views(session: Session, piece_ids: Sequence[int]) -> dict[int, pieces.PieceView]:
    found: dict[int, pieces.PieceView] = {}
    for start in range(0, len(piece_ids), 500):  # SQLite takes only so many values in one statement
        part = piece_ids[start : start + 500]
        found |= {seen.id: seen for seen in pieces.views(session, col(Piece.id).in_(part))}
    return found


def costs_csv(session: Session, from_on: date, to_on: date) -> str:
    """A row for each cost of these days that was not struck. Raises Refusal."""
    _check(from_on, to_on)
    currency, names = studio.currency(session), SpentOn(session)

    def row(cost: Cost) -> list[object]:
        own = "yes" if cost.own_labour else "no"
        amount = money.plain(cost.amount_minor, currency)
        return [cost.spent_on, names.of(cost), own, amount, currency, cost.note]

    return _written(COST_HEADS, map(row, costs.between(session, from_on, to_on)))
