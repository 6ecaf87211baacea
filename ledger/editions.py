"""Editions: the promise of how many prints of a work will ever exist, and how they are offered now."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal, cast

from pydantic import BaseModel, ConfigDict
from sqlalchemy import func, insert
from sqlmodel import Session, col, select

from ledger import journal, works
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Fields, Touched
from ledger.reckoning import dates, numbering, prices
from ledger.reckoning.answers import ASKED_KEYS
from ledger.reckoning.dates import PartDate
from ledger.reckoning.texts import tidy
from ledger.tables import (
    Certificate,
    Consigned,
    Correction,
    Edition,
    EditionAnswer,
    Holding,
    Offer,
    Piece,
    PriceStep,
    PrintClass,
    SaleLine,
    Size,
    Work,
)

ClassKind = Literal["numbered", "AP", "PP", "HC", "BAT", "EP", "TP"]
Style = Literal["of_count", "roman_of_count", "roman", "serial", "unnumbered"]
LABELS = {
    "numbered": "the edition",
    "AP": "artist’s proofs",
    "PP": "printer’s proofs",
    "HC": "hors commerce",
    "BAT": "bon à tirer",
    "EP": "exhibition prints",
    "TP": "trial proofs",
}
STYLES: dict[str, Style] = {
    "numbered": "of_count",
    "AP": "roman_of_count",
    "PP": "of_count",
    "HC": "roman_of_count",
    "BAT": "unnumbered",
    "EP": "of_count",
    "TP": "of_count",
}
OFFER_FIELDS = {"process": "The process", "paper": "The paper", "mounting": "The mounting"}
_STRICT = ConfigDict(extra="forbid", frozen=True)


class StepDraft(BaseModel):
    """From the how-manieth sale on, at which price (minor units)."""

    model_config = _STRICT
    from_sold: int
    price_minor: int


class OfferDraft(BaseModel):
    """How a size is sold from now on."""

    model_config = _STRICT
    process: str
    paper: str
    mounting: str = ""
    prices: tuple[StepDraft, ...]


class SizeDraft(BaseModel):
    """A size of the promise, in micrometres, and its first offer."""

    model_config = _STRICT
    label: str = ""
    image_w_um: int
    image_h_um: int
    sheet_w_um: int | None = None
    sheet_h_um: int | None = None
    offer: OfferDraft


class ClassDraft(BaseModel):
    """Impressions outside the count."""

    model_config = _STRICT
    kind: Literal["AP", "PP", "HC", "BAT", "EP", "TP"]
    count: int
    label: str = ""
    style: Style | None = None


class AnswerDraft(BaseModel):
    """The answer to one item of disclosure."""

    model_config = _STRICT
    answer: Literal["value", "not_applicable", "not_known"]
    text: str = ""


class RangeDraft(BaseModel):
    """Numbers that existed before this record, as '1-11, 14', and what became of them."""

    model_config = _STRICT
    kind: ClassKind = "numbered"
    numbers: str
    fate: Literal["sold", "given", "in_hand", "missing", "destroyed", "withdrawn"]
    size: str = ""


class BegunDraft(BaseModel):
    """An edition that was begun before this record: when, in the maker's words, and its numbers."""

    model_config = _STRICT
    words: str
    ranges: tuple[RangeDraft, ...] = ()


class EditionDraft(BaseModel):
    """The whole promise, as it is read back before it is declared."""

    model_config = _STRICT
    work_id: int
    kind: Literal["limited", "open"]
    count: int | None = None
    style: Style | None = None
    outside: tuple[ClassDraft, ...] = ()
    sizes: tuple[SizeDraft, ...]
    statement: str
    later_editions: Literal["ruled_out", "reserved", "not_stated"]
    answers: dict[str, AnswerDraft] = {}
    begun: BegunDraft | None = None


@dataclass(frozen=True)
class ClassFacts:
    """A class of an edition: how many, how they are called and written."""

    id: int
    kind: str
    label: str
    style: str
    count: int


@dataclass(frozen=True)
class OfferFacts:
    """What is offered of a size now."""

    id: int
    from_on: date
    process: str
    paper: str
    mounting: str
    steps: tuple[tuple[int, int], ...]


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


