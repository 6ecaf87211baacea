"""Editions: what was declared, and what becomes of it after."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import cast

from sqlalchemy import func
from sqlmodel import Session, col, select

from ledger import journal, offers, works
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.offers import OfferFacts
from ledger.promises import LABELS, AnswerDraft, OfferDraft, checked_answer, checked_offer
from ledger.reckoning import dates, numbering
from ledger.reckoning.answers import ASKED_KEYS
from ledger.reckoning.dates import PartDate
from ledger.tables import Edition, EditionAnswer, Offer, Piece, PrintClass, Size, Work


@dataclass(frozen=True)
class ClassFacts:
    """A class of an edition: how many, how they are called and written."""

    id: int
    kind: str
    label: str
    style: str
    count: int


@dataclass(frozen=True)
class SizeFacts:
    """A size of an edition, in micrometres, and its present offer."""

    id: int
    label: str
    image_w_um: int
    image_h_um: int
    sheet_w_um: int | None
    sheet_h_um: int | None
    offer: OfferFacts


@dataclass(frozen=True)
class EditionFacts:
    """An edition as it was declared, with the work and what is offered now."""

    edition: Edition
    work: Work
    classes: tuple[ClassFacts, ...]
    sizes: tuple[SizeFacts, ...]

    @property
    def numbered(self) -> ClassFacts:
        return next(each for each in self.classes if each.kind == "numbered")

    @property
    def outside(self) -> tuple[ClassFacts, ...]:
        return tuple(each for each in self.classes if each.kind != "numbered")

    @property
    def total(self) -> int:
        """Everything that may exist, proofs included; of an open edition only what stands outside."""
        return sum(each.count for each in self.classes)


def answer(book: Book, edition_id: int, item: str, draft: AnswerDraft) -> None:
    """Answer one item of disclosure, or answer it better; papers that are out keep the earlier answer.

    Raises Refusal.
    """
    edition = standing(book.session, edition_id)
    if item not in ASKED_KEYS:
        raise Refusal(f"“{item}” is not asked of an edition.", field="item")
    draft = checked_answer(item, draft)
    before = answers(book.session, edition_id).get(item)
    if before is not None and (before.answer, before.text) == (draft.answer, draft.text):
        raise Refusal("It is answered so already.", field=f"answers.{item}")
    version = 1 if before is None else before.version + 1
    book.session.add(
        EditionAnswer(edition_id=edition_id, item=item, version=version, answer=draft.answer, text=draft.text)
    )
    journal.sealed(
        book,
        "answered",
        {"edition": edition_id, "item": item, "version": version, "answer": draft.answer},
        Touched("answered", book.today, edition_id=edition.id),
        person={"text": draft.text},
    )


def answers(session: Session, edition_id: int) -> dict[str, EditionAnswer]:
    """The present answer to each item that has one."""
    rows = session.exec(
        select(EditionAnswer).where(EditionAnswer.edition_id == edition_id).order_by(col(EditionAnswer.version))
    )
    return {row.item: row for row in rows}


def new_offer(book: Book, size_id: int, draft: OfferDraft) -> Offer:
    """Offer a size otherwise from today: for prints to come and prices to come. Earlier offers are kept.

    Raises Refusal.
    """
    size = book.session.get(Size, size_id)
    if size is None:
        raise Refusal(f"No size has the number {size_id}.", missing=True)
    standing(book.session, size.edition_id)
    draft, before = checked_offer(draft, "offer"), offers.in_force(book.session, size_id, book.today)
    another = draft.mount_plan_id != before.mount_plan_id
    if another and draft.mounting == before.mounting != offers.mounting_by_hand(book.session, before):
        raise Refusal(
            "These are the words of the mount plan it was offered in. Leave them out, or write others.",
            field="offer.mounting",
        )
    offer_id = offers.add(book, size_id, draft)
    steps = [[step.from_sold, step.price_minor] for step in draft.prices]
    journal.sealed(
        book,
        "priced",
        {
            "size": size_id,
            "offer": offer_id,
            "steps": steps,
            "mount_plan": draft.mount_plan_id or 0,
            "recipe": draft.recipe_id or 0,
        },
        Touched("priced", book.today, edition_id=size.edition_id),
    )
    offer = book.session.get(Offer, offer_id)
    assert offer is not None
    return offer


def get(session: Session, edition_id: int) -> Edition:
    """Raises Refusal (missing)."""
    edition = session.get(Edition, edition_id)
    if edition is None:
        raise Refusal(f"No edition has the number {edition_id}.", missing=True)
    return edition


def standing(session: Session, edition_id: int) -> Edition:
    """The edition, if it still stands. Raises Refusal for one withdrawn or missing."""
    edition = get(session, edition_id)
    if edition.withdrawn_on is not None:
        raise Refusal("This edition was withdrawn as declared by mistake. Nothing more happens to it.")
    return edition


def to_make(session: Session, edition_id: int, *, proofs: bool = True) -> int:
    """How many of its numbers, and of its proofs, were not made yet and still may be."""
    waiting = (
        select(func.count())
        .select_from(Piece)
        .join(PrintClass, col(PrintClass.id) == Piece.class_id)
        .where(PrintClass.edition_id == edition_id, col(Piece.latest))
        .where(col(Piece.state).in_(("free", "allocated")))
    )
    return session.exec(waiting if proofs else waiting.where(PrintClass.kind == "numbered")).one()


def ended(session: Session, edition_id: int) -> bool:
    """Whether no print of an edition will be made any more: it was withdrawn, or closed and no number is left."""
    edition = get(session, edition_id)
    return edition.withdrawn_on is not None or (edition.closed_on is not None and not to_make(session, edition_id))


def facts(session: Session, edition_id: int, day: date) -> EditionFacts:
    """The edition with work, classes, sizes and the offers in force on a day. Raises Refusal (missing)."""
    edition = get(session, edition_id)
    classes = session.exec(select(PrintClass).where(PrintClass.edition_id == edition_id).order_by(col(PrintClass.id)))
    sizes = session.exec(select(Size).where(Size.edition_id == edition_id).order_by(col(Size.id)))
    return EditionFacts(
        edition,
        works.get(session, edition.work_id),
        tuple(ClassFacts(c.id or 0, c.kind, c.label, c.style, c.count) for c in classes),
        tuple(
            SizeFacts(
                s.id or 0,
                s.label,
                s.image_w_um,
                s.image_h_um,
                s.sheet_w_um,
                s.sheet_h_um,
                offers.in_force(session, s.id or 0, day),
            )
            for s in sizes
        ),
    )


def only_size(session: Session, edition_id: int) -> int | None:
    """The id of the size of an edition in one size; None where there are several."""
    sizes = session.exec(select(Size.id).where(Size.edition_id == edition_id).limit(2)).all()
    return sizes[0] if len(sizes) == 1 else None


def listing(session: Session) -> list[Edition]:
    """Every edition that stands, newest first."""
    return list(
        session.exec(select(Edition).where(col(Edition.withdrawn_on).is_(None)).order_by(col(Edition.id).desc()))
    )


def began(edition: Edition) -> PartDate:
    """When an edition was begun: as was said, if that was before this record; else when it was declared."""
    if edition.begun_words:
        return dates.parse_part(edition.begun_words)
    day = edition.declared_on
    return PartDate(day.year, day.month, day.day)


def siblings(session: Session, edition: Edition) -> list[Edition]:
    """The other editions of the same work that stand, in order."""
    return list(
        session.exec(
            select(Edition)
            .where(Edition.work_id == edition.work_id, Edition.id != edition.id, col(Edition.withdrawn_on).is_(None))
            .order_by(col(Edition.ordinal))
        )
    )


def total_of_work(session: Session, work_id: int) -> int:
    """How many prints the editions of a work allow, over all sizes, proofs included; open ones as made."""
    declared = (
        select(func.coalesce(func.sum(PrintClass.count), 0))
        .join(Edition, col(Edition.id) == PrintClass.edition_id)
        .where(Edition.work_id == work_id, col(Edition.withdrawn_on).is_(None))
    )
    made = (
        select(func.count())
        .select_from(Piece)
        .join(PrintClass, col(PrintClass.id) == Piece.class_id)
        .join(Edition, col(Edition.id) == PrintClass.edition_id)
        .where(Edition.work_id == work_id, PrintClass.count == 0, col(Edition.withdrawn_on).is_(None), Piece.latest)
    )
    return int(session.exec(declared).one()) + int(session.exec(made).one())


def outside_in_words(classes: Sequence[ClassFacts]) -> str:
    """'3 artist’s proofs, 1 bon à tirer', or 'none'."""
    said = [f"{each.count} {_counted(each)}" for each in classes if each.kind != "numbered"]
    return ", ".join(said) or "none"


def _counted(each: ClassFacts) -> str:
    name = LABELS[each.kind]
    return name[:-1] if each.count == 1 and name.endswith("s") else name


def shown(each: ClassFacts | PrintClass, number: int) -> str:
    """A number as it is written: '7/25', 'AP II/III', 'No. 17', 'BAT'."""
    label = "" if each.kind == "numbered" else each.label
    return numbering.shown(cast(numbering.Style, each.style), number, each.count, label)
