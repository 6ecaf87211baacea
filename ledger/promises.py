"""Promises: an edition as it is typed, and what is wrong with it before it is declared."""

from typing import Literal

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session

from ledger import works
from ledger.errors import Refusal
from ledger.paper.certificate import check_words
from ledger.reckoning import dates, measures, numbering, prices
from ledger.reckoning.answers import ASKED_KEYS
from ledger.reckoning.texts import tidy
from ledger.tables import Work

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
_STRICT = ConfigDict(extra="forbid", frozen=True)


class StepDraft(BaseModel):
    """From the how-manieth sale on, at which price (minor units)."""

    model_config = _STRICT
    from_sold: int
    price_minor: int


class OfferDraft(BaseModel):
    """How a size is sold from now on. Mounting left empty is said as its mount plan has it.

    The recipe says what finishing a print in this mounting costs.
    """

    model_config = _STRICT
    process: str
    paper: str
    mounting: str = ""
    mount_plan_id: int | None = None
    recipe_id: int | None = None
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


def check(session: Session, draft: EditionDraft) -> EditionDraft:
    """The draft with its texts tidied, or the first thing that has to be put right. Writes nothing.

    Raises Refusal.
    """
    work = works.get(session, draft.work_id)
    try:
        check_work(work)
    except Refusal as no:
        raise Refusal(no.message, field="work_id") from None
    _check_counts(draft)
    if not draft.sizes:
        raise Refusal("An edition has at least one size. Write its width and height.", field="sizes")
    sizes = tuple(_checked_size(size, f"sizes.{at}") for at, size in enumerate(draft.sizes))
    labels = [size.label for size in sizes]
    for at, label in enumerate(labels):
        if label in labels[:at]:
            raise Refusal(f"Two sizes are called “{label}”. Name one of them otherwise.", field=f"sizes.{at}.label")
    answers = {}
    for item, answer in draft.answers.items():
        if item not in ASKED_KEYS:
            raise Refusal(f"“{item}” is not asked of an edition.", field=f"answers.{item}")
        answers[item] = checked_answer(item, answer)
    begun = draft.begun and draft.begun.model_copy(update={"words": _begun_words(draft.begun.words)})
    checked = draft.model_copy(
        update={
            "sizes": sizes,
            "outside": tuple(_checked_class(outside, at) for at, outside in enumerate(draft.outside)),
            "answers": answers,
            "begun": begun,
            "statement": _printed(draft.statement, "The statement", "statement", limit=300),
        }
    )
    _check_ranges(checked)
    return checked


def check_work(work: Work) -> None:
    """Raises Refusal where no certificate could print the title, the name or the medium; the field is of the work."""
    for what, text, field in (
        ("The title", work.title, "title"),
        ("The artist’s name", work.artist, "artist"),
        ("The medium", work.medium, "medium"),
    ):
        check_words(what, text, field)


def _printed(typed: str, what: str, field: str, *, limit: int = 120, needed: bool = True) -> str:
    """The text, tidied. Raises Refusal, too, for what no certificate could print: a promise is never corrected."""
    text = tidy(typed, what, limit=limit, needed=needed, field=field)
    check_words(what, text, field)
    return text


def _checked_class(outside: ClassDraft, at: int) -> ClassDraft:
    label = _printed(outside.label, "The label", f"outside.{at}.label", limit=40, needed=False)
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
                f"{numbering.said(twice)} stands in two lines. Name each number once.", field=f"{field}.numbers"
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
            raise Refusal("An open edition has no count. Leave it empty, or declare a limited one.", field="count")
    elif draft.count is None or not 1 <= draft.count <= 9999:
        raise Refusal("A limited edition has from 1 to 9,999 numbers. Write how many.", field="count")
    if draft.kind == "open" and draft.style not in (None, "serial", "roman"):
        raise Refusal("An open edition has no count to write: choose No. 17, or XVII.", field="style")
    if draft.kind == "limited" and draft.style == "unnumbered" and draft.count != 1:
        raise Refusal("Only a single print can be unnumbered. Choose another way of numbering.", field="style")
    kinds = [outside.kind for outside in draft.outside]
    for at, outside in enumerate(draft.outside):
        field = f"outside.{at}.count"
        if outside.kind in kinds[:at]:
            raise Refusal(f"{LABELS[outside.kind]} stand there twice. Write them in one line.", field=field)
        if not 1 <= outside.count <= 9999:
            raise Refusal(f"Write how many {LABELS[outside.kind]} there will be, or take the line away.", field=field)
        if outside.kind == "BAT" and outside.count != 1:
            raise Refusal("There is only one bon à tirer. Write 1.", field=field)
        if outside.style == "unnumbered" and outside.count > 1:
            raise Refusal("Only a single print can be unnumbered. Choose another way of numbering.", field=field)


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
        raise Refusal("A sheet has a width and a height. Write both, or neither.", field=f"{field}.sheet_w_um")
    if (
        size.sheet_w_um is not None
        and size.sheet_h_um is not None
        and (size.sheet_w_um < size.image_w_um or size.sheet_h_um < size.image_h_um)
    ):
        raise Refusal("The sheet is smaller than the image on it. Put one of them right.", field=f"{field}.sheet_w_um")
    label = _printed(size.label, "The size’s name", f"{field}.label", limit=40, needed=False)
    return size.model_copy(
        update={
            "label": label or measures.by_measure(size.image_w_um, size.image_h_um),
            "offer": checked_offer(size.offer, f"{field}.offer"),
        }
    )


def checked_offer(offer: OfferDraft, field: str) -> OfferDraft:
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
            "process": _printed(offer.process, "The process", f"{field}.process"),
            "paper": _printed(offer.paper, "The paper", f"{field}.paper"),
            "mounting": _printed(offer.mounting, "The mounting", f"{field}.mounting", needed=False),
        }
    )


def checked_answer(item: str, answer: AnswerDraft) -> AnswerDraft:
    text = _printed(answer.text, "The answer", f"answers.{item}", limit=300, needed=answer.answer == "value")
    return answer.model_copy(update={"text": text if answer.answer == "value" else ""})
