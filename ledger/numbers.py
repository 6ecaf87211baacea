"""Numbers: each given once and for ever; signed, given back, or never made."""

from datetime import date

from pydantic import BaseModel, ConfigDict
from sqlalchemy import func
from sqlmodel import col, select

from ledger import editions, journal, offers, pieces, provenance, runs, works
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.reckoning import numbering
from ledger.reckoning.texts import tidy
from ledger.spares import Fate, settle_beyond
from ledger.tables import Certificate, Edition, Piece, PrintClass, Size


class InscribeDraft(BaseModel):
    """What the pencil wrote, when and where. Empty lines take what the edition says."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    on: date | None = None
    size_id: int | None = None
    inscription: str = ""
    where: str = ""
    pencil: str = ""
    printed_by: str = ""
    printed_year: int | None = None
    printed_month: int | None = None
    paper_as_made: str = ""
    run_id: int | None = None


def allocate(
    book: Book,
    edition_id: int,
    *,
    kind: str = "numbered",
    how_many: int = 1,
    numbers: list[int] | None = None,
    reason: str = "",
    size_id: int | None = None,
) -> list[Piece]:
    """Give numbers: the lowest free ones, or the named ones with one reason for the batch.

    Raises Refusal, naming the next free numbers.
    """
    edition = editions.standing(book.session, edition_id)
    print_class = pieces.find_class(book.session, edition_id, kind)
    if numbers is not None:
        if not numbers:
            raise Refusal("Write which numbers to give.", field="numbers")
        given = [_named_free(book, print_class, number) for number in sorted(set(numbers))]
        lowest = pieces.next_free(book.session, print_class.id or 0, len(given))
        if [piece.number for piece in given] != lowest:
            reason = tidy(reason, "The reason for these numbers", limit=200, field="reason")
    elif print_class.count == 0:
        given = _free_then_new(book, edition, print_class, how_many)
    else:
        given = _lowest_free(book, edition, print_class, how_many)
    if size_id is not None:
        _size_of(book, edition_id, size_id)
    for piece in given:
        piece.state, piece.allocated_on = "allocated", book.today
        piece.size_id = size_id if size_id is not None else piece.size_id
        book.session.add(piece)
    journal.sealed(
        book,
        "allocated",
        {"edition": edition_id, "class": kind, "numbers": [piece.number for piece in given]},
        *(_line("allocated", book.today, edition_id, piece, reason or None) for piece in given),
        person={"reason": reason} if reason else None,
    )
    return given


def _line(kind: str, on: date, edition_id: int, piece: Piece, text: str | None = None) -> Touched:
    return Touched(kind, on, edition_id=edition_id, piece_id=piece.id, text=text)


def _named_free(book: Book, print_class: PrintClass, number: int) -> Piece:
    piece = book.session.exec(
        select(Piece).where(Piece.class_id == print_class.id, Piece.number == number, col(Piece.latest))
    ).first()
    if piece is None:
        if print_class.count == 0:
            raise Refusal("An open edition is numbered in order. Ask for how many, not for which.", field="numbers")
        raise Refusal(
            f"There is no number {number}: this edition is {print_class.count} and stays "
            f"{print_class.count}. {pieces.free_words(book.session, print_class.id or 0)}",
            field="numbers",
        )
    if piece.state != "free":
        seen = pieces.view(book.session, piece.id or 0)
        raise Refusal(
            f"{seen.shown} {pieces.what_it_is(seen)}. {pieces.free_words(book.session, seen.class_id)}", field="numbers"
        )
    return piece


def _if_more(edition: Edition) -> str:
    if edition.later_editions == "ruled_out":
        return "Later editions of this picture are ruled out."
    return "To make more, declare another edition; every certificate of it will mention this one."


def _lowest_free(book: Book, edition: Edition, print_class: PrintClass, how_many: int) -> list[Piece]:
    if how_many < 1:
        raise Refusal("Write how many numbers to give, from 1.", field="how_many")
    found = list(
        book.session.exec(
            select(Piece)
            .where(Piece.class_id == print_class.id, col(Piece.latest), Piece.state == "free")
            .order_by(col(Piece.number))
            .limit(min(how_many, 9999))
        )
    )
    if len(found) < how_many:
        left = (
            f"Only {len(found)} of {print_class.count} are free"
            if found
            else (f"No number is left: this edition is {print_class.count} and stays {print_class.count}")
        )
        raise Refusal(f"{left}. {_if_more(edition)}", field="how_many")
    return found


def _free_then_new(book: Book, edition: Edition, print_class: PrintClass, how_many: int) -> list[Piece]:
    """Of an open edition: numbers given back come before new ones."""
    if edition.closed_on is not None:
        raise Refusal("This open edition is closed. No more of it are made.")
    if not 1 <= how_many <= 500:
        raise Refusal("Write how many numbers to give, from 1 to 500.", field="how_many")
    missing = how_many - len(pieces.next_free(book.session, print_class.id or 0, how_many))
    grow_to(book, print_class, _highest(book, print_class) + missing)
    return _lowest_free(book, edition, print_class, how_many)


def _highest(book: Book, print_class: PrintClass) -> int:
    top = select(func.max(Piece.number)).where(Piece.class_id == print_class.id)
    return book.session.exec(top).one() or 0


def grow_to(book: Book, print_class: PrintClass, top: int) -> None:
    """Add free numbers to a class of an open edition, up to `top`; appends no entry."""
    for number in range(_highest(book, print_class) + 1, top + 1):
        book.session.add(Piece(class_id=print_class.id or 0, class_count=0, number=number))
    book.session.flush()


def give_back(book: Book, piece_id: int) -> Piece:
    """An assigned number that nothing was written for becomes free again. Raises Refusal while it is sold."""
    piece = _in_state(book, piece_id, "allocated", "has no assigned number to give back")
    if pieces.order_on(book.session, piece_id) is not None:
        raise Refusal(f"{pieces.shown(book.session, piece_id)} is sold and still to be made. Cancel the order first.")
    _clear(piece, "free")
    book.session.add(piece)
    _sealed(book, "given_back", piece)
    return piece


def _in_state(book: Book, piece_id: int, state: str, otherwise: str) -> Piece:
    piece = pieces.get(book.session, piece_id)
    if piece.state != state or not piece.latest:
        seen = pieces.view(book.session, piece_id)
        raise Refusal(f"{seen.shown} {pieces.what_it_is(seen)}; it {otherwise}.")
    return piece


def _clear(piece: Piece, state: str) -> None:
    piece.state, piece.condition = state, "good"
    for line in (
        "inscribed_on",
        "inscription",
        "inscribed_where",
        "inscribed_with",
        "printed_by",
        "printed_year",
        "printed_month",
        "paper_as_made",
        "run_id",
        "offer_id",
    ):
        setattr(piece, line, None)
    if state == "free":
        piece.allocated_on = piece.size_id = None


def _sealed(book: Book, act: str, piece: Piece, text: str | None = None) -> None:
    edition_id = pieces.edition_of(book.session, piece)
    journal.sealed(
        book,
        act,
        {"piece": piece.id, "number": piece.number},
        _line(act, book.today, edition_id, piece, text),
        person={"text": text} if text else None,
    )


def inscribe(book: Book, piece_id: int, draft: InscribeDraft) -> Piece:
    """A number was written on its print and signed: from here on it is a print of the edition.

    Raises Refusal.
    """
    piece = pieces.get(book.session, piece_id)
    if not piece.latest or piece.state not in ("free", "allocated"):
        seen = pieces.view(book.session, piece_id)
        raise Refusal(f"{seen.shown} {pieces.what_it_is(seen)}. {pieces.free_words(book.session, seen.class_id)}")
    editions.standing(book.session, pieces.edition_of(book.session, piece))
    if piece.state == "free":
        _sealed(book, "allocated", piece)
        piece.allocated_on = book.today
    write_inscription(book, piece, draft)
    provenance.begin_holding(book, [piece_id], holder="maker", how="made", on=piece.inscribed_on)
    provenance.begin_custody(book, [piece_id], place="studio", on=piece.inscribed_on)
    record_inscribed(book, piece)
    return piece


def write_inscription(book: Book, piece: Piece, draft: InscribeDraft) -> None:
    """Set the lines that the pencil and the printing give a piece; appends no entry. Raises Refusal."""
    print_class = pieces.class_of(book.session, piece)
    edition = editions.get(book.session, print_class.edition_id)
    on = draft.on or book.today
    if on > book.today:
        raise Refusal("That day is still to come. Write the day it was signed.", field="on")
    wanted = draft.size_id or piece.size_id or editions.only_size(book.session, print_class.edition_id)
    if wanted is None:
        raise Refusal("This edition has several sizes. Say which size this print is.", field="size_id")
    _size_of(book, print_class.edition_id, wanted)
    offer = offers.in_force(book.session, wanted, on)
    run_id = runs.to_take_from(
        book.session, print_class.edition_id, wanted, on, draft.run_id, second=piece.replaces is not None
    )
    shown = editions.shown(print_class, piece.number)
    piece.state, piece.size_id, piece.inscribed_on = "inscribed", wanted, on
    piece.inscription = tidy(draft.inscription, "The inscription", limit=40, needed=False, field="inscription") or shown
    piece.inscribed_where = tidy(draft.where, "Where it is signed", limit=80, needed=False, field="where") or None
    piece.inscribed_with = tidy(draft.pencil, "What it is signed with", limit=40, needed=False, field="pencil") or None
    piece.printed_by = tidy(draft.printed_by, "The printer", limit=80, needed=False, field="printed_by") or None
    piece.printed_year, piece.printed_month = _printed(book, edition, draft, on)
    piece.paper_as_made = tidy(draft.paper_as_made, "The paper", limit=120, needed=False, field="paper_as_made") or None
    piece.offer_id, piece.run_id = offer.id, run_id
    book.session.add(piece)
    book.session.flush()


def _printed(book: Book, edition: Edition, draft: InscribeDraft, signed_on: date) -> tuple[int, int | None]:
    """Year and month of the printing; those of the signature where neither was said."""
    year, month = draft.printed_year or signed_on.year, draft.printed_month
    if draft.printed_year is None and month is None:
        month = signed_on.month
    if month is not None and not 1 <= month <= 12:
        raise Refusal(f"There is no month {month}. Write 1 to 12.", field="printed_month")
    if not works.get(book.session, edition.work_id).year_made <= year <= book.today.year:
        raise Refusal(f"{year} is not a year in which this picture could be printed.", field="printed_year")
    return year, month


def record_inscribed(book: Book, piece: Piece) -> None:
    """Append the public entry that a piece was inscribed, and its line of story."""
    assert piece.size_id is not None
    journal.public(
        book,
        "piece.inscribed",
        pieces.public_fields(book.session, piece)
        | {
            "size": piece.size_id,
            "inscription": piece.inscription or "",
            "origin": piece.origin,
            "on": (piece.inscribed_on or book.today).isoformat(),
        },
        _line("inscribed", piece.inscribed_on or book.today, pieces.edition_of(book.session, piece), piece),
    )


def _size_of(book: Book, edition_id: int, size_id: int) -> Size:
    size = book.session.get(Size, size_id)
    if size is None or size.edition_id != edition_id:
        raise Refusal("That size is not one of this edition. Choose one that was declared.", field="size_id")
    return size


def uninscribe(book: Book, piece_id: int) -> Piece:
    """Take back a tap made by mistake: the number is assigned again. Raises Refusal once more hangs on it."""
    piece = _back_to_bench(book, piece_id)
    edition_id = pieces.edition_of(book.session, piece)
    fields = pieces.public_fields(book.session, piece)
    _clear(piece, "allocated")
    book.session.add(piece)
    journal.public(book, "piece.uninscribed", fields, _line("uninscribed", book.today, edition_id, piece))
    return piece


def spoil(book: Book, piece_id: int) -> Piece:
    """Spoilt at the bench before it left: the number is free for the next sheet.

    The printing counts one more spoilt; no paper ever mentions it. Raises Refusal.
    """
    piece = _back_to_bench(book, piece_id)
    edition_id = pieces.edition_of(book.session, piece)
    fields = pieces.public_fields(book.session, piece)
    if piece.run_id is not None:
        runs.spoil_one(book, piece.run_id)
    _clear(piece, "allocated" if pieces.order_on(book.session, piece_id) else "free")
    book.session.add(piece)
    journal.public(book, "piece.spoilt", fields, _line("spoilt", book.today, edition_id, piece))
    return piece


def _back_to_bench(book: Book, piece_id: int) -> Piece:
    piece = _in_state(book, piece_id, "inscribed", "cannot go back to the bench")
    seen = pieces.view(book.session, piece_id)
    if piece.generation > 1:
        raise Refusal(f"{seen.shown} is a second print of its number. Mark it destroyed, with the reason.")
    if piece.origin == "entered":
        raise Refusal(f"{seen.shown} was made before this record. Mark it destroyed, with the reason.")
    if book.session.exec(select(Certificate.id).where(Certificate.piece_id == piece_id)).first() is not None:
        raise Refusal(f"{seen.shown} has had a certificate. Mark it destroyed, with the reason.")
    if not seen.ours or provenance.ever_away(book.session, piece_id):
        raise Refusal(f"{seen.shown} has been out of the studio. Mark it destroyed, with the reason.")
    provenance.strike_holding(book, piece)
    provenance.end_custody(book, piece_id, book.today)
    return piece


def withdraw(book: Book, piece_ids: list[int], why: str) -> list[Piece]:
    """Say of free numbers that they will never be made. Raises Refusal."""
    reason = tidy(why, "The reason", limit=300, field="why")
    withdrawn = []
    for piece_id in piece_ids:
        piece = _in_state(book, piece_id, "free", "cannot be withdrawn")
        editions.standing(book.session, pieces.edition_of(book.session, piece))
        piece.state, piece.reason = "withdrawn", reason
        book.session.add(piece)
        journal.public(
            book,
            "piece.withdrawn",
            pieces.public_fields(book.session, piece),
            _line("withdrawn", book.today, pieces.edition_of(book.session, piece), piece, reason),
        )
        withdrawn.append(piece)
    return withdrawn


def close(book: Book, edition_id: int, numbers: str, why: str, spares: Fate | None = None) -> Edition:
    """Close an edition early by naming the numbers never to be made; prints that exist keep n/N.

    `numbers` as '18-25'; empty stands for every free one. `spares`: what became of the good prints that no number is
    left for. Raises Refusal, while one of the numbers is promised and while nothing is said of such prints too.
    """
    edition = editions.standing(book.session, edition_id)
    reason = tidy(why, "The reason", limit=300, field="why")
    if edition.closed_on is not None:
        raise Refusal("This edition is closed already.")
    main = pieces.find_class(book.session, edition_id, "numbered")
    free = pieces.next_free(book.session, main.id or 0, 9999)
    try:
        named = numbering.ranges(numbers, main.count or 9999) if numbers.strip() else free
    except Refusal as no:
        raise Refusal(no.message, field="numbers") from None
    rows = book.session.exec(
        select(Piece)
        .where(Piece.class_id == main.id, col(Piece.latest), col(Piece.number).in_(named))
        .order_by(col(Piece.number))
    ).all()
    waiting = [row.number for row in rows if row.state == "allocated"]
    if waiting:
        raise Refusal(
            f"{numbering.said(waiting)} is assigned. Sign it or give it back before closing.", field="numbers"
        )
    withdraw(book, [row.id or 0 for row in rows], reason)
    settle_beyond(book, edition_id, spares, editions.to_make(book.session, edition_id))
    edition.closed_on, edition.closed_reason = book.today, reason
    book.session.add(edition)
    journal.public(
        book,
        "edition.closed",
        {"edition": edition_id, "never_made": [row.number for row in rows]},
        Touched("closed", book.today, edition_id=edition_id, text=reason),
    )
    return edition
