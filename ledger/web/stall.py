"""The stall: the wall of prints, one print about to be sold, and the print sold, with ten minutes to undo it."""

from dataclasses import replace
from datetime import date, timedelta
from math import ceil
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import clock, for_sale, occasions, pieces, pricing, reports, sale_lines, sales, studio, works
from ledger.accounts import Who
from ledger.database import Book, Session, reading
from ledger.errors import Refusal
from ledger.for_sale import Hung
from ledger.pieces import PieceView
from ledger.pricing import Reckoned
from ledger.reckoning import money
from ledger.sale_drafts import How, LineDraft, SaleDraft
from ledger.tables import Occasion
from ledger.web import answers, plates, sale_form
from ledger.web.answers import status_of
from ledger.web.edition_words import short
from ledger.web.forms import Form, Posted, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.sale_form import replace_receipt
from ledger.web.sale_shapes import minor
from ledger.web.sale_sum import unit_of
from ledger.web.sentences import Slips
from ledger.web.shapes import Amount, Id, Shape
from ledger.web.sign_in import Signed

pages = APIRouter(prefix="/stall", include_in_schema=False)
TEN_MINUTES = timedelta(minutes=10)
MOST_OTHERS = 24
WHY = "Taken back on the stall"
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


class TapShape(Shape):
    """A tap: which print, paid how, and a lower price where one was agreed."""

    piece: Id
    paid_by: How | None = None
    price: Amount | None = None


def _draft(session: Session, fair: Occasion, piece_id: int, how: How, price: int | None, day: date) -> SaleDraft:
    """A sale at the fair, paid on the spot. Raises Refusal."""
    channel = sale_form.usual_channel(session, "fair")
    if fair.channel_id is not None:
        channel = occasions.get_channel(session, fair.channel_id)
    if channel is None:
        raise Refusal("There is no way of selling yet. Write one down under Settings first.")
    draft = SaleDraft(
        sold_on=day, channel_id=channel.id or 0, occasion_id=fair.id,
        lines=(LineDraft(piece_id=piece_id, price_minor=price),),
    )  # fmt: skip
    return replace_receipt(session, draft, how, price)


def _worked(session: Session, fair: Occasion, seen: PieceView, day: date) -> Reckoned:
    """A print worked out at its present price, paid by card. Raises Refusal."""
    stepped = seen.class_kind == "numbered" and seen.size_id is not None
    price = for_sale.price_of(session, seen, day) if stepped else None
    return pricing.work_out(session, _draft(session, fair, seen.id, "card", price, day))


# The wall


@pages.get("")
def the_wall(request: Request, house: Here, who: Signed) -> Response:
    """What hangs at the open fair; without one, the next thing to do."""
    today = clock.today()
    with reading(house.engine) as session:
        fair = occasions.open_fair(session, today)
        if fair is None:
            return render(request, "stall/closed.html", room="stall", fair_href="/costs/fairs?stall=yes")
        kept_in = studio.currency(session)
        hung = for_sale.hung(session, today, fair.id)
        their = works.pictures_of(session)
        leaves = {each.piece.id: _worked(session, fair, each.piece, today).leaves for each in hung}
        strip = _pitch(session, fair, kept_in)
    prints = [
        {
            "href": f"/stall/prints/{each.piece.id}",
            "title": each.piece.title,
            "picture": plates.plate(their.get(each.piece.work_id), each.piece.title, small=True),
            "shown": each.piece.shown,
            "price": short(each.price, kept_in),
            "after": _after(each, leaves[each.piece.id], kept_in),
        }
        for each in hung
    ]
    lead = f"{fair.name}, {WEEKDAYS[today.weekday()]}. Tap the print being bought."
    return render(request, "stall/prints.html", pitch=strip, lead=lead, prints=prints)


def _after(each: Hung, leaves: int, kept_in: str) -> str:
    size = f", {each.piece.size_label}" if each.several_sizes else ""
    if each.piece.of == 0:
        return f"not a limited edition{size}"
    return f"leaves {money.shown(leaves, kept_in)}{size}"


