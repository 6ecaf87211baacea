"""Sales as their pages tell them: views in, words and figures out."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from ledger import consignments, for_sale, occasions, people, pieces, reports, sales, studio
from ledger.database import Session
from ledger.pieces import PieceView
from ledger.reckoning import dates, money
from ledger.reports import Owed
from ledger.sales import SaleView
from ledger.tables import Receipt, SaleLine
from ledger.web.line_acts import ACTS
from ledger.web.marks import mark_of
from ledger.web.sale_form import WAYS as HOW
from ledger.web.sale_sum import unit_of

WAYS = [{"value": how, "words": words} for how, words in HOW.items()]
BORNE = {
    "shared": "by both shares alike", "maker": "out of your share", "gallery": "out of the gallery’s share",
    "half": "half and half",
}  # fmt: skip


@dataclass(frozen=True)
class PrintOf:
    """One print of a sale in the list, or several of one picture."""

    shown: str
    title: str
    note: str


@dataclass(frozen=True)
class Row:
    """One sale in the list."""

    href: str
    on: str
    prints: tuple[PrintOf, ...]
    where: str
    buyer: str
    taken: str
    open: str


def _taken(seen: SaleView) -> int:
    return sum(sales.gross(line) for line in seen.lines if line.outcome == "sold")


def gross_of(seen: SaleView, line_id: int) -> int:
    """What the buyer paid for one line, its postage too."""
    return next(sales.gross(line) for line in seen.lines if line.id == line_id)


def row(seen: SaleView, prints: Mapping[int, PieceView], currency: str) -> Row:
    return Row(
        href=f"/sales/{seen.sale.id}",
        on=dates.said(seen.sale.sold_on),
        prints=_prints(seen.lines, prints),
        where=seen.channel.name,
        buyer={"not asked": "", "not known": ""}.get(seen.buyer, seen.buyer),
        taken=money.bare(_taken(seen), currency),
        open=f"{money.shown(seen.balance, currency)} open" if seen.balance > 0 else "",
    )


def _prints(lines: Sequence[SaleLine], prints: Mapping[int, PieceView]) -> tuple[PrintOf, ...]:
    """The prints of a sale, those of one picture drawn together: '3/25, 4/25' and its title once."""
    after = {"struck": "not sold after all", "returned": "came back"}
    together: dict[tuple[str, str], list[str]] = {}
    for line in lines:
        seen = prints[line.piece_id]
        together.setdefault((seen.title, after.get(line.outcome, "")), []).append(seen.shown)
    return tuple(PrintOf(", ".join(shown), title, note) for (title, note), shown in together.items())


def by_day(rows: Iterable[Row]) -> list[dict[str, Any]]:
    """The rows under their days."""
    return [{"on": on, "rows": list(group)} for on, group in groupby(rows, key=lambda each: each.on)]


def owed_row(owed: Owed, currency: str) -> dict[str, Any]:
    """Who owes what, and since when."""
    return {
        "href": f"/sales/{owed.sale_id}",
        "who": owed.who,
        "since": f"sold on {dates.said(owed.sold_on)}, {'1 day' if owed.days == 1 else f'{owed.days} days'} ago",
        "balance": money.bare(owed.balance, currency),
    }


def order_row(line: SaleLine, seen: PieceView) -> dict[str, Any]:
    """A print sold and not handed over yet."""
    drawn = mark_of(seen)
    next_ = "signed: hand it over" if seen.state == "inscribed" else "still to be numbered and signed"
    return {
        "href": f"/sales/{line.sale_id}", "shown": seen.shown, "title": seen.title, "mark": drawn.mark,
        "figure": seen.figure, "words": f"Sold on {dates.said(seen.sold_on)}, {next_}." if seen.sold_on else next_,
    }  # fmt: skip


def instead(session: Session, seen: PieceView) -> list[dict[str, Any]]:
    """The numbers an order may take in place of this one."""
    found = [each for each in for_sale.of_class(session, seen.class_id) if each.state in ("free", "allocated")]
    return [
        {"value": each.id, "words": f"{each.shown}, {'free' if each.state == 'free' else 'assigned'}"} for each in found
    ]


def page(session: Session, seen: SaleView, today: date) -> dict[str, Any]:
    """One sale as its page takes it."""
    sale, currency = seen.sale, studio.currency(session)
    prints = pieces.those(session, (line.piece_id for line in seen.lines))
    left = reports.left_of_lines(session, seen.lines)
    fair = occasions.get(session, sale.occasion_id).name if sale.occasion_id else ""
    via = people.shown(session, consignments.get(session, sale.consignment_id).person_id) if sale.consignment_id else ""
    return {
        "heading": _heading(seen, prints),
        "standing": _standing(seen, currency),
        "sold_on": dates.said(sale.sold_on),
        "facts": _facts(seen, fair, via),
        "lines": [
            _line(seen, n, line, prints[line.piece_id], left.get(line.id or 0), currency)
            for n, line in enumerate(seen.lines, start=1)
        ],
        "receipts": [_receipt(each, currency) for each in seen.receipts],
        "due": money.bare(seen.due, currency),
        "received": money.bare(seen.received, currency),
        "balance": money.bare(seen.balance, currency),
        "owed": seen.balance > 0 or seen.received > 0,
        "unit": unit_of(currency),
        "known": _known(session) if _nameless(seen) else [],
        "too_low": too_low(session, prints.values(), today, currency),
    }


def _nameless(seen: SaleView) -> bool:
    """Whether its buyer may still be named."""
    return seen.sale.buyer_id is None and any(line.outcome != "struck" for line in seen.lines)


def _known(session: Session) -> list[dict[str, str]]:
    """Everybody who may have bought, nobody first."""
    known = [{"value": str(each.id), "words": each.name or ""} for each in people.listing(session)]
    return [{"value": "", "words": "Somebody not in the book yet"}, *known]


def _heading(seen: SaleView, prints: Mapping[int, PieceView]) -> str:
    said = [prints[line.piece_id].shown for line in seen.lines]
    if len(said) == 1:
        state = {"sold": "sold", "struck": "not sold after all", "returned": "came back"}[seen.lines[0].outcome]
        return f"{said[0]} {state}"
    stand = sum(line.outcome == "sold" for line in seen.lines)
    return f"{len(said)} prints sold" if stand == len(said) else f"{stand} of {len(said)} prints sold"


def _standing(seen: SaleView, currency: str) -> str:
    if all(line.outcome == "struck" for line in seen.lines):
        return "Not sold after all. It counts nowhere."
    if seen.balance > 0:
        kind = "A deposit is in" if seen.deposit else "Nothing is in yet"
        return f"{kind}. {money.shown(seen.balance, currency)} stands open."
    if seen.balance < 0:
        return f"{money.shown(-seen.balance, currency)} more came in than is due."
    return "Paid."


def _facts(seen: SaleView, fair: str, via: str) -> list[dict[str, str]]:
    sale = seen.sale
    told = f", told on {dates.said(sale.told_on)}" if sale.told_on != sale.sold_on else ""
    facts = [
        ("Sold on", f"{dates.said(sale.sold_on)}{told}."),
        ("Where", seen.channel.name + (f", {fair}" if fair else "")),
        ("Through", via),
    ]
    said: list[dict[str, Any]] = [{"label": label, "words": words} for label, words in facts if words]
    buyer: Any = f"{seen.buyer[0].upper()}{seen.buyer[1:]}."
    if sale.buyer_id is not None:
        buyer = [
            {"words": seen.buyer, "href": f"/people/{sale.buyer_id}"},
            {"words": ". Not named in public.", "href": ""},
        ]
    return [*said, {"label": "Buyer", "words": buyer}]


def _line(seen: SaleView, n: int, line: SaleLine, piece: PieceView, left: int | None, currency: str) -> dict[str, Any]:
    drawn = mark_of(piece)
    live = line.outcome == "sold"
    return {
        "href": f"/pieces/{piece.id}",
        "shown": piece.shown,
        "title": piece.title,
        "mark": drawn.mark,
        "figure": piece.figure,
        "words": _line_words(line, piece),
        "rows": _sum(line, currency) if live else [],
        "due": money.bare(sales.due(line), currency),
        "due_words": "Due to you, before the fee" if line.fee_minor else "Reaches you",
        "fee": _fee(line, currency),
        "leaves": _leaves(left, currency),
        "acts": _sign(piece) * live
        + [
            {"href": f"/sales/{seen.sale.id}/lines/{n}/{act.slug}", "words": act.words, "help": act.help}
            for act in ACTS
            if live and act.open(piece)
        ],
    }


def _sign(piece: PieceView) -> list[dict[str, str]]:
    """The act that an order waits for, while its print is not signed."""
    if not (piece.order_stands and piece.state == "allocated"):
        return []
    help = "Says that the pencil has written its number; then it can be handed over."
    return [{"href": f"/pieces/{piece.id}/inscribe", "words": "Number and sign it", "help": help}]


def _fee(line: SaleLine, currency: str) -> str:
    if not line.fee_minor:
        return ""
    after = money.shown(sales.due(line) - line.fee_minor, currency)
    return f"{money.shown(line.fee_minor, currency)} of it went to the card firm or site: {after} after the fee."


def _leaves(left: int | None, currency: str) -> str:
    return "" if left is None else f"It leaves you {money.shown(left, currency)}, after making and selling it."


def _line_words(line: SaleLine, piece: PieceView) -> str:
    if line.outcome != "sold":
        on = f" on {dates.said(line.outcome_on)}" if line.outcome_on else ""
        said = "Not sold after all, written down" if line.outcome == "struck" else "Came back"
        return f"{said}{on}.{f' {line.reason}' if line.reason else ''}"
    if piece.order_stands:
        signed = piece.state == "inscribed"
        return "Waits to be handed over." if signed else "An order: still to be numbered and signed."
    where = {"post": "In the post.", "holder": "With its owner."}.get(piece.place or "", "")
    return where or f"It {pieces.what_it_is(piece)}."


def _sum(line: SaleLine, currency: str) -> list[dict[str, str]]:
    asked = "Price" if line.price_minor == line.list_minor else f"Price, {money.shown(line.list_minor, currency)} asked"
    borne = f", a discount {BORNE[line.discount_by]}" if line.discount_by and line.list_minor > line.price_minor else ""
    rows = [
        (asked, line.price_minor),
        ("Frame", line.frame_minor),
        ("Postage they paid", line.charged_minor),
        (f"The gallery keeps{borne}", -line.commission_minor),
        ("Tax on that", -line.commission_tax_minor),
    ]
    return [
        {"words": words, "amount": money.bare(figure, currency)}
        for at, (words, figure) in enumerate(rows)
        if figure or not at
    ]


def _receipt(receipt: Receipt, currency: str) -> dict[str, Any]:
    back = "given back, " if receipt.amount_minor < 0 else ""
    struck = ", struck" if receipt.struck else ""
    fee = f", {money.shown(receipt.fee_minor, currency)} of it to the card firm or site" if receipt.fee_minor else ""
    return {
        "words": f"{dates.said(receipt.received_on)}: {back}{HOW[receipt.how].lower()}{fee}{struck}",
        "amount": money.bare(receipt.amount_minor, currency),
        "struck": receipt.struck,
    }


def too_low(session: Session, prints: Iterable[PieceView], today: date, currency: str) -> Sequence[dict[str, str]]:
    """The prints of these editions that a gallery would still sell below the present price."""
    found = {
        (low.gallery, low.consignment_id, low.number): low
        for edition_id in {seen.edition_id for seen in prints}
        for low in consignments.told_too_low(session, edition_id, today)
    }
    seen = pieces.those(session, (low.piece_id for low in found.values()))
    return [
        {
            "shown": f"{seen[low.piece_id].shown} {seen[low.piece_id].title}",
            "words": f"{low.gallery} was told {money.shown(low.told, currency)}; "
            f"the next one is {money.shown(low.now, currency)}.",
            "href": f"/away/{low.consignment_id}",
        }
        for low in found.values()
    ]
