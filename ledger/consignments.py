"""Consignments: prints lent to a gallery to sell. They stay the maker's, and sell on the terms agreed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import editions, journal, occasions, offers, people, pieces, provenance
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.pieces import PieceView
from ledger.reckoning import prices
from ledger.reckoning.prices import CommissionOf, CommissionOn, DiscountBy
from ledger.tables import Consigned, Consignment, Piece, PrintClass

_STRICT = ConfigDict(extra="forbid", frozen=True)


class LentDraft(BaseModel):
    """A print lent, and what the gallery is told to ask (minor units); left out, the present price."""

    model_config = _STRICT
    piece_id: int
    told_price_minor: int | None = None
    told_frame_minor: int = 0


class ConsignmentDraft(BaseModel):
    """What is lent to whom, on which terms; rates in hundredths of a percent."""

    model_config = _STRICT
    person_id: int
    lent_on: date
    occasion_id: int | None = None
    commission_bp: int
    commission_on: CommissionOn = "print"
    commission_of: CommissionOf = "with_tax"
    commission_tax_bp: int = 0
    discount_by: DiscountBy = "shared"
    pieces: tuple[LentDraft, ...]


@dataclass(frozen=True)
class Lent:
    """One print on a consignment; `outcome` is out, sold or back. Amounts in minor units."""

    consignment_id: int
    person_id: int
    gallery: str
    lent_on: date
    piece: PieceView
    told_price: int
    told_frame: int
    outcome: Literal["out", "sold", "back"]
    ended_on: date | None


@dataclass(frozen=True)
class ToldTooLow:
    """A print still out that the gallery would sell below the present price (minor units)."""

    consignment_id: int
    person_id: int
    gallery: str
    piece_id: int
    number: int
    told: int
    now: int


def lend(book: Book, draft: ConsignmentDraft) -> Consignment:
    """Lend prints to a gallery. Raises Refusal for any that is not the maker's, signed and here."""
    people.get(book.session, draft.person_id)
    if draft.lent_on > book.today:
        raise Refusal("That day is still to come. Write the day they left.", field="lent_on")
    for field in ("commission", "commission_tax"):
        if not 0 <= getattr(draft, f"{field}_bp") <= 10_000:
            raise Refusal("A rate lies between 0 and 100 %. Write 40 for 40 %.", field=field)
    if draft.occasion_id is not None:
        occasions.get(book.session, draft.occasion_id)
    if not draft.pieces:
        raise Refusal("Choose at least one print to lend.", field="pieces")
    lent = [_checked(book, each, f"pieces.{at}", draft.lent_on) for at, each in enumerate(draft.pieces)]
    if len({seen.id for seen, _ in lent}) < len(lent):
        raise Refusal("One print stands in two lines. Name each once.", field="pieces")
    terms = draft.model_dump(exclude={"pieces"})
    consignment = Consignment(**terms)
    book.session.add(consignment)
    book.session.flush()
    for seen, each in lent:
        book.session.add(Consigned(consignment_id=consignment.id or 0, **each.model_dump()))
        provenance.put(book, seen.id, place="gallery", on=draft.lent_on, person_id=draft.person_id)
    journal.sealed(
        book,
        "lent",
        {
            "consignment": consignment.id,
            **terms,
            "lent_on": draft.lent_on.isoformat(),
            "occasion_id": draft.occasion_id or 0,
            "pieces": [[each.piece_id, each.told_price_minor, each.told_frame_minor] for _, each in lent],
        },
        *(_line("lent", draft.lent_on, seen, draft.person_id) for seen, _ in lent),
    )
    return consignment


def _line(kind: str, on: date, seen: PieceView, person_id: int) -> Touched:
    return Touched(kind, on, edition_id=seen.edition_id, piece_id=seen.id, person_id=person_id)


def _checked(book: Book, draft: LentDraft, field: str, day: date) -> tuple[PieceView, LentDraft]:
    seen = pieces.view(book.session, draft.piece_id)
    if not seen.ours or seen.order_stands or seen.place not in ("studio", "van"):
        raise Refusal(
            f"{seen.shown} {pieces.what_it_is(seen)}. Only a signed print of yours that is here can be lent.",
            field=f"{field}.piece_id",
        )
    return seen, _told(book.session, seen, draft, field, day)


def _told(session: Session, seen: PieceView, draft: LentDraft, field: str, day: date) -> LentDraft:
    """The draft with the price the gallery is told. Raises Refusal where there is none to fall back on."""
    price = draft.told_price_minor
    if price is None:
        if seen.class_kind != "numbered" or seen.size_id is None:
            raise Refusal(f"{seen.shown} has no price step. Write its price.", field=f"{field}.told_price")
        peak = editions.get(session, seen.edition_id).sold_peak
        price = prices.step_price(offers.in_force(session, seen.size_id, day).steps, peak + 1)
    if price < 0 or draft.told_frame_minor < 0:
        raise Refusal("A price is nought or more.", field=f"{field}.told_price")
    return draft.model_copy(update={"told_price_minor": price})


def _out(session: Session, consignment_id: int, piece_id: int) -> Consigned:
    row = session.exec(
        select(Consigned).where(
            Consigned.consignment_id == consignment_id, Consigned.piece_id == piece_id, Consigned.outcome == "out"
        )
    ).first()
    if row is None:
        seen = pieces.view(session, piece_id)
        raise Refusal(f"{seen.shown} is not out on this note; it {pieces.what_it_is(seen)}.", field="pieces")
    return row


