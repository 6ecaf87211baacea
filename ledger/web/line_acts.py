"""What may happen to one line of a sale: each act once, with its words, its fields, and when it is open.

Pages and API are both made from this table.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from ledger import sale_lines, studio
from ledger.database import Book
from ledger.pieces import PieceView
from ledger.sale_drafts import How, ReceiptDraft
from ledger.sale_lines import ReturnDraft
from ledger.web.piece_acts import Field
from ledger.web.shapes import Amount, Id, Shape


class HandOver(Shape):
    """On which day the buyer got it; left out: today."""

    on: date | None = None


class Strike(Shape):
    """Why it was not sold after all."""

    why: str = ""


class Return(Shape):
    """It came back: when, with its certificate or not, and what was given back."""

    on: date | None = None
    paper_came_back: bool = True
    refund: Amount | None = None
    refund_how: How = "transfer"
    why: str = ""


class Cancel(Shape):
    """An order is cancelled; what is not given back is kept."""

    on: date | None = None
    refund: Amount | None = None
    refund_how: How = "transfer"
    why: str = ""


class Exchange(Shape):
    """The number the order takes instead."""

    piece_id: Id


@dataclass(frozen=True)
class LineAct:
    """One act: its address, its words, its button round the print, what it does, when it is open, what is asked."""

    slug: str
    words: str
    help: str
    button: str
    no: str
    shape: type[Shape]
    open: Callable[[PieceView], bool]
    act: Callable[[Book, int, Any], Any]
    fields: tuple[Field, ...] = ()


def _return_draft(book: Book, shape: Return | Cancel) -> ReturnDraft:
    on = shape.on or book.today
    refund = None
    if shape.refund is not None:
        minor = shape.refund.minor(studio.currency(book.session), "refund")
        refund = ReceiptDraft(amount_minor=minor, how=shape.refund_how, received_on=on)
    paper = shape.paper_came_back if isinstance(shape, Return) else True
    return ReturnDraft(on=on, paper_came_back=paper, refund=refund, why=shape.why)


ON = Field("date", "on", "On which day", "Empty: today.")
WHY = Field("text", "why", "Why", "Only you see it.")
HOW = (
    ("transfer", "by transfer"), ("card", "by card"), ("cash", "in cash"), ("site", "through the site"),
    ("other", "otherwise"),
)  # fmt: skip
REFUND = (
    Field("money", "refund", "Given back", "Empty: nothing; what came in stays with you."),
    Field("select", "refund_how", "Given back how", options=HOW),
)
PAPER = Field(
    "radios", "paper_came_back", "Its certificate",
    "Without it, the one that is out is put on hold, and replaced when the print sells again.",
    (("true", "Came back too"), ("false", "Did not come back, or it had none")),
)  # fmt: skip


def _waits(seen: PieceView) -> bool:
    return seen.order_stands


ACTS: tuple[LineAct, ...] = (
    LineAct(
        "hand_over", "Hand it over", "The print is signed and the buyer has it now, or it is in the post.",
        "Handed over: {}", "Not handed over", HandOver, lambda seen: _waits(seen) and seen.state == "inscribed",
        lambda book, line_id, shape: sale_lines.hand_over(book, line_id, shape.on or book.today), (ON,),
    ),
    LineAct(
        "exchange", "Another number", "The order takes another number of the edition; its price stays.",
        "Take it instead of {}", "Not exchanged", Exchange, lambda seen: _waits(seen) and seen.state == "allocated",
        lambda book, line_id, shape: sale_lines.exchange_number(book, line_id, shape.piece_id),
        (Field("numbers", "piece_id", "Which number instead"),),
    ),
    LineAct(
        "cancel", "Cancel the order", "The number stays assigned; the price steps stay where they are.",
        "Cancel the order: {}", "Not cancelled", Cancel, _waits,
        lambda book, line_id, shape: sale_lines.cancel_order(book, line_id, _return_draft(book, shape)),
        (ON, *REFUND, WHY),
    ),
    LineAct(
        "return", "It came back", "The print is yours again; the price steps stay where they are.", "It came back: {}",
        "Not written down", Return, lambda seen: not _waits(seen),
        lambda book, line_id, shape: sale_lines.return_line(book, line_id, _return_draft(book, shape)),
        (ON, PAPER, *REFUND, WHY),
    ),
    LineAct(
        "strike", "Not sold after all",
        "A slip: the line counts nowhere, and the price steps go back. Its payment is struck with it.",
        "Not sold after all: {}", "Left as it was", Strike, lambda seen: True,
        lambda book, line_id, shape: sale_lines.strike_line(book, line_id, shape.why), (WHY,),
    ),
)  # fmt: skip
BY_SLUG = {act.slug: act for act in ACTS}