def check(session: Session, draft: EditionDraft) -> EditionDraft:
    """The draft with its texts tidied, or the first thing that has to be put right. Writes nothing.

    Raises Refusal.
    """
    works.get(session, draft.work_id)
    _check_counts(draft)
    if not draft.sizes:
        raise Refusal("An edition has at least one size. Write its width and height.", field="sizes")
    sizes = tuple(_checked_size(size, f"sizes.{at}") for at, size in enumerate(draft.sizes))
    labels = [size.label for size in sizes]
    for at, label in enumerate(labels):
        if label in labels[:at]:
            raise Refusal(
                f"Two sizes are called “{label}”. Name one of them otherwise.", field=f"sizes.{at}.label"
            )
    answers = {}
    for item, answer in draft.answers.items():
        if item not in ASKED_KEYS:
            raise Refusal(f"“{item}” is not asked of an edition.", field=f"answers.{item}")
        answers[item] = _checked_answer(item, answer)
    begun = draft.begun and draft.begun.model_copy(update={"words": _begun_words(draft.begun.words)})
    checked = draft.model_copy(
        update={
            "sizes": sizes,
            "outside": tuple(_checked_class(outside, at) for at, outside in enumerate(draft.outside)),
            "answers": answers,
            "begun": begun,
            "statement": tidy(draft.statement, "The statement", limit=300, field="statement"),
        }
    )
    _check_ranges(checked)
    return checked


def _checked_class(outside: ClassDraft, at: int) -> ClassDraft:
    label = tidy(outside.label, "The label", limit=40, needed=False, field=f"outside.{at}.label")
    return outside.model_copy(update={"label": label or outside.kind})


def _check_ranges(draft: EditionDraft) -> None:
    counts = {"numbered": draft.count or 0} | {each.kind: each.count for each in draft.outside}
    named: dict[str, set[int]] = {kind: set() for kind in counts}
    for at, entered in enumerate(draft.begun.ranges if draft.begun else ()):
        field = f"begun.ranges.{at}"
        if entered.kind not in counts:
            raise Refusal(
                f"This edition has no {entered.kind}. Declare them beside it, or take the line away.",
                field=f"{field}.kind",
            )
        try:
            numbers = numbering.ranges(entered.numbers, counts[entered.kind] or 9999)
        except Refusal as no:
            raise Refusal(no.message, field=f"{field}.numbers") from None
        if twice := named[entered.kind].intersection(numbers):
            raise Refusal(
                f"{numbering.said(twice)} stands in two lines. Name each number once.",
                field=f"{field}.numbers",
            )
        named[entered.kind].update(numbers)
        if entered.size and entered.size not in [size.label for size in draft.sizes]:
            raise Refusal(f"No size of this edition is called “{entered.size}”.", field=f"{field}.size")


def left_free(draft: EditionDraft) -> dict[str, list[int]]:
    """Of an edition under way, the numbers of each class that stand in no range and so stay free.

    For a draft that `check` has let through.
    """
    counts = {"numbered": draft.count or 0} | {each.kind: each.count for each in draft.outside}
    free = {kind: set(range(1, count + 1)) for kind, count in counts.items()}
    for entered in draft.begun.ranges if draft.begun else ():
        free[entered.kind].difference_update(numbering.ranges(entered.numbers, counts[entered.kind] or 9999))
    return {kind: sorted(numbers) for kind, numbers in free.items() if numbers}


def _begun_words(typed: str) -> str:
    try:
        return dates.parse_part(typed).written()
    except Refusal as no:
        raise Refusal(no.message, field="begun.words") from None


def _check_counts(draft: EditionDraft) -> None:
    if draft.kind == "open":
        if draft.count:
            raise Refusal(
                "An open edition has no count. Leave it empty, or declare a limited one.", field="count"
            )
    elif draft.count is None or not 1 <= draft.count <= 9999:
        raise Refusal("A limited edition has from 1 to 9,999 numbers. Write how many.", field="count")
    if draft.kind == "open" and draft.style not in (None, "serial", "roman"):
        raise Refusal("An open edition has no count to write: choose No. 17, or XVII.", field="style")
    if draft.kind == "limited" and draft.style == "unnumbered" and draft.count != 1:
        raise Refusal(
            "Only a single print can be unnumbered. Choose another way of numbering.", field="style"
        )
    kinds = [outside.kind for outside in draft.outside]
    for at, outside in enumerate(draft.outside):
        field = f"outside.{at}.count"
        if outside.kind in kinds[:at]:
            raise Refusal(f"{LABELS[outside.kind]} stand there twice. Write them in one line.", field=field)
        if not 1 <= outside.count <= 9999:
            raise Refusal(
                f"Write how many {LABELS[outside.kind]} there will be, or take the line away.", field=field
            )
        if outside.kind == "BAT" and outside.count != 1:
            raise Refusal("There is only one bon à tirer. Write 1.", field=field)
        if outside.style == "unnumbered" and outside.count > 1:
            raise Refusal(
                "Only a single print can be unnumbered. Choose another way of numbering.", field=field
            )