def take_back(book: Book, consignment_id: int, piece_ids: Sequence[int], on: date) -> list[Piece]:
    """Prints came back unsold. Raises Refusal for one that is not out on this consignment."""
    consignment = get(book.session, consignment_id)
    if on > book.today:
        raise Refusal("That day is still to come. Write the day they came back.", field="on")
    if on < consignment.lent_on:
        raise Refusal("They came back before they were lent. Look at the day again.", field="on")
    if not piece_ids:
        raise Refusal("Choose at least one print that came back.", field="pieces")
    back, lines = [], []
    for piece_id in dict.fromkeys(piece_ids):
        row = _out(book.session, consignment_id, piece_id)
        row.outcome, row.ended_on = "back", on
        book.session.add(row)
        piece = pieces.get(book.session, piece_id)
        place = "unknown" if piece.condition == "missing" else "studio"
        provenance.put(book, piece_id, place=place, on=on)
        back.append(piece)
        lines.append(_line("taken_back", on, pieces.view(book.session, piece_id), consignment.person_id))
    journal.sealed(
        book,
        "taken_back",
        {"consignment": consignment_id, "pieces": [piece.id for piece in back], "on": on.isoformat()},
        *lines,
    )
    return back


def tell(book: Book, consignment_id: int, told: Sequence[LentDraft]) -> None:
    """The gallery was told other prices for prints still out; what left out a price gets the present one.

    Raises Refusal.
    """
    consignment = get(book.session, consignment_id)
    facts, lines = [], []
    for at, draft in enumerate(told):
        row = _out(book.session, consignment_id, draft.piece_id)
        seen = pieces.view(book.session, draft.piece_id)
        new = _told(book.session, seen, draft, f"pieces.{at}", book.today)
        assert new.told_price_minor is not None
        row.told_price_minor, row.told_frame_minor = new.told_price_minor, new.told_frame_minor
        book.session.add(row)
        facts.append([new.piece_id, new.told_price_minor, new.told_frame_minor])
        lines.append(_line("priced", book.today, seen, consignment.person_id))
    if not facts:
        raise Refusal("Choose at least one print to tell a price for.", field="pieces")
    journal.sealed(book, "told", {"consignment": consignment_id, "pieces": facts}, *lines)


def get(session: Session, consignment_id: int) -> Consignment:
    """Raises Refusal (missing)."""
    consignment = session.get(Consignment, consignment_id)
    if consignment is None:
        raise Refusal(f"No consignment has the number {consignment_id}.", missing=True)
    return consignment


def lent_on(session: Session, consignment_id: int) -> list[Lent]:
    """Everything lent on one consignment, whatever became of it."""
    return _lent(session, Consigned.consignment_id == consignment_id)


def lent_out(session: Session) -> list[Lent]:
    """Everything that is with a gallery now."""
    return _lent(session, Consigned.outcome == "out")


def _lent(session: Session, where: Any) -> list[Lent]:
    query: Any = (
        select(Consigned, Consignment)
        .join(Consignment, col(Consignment.id) == Consigned.consignment_id)
        .where(where)
        .order_by(col(Consignment.lent_on), col(Consigned.id))
    )
    rows = session.exec(query).all()
    seen = {each.id: each for each in _views(session, [row.piece_id for row, _ in rows])}
    names = {note.person_id: people.shown(session, note.person_id) for _, note in rows}
    return [
        Lent(
            consignment_id=row.consignment_id,
            person_id=note.person_id,
            gallery=names[note.person_id],
            lent_on=note.lent_on,
            piece=seen[row.piece_id],
            told_price=row.told_price_minor,
            told_frame=row.told_frame_minor,
            outcome=row.outcome,
            ended_on=row.ended_on,
        )
        for row, note in rows
    ]


def _views(session: Session, piece_ids: Sequence[int]) -> list[PieceView]:
    return pieces.views(session, col(Piece.id).in_(piece_ids)) if piece_ids else []


def told_too_low(session: Session, edition_id: int, day: date, *, peak: int | None = None) -> list[ToldTooLow]:
    """Numbered prints of an edition still out whose told price lies below the price of the next one sold.

    `peak` stands for the edition's sold_peak where a sale is worked out before it is recorded.
    """
    query: Any = (
        select(Consigned, Consignment.person_id, Piece.number, Piece.size_id)
        .join(Consignment, col(Consignment.id) == Consigned.consignment_id)
        .join(Piece, col(Piece.id) == Consigned.piece_id)
        .join(PrintClass, col(PrintClass.id) == Piece.class_id)
        .where(
            PrintClass.edition_id == edition_id,
            PrintClass.kind == "numbered",
            Consigned.outcome == "out",
            col(Piece.size_id).is_not(None),
        )
        .order_by(col(Piece.number))
    )
    rows = session.exec(query).all()
    position = 1 + (editions.get(session, edition_id).sold_peak if peak is None else peak)
    now = {
        size_id: prices.step_price(offers.in_force(session, size_id, day).steps, position)
        for size_id in {row[3] for row in rows}
    }
    return [
        ToldTooLow(
            row.consignment_id,
            person_id,
            people.shown(session, person_id),
            row.piece_id,
            number,
            row.told_price_minor,
            now[size_id],
        )
        for row, person_id, number, size_id in rows
        if row.told_price_minor < now[size_id]
    ]
