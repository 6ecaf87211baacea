"""Selling, for tests: ways of selling with the costs of the worked edition, sales, loans to the gallery."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Engine

from ledger import consignments, numbers, occasions, pricing, sales
from ledger.consignments import ConsignmentDraft, LentDraft
from ledger.database import Book, reading
from ledger.occasions import ChannelDraft, OccasionDraft
from ledger.sale_drafts import BuyerDraft, LineDraft, ReceiptDraft, SaleDraft
from ledger.sales import SaleView
from ledger.tables import Edition, Sale, SaleLine
from tests.cast import GALLERY, MAY_4, acting, person, seen


@dataclass(frozen=True)
class Ways:
    """The ids of the ways of selling, of a fair and a round, and of the gallery."""

    fair: int
    web: int
    gallery: int
    studio: int
    the_fair: int
    the_round: int
    kelpstane: int


def ways(engine: Engine, on: date = MAY_4) -> Ways:
    """A fair with a card reader, an own web page, a gallery, and the studio's door."""
    drafts = (
        ChannelDraft(name="At a fair", kind="fair", fee_bp=175, packing_minor=60),
        ChannelDraft(name="Own web page", kind="web", fee_bp=200, fee_minor=20, packing_minor=290, postage_minor=635),
        ChannelDraft(name="In a gallery", kind="gallery", packing_minor=110),
        ChannelDraft(name="From the studio", kind="direct"),
    )
    with acting(engine, on) as book:
        fair, web, gallery, studio = (occasions.add_channel(book, draft).id or 0 for draft in drafts)
        named = (("Saltrigg Harbour Fair", "selling", fair), ("The May round", "round", gallery))
        the_fair, the_round = (
            occasions.add(book, OccasionDraft(name=name, kind=kind, from_on=on, to_on=on, channel_id=channel)).id or 0
            for name, kind, channel in named
        )
    return Ways(fair, web, gallery, studio, the_fair, the_round, person(engine, GALLERY, on, kind="business"))


def line(piece_id: int, price: int | None = None, **changes: Any) -> LineDraft:
    return LineDraft(piece_id=piece_id, price_minor=price, **changes)


def draft(channel: int, *lines: LineDraft | int, on: date = MAY_4, **changes: Any) -> SaleDraft:
    """A sale of these prints, nothing paid yet."""
    made = tuple(line(each) if isinstance(each, int) else each for each in lines)
    return SaleDraft(sold_on=on, channel_id=channel, lines=made, **changes)


def sell(
    engine: Engine, channel: int, *lines: LineDraft | int, on: date = MAY_4, paid_by: str = "", **changes: Any
) -> SaleView:
    """A sale recorded, the whole paid in one way where `paid_by` says so; as the book shows it."""
    with acting(engine, changes.pop("told", on)) as book:
        sale = sell_in(book, draft(channel, *lines, on=on, **changes), paid_by)
        return sales.view(book.session, sale.id or 0)


def sell_in(book: Book, wanted: SaleDraft, paid_by: str = "") -> Sale:
    if paid_by:
        due = pricing.work_out(book.session, wanted).due
        paid = (ReceiptDraft(amount_minor=due, how=paid_by),) if due else ()
        wanted = wanted.model_copy(update={"receipts": paid})
    return sales.record(book, wanted)


def to(name: str) -> BuyerDraft:
    return BuyerDraft(name=name)


def lend(engine: Engine, gallery: int, *lent: LentDraft, on: date = MAY_4, **terms: Any) -> int:
    """Prints lent to a gallery, at 45 % of the print unless other terms are given."""
    facts: dict[str, Any] = {"commission_bp": 4500, **terms}
    with acting(engine, on) as book:
        note = consignments.lend(book, ConsignmentDraft(person_id=gallery, lent_on=on, pieces=lent, **facts))
        return note.id or 0


def told(piece_id: int, price: int | None = None, frame: int = 0) -> LentDraft:
    return LentDraft(piece_id=piece_id, told_price_minor=price, told_frame_minor=frame)


def assigned(engine: Engine, number: int, *, edition: int = 1, on: date = MAY_4) -> int:
    """A number assigned and not signed yet; the id of the piece."""
    with acting(engine, on) as book:
        numbers.allocate(book, edition, numbers=[number], reason="asked for")
    return seen(engine, number, edition=edition).id


def peak(engine: Engine, edition: int = 1) -> int:
    with reading(engine) as session:
        return session.get_one(Edition, edition).sold_peak


def only_line(view: SaleView) -> SaleLine:
    (found,) = view.lines
    return found
