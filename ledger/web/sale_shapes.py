"""A sale as both doors take it, the drafts made of it, and a sale as the API gives it."""

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Field, WithJsonSchema, model_validator

from ledger import occasions, pieces, reports, sale_lines, sales, studio
from ledger.database import Session
from ledger.errors import Refusal
from ledger.pieces import PieceView
from ledger.reckoning.prices import DiscountBy
from ledger.sale_drafts import BuyerDraft, How, LineDraft, ReceiptDraft, SaleDraft
from ledger.sales import SaleView
from ledger.tables import Receipt, SaleLine
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import Amount, Id, Shape, amount, day

Nameless = Literal["private", "unknown", "not_asked"]
MOST = 60


class BuyerShape(Shape):
    """Somebody in the book by number, a name, or why there is none."""

    person_id: Id | None = None
    name: str = ""
    shown: Nameless = "not_asked"

    @model_validator(mode="before")
    @classmethod
    def _a_word(cls, value: Any) -> Any:
        return {"shown": value} if isinstance(value, str) else value

    def draft(self) -> BuyerDraft:
        """Raises Slips where a number and a name are both given."""
        if self.person_id is not None and self.name:
            raise Slips([Slip("buyer", "Give the number of the person or a name, not both.")])
        named = self.person_id is not None or bool(self.name)
        return BuyerDraft(person_id=self.person_id, name=self.name, shown="named" if named else self.shown)


Buyer = Annotated[
    BuyerShape,
    WithJsonSchema({
        "anyOf": [
            {"type": "object", "properties": {"person_id": {"type": "integer"}}, "required": ["person_id"]},
            {"type": "object", "properties": {"name": {"type": "string"}}, "required": ["name"]},
            {"enum": ["private", "unknown", "not_asked"]},
        ]
    }),
]  # fmt: skip


class NamedShape(Shape):
    """Who bought, learnt later: somebody in the book by number, or a name."""

    person_id: Id | None = None
    name: str = ""

    def draft(self) -> BuyerDraft:
        """Raises Slips where a number and a name are both given."""
        if self.person_id is not None and self.name:
            raise Slips([Slip("name", "Choose somebody in the book or write a new name, not both.")])
        return BuyerDraft(person_id=self.person_id, name=self.name, shown="named")


class LineShape(Shape):
    """One print sold; a price left out is the price step, or what the gallery was told.

    `assign` takes a number that is still free, `size_id` says the size of one still to be made.
    """

    piece_id: Id
    price: Amount | None = None
    frame: Amount | None = None
    discount_by: DiscountBy | None = None
    assign: bool = False
    size_id: Id | None = None

    def draft(self, currency: str, at: str) -> LineDraft:
        return LineDraft(
            piece_id=self.piece_id,
            assign=self.assign,
            size_id=self.size_id,
            price_minor=minor(self.price, currency, f"{at}.price"),
            frame_minor=minor(self.frame, currency, f"{at}.frame"),
            discount_by=self.discount_by,
        )


class ReceiptShape(Shape):
    """Money that arrived; below nothing: given back."""

    amount: Amount
    how: How
    on: date | None = None

    def draft(self, currency: str, field: str = "amount") -> ReceiptDraft:
        came = self.amount.minor(currency, field, allow_negative=True)
        return ReceiptDraft(amount_minor=came, how=self.how, received_on=self.on)


class SaleShape(Shape):
    """A sale as a program records it."""

    sold_on: date
    told_on: date | None = None
    channel: str
    occasion_id: Id | None = None
    consignment_id: Id | None = None
    buyer: Buyer = BuyerShape()
    lines: Annotated[tuple[LineShape, ...], Field(max_length=MOST)]
    receipts: Annotated[tuple[ReceiptShape, ...], Field(max_length=MOST)] = ()
    postage_charged: Amount | None = None
    postage_paid: Amount | None = None
    packing: Amount | None = None

    def draft(self, session: Session) -> SaleDraft:
        """Raises Slips for an amount that cannot be read, Refusal for a way of selling there is not."""
        currency = studio.currency(session)
        return SaleDraft(
            sold_on=self.sold_on,
            told_on=self.told_on,
            channel_id=occasions.channel_named(session, self.channel).id or 0,
            occasion_id=self.occasion_id,
            consignment_id=self.consignment_id,
            buyer=self.buyer.draft(),
            lines=tuple(line.draft(currency, f"lines.{at}") for at, line in enumerate(self.lines)),
            receipts=tuple(
                receipt.draft(currency, f"receipts.{at}.amount") for at, receipt in enumerate(self.receipts)
            ),
            postage_charged_minor=minor(self.postage_charged, currency, "postage_charged") or 0,
            postage_paid_minor=minor(self.postage_paid, currency, "postage_paid"),
            packing_minor=minor(self.packing, currency, "packing"),
        )


