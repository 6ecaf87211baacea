"""Away: what is at galleries, on loan, at the framer. Lending, taking back, telling a price."""

from collections.abc import Callable
from datetime import date
from itertools import groupby
from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import Field
from starlette.responses import Response

from ledger import clock, consignments, for_sale, occasions, people, pieces, studio
from ledger.consignments import ConsignmentDraft, Lent, LentDraft
from ledger.database import Book, Session, reading
from ledger.errors import Refusal
from ledger.pieces import PieceView
from ledger.reckoning import dates, money
from ledger.tables import Consignment
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.away_api import LentShape, TellShape, TermsShape, draft_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.marks import mark_of
from ledger.web.pages import render
from ledger.web.sale_shapes import bare_field
from ledger.web.sale_sum import unit_of
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import Amount, Id, Shape, percent_said
from ledger.web.sign_in import Signed

pages = APIRouter(prefix="/away", include_in_schema=False)
PLACES = (("loan", "On loan"), ("framer", "At the framer"), ("post", "In the post"), ("unknown", "Nobody knows where"))
BORNE = {
    "shared": "both shares alike", "maker": "your share", "gallery": "the gallery’s share", "half": "half and half",
}  # fmt: skip


class LendRow(Shape):
    """A line of the lending form: ticked, or left where it is."""

    piece_id: Id | None = None
    told_price: Amount | None = None
    told_frame: Amount | None = None


class LendForm(TermsShape):
    """The lending form: a gallery in the book or a new one, and a line for every print that is here."""

    person_id: Id | None = None
    name: str = ""
    lent_on: date
    occasion_id: Id | None = None
    pieces: Annotated[tuple[LendRow, ...], Field(max_length=400)] = ()

    def draft(self, book: Book) -> ConsignmentDraft:
        """Raises Slips for a price beside a print that is not ticked."""
        currency = studio.currency(book.session)
        lent = []
        for at, row in enumerate(self.pieces):
            if row.piece_id is None:
                said = "This print is not ticked. Tick it, or leave its price empty."
                raise Slips([Slip(f"pieces.{at}.told_price", said)])
            lent.append(LentShape(**row.model_dump()).draft(currency, f"pieces.{at}"))
        if self.person_id is None and not self.name:
            raise Slips([Slip("person_id", "Choose the gallery, or write its name below.")])
        person_id = self.person_id or people.find_or_add(book, self.name).id or 0
        return draft_of(self, person_id, self.lent_on, self.occasion_id, tuple(lent))


@pages.get("")
def every(request: Request, house: Here, who: Signed) -> Response:
    """What is elsewhere: by gallery and note, then on loan, at the framer, in the post."""
    with reading(house.engine) as session:
        lent = consignments.lent_out(session)
        currency = studio.currency(session)
        others = [seen for seen in pieces.out(session) if seen.place != "gallery"]
        low = _too_low(session, lent)
    notes = [
        {
            "href": f"/away/{note}", "more_href": f"/away/lend?like={note}",
            "gallery": group[0].gallery, "since": dates.said(group[0].lent_on),
            "prints": [_lent_row(each, currency, low) for each in group],
        }
        for note, group in ((note, list(some)) for note, some in groupby(lent, key=lambda each: each.consignment_id))
    ]  # fmt: skip
    places = [
        {"head": head, "rows": [_out_row(seen) for seen in others if seen.place == place]} for place, head in PLACES
    ]
    return render(request, "away/list.html", notes=notes, places=[each for each in places if each["rows"]])


def _too_low(session: Session, lent: list[Lent]) -> dict[int, int]:
    """The present price (minor units) of each print a gallery was told less for."""
    return {
        low.piece_id: low.now
        for edition_id in {each.piece.edition_id for each in lent}
        for low in consignments.told_too_low(session, edition_id, clock.today())
    }


