"""A sale as it is typed: who bought, which prints at which price, what was paid."""

from datetime import date
from typing import Literal

from pydantic import BaseModel, ConfigDict

from ledger.errors import Refusal
from ledger.reckoning.prices import DiscountBy

_STRICT = ConfigDict(extra="forbid", frozen=True)
How = Literal["cash", "card", "transfer", "site", "other"]


class BuyerDraft(BaseModel):
    """Who bought: somebody in the book, a name, or what is known instead of one."""

    model_config = _STRICT
    person_id: int | None = None
    name: str = ""
    shown: Literal["named", "private", "unknown", "not_asked"] = "not_asked"


class LineDraft(BaseModel):
    """One print sold (minor units); a price left out is the price step, or what the gallery was told.

    `assign` takes a number that is still free; `size_id` says the size of one still to be made.
    """

    model_config = _STRICT
    piece_id: int
    assign: bool = False
    size_id: int | None = None
    price_minor: int | None = None
    frame_minor: int | None = None
    discount_by: DiscountBy | None = None


class ReceiptDraft(BaseModel):
    """Money that arrived (minor units; below nothing: given back)."""

    model_config = _STRICT
    amount_minor: int
    how: How
    received_on: date | None = None


class SaleDraft(BaseModel):
    """A sale. Packing (of each print) and postage paid, where left out, are the channel's usual ones."""

    model_config = _STRICT
    sold_on: date
    told_on: date | None = None
    channel_id: int
    occasion_id: int | None = None
    consignment_id: int | None = None
    buyer: BuyerDraft = BuyerDraft()
    lines: tuple[LineDraft, ...]
    receipts: tuple[ReceiptDraft, ...] = ()
    postage_charged_minor: int = 0
    postage_paid_minor: int | None = None
    packing_minor: int | None = None


def check(draft: SaleDraft) -> None:
    """Raises Refusal for a sale of no print, of one print twice, or of an amount below nothing."""
    if not draft.lines:
        raise Refusal("A sale has at least one print. Choose it.", field="lines")
    if len({line.piece_id for line in draft.lines}) < len(draft.lines):
        raise Refusal("One print stands in two lines. Name each once.", field="lines")
    for field in ("postage_charged", "postage_paid", "packing"):
        if (getattr(draft, f"{field}_minor") or 0) < 0:
            raise Refusal("An amount here is nought or more.", field=field)
    for at, receipt in enumerate(draft.receipts):
        if receipt.amount_minor <= 0:
            raise Refusal("Write what came in, or leave the payment out.", field=f"receipts.{at}.amount")