def minor(given: Amount | None, currency: str, field: str) -> int | None:
    """The minor units of an amount that may be left out. Raises Slips."""
    return None if given is None else given.minor(currency, field)


def bare_field(fault: Refusal, names: dict[str, str]) -> Refusal:
    """The same refusal under the name its form has for the field."""
    field = names.get(fault.field or "", fault.field)
    return Refusal(fault.message, field=field, missing=fault.missing)


def as_json(session: Session, views: list[SaleView]) -> list[dict[str, Any]]:
    """Sales as the API gives them, with what each line that stands leaves."""
    currency = studio.currency(session)
    lines = [line for seen in views for line in seen.lines]
    left = reports.left_of_lines(session, lines)
    prints = pieces.those(session, (line.piece_id for line in lines))
    return [_sale(seen, left, prints, currency) for seen in views]


def one_json(session: Session, sale_id: int) -> dict[str, Any]:
    """One sale. Raises Refusal (missing)."""
    return as_json(session, [sales.view(session, sale_id)])[0]


def _sale(seen: SaleView, left: dict[int, int], prints: dict[int, PieceView], currency: str) -> dict[str, Any]:
    sale = seen.sale
    named = sale.buyer_id is not None
    return {
        "id": sale.id,
        "sold_on": day(sale.sold_on),
        "told_on": day(sale.told_on),
        "channel": seen.channel.name,
        "occasion_id": sale.occasion_id,
        "consignment_id": sale.consignment_id,
        "buyer": {"person_id": sale.buyer_id, "name": seen.buyer} if named else sale.buyer_shown,
        "lines": [
            _line(n, line, prints[line.piece_id], left.get(line.id or 0), currency)
            for n, line in enumerate(seen.lines, start=1)
        ],
        "receipts": [receipt_json(receipt, currency) for receipt in seen.receipts],
        "postage_charged": amount(sale.postage_charged_minor, currency),
        "postage_paid": amount(sale.postage_paid_minor, currency),
        "due": amount(seen.due, currency),
        "received": amount(seen.received, currency),
        "balance": amount(seen.balance, currency),
    }


_AMOUNTS = (
    "list", "price", "frame", "charged", "tax", "commission", "commission_tax", "fee", "packing", "postage",
)  # fmt: skip


def _line(n: int, line: SaleLine, seen: PieceView, left: int | None, currency: str) -> dict[str, Any]:
    return {
        "n": n,
        "piece_id": line.piece_id,
        "shown": seen.shown,
        "title": seen.title,
        "position": line.position,
        **{name: amount(getattr(line, f"{name}_minor"), currency) for name in _AMOUNTS},
        "discount_by": line.discount_by,
        "leaves": None if left is None else amount(left, currency),
        "outcome": line.outcome,
        "outcome_on": day(line.outcome_on),
        "to_be_handed_over": line.outcome == "sold" and seen.order_stands,
    }


def receipt_json(receipt: Receipt, currency: str) -> dict[str, Any]:
    """Money that arrived, as the API gives it."""
    return {
        "id": receipt.id,
        "on": day(receipt.received_on),
        "amount": amount(receipt.amount_minor, currency),
        "how": receipt.how,
        "fee": amount(receipt.fee_minor, currency),
        "struck": receipt.struck,
    }


def line_id(session: Session, sale_id: int, n: int) -> int:
    """The id of the line at a place of a sale. Raises Refusal (missing)."""
    return sale_lines.nth(session, sale_id, n).id or 0
