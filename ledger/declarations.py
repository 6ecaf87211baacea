"""Declarations: an edition is declared once, with the numbers that existed before this record."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import func
from sqlmodel import Session, col, select

from ledger import editions, journal, numbers, offers, pieces, promises, provenance
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Fields, Touched
from ledger.promises import LABELS, STYLES, BegunDraft, EditionDraft, RangeDraft, SizeDraft, Style
from ledger.reckoning import dates, numbering
from ledger.reckoning.texts import tidy
from ledger.spares import Fate, settle_beyond
from ledger.tables import Certificate, Consigned, Edition, EditionAnswer, Holding, Piece, PrintClass, SaleLine, Size


def declare(book: Book, draft: EditionDraft) -> Edition:
    """Declare an edition: its rows, one free number for each place in each class, one entry.

    Numbers that existed before this record are entered with it. What is declared can never be changed. Raises
    Refusal.
    """
    draft = promises.check(book.session, draft)
    if draft.begun is None:
        _check_not_ruled_out(book, draft.work_id)
    elif dates.parse_part(draft.begun.words).first > book.today:
        raise Refusal("That is still to come. Write when the edition was begun.", field="begun.words")
    edition = Edition(
        work_id=draft.work_id,
        ordinal=_next_ordinal(book.session, draft.work_id),
        kind=draft.kind,
        statement=draft.statement,
        later_editions=draft.later_editions,
        declared_on=book.today,
        begun_words=draft.begun.words if draft.begun else None,
    )
    book.session.add(edition)
    book.session.flush()
    classes = _write_promise(book, edition.id or 0, draft)
    journal.public(
        book,
        "edition.declared",
        _promise(edition, draft, classes),
        Touched("declared", book.today, edition_id=edition.id),
    )
    if draft.begun is not None:
        _enter(book, edition, draft.begun)
    return edition


def _check_not_ruled_out(book: Book, work_id: int) -> None:
    """Hold the maker to an earlier word. Editions declared on one day belong together: one for each size."""
    promised = book.session.exec(
        select(Edition).where(
            Edition.work_id == work_id,
            Edition.later_editions == "ruled_out",
            col(Edition.withdrawn_on).is_(None),
            Edition.declared_on < book.today,
        )
    ).first()
    if promised is not None:
        raise Refusal(
            f"On {dates.said(promised.declared_on)} you ruled out later editions of this picture, in any size or "
            "process, and its certificates say so. No other edition of it can be declared.",
            field="work_id",
        )


def _next_ordinal(session: Session, work_id: int) -> int:
    standing = select(func.max(Edition.ordinal)).where(Edition.work_id == work_id, col(Edition.withdrawn_on).is_(None))
    return (session.exec(standing).one() or 0) + 1


def _write_promise(book: Book, edition_id: int, draft: EditionDraft) -> list[PrintClass]:
    """The sizes with their first offers, the answers, and the classes with a place for every number."""
    for size in draft.sizes:
        _add_size(book, edition_id, size)
    given = draft.answers.items()
    book.write(EditionAnswer, [{"edition_id": edition_id, "item": item, **said.model_dump()} for item, said in given])
    classes = _add_classes(book, edition_id, draft)
    places = [
        {"class_id": each.id, "class_count": each.count, "number": number}
        for each in classes
        for number in range(1, each.count + 1)
    ]
    book.write(Piece, places)
    return classes


def _add_size(book: Book, edition_id: int, draft: SizeDraft) -> None:
    size = Size(
        edition_id=edition_id,
        label=draft.label,
        image_w_um=draft.image_w_um,
        image_h_um=draft.image_h_um,
        sheet_w_um=draft.sheet_w_um,
        sheet_h_um=draft.sheet_h_um,
    )
    book.session.add(size)
    book.session.flush()
    assert size.id is not None
    offers.add(book, size.id, draft.offer)


def _add_classes(book: Book, edition_id: int, draft: EditionDraft) -> list[PrintClass]:
    main: Style = draft.style or ("serial" if draft.kind == "open" else "of_count")
    classes = [
        PrintClass(
            edition_id=edition_id,
            kind="numbered",
            label=LABELS["numbered"],
            style=main,
            count=draft.count or 0,
            edition_kind=draft.kind,
        )
    ]
    for outside in draft.outside:
        classes.append(
            PrintClass(
                edition_id=edition_id,
                kind=outside.kind,
                count=outside.count,
                edition_kind=draft.kind,
                label=outside.label,
                style=outside.style or STYLES[outside.kind],
            )
        )
    book.session.add_all(classes)
    book.session.flush()
    return classes


def _promise(edition: Edition, draft: EditionDraft, classes: Sequence[PrintClass]) -> Fields:
    def measures(size: SizeDraft) -> Fields:
        fields: Fields = {"label": size.label, "image_w_um": size.image_w_um, "image_h_um": size.image_h_um}
        if size.sheet_w_um is not None:
            fields |= {"sheet_w_um": size.sheet_w_um, "sheet_h_um": size.sheet_h_um}
        return fields

    promise: Fields = {
        "edition": edition.id,
        "work": edition.work_id,
        "ordinal": edition.ordinal,
        "edition_kind": edition.kind,
        "statement": edition.statement,
        "later_editions": edition.later_editions,
        "declared_on": edition.declared_on.isoformat(),
        "classes": [{"class": c.kind, "label": c.label, "style": c.style, "count": c.count} for c in classes],
        "sizes": [measures(size) for size in draft.sizes],
        "answers": [
            {"item": item, "answer": answer.answer, "text": answer.text} for item, answer in draft.answers.items()
        ],
    }
    return promise | ({"begun": edition.begun_words} if edition.begun_words else {})


def _enter(book: Book, edition: Edition, begun: BegunDraft) -> None:
    sold = 0
    for entered in begun.ranges:
        print_class = pieces.find_class(book.session, edition.id or 0, entered.kind)
        named = numbering.ranges(entered.numbers, print_class.count or 9999)
        if print_class.count == 0:
            numbers.grow_to(book, print_class, max(named))
        _enter_range(book, edition, print_class, named, entered, begun.words)
        if entered.kind == "numbered" and entered.fate == "sold":
            sold += len(named)
    edition.sold_peak = sold
    book.session.add(edition)


def _size_named(book: Book, edition_id: int, label: str) -> Size | None:
    """The size of this name; without one the only size there is, or None for not known."""
    sizes = book.session.exec(select(Size).where(Size.edition_id == edition_id))
    fitting = [size for size in sizes if label in ("", size.label)]
    return fitting[0] if len(fitting) == 1 else None


def _enter_range(
    book: Book, edition: Edition, print_class: PrintClass, named: Sequence[int], entered: RangeDraft, words: str
) -> None:
    found = select(Piece).where(Piece.class_id == print_class.id, col(Piece.latest), col(Piece.number).in_(named))
    prints = book.session.exec(found.order_by(col(Piece.number))).all()
    ids = [piece.id or 0 for piece in prints]
    if entered.fate == "withdrawn":
        numbers.withdraw(book, ids, f"never made, as said of the time before this record ({words})")
        return
    size = _size_named(book, edition.id or 0, entered.size)
    offer = offers.in_force(book.session, size.id or 0, edition.declared_on) if size else None
    for piece in prints:
        piece.origin, piece.state = "entered", "inscribed"
        piece.size_id, piece.offer_id = (size.id, offer.id) if size and offer else (None, None)
        piece.condition = {"missing": "missing", "destroyed": "destroyed"}.get(entered.fate, "good")
        piece.inscription = editions.shown(print_class, piece.number)
    book.session.add_all(prints)
    _begin_story(book, ids, entered.fate, words)
    for piece in prints:
        _record_entered(book, edition, piece, entered.fate)


def _begin_story(book: Book, ids: Sequence[int], fate: str, words: str) -> None:
    """Whose the prints were when they were entered, and where; of a destroyed one there is neither."""
    if fate == "destroyed":
        return
    if fate in ("sold", "given"):
        holder, said, place = "unknown", f"{fate} before this record", "holder"
    else:
        holder, said, place = "maker", words, "studio" if fate == "in_hand" else "unknown"
    provenance.begin_holding(book, ids, holder=holder, how="entered", on=None, from_words=said)
    provenance.begin_custody(book, ids, place=place, on=None, since_words="before this record")


def _record_entered(book: Book, edition: Edition, piece: Piece, fate: str) -> None:
    def touched(kind: str, text: str | None = None) -> Touched:
        return Touched(kind, book.today, edition_id=edition.id, piece_id=piece.id, text=text)

    fields = pieces.public_fields(book.session, piece)
    sized = {"size": piece.size_id} if piece.size_id else {}
    journal.public(
        book,
        "piece.inscribed",
        fields | sized | {"inscription": piece.inscription or "", "origin": "entered"},
        touched("entered", fate.replace("_", " ")),
    )
    if fate == "destroyed":
        journal.public(book, "piece.destroyed", fields, touched("destroyed"))


def withdraw(book: Book, edition_id: int, why: str, spares: Fate | None = None) -> Edition:
    """Withdraw an edition as made in error: it stays in the record, counts nowhere, stands on no certificate.

    `spares`: what became of prints made for it. Raises Refusal once any number was inscribed, certified, promised or
    lent, and while nothing is said of such prints.
    """
    edition = editions.get(book.session, edition_id)
    reason = tidy(why, "The reason", limit=300, field="why")
    if edition.withdrawn_on is not None:
        raise Refusal("This edition was withdrawn already.")
    if book.session.exec(_ever_used(edition_id)).first() is not None:
        raise Refusal("A number of this edition was signed or sold. It can be closed early, not withdrawn.")
    settle_beyond(book, edition_id, spares, numbers_left=0)
    edition.withdrawn_on = book.today
    book.session.add(edition)
    journal.public(
        book,
        "edition.withdrawn",
        {"edition": edition_id},
        Touched("withdrawn_edition", book.today, edition_id=edition_id, text=reason),
    )
    return edition


def _ever_used(edition_id: int) -> Any:
    pieces = (
        select(Piece.id)
        .join(PrintClass, col(PrintClass.id) == Piece.class_id)
        .where(PrintClass.edition_id == edition_id)
    )
    used = [
        select(col(table.piece_id)).where(col(table.piece_id) == Piece.id).exists()
        for table in (Holding, Certificate, SaleLine, Consigned)
    ]
    inscribed = col(Piece.state) == "inscribed"
    return pieces.where(inscribed | used[0] | used[1] | used[2] | used[3])
