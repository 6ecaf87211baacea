"""The shapes of a promise as both doors take it, the draft made of them, and the outside names of its parts."""

import re
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from ledger.errors import Refusal
from ledger.promises import (
    AnswerDraft,
    BegunDraft,
    ClassDraft,
    ClassKind,
    EditionDraft,
    OfferDraft,
    RangeDraft,
    SizeDraft,
    StepDraft,
    Style,
)
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import Amount, Id, Mm, Shape, Whole, Year
from ledger.works import WorkDraft

MOST = 60
"""Rows of any list: sizes, proofs, price steps, lines of numbers."""
Count = Annotated[int, Field(json_schema_extra={"minimum": 1, "maximum": 9999})]
"""How many there will be. `promises.check` says what is wrong with it, in the words of an edition."""
Fate = Literal["sold", "given", "in_hand", "missing", "destroyed", "withdrawn"]


class WorkShape(Shape):
    """An image, and who made it, when, in what medium."""

    title: str
    artist: str
    year_made: Year
    medium: str
    artist_born: Year | None = None
    artist_died: Year | None = None

    def draft(self) -> WorkDraft:
        return WorkDraft(**self.model_dump())


class OutsideShape(Shape):
    """Impressions outside the count."""

    kind: Annotated[Literal["AP", "PP", "HC", "BAT", "EP", "TP"], Field(alias="class")]
    count: Count
    label: str = ""
    style: Style | None = None


class MeasureShape(Shape):
    """A width and a height, in millimetres."""

    width_mm: Mm
    height_mm: Mm


class StepShape(Shape):
    """From the how-manieth sale on, at which price."""

    from_sold: Whole = 1
    price: Amount


class OfferShape(Shape):
    """How a size is sold from now on."""

    process: str
    paper: str
    mounting: str = ""
    mount_plan_id: Id | None = None
    recipe_id: Id | None = None
    prices: Annotated[tuple[StepShape, ...], Field(max_length=MOST)]

    def draft(self, currency: str, at: str) -> OfferDraft:
        """Raises Slips for another currency, or figures that cannot be read."""
        return OfferDraft(
            process=self.process,
            paper=self.paper,
            mounting=self.mounting,
            mount_plan_id=self.mount_plan_id,
            recipe_id=self.recipe_id,
            prices=tuple(
                StepDraft(
                    from_sold=step.from_sold, price_minor=step.price.minor(currency, f"{at}.prices.{place}.price")
                )
                for place, step in enumerate(self.prices)
            ),
        )


class SizeShape(Shape):
    """A size of the promise, and its first offer."""

    label: str = ""
    image: MeasureShape
    sheet: MeasureShape | None = None
    offer: OfferShape

    def draft(self, currency: str, at: str) -> SizeDraft:
        return SizeDraft(
            label=self.label,
            image_w_um=self.image.width_mm,
            image_h_um=self.image.height_mm,
            sheet_w_um=self.sheet.width_mm if self.sheet else None,
            sheet_h_um=self.sheet.height_mm if self.sheet else None,
            offer=self.offer.draft(currency, f"{at}.offer"),
        )


class AnswerShape(Shape):
    """The answer to one item of disclosure; words alone are a value."""

    answer: Literal["value", "not_applicable", "not_known"] = "value"
    text: str = ""

    def draft(self) -> AnswerDraft:
        return AnswerDraft(answer=self.answer, text=self.text)


class RangeShape(Shape):
    """Numbers that existed before this record, and what became of them."""

    kind: Annotated[ClassKind, Field(alias="class")] = "numbered"
    first: Annotated[Whole, Field(alias="from")]
    last: Annotated[Whole | None, Field(alias="to")] = None
    fate: Annotated[Fate, Field(alias="as")]
    size: str = ""

    def draft(self) -> RangeDraft:
        numbers = str(self.first) if self.last is None else f"{self.first}-{self.last}"
        return RangeDraft(kind=self.kind, numbers=numbers, fate=self.fate, size=self.size)


class BegunShape(Shape):
    """An edition begun before this record: when, what was stated then, and its numbers."""

    words: str
    statement: str = ""
    ranges: Annotated[tuple[RangeShape, ...], Field(max_length=400)] = ()