def _pitch(session: Session, fair: Occasion, kept_in: str) -> dict[str, Any]:
    """How far the sales of the fair have paid for its pitch: in money, and in prints as they have gone so far."""
    so_far = reports.pitch(session, fair.id or 0)
    sold = "1 print" if so_far.sold == 1 else f"{so_far.sold} prints"
    if not so_far.cost:
        return {"bold": f"{sold} sold.", "rest": "What the pitch cost is not written down.", "paid": 0, "of": 0}
    if not so_far.to_go:
        over = money.shown(so_far.brought - so_far.cost, kept_in)
        return {"bold": "Pitch paid.", "rest": f"{over} over", "paid": so_far.sold, "of": so_far.sold}
    to_go = money.shown(so_far.to_go, kept_in)
    usual = so_far.brought // so_far.sold if so_far.sold else _middle(session, fair)
    if usual <= 0:
        return {"bold": to_go, "rest": "still to pay for the pitch", "paid": 0, "of": 0}
    of = so_far.sold + ceil(so_far.to_go / usual)
    return {
        "bold": f"{so_far.sold} of {of}", "rest": f"to pay for the pitch, {to_go} to go", "paid": so_far.sold, "of": of
    }  # fmt: skip


def _middle(session: Session, fair: Occasion) -> int:
    """What the middle one of the prints on the wall leaves (minor units); 0 where nothing hangs."""
    today = clock.today()
    leaves = sorted(_worked(session, fair, each.piece, today).leaves for each in for_sale.hung(session, today, fair.id))
    return leaves[len(leaves) // 2] if leaves else 0


# One print


@pages.get("/prints/{piece_id}")
def one(request: Request, house: Here, who: Signed, piece_id: Id) -> Response:
    """One print about to be sold. With no fair on, it is sold on the form."""
    with reading(house.engine) as session:
        pieces.view(session, piece_id)
        fair = occasions.open_fair(session, clock.today())
    if fair is None:
        return answers.see(f"/sales/new?piece={piece_id}")
    return _print_page(request, house, fair, piece_id, blank())


def _print_page(
    request: Request, house: House, fair: Occasion, piece_id: int, form: Form, status: int = 200
) -> Response:
    today = clock.today()
    with reading(house.engine) as session:
        kept_in = studio.currency(session)
        seen = pieces.view(session, piece_id)
        others = list(for_sale.others(session, seen))[:MOST_OTHERS]
        strip = _pitch(session, fair, kept_in)
        try:
            worked = _worked(session, fair, seen, today)
        except Refusal as no:
            return _gone(request, seen, no, others, strip)
        picture = plates.plate(works.picture_of(session, seen.work_id), seen.title)
    shown = {
        "piece_id": seen.id,
        "title": seen.title,
        "picture": picture,
        "shown": seen.shown,
        "price": short(worked.lines[0].price, kept_in),
        "leaves": f"leaves {money.shown(worked.leaves, kept_in)} by card",
    }
    return render(
        request, "stall/print.html", status,
        pitch=strip, action=f"/stall/prints/{seen.id}", form=form, unit=unit_of(kept_in), print=shown,
        others=_links(others), others_words=_others_words(others),
    )  # fmt: skip


def _links(others: list[PieceView]) -> list[dict[str, str]]:
    return [{"shown": each.shown, "href": f"/stall/prints/{each.id}"} for each in others]


def _others_words(others: list[PieceView]) -> str:
    said = ", ".join(each.figure or each.shown for each in others[:4])
    return f"{said} here" if len(others) <= 4 else f"{said} ... here"


def _gone(request: Request, seen: PieceView, no: Refusal, others: list[PieceView], strip: dict[str, Any]) -> Response:
    shown = {"shown": seen.shown, "title": seen.title, "words": no.message}
    return render(request, "stall/gone.html", status_of(no), pitch=strip, print=shown, others=_links(others))


@pages.post("/prints/{piece_id}")
def sell(request: Request, house: Here, who: Signed, piece_id: Id, sent: Sent) -> Response:
    """The second tap: sold, by card or for cash."""
    with reading(house.engine) as session:
        fair = occasions.open_fair(session, clock.today())
    if fair is None:
        raise Refusal("No fair is on today. Write it down first, or record the sale under Sales.")
    if sent.step == "price":
        return _print_page(request, house, fair, piece_id, sent.again())
    try:
        done = house.record(who, _sold(fair, piece_id, sent), sent.repeat)
    except (Refusal, Slips) as no:
        with reading(house.engine) as session:
            seen = pieces.view(session, piece_id)
        if isinstance(no, Refusal) and not (seen.ours and seen.line_id is None):
            return _print_page(request, house, fair, piece_id, blank())
        status = status_of(no) if isinstance(no, Refusal) else 422
        form = replace(sent.refused("Not sold", no), key=blank().key)
        return _print_page(request, house, fair, piece_id, form, status)
    return answers.see(done.path)


def _sold(fair: Occasion, piece_id: int, sent: Posted) -> Any:
    def act(book: Book) -> str:
        kept_in = studio.currency(book.session)
        tap = sent.read(TapShape, kept_in)
        if tap.piece != piece_id or tap.paid_by is None:
            raise Refusal("Tap ‘Sold, by card’ or ‘Sold, for cash’.")
        price = minor(tap.price, kept_in, "price")
        if price == 0:
            raise Refusal("A price is more than nothing. To give it away, open its page in the book.", field="price")
        draft = _draft(book.session, fair, piece_id, tap.paid_by, price, book.today)
        _check_no_more(book, draft, price)
        return f"/stall/sold/{sales.record(book, draft).id}"

    return act


def _check_no_more(book: Book, draft: SaleDraft, price: int | None) -> None:
    """A nought too many is soon typed on a phone. Raises Refusal for more than the list price."""
    listed = pricing.work_out(book.session, draft).lines[0].list_price
    if price is not None and price > listed:
        asked = money.shown(listed, studio.currency(book.session))
        raise Refusal(
            f"That is more than the {asked} on the list. Write less, or record a sale for more under Sales.",
            field="price",
        )


# Sold


@pages.get("/sold/{sale_id}")
def sold(request: Request, house: Here, who: Signed, sale_id: Id) -> Response:
    """The print sold, and for ten minutes the way back."""
    with reading(house.engine) as session:
        kept_in = studio.currency(session)
        sale = sales.view(session, sale_id)
        line = sale.lines[0]
        seen = pieces.view(session, line.piece_id)
        until = sales.recorded_at(session, sale_id) + TEN_MINUTES
        fair = occasions.open_fair(session, clock.today())
        strip = _pitch(session, fair, kept_in) if fair else None
        after = _next_words(session, seen)
    stands = line.outcome == "sold"
    paid = {"card": " by card", "cash": " for cash"}.get(sale.receipts[0].how, "") if sale.receipts else ""
    shown = {
        "shown": seen.shown,
        "title": seen.title,
        "mark": "sold" if stands else "studio",
        "words": f"Sold, {short(line.price_minor, kept_in)}{paid}" if stands else "Not sold after all",
        "after": after if stands else "It hangs on the wall again, and the price is what it was.",
    }
    undo = None
    if stands and clock.now() < until:
        said = f"until {until.astimezone():%H:%M}"
        undo = {"action": f"/stall/sold/{sale_id}", "key": blank().key, "until": said}
    return render(request, "stall/sold.html", pitch=strip, print=shown, undo=undo, sale_href=f"/sales/{sale_id}")


def _next_words(session: Session, seen: PieceView) -> str:
    kept_in = studio.currency(session)
    paper = "Its certificate goes with it." if seen.certificate_state == "valid" else "It has no certificate yet."
    if seen.size_id is None or seen.class_kind != "numbered" or not for_sale.others(session, seen):
        return paper
    return f"{paper} The next one of these is {short(for_sale.price_of(session, seen, clock.today()), kept_in)}."


@pages.post("/sold/{sale_id}")
def undo(house: Here, who: Signed, sale_id: Id, sent: Sent) -> Response:
    """Not sold after all, within ten minutes. Raises Refusal."""
    return _undone(house, who, sale_id, sent)


def _undone(house: House, who: Who, sale_id: int, sent: Posted) -> Response:
    def act(book: Book) -> str:
        if clock.now() >= sales.recorded_at(book.session, sale_id) + TEN_MINUTES:
            raise Refusal("The ten minutes are over. Take it back under Sales, with the reason.")
        for line in sales.view(book.session, sale_id).lines:
            sale_lines.strike_line(book, line.id or 0, WHY)
        return f"/stall/sold/{sale_id}"

    return answers.see(house.record(who, act, sent.repeat).path)