def _lent_row(each: Lent, currency: str, low: dict[int, int]) -> dict[str, Any]:
    drawn = mark_of(each.piece)
    ended = f" on {dates.said(each.ended_on)}" if each.ended_on else ""
    told = f"told {money.shown(each.told_price, currency)}"
    frame = f" and {money.shown(each.told_frame, currency)} for the frame" if each.told_frame else ""
    now = f"; the next one is {money.shown(low[each.piece.id], currency)}" if each.piece.id in low else ""
    return {
        "piece_id": each.piece.id, "href": f"/pieces/{each.piece.id}", "shown": each.piece.shown,
        "title": each.piece.title, "mark": drawn.mark, "figure": each.piece.figure, "out": each.outcome == "out",
        "words": {
            "out": f"{told}{frame}{now}".capitalize() + ".", "sold": f"Sold{ended}.", "back": f"Taken back{ended}.",
        }[each.outcome],
        "sell_href": f"/sales/new?piece={each.piece.id}&consignment={each.consignment_id}",
        "told_price": money.plain(each.told_price, currency), "told_frame": money.plain(each.told_frame, currency),
        "now": money.shown(low[each.piece.id], currency) if each.piece.id in low else "",
    }  # fmt: skip


def _out_row(seen: PieceView) -> dict[str, Any]:
    drawn = mark_of(seen)
    since = f", since {dates.said(seen.since_on)}" if seen.since_on else ""
    return {
        "href": f"/pieces/{seen.id}", "shown": seen.shown, "title": seen.title, "mark": drawn.mark,
        "figure": seen.figure, "words": f"{drawn.phrase[0].upper()}{drawn.phrase[1:]}{since}.",
        "move_href": f"/pieces/{seen.id}/move",
    }  # fmt: skip


@pages.get("/lend")
def lend_form(request: Request, house: Here, who: Signed, like: Id | None = None) -> Response:
    """The form of lending, with the prints that are here; `like` is an earlier note whose gallery and terms stand."""
    values = {
        "lent_on": clock.today().isoformat(), "commission_on": "print", "commission_of": "with_tax",
        "discount_by": "shared",
    }  # fmt: skip
    if like:
        with reading(house.engine) as session:
            values |= _terms_of(consignments.get(session, like))
    return _lend_page(request, house, blank(values))


def _terms_of(row: Consignment) -> dict[str, str]:
    return {
        "person_id": str(row.person_id), "commission": percent_said(row.commission_bp),
        "commission_tax": percent_said(row.commission_tax_bp) if row.commission_tax_bp else "",
        "commission_on": row.commission_on, "commission_of": row.commission_of, "discount_by": row.discount_by,
    }  # fmt: skip


def _lend_page(request: Request, house: House, form: Form, status: int = 200) -> Response:
    today = clock.today()
    with reading(house.engine) as session:
        currency = studio.currency(session)
        here = for_sale.here(session)
        known = [{"value": each.id, "words": each.name} for each in people.listing(session) if each.kind == "business"]
        rounds = [each for each in occasions.listing(session) if each.kind == "round"]
        prices = {seen.id: _present(session, seen, today, currency) for seen in here}
    return render(
        request, "away/lend.html", status, form=form, action="/away/lend", unit=unit_of(currency),
        galleries=[{"value": "", "words": "Choose"}, *known] if known else [],
        rounds=[{"value": "", "words": "None"}]
        + [{"value": each.id, "words": f"{each.name}, {dates.span(each.from_on, each.to_on)}"} for each in rounds]
        if rounds
        else [],
        borne=[{"value": value, "words": words} for value, words in BORNE.items()],
        prints=[
            {"piece_id": seen.id, "shown": seen.shown, "title": seen.title, "usual": prices[seen.id]} for seen in here
        ],
    )  # fmt: skip


def _present(session: Session, seen: PieceView, today: date, currency: str) -> str:
    if seen.class_kind != "numbered" or seen.size_id is None:
        return ""
    return money.plain(for_sale.price_of(session, seen, today), currency)