def _checked_size(size: SizeDraft, field: str) -> SizeDraft:
    for name, um in (
        ("image_w_um", size.image_w_um),
        ("image_h_um", size.image_h_um),
        ("sheet_w_um", size.sheet_w_um),
        ("sheet_h_um", size.sheet_h_um),
    ):
        if um is not None and not 1_000 <= um <= 10_000_000:
            raise Refusal("A side measures between 1 mm and 10 m. Write it in mm.", field=f"{field}.{name}")
    if (size.sheet_w_um is None) != (size.sheet_h_um is None):
        raise Refusal(
            "A sheet has a width and a height. Write both, or neither.", field=f"{field}.sheet_w_um"
        )
    if (
        size.sheet_w_um is not None
        and size.sheet_h_um is not None
        and (size.sheet_w_um < size.image_w_um or size.sheet_h_um < size.image_h_um)
    ):
        raise Refusal(
            "The sheet is smaller than the image on it. Put one of them right.", field=f"{field}.sheet_w_um"
        )
    label = tidy(size.label, "The size’s name", limit=40, needed=False, field=f"{field}.label")
    return size.model_copy(
        update={
            "label": label or by_measure(size.image_w_um, size.image_h_um),
            "offer": _checked_offer(size.offer, f"{field}.offer"),
        }
    )


def _checked_offer(offer: OfferDraft, field: str) -> OfferDraft:
    try:
        prices.check_steps([(step.from_sold, step.price_minor) for step in offer.prices])
    except Refusal as no:
        raise Refusal(no.message, field=f"{field}.{no.field}") from None
    for at, step in enumerate(offer.prices):
        if step.from_sold > 9999:
            raise Refusal(
                "No edition has more than 9,999 numbers. Start the step earlier.",
                field=f"{field}.prices.{at}.from_sold",
            )
        if step.price_minor >= 10**15:
            raise Refusal("That price is too long. Look at it again.", field=f"{field}.prices.{at}.price")
    return offer.model_copy(
        update={
            "process": tidy(offer.process, "The process", limit=120, field=f"{field}.process"),
            "paper": tidy(offer.paper, "The paper", limit=120, field=f"{field}.paper"),
            "mounting": tidy(
                offer.mounting, "The mounting", limit=120, needed=False, field=f"{field}.mounting"
            ),
        }
    )


def _checked_answer(item: str, answer: AnswerDraft) -> AnswerDraft:
    text = tidy(
        answer.text, "The answer", limit=300, needed=answer.answer == "value", field=f"answers.{item}"
    )
    return answer.model_copy(update={"text": text if answer.answer == "value" else ""})


def by_measure(width_um: int, height_um: int) -> str:
    """'127 × 127 mm'."""
    return f"{millimetres(width_um)} × {millimetres(height_um)} mm"


def millimetres(um: int) -> str:
    """'127' or '101.6'."""
    return f"{um // 1000}" if um % 1000 == 0 else f"{um / 1000:.3f}".rstrip("0")


