"""What becomes of a print once it is made: damaged, missing, found, destroyed, replaced, given, moved."""

from datetime import date
from typing import Literal

from pydantic import BaseModel, ConfigDict
from sqlmodel import col, select

from ledger import certificates, editions, journal, numbers, people, pieces, provenance, runs, spares
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.numbers import InscribeDraft
from ledger.pieces import PieceView
from ledger.reckoning.texts import tidy
from ledger.tables import Consigned, Holding, Piece


class GiveDraft(BaseModel):
    """A print passes on without a sale through this book."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    how: Literal["gift", "exchange", "donation", "inheritance", "sale"]
    holder: Literal["person", "private", "unknown", "estate"] = "private"
    person_id: int | None = None
    name: str = ""
    on: date | None = None
    note: str = ""


class ReplaceDraft(BaseModel):
    """A second print of a number. `sworn` is the owner's statement that a missing print is lost."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    inscribed: InscribeDraft = InscribeDraft()
    sworn: str = ""


def _made(book: Book, piece_id: int) -> tuple[Piece, PieceView]:
    piece = pieces.get(book.session, piece_id)
    seen = pieces.view(book.session, piece_id)
    if piece.state != "inscribed":
        raise Refusal(f"{seen.shown} {pieces.what_it_is(seen)}. Only a signed print has a condition.")
    if piece.condition == "destroyed":
        raise Refusal(f"{seen.shown} was destroyed. Nothing more happens to that print.")
    return piece, seen


def _day(book: Book, on: date | None) -> date:
    day = on or book.today
    if day > book.today:
        raise Refusal("That day is still to come. Write the day it happened.", field="on")
    return day


def _sealed(book: Book, act: str, seen: PieceView, on: date, said: str, person_id: int | None = None) -> None:
    journal.sealed(
        book,
        act,
        {"piece": seen.id, "number": seen.number, "condition": pieces.get(book.session, seen.id).condition},
        Touched(act, on, edition_id=seen.edition_id, piece_id=seen.id, text=said or None, person_id=person_id),
        person={"text": said} if said else None,
        person_id=person_id,
    )


def damage(book: Book, piece_id: int, said: str, *, on: date | None = None) -> Piece:
    """Mark a print damaged, with who said so. Raises Refusal."""
    piece, seen = _made(book, piece_id)
    if piece.condition == "missing":
        raise Refusal(f"{seen.shown} is missing. Write first that it was found.")
    words = tidy(said, "Who said so, and what is damaged", limit=300, field="said")
    piece.condition = "damaged"
    book.session.add(piece)
    _sealed(book, "damaged", seen, _day(book, on), words)
    return piece


def missing(book: Book, piece_id: int, said: str, *, on: date | None = None) -> Piece:
    """Mark a print missing, with who said so; its certificate is suspended. Raises Refusal."""
    piece, seen = _made(book, piece_id)
    if piece.condition == "missing":
        raise Refusal(f"{seen.shown} is missing already.")
    words = tidy(said, "Who said so", limit=300, field="said")
    piece.condition = "missing"
    book.session.add(piece)
    _sealed(book, "missing", seen, _day(book, on), words)
    certificates.suspend_of(book, piece_id)
    return piece


def found(
    book: Book, piece_id: int, said: str, *, damaged: bool = False, restore: bool = True, on: date | None = None
) -> Piece:
    """A missing print was found, good or damaged; its certificate may stand again.

    If its number was printed a second time meanwhile, its certificate is void and both pages say that two
    exist. Raises Refusal.
    """
    piece, seen = _made(book, piece_id)
    if piece.condition != "missing":
        raise Refusal(f"{seen.shown} is not missing.")
    words = tidy(said, "Who said so", limit=300, field="said")
    piece.condition = "damaged" if damaged else "good"
    book.session.add(piece)
    book.session.flush()
    _sealed(book, "found", seen, _day(book, on), words)
    live = certificates.live_of(book.session, piece_id)
    if not piece.latest:
        certificates.void_of(book, piece_id, "found after its number was printed again")
    elif live is not None and restore and live.state == "suspended":
        certificates.restore(book, live.id or 0)
    return piece


def destroy(book: Book, piece_id: int, said: str, *, on: date | None = None) -> Piece:
    """A print was destroyed: how, and who saw it. Its certificate is void; nobody holds it any more.

    Raises Refusal.
    """
    piece, seen = _made(book, piece_id)
    words = tidy(said, "The account", limit=300, field="said")
    day = _day(book, on)
    piece.condition, piece.ended_on, piece.ended_note = "destroyed", day, words
    book.session.add(piece)
    provenance.end_holding(book, piece_id, day)
    provenance.end_custody(book, piece_id, day)
    _end_loan(book, piece_id, day)
    journal.public(
        book,
        "piece.destroyed",
        pieces.public_fields(book.session, piece),
        Touched("destroyed", day, edition_id=seen.edition_id, piece_id=piece_id, text=words),
    )
    certificates.void_of(book, piece_id, "the print was destroyed")
    return piece


def _end_loan(book: Book, piece_id: int, day: date) -> None:
    lent = book.session.exec(
        select(Consigned).where(Consigned.piece_id == piece_id, Consigned.outcome == "out")
    ).first()
    if lent is not None:
        lent.outcome, lent.ended_on = "back", day
        book.session.add(lent)