class PromiseShape(Shape):
    """Everything of an edition but the work it is of."""

    kind: Literal["limited", "open"]
    count: Count | None = None
    style: Style | None = None
    outside: Annotated[tuple[OutsideShape, ...], Field(max_length=MOST)] = ()
    statement: str = ""
    later_editions: Literal["ruled_out", "reserved", "not_stated"]
    answers: Annotated[dict[str, AnswerShape], Field(default_factory=dict, max_length=MOST)]
    begun: BegunShape | None = None

    def stated(self) -> str:
        """The one statement. Raises Slips where the one made then and the one made now differ."""
        then = self.begun.statement if self.begun else ""
        if then and self.statement and then != self.statement:
            raise Slips(
                [
                    Slip(
                        "begun.statement",
                        "An edition begun before this record keeps the statement made then. Leave the other out.",
                    )
                ]
            )
        return then or self.statement

    def draft_of(self, work_id: int, sizes: tuple[SizeDraft, ...], count: int | None) -> EditionDraft:
        """The draft of one edition with these sizes."""
        return EditionDraft(
            work_id=work_id,
            kind=self.kind,
            count=count,
            style=self.style,
            sizes=sizes,
            outside=tuple(
                ClassDraft(kind=each.kind, count=each.count, label=each.label, style=each.style)
                for each in self.outside
            ),
            statement=self.stated(),
            later_editions=self.later_editions,
            answers={item: answer.draft() for item, answer in self.answers.items()},
            begun=BegunDraft(words=self.begun.words, ranges=tuple(each.draft() for each in self.begun.ranges))
            if self.begun
            else None,
        )


class EditionShape(PromiseShape):
    """An edition as a program declares it."""

    work_id: Id
    sizes: Annotated[tuple[SizeShape, ...], Field(max_length=MOST)]

    def draft(self, currency: str) -> EditionDraft:
        sizes = tuple(size.draft(currency, f"sizes.{at}") for at, size in enumerate(self.sizes))
        return self.draft_of(self.work_id, sizes, self.count)


class CountedSizeShape(SizeShape):
    """A size on the form, with a count of its own where each size has one."""

    count: Count | None = None

    @model_validator(mode="before")
    @classmethod
    def _every_part(cls, value: Any) -> Any:
        # A part left wholly empty did not arrive; each of its lines is to be named, not the part.
        return {"image": {}, **value, "offer": {"prices": [{}], **value.get("offer", {})}}


class DeclareShape(PromiseShape):
    """The form: a new work or one in the book, and one edition, or one for each size."""

    kind: Literal["limited", "open"] = "limited"
    work_id: Id | None = None
    work: WorkShape | None = None
    picture_ref: str = ""
    each_counted: str = ""
    sizes: Annotated[tuple[CountedSizeShape, ...], Field(max_length=MOST)] = ()

    @model_validator(mode="before")
    @classmethod
    def _every_part(cls, value: Any) -> Any:
        if "work_id" in value:  # what stands in the lines for a new work is not meant
            return {"sizes": [{}], **{name: each for name, each in value.items() if name != "work"}}
        return {"sizes": [{}], "work": {}, **value}

    def drafts(self, work_id: int, currency: str) -> list[EditionDraft]:
        """Raises Slips."""
        sizes = [size.draft(currency, f"sizes.{at}") for at, size in enumerate(self.sizes)]
        if not self.each_counted or len(sizes) < 2:
            return [self.draft_of(work_id, tuple(sizes), self.count)]
        if self.begun is not None and self.begun.ranges:
            raise Slips(
                [
                    Slip(
                        "each_counted",
                        "Editions already under way are entered one size at a time. Declare each by itself.",
                    )
                ]
            )
        return [
            self.draft_of(work_id, (draft,), size.count or self.count)
            for draft, size in zip(sizes, self.sizes, strict=True)
        ]


@dataclass(frozen=True)
class _Name:
    inside: re.Pattern[str]
    outside: str


_NAMES = (
    _Name(re.compile(r"_w_um$"), ".width_mm"),
    _Name(re.compile(r"_h_um$"), ".height_mm"),
    _Name(re.compile(r"^(begun\.ranges\.\d+)\.numbers$"), r"\1.from"),
    _Name(re.compile(r"^(begun\.ranges\.\d+)\.kind$"), r"\1.class"),
)


def in_outside_words(refusal: Refusal, at: str = "") -> Refusal:
    """The same refusal, its field named as both doors name it, under `at` where it is a part of something."""
    if refusal.field is None:
        return refusal
    name = refusal.field
    for each in _NAMES:
        name = each.inside.sub(each.outside, name)
    return Refusal(refusal.message, field=f"{at}.{name}" if at else name, missing=refusal.missing)