def declare(book: Book, draft: EditionDraft) -> Edition:
    """Declare an edition: its rows, one free number for each place in each class, one entry.

    What is declared here can never be changed. Raises Refusal.
    """
    draft = check(book.session, draft)
    if draft.begun and dates.parse_part(draft.begun.words).first > book.today:
        raise Refusal("That is still to come. Write when the edition was begun.", field="begun.words")
    if draft.begun is None:
        _check_not_ruled_out(book, draft.work_id)
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
    assert edition.id is not None
    for size in draft.sizes:
        _add_size(book, edition.id, size)
    classes = _add_classes(book, edition, draft)
    for item, answer in draft.answers.items():
        book.session.add(
            EditionAnswer(edition_id=edition.id, item=item, answer=answer.answer, text=answer.text)
        )
    places = [
        {"class_id": each.id, "class_count": each.count, "number": number}
        for each in classes
        for number in range(1, each.count + 1)
    ]
    if places:
        book.session.execute(insert(Piece), places)
    journal.public(
        book,
        "edition.declared",
        _promise(edition, draft, classes),
        Touched("declared", book.today, edition_id=edition.id),
    )
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
    standing = select(func.max(Edition.ordinal)).where(
        Edition.work_id == work_id, col(Edition.withdrawn_on).is_(None)
    )
    return (session.exec(standing).one() or 0) + 1


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
    _add_offer(book, size.id, draft.offer)


def _add_offer(book: Book, size_id: int, draft: OfferDraft) -> int:
    offer = Offer(
        size_id=size_id, from_on=book.today, process=draft.process, paper=draft.paper, mounting=draft.mounting
    )
    book.session.add(offer)
    book.session.flush()
    assert offer.id is not None
    for step in draft.prices:
        book.session.add(PriceStep(offer_id=offer.id, from_sold=step.from_sold, price_minor=step.price_minor))
    return offer.id


def _add_classes(book: Book, edition: Edition, draft: EditionDraft) -> list[PrintClass]:
    assert edition.id is not None
    main: Style = draft.style or ("serial" if draft.kind == "open" else "of_count")
    classes = [
        PrintClass(
            edition_id=edition.id,
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
                edition_id=edition.id,
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
            {"item": item, "answer": answer.answer, "text": answer.text}
            for item, answer in draft.answers.items()
        ],
    }
    return promise | ({"begun": edition.begun_words} if edition.begun_words else {})


def answer(book: Book, edition_id: int, item: str, draft: AnswerDraft) -> None:
    """Answer one item of disclosure, or answer it better; papers that are out keep the earlier answer.

    Raises Refusal.
    """
    edition = standing(book.session, edition_id)
    if item not in ASKED_KEYS:
        raise Refusal(f"“{item}” is not asked of an edition.", field="item")
    draft = _checked_answer(item, draft)
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
        select(EditionAnswer)
        .where(EditionAnswer.edition_id == edition_id)
        .order_by(col(EditionAnswer.version))
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
    offer_id = _add_offer(book, size_id, _checked_offer(draft, "offer"))
    journal.sealed(
        book,
        "priced",
        {"size": size_id, "offer": offer_id, "steps": [[s.from_sold, s.price_minor] for s in draft.prices]},
        Touched("priced", book.today, edition_id=size.edition_id),
    )
    offer = book.session.get(Offer, offer_id)
    assert offer is not None
    return offer


def correct_offer(book: Book, offer_id: int, field: str, new: str, why: str) -> OfferFacts:
    """Put the wording of a process, a paper or a mounting right; papers that are out keep their words.

    The row stays as it was written; what holds now is read over it. Raises Refusal.
    """
    if field not in OFFER_FIELDS:
        raise Refusal(f"“{field}” is no line of an offer. Choose {', '.join(OFFER_FIELDS)}.", field="field")
    before = offer(book.session, offer_id)
    edition_id = book.session.exec(
        select(Size.edition_id).join(Offer, col(Offer.size_id) == Size.id).where(Offer.id == offer_id)
    ).one()
    standing(book.session, edition_id)
    written = tidy(new, OFFER_FIELDS[field], limit=120, needed=field != "mounting", field="new")
    reason = tidy(why, "The reason", limit=300, field="why")
    old = getattr(before, field)
    if written == old:
        raise Refusal(f"{OFFER_FIELDS[field]} says so already.", field="new")
    seq = journal.sealed(
        book,
        "offer_corrected",
        {"offer": offer_id, "field": field},
        Touched("corrected", book.today, edition_id=edition_id),
        person={"old": old, "new": written, "why": reason},
    )
    book.session.add(
        Correction(entry_seq=seq, offer_id=offer_id, field=field, old=old, new=written, why=reason)
    )
    book.session.flush()
    return offer(book.session, offer_id)


