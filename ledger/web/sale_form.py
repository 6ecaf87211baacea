"""The form of a sale: what was typed into a draft, and a draft worked out into what the page shows."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Annotated, Any

from pydantic import Field

from ledger import consignments, editions, for_sale, occasions, pieces, pricing, studio
from ledger.database import Session
from ledger.pieces import PieceView
from ledger.pricing import Reckoned
from ledger.reckoning import dates, money, numbering
from ledger.reckoning.prices import DiscountBy
from ledger.sale_drafts import BuyerDraft, How, LineDraft, ReceiptDraft, SaleDraft
from ledger.tables import Channel
from ledger.web.forms import Form, Posted
from ledger.web.marks import mark_of
from ledger.web.sale_shapes import Nameless, minor
from ledger.web.sale_sum import fee_words, record_words, sum_of, unit_of, worth_stopping_for
from ledger.web.shapes import Amount, Id, Shape, read_id

NAMES = {
    "channel_id": "channel", "occasion_id": "occasion", "consignment_id": "consignment", "receipts": "received",
    "receipts.0.amount": "received", "name": "buyer", "lines": "add",
}  # fmt: skip
WAYS = {"card": "Card", "cash": "Cash", "transfer": "Transfer", "site": "Paid on the web page", "other": "Otherwise"}


class FormLine(Shape):
    """One print on the form; the price and the frame are left empty for what is usual."""

    piece_id: Id
    size_id: Id | None = None
    price: Amount | None = None
    frame: Amount | None = None
    discount_by: DiscountBy | None = None


class SaleForm(Shape):
    """The form. A fair counts only where the sale was at one; `later` leaves the whole sum open."""

    sold_on: date
    channel: Id
    occasion: Id | None = None
    consignment: Id | None = None
    lines: Annotated[tuple[FormLine, ...], Field(max_length=60)] = ()
    paid_by: How | None = None
    received: Amount | None = None
    postage_charged: Amount | None = None
    postage_paid: Amount | None = None
    buyer: str = ""
    nameless: Nameless = "not_asked"

    def draft(self, session: Session) -> SaleDraft:
        """Raises Slips for what cannot be read, Refusal for what cannot be sold so."""
        currency = studio.currency(session)
        at_a_fair = occasions.get_channel(session, self.channel).kind == "fair"
        draft = SaleDraft(
            sold_on=self.sold_on,
            channel_id=self.channel,
            occasion_id=self.occasion if at_a_fair else None,
            consignment_id=self.consignment,
            buyer=BuyerDraft(name=self.buyer, shown="named" if self.buyer else self.nameless),
            lines=tuple(
                LineDraft(
                    piece_id=line.piece_id,
                    assign=True,
                    size_id=line.size_id,
                    price_minor=minor(line.price, currency, f"lines.{at}.price"),
                    frame_minor=minor(line.frame, currency, f"lines.{at}.frame"),
                    discount_by=line.discount_by,
                )
                for at, line in enumerate(self.lines)
            ),
            postage_charged_minor=minor(self.postage_charged, currency, "postage_charged") or 0,
            postage_paid_minor=minor(self.postage_paid, currency, "postage_paid"),
        )
        return replace_receipt(session, draft, self.paid_by, minor(self.received, currency, "received"))


def replace_receipt(session: Session, draft: SaleDraft, how: How | None, came: int | None) -> SaleDraft:
    """The draft with its first receipt: the whole where nothing less is said, none where it comes later."""
    if how is None:
        return draft
    amount = pricing.work_out(session, draft).due if came is None else came
    if amount == 0:
        return draft
    receipt = ReceiptDraft(amount_minor=amount, how=how, received_on=None)
    return draft.model_copy(update={"receipts": (receipt,)})


def arranged(sent: Posted) -> Posted:
    """The form with its prints in order: the one added is the last line, one left out is gone."""
    rows: dict[int, dict[str, Any]] = {}
    rest: dict[str, Any] = {}
    for name, value in sent.typed.items():
        parts = name.split(".")
        if len(parts) == 3 and parts[0] == "lines" and re.fullmatch("[0-9]{1,3}", parts[1]):
            rows.setdefault(int(parts[1]), {})[parts[2]] = value
        elif name != "add":
            rest[name] = value
    kept = [rows[at] for at in sorted(rows) if rows[at].get("piece_id")]
    if sent.text("add"):
        kept.append({"piece_id": sent.text("add")})
    for at, row in enumerate(kept):
        rest.update({f"lines.{at}.{name}": value for name, value in row.items()})
    return replace(sent, typed=rest)


def chosen(values: Mapping[str, Any]) -> list[int]:
    """The ids of the prints on the form, in order."""
    found: list[int] = []
    while piece_id := read_id(str(values.get(f"lines.{len(found)}.piece_id", ""))):
        found.append(piece_id)
    return found


def first_values(session: Session, today: date, piece_id: int | None, consignment_id: int | None) -> dict[str, str]:
    """What the form starts with: the open fair and its way of selling, or the gallery that has the print."""
    values = {"sold_on": today.isoformat(), "nameless": "not_asked"}
    note = consignment_id if consignment_id is not None else _notes(session).get(piece_id or 0)
    fair = occasions.open_fair(session, today)
    channel = usual_channel(session, "gallery" if note else "fair" if fair else None)
    if fair is not None and not note:
        values["occasion"] = str(fair.id)
        channel = occasions.get_channel(session, fair.channel_id) if fair.channel_id else channel
    if channel is not None:
        values["channel"] = str(channel.id)
    values["paid_by"] = "" if note else "card"
    if note is not None:
        values["consignment"] = str(note)
    if piece_id is not None:
        values["lines.0.piece_id"] = str(piece_id)
    return values


def usual_channel(session: Session, kind: str | None) -> Channel | None:
    """The first way of selling of a kind, or the first there is; None before any was written down."""
    all_ways = occasions.channels(session)
    return next((each for each in all_ways if each.kind == kind), all_ways[0] if all_ways else None)


def _notes(session: Session) -> dict[int, int]:
    return {lent.piece.id: lent.consignment_id for lent in consignments.lent_out(session)}


@dataclass(frozen=True)
class Asked:
    """Which further choice the page is to show: another number for a line, or one more print."""

    number: int | None = None
    print: bool = False


def page_values(session: Session, form: Form, today: date, reckoned: Reckoned | None, asked: Asked) -> dict[str, Any]:
    """Everything the page of a sale shows round what was typed."""
    currency = studio.currency(session)
    channels = occasions.channels(session)
    prints = pieces.those(session, chosen(form.values))
    lines = [prints[piece_id] for piece_id in chosen(form.values) if piece_id in prints]
    lent = consignments.lent_out(session)
    notes = {each.piece.id: each.consignment_id for each in lent}
    now = next((each for each in channels if str(each.id) == str(form.values.get("channel", ""))), None)
    return {
        "lines": [_line(session, at, seen, notes, reckoned, today, asked, currency) for at, seen in enumerate(lines)],
        "add_choices": _add_choices(session) if asked.print or not lines else [],
        "channels": [{"value": each.id, "words": each.name, "more": ""} for each in channels],
        "occasions": _fairs(session),
        "galleries": _galleries(lent),
        "paid_ways": _paid_ways(now, currency),
        "nameless": [
            {"value": "not_asked", "words": "not asked"},
            {"value": "private", "words": "wants to stay private"},
            {"value": "unknown", "words": "not known"},
        ],
        "unit": unit_of(currency),
        "sum": sum_of(reckoned, currency, now) if reckoned else None,
        "notes": worth_stopping_for(reckoned, currency) if reckoned else [],
        "record_words": record_words(reckoned, currency) if reckoned else "",
        "postage_usual": money.plain(now.postage_minor, currency) if now else "",
    }


def _line(
    session: Session, at: int, seen: PieceView, notes: Mapping[int, int], reckoned: Reckoned | None, today: date,
    asked: Asked, currency: str,
) -> dict[str, Any]:  # fmt: skip
    drawn = mark_of(seen)
    facts = editions.facts(session, seen.edition_id, today)
    sizes = facts.sizes if seen.state in ("free", "allocated") and seen.size_id is None else ()
    worked = next((each for each in reckoned.lines if each.piece.id == seen.id), None) if reckoned else None
    return {
        "piece_id": seen.id,
        "shown": seen.shown,
        "title": seen.title,
        "mark": drawn.mark,
        "number_shown": seen.figure,
        "words": f"{drawn.phrase[0].upper()}{drawn.phrase[1:]}, {_paper(seen)}.",
        "price_help": _price_help(worked, currency),
        "price_usual": money.plain(worked.list_price, currency) if worked else "",
        "lent": seen.id in notes,
        "sizes": [{"value": "", "words": "Choose"}] + [{"value": each.id, "words": each.label} for each in sizes]
        if len(sizes) > 1
        else [],
        "choices": _numbers(session, seen, lent=seen.id in notes) if asked.number == at else [],
    }


def _paper(seen: PieceView) -> str:
    if seen.state in ("free", "allocated"):
        return "to be made"
    return "certificate ready" if seen.certificate_state == "valid" else "no certificate yet"


def _price_help(worked: Any, currency: str) -> str:
    if worked is None:
        return "Empty: the price step."
    usual = f"Empty: {money.shown(worked.list_price, currency)}."
    return usual if worked.position is None else f"The {numbering.ordinal(worked.position)} sold. {usual}"


def _choice(seen: PieceView, *, titled: bool = False) -> dict[str, Any]:
    title = f"{seen.title}, " if titled else ""
    state = "free, to be made" if seen.state == "free" else mark_of(seen).phrase
    return {"value": seen.id, "words": f"{title}{seen.shown}: {state}"}


def _numbers(session: Session, seen: PieceView, *, lent: bool) -> list[dict[str, Any]]:
    if lent:
        note = _notes(session)[seen.id]
        same = [each.piece for each in consignments.lent_on(session, note) if each.outcome == "out"]
        found = [each for each in same if each.class_id == seen.class_id]
    else:
        found = for_sale.of_class(session, seen.class_id)
    options = [_choice(each) for each in found]
    if seen.id not in {each.id for each in found}:
        options.insert(0, _choice(seen))
    return [*options, {"value": "", "words": "Leave this print out"}]


def _add_choices(session: Session) -> list[dict[str, Any]]:
    return [{"value": "", "words": "Choose"}] + [_choice(seen, titled=True) for seen in for_sale.one_of_each(session)]


def _fairs(session: Session) -> list[dict[str, Any]]:
    fairs = [each for each in occasions.listing(session) if each.kind == "selling"]
    return (
        [{"value": "", "words": "None"}]
        + [{"value": each.id, "words": f"{each.name}, {dates.span(each.from_on, each.to_on)}"} for each in fairs]
        if fairs
        else []
    )


def _galleries(lent: list[consignments.Lent]) -> list[dict[str, Any]]:
    notes = {each.consignment_id: each for each in lent}
    return (
        [{"value": "", "words": "None: not through a gallery"}]
        + [
            {"value": note, "words": f"{each.gallery}, lent on {dates.said(each.lent_on)}"}
            for note, each in sorted(notes.items(), reverse=True)
        ]
        if notes
        else []
    )


def _paid_ways(channel: Channel | None, currency: str) -> list[dict[str, str]]:
    keeps = fee_words(channel, currency) if channel else ""
    return [
        {
            "value": how,
            "words": f"{words}, {keeps} goes to the reader" if how == "card" and keeps else words,
            "more": f"{keeps} goes to the site." if how == "site" and keeps else "",
        }
        for how, words in WAYS.items()
    ] + [{"value": "", "words": "Not yet: the whole stands open", "more": ""}]