@pages.post("/lend")
def lend(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    def act(book: Book) -> str:
        shape = sent.read(LendForm, studio.currency(book.session))
        return f"/away/{consignments.lend(book, shape.draft(book)).id}"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        form = sent.refused("Not lent", no)
        return _lend_page(request, house, form, status_of(no) if isinstance(no, Refusal) else 422)
    return answers.see(done.path)


@pages.get("/{consignment_id}")
def note(request: Request, house: Here, who: Signed, consignment_id: Id) -> Response:
    """One note: its terms, its prints, and what may happen to those still out."""
    return _note_page(request, house, consignment_id, blank({"on": clock.today().isoformat()}))


def _note_page(request: Request, house: House, consignment_id: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        currency = studio.currency(session)
        row = consignments.get(session, consignment_id)
        lent = consignments.lent_on(session, consignment_id)
        gallery = people.shown(session, row.person_id)
        low = _too_low(session, lent)
    on = {"print": "the print", "print_and_frame": "print and frame"}[row.commission_on]
    of = {"with_tax": "", "without_tax": ", less the tax in it"}[row.commission_of]
    plus = f", and {percent_said(row.commission_tax_bp)}% tax on that" if row.commission_tax_bp else ""
    terms = [
        {"label": "Lent on", "words": f"{dates.said(row.lent_on)}."},
        {"label": "The gallery keeps", "words": f"{percent_said(row.commission_bp)}% of the price of {on}{of}{plus}."},
        {"label": "A discount comes out of", "words": f"{BORNE[row.discount_by]}, unless said otherwise at the sale."},
    ]
    return render(
        request, "away/one.html", status, form=form, gallery=gallery, terms=terms, unit=unit_of(currency),
        prints=[_lent_row(each, currency, low) for each in lent], action=f"/away/{consignment_id}",
        too_low=any(each.piece.id in low for each in lent if each.outcome == "out"),
        chosen=_many(form.values.get("piece_ids")),
    )  # fmt: skip


def _many(typed: Any) -> list[str]:
    return typed if isinstance(typed, list) else [typed] if typed else []


class BackForm(Shape):
    """The ticks of the note's form, and the day; one tick arrives by itself."""

    piece_ids: tuple[Id, ...] | Id = ()
    on: date | None = None


@pages.post("/{consignment_id}")
def follow(request: Request, house: Here, who: Signed, consignment_id: Id, sent: Sent) -> Response:
    """Prints came back, or the gallery was told other prices."""
    act = _told(sent, consignment_id) if sent.step == "tell" else _back(sent, consignment_id)
    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        fault = bare_field(no, {"pieces": "piece_ids"}) if isinstance(no, Refusal) and sent.step != "tell" else no
        form = sent.refused("Not written down", fault)
        status = status_of(no) if isinstance(no, Refusal) else 422
        return _note_page(request, house, consignment_id, form, status)
    return answers.see(done.path)


def _back(sent: Any, consignment_id: int) -> Callable[[Book], str]:
    def act(book: Book) -> str:
        shape = sent.read(BackForm)
        ids = shape.piece_ids if isinstance(shape.piece_ids, tuple) else (shape.piece_ids,)
        consignments.take_back(book, consignment_id, ids, shape.on or book.today)
        return f"/away/{consignment_id}"

    return act


def _told(sent: Any, consignment_id: int) -> Callable[[Book], str]:
    def act(book: Book) -> str:
        currency = studio.currency(book.session)
        shape = sent.read(TellShape, currency)
        before = {each.piece.id: each for each in consignments.lent_on(book.session, consignment_id)}
        told = [each.draft(currency, f"pieces.{at}") for at, each in enumerate(shape.pieces)]
        changed = [draft for draft in told if _differs(draft, before.get(draft.piece_id))]
        if not changed:
            raise Refusal("Every price is as it was told. Change those the gallery hears anew.", field="pieces")
        consignments.tell(book, consignment_id, changed)
        return f"/away/{consignment_id}"

    return act


def _differs(draft: LentDraft, before: Lent | None) -> bool:
    return before is None or (draft.told_price_minor, draft.told_frame_minor) != (before.told_price, before.told_frame)