def replace(book: Book, piece_id: int, draft: ReplaceDraft) -> Piece:
    """Print a destroyed number a second time, or a missing one on its owner's sworn statement.

    The new print belongs to whoever held the first. Without a printing said it is of the oldest that has one of its
    size, kept to replace damaged prints or else spare, and bears its part of that. Raises Refusal.
    """
    first = pieces.get(book.session, piece_id)
    seen = pieces.view(book.session, piece_id)
    if not first.latest:
        raise Refusal(f"{seen.shown} was printed again already.")
    if first.condition not in ("destroyed", "missing"):
        raise Refusal(f"{seen.shown} {pieces.what_it_is(seen)}. Write first that it was destroyed, with who saw it.")
    sworn = tidy(
        draft.sworn, "The owner’s sworn statement", limit=300, needed=first.condition == "missing", field="sworn"
    )
    editions.standing(book.session, seen.edition_id)
    holder, person_id = _last_holder(book, piece_id)
    certificates.void_of(book, piece_id, "its number was printed again")
    first.latest = False
    book.session.add(first)
    book.session.flush()
    second = Piece(
        class_id=first.class_id,
        class_count=first.class_count,
        number=first.number,
        generation=first.generation + 1,
        replaces=first.id,
        size_id=first.size_id,
        state="free",
    )
    numbers.write_inscription(book, second, draft.inscribed)
    if second.run_id is not None:
        spares.keep_for_second(book, runs.get(book.session, second.run_id))
    made, on = [second.id or 0], second.inscribed_on
    provenance.begin_holding(book, made, holder=holder, how="replacement", on=on, person_id=person_id)
    provenance.begin_custody(book, made, place="studio", on=on)
    journal.public(
        book,
        "piece.replaced",
        pieces.public_fields(book.session, second),
        Touched("replaced", book.today, edition_id=seen.edition_id, piece_id=second.id, text=sworn or None),
    )
    numbers.record_inscribed(book, second)
    return second


def _last_holder(book: Book, piece_id: int) -> tuple[str, int | None]:
    last = book.session.exec(
        select(Holding).where(Holding.piece_id == piece_id, ~col(Holding.struck)).order_by(col(Holding.id).desc())
    ).first()
    return (last.holder, last.person_id) if last else ("maker", None)


def give(book: Book, piece_id: int, draft: GiveDraft) -> Piece:
    """A print passes on: given, exchanged or donated by the maker, or from one owner to the next.

    No sale of the maker's, so no price step moves. Raises Refusal.
    """
    piece, seen = _made(book, piece_id)
    if seen.condition == "missing":
        raise Refusal(f"{seen.shown} is missing. Write first that it was found.")
    if seen.holder == "maker":
        _check_ours_to_give(seen, draft)
    day = _day(book, draft.on)
    holder, person_id = draft.holder, None
    if draft.person_id is not None:
        holder, person_id = "person", people.get(book.session, draft.person_id).id
    elif draft.name.strip():
        holder, person_id = "person", people.find_or_add(book, draft.name).id
    if holder == "person" and person_id is None:
        raise Refusal("Write who has it now, or choose “private” or “not known”.", field="name")
    note = tidy(draft.note, "The note", limit=300, needed=False, field="note")
    provenance.pass_to(book, piece_id, holder=holder, how=draft.how, on=day, person_id=person_id)
    provenance.put(book, piece_id, place="holder", on=day)
    journal.sealed(
        book,
        "given",
        {"piece": piece_id, "how": draft.how, "holder": holder, "person": person_id or 0},
        Touched("given", day, edition_id=seen.edition_id, piece_id=piece_id, text=note or None, person_id=person_id),
        person={"note": note} if note else None,
        person_id=person_id,
    )
    return piece


def hand_to_owner(book: Book, piece_id: int, on: date | None = None) -> Piece:
    """A second print made for the owner of the first is with that owner now. Raises Refusal."""
    piece, seen = _made(book, piece_id)
    if seen.holder == "maker" or seen.place == "holder":
        where = "is yours" if seen.holder == "maker" else "is with its owner already"
        raise Refusal(f"{seen.shown} {where}. Nothing was written down.")
    if seen.condition == "missing":
        raise Refusal(f"{seen.shown} is missing. Write first that it was found.")
    day = _day(book, on)
    provenance.put(book, piece_id, place="holder", on=day, person_id=seen.holder_id)
    _sealed(book, "handed_over", seen, day, "", seen.holder_id)
    return piece


def _check_ours_to_give(seen: PieceView, draft: GiveDraft) -> None:
    if draft.how in ("sale", "inheritance"):
        raise Refusal("It is yours: record a sale under Sales, or choose gift, exchange or donation.", field="how")
    if seen.line_id is not None:
        raise Refusal(f"{seen.shown} {pieces.what_it_is(seen)}. Take the sale back first.")
    if seen.place == "gallery":
        raise Refusal(f"{seen.shown} {pieces.what_it_is(seen)}. Take it back from the gallery first.")


def move(
    book: Book,
    piece_id: int,
    place: Literal["studio", "van", "framer", "loan", "post", "unknown"],
    *,
    person_id: int | None = None,
    on: date | None = None,
    note: str = "",
) -> Piece:
    """Say where a print of ours is now. Raises Refusal."""
    piece, seen = _made(book, piece_id)
    if seen.place == "gallery":
        raise Refusal(f"{seen.shown} {pieces.what_it_is(seen)}. Take it back from the gallery first.")
    if seen.holder != "maker":
        raise Refusal(f"{seen.shown} {pieces.what_it_is(seen)}. Where it is now is its owner’s affair.")
    if seen.condition == "missing":
        raise Refusal(f"{seen.shown} is missing. Write first that it was found.")
    day = _day(book, on)
    if person_id is not None:
        people.get(book.session, person_id)
    words = tidy(note, "The note", limit=200, needed=False, field="note")
    provenance.put(book, piece_id, place=place, on=day, person_id=person_id, note=words)
    _sealed(book, "moved", seen, day, f"{place} {words}".strip(), person_id)
    return piece