def withdraw(book: Book, edition_id: int, why: str) -> Edition:
    """Withdraw an edition as made in error: it stays in the record, counts nowhere, stands on no certificate.

    Raises Refusal once any number was inscribed, certified, promised or lent.
    """
    edition = get(book.session, edition_id)
    reason = tidy(why, "The reason", limit=300, field="why")
    if edition.withdrawn_on is not None:
        raise Refusal("This edition was withdrawn already.")
    if book.session.exec(_ever_used(edition_id)).first() is not None:
        raise Refusal("A number of this edition was signed or sold. It can be closed early, not withdrawn.")
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


def facts(session: Session, edition_id: int, day: date) -> EditionFacts:
    """The edition with work, classes, sizes and the offers in force on a day. Raises Refusal (missing)."""
    edition = get(session, edition_id)
    classes = session.exec(
        select(PrintClass).where(PrintClass.edition_id == edition_id).order_by(col(PrintClass.id))
    )
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
                offer_on(session, s.id or 0, day),
            )
            for s in sizes
        ),
    )


def only_size(session: Session, edition_id: int) -> int | None:
    """The id of the size of an edition in one size; None where there are several."""
    sizes = session.exec(select(Size.id).where(Size.edition_id == edition_id).limit(2)).all()
    return sizes[0] if len(sizes) == 1 else None


def offer_on(session: Session, size_id: int, day: date) -> OfferFacts:
    """The offer of a size in force on a day; before the first one, the first."""
    offers = list(
        session.exec(
            select(Offer).where(Offer.size_id == size_id).order_by(col(Offer.from_on), col(Offer.id))
        )
    )
    if not offers:
        raise Refusal(f"No size has the number {size_id}.", missing=True)
    return _offer_facts(
        session, next((each for each in reversed(offers) if each.from_on <= day), offers[0])
    )


def offer(session: Session, offer_id: int) -> OfferFacts:
    """One offer, its wording as put right since. Raises Refusal (missing)."""
    row = session.get(Offer, offer_id)
    if row is None:
        raise Refusal(f"No offer has the number {offer_id}.", missing=True)
    return _offer_facts(session, row)


def _offer_facts(session: Session, row: Offer) -> OfferFacts:
    said = {field: getattr(row, field) for field in OFFER_FIELDS}
    for fix in session.exec(
        select(Correction).where(Correction.offer_id == row.id).order_by(col(Correction.entry_seq))
    ):
        said[fix.field] = fix.new
    steps = session.exec(
        select(PriceStep).where(PriceStep.offer_id == row.id).order_by(col(PriceStep.from_sold))
    )
    return OfferFacts(
        id=row.id or 0,
        from_on=row.from_on,
        steps=tuple((step.from_sold, step.price_minor) for step in steps),
        **said,
    )


def listing(session: Session) -> list[Edition]:
    """Every edition that stands, newest first."""
    return list(
        session.exec(
            select(Edition).where(col(Edition.withdrawn_on).is_(None)).order_by(col(Edition.id).desc())
        )
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
            .where(
                Edition.work_id == edition.work_id,
                Edition.id != edition.id,
                col(Edition.withdrawn_on).is_(None),
            )
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
        .where(
            Edition.work_id == work_id,
            PrintClass.count == 0,
            col(Edition.withdrawn_on).is_(None),
            Piece.latest,
        )
    )
    return int(session.exec(declared).one()) + int(session.exec(made).one())


def corrections(session: Session, edition: Edition) -> list[Correction]:
    """What was put right about the edition's work, oldest first."""
    return works.corrections(session, edition.work_id)


def outside_in_words(classes: Sequence[ClassFacts]) -> str:
    """'3 artist’s proofs, 1 bon à tirer', or 'none'."""
    said = [f"{each.count} {_counted(each)}" for each in classes if each.kind != "numbered"]
    return ", ".join(said) or "none"


def _counted(each: ClassFacts) -> str:
    name = LABELS[each.kind]
    return name[:-1] if each.count == 1 and name.endswith("s") else name


def shown(each: ClassFacts, number: int) -> str:
    """A number as it is written: '7/25', 'AP II/III', 'No. 17', 'BAT'."""
    label = "" if each.kind == "numbered" else each.label
    return numbering.shown(cast(Style, each.style), number, each.count, label)
