"""Promises: what cannot be kept is refused beside its field, before anything is written."""

from datetime import date

import pytest
from sqlalchemy import Engine

from ledger import declarations, promises
from ledger.database import reading
from ledger.promises import AnswerDraft, BegunDraft, ClassDraft, EditionDraft, RangeDraft, StepDraft
from tests.cast import acting, offer, opened, promise, refused, size

JUNE_1 = date(2026, 6, 1)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"count": 0}, "count"),
        ({"count": -1}, "count"),
        ({"count": 10**9}, "count"),
        ({"count": None}, "count"),
        ({"count": 10_000}, "count"),
        ({"kind": "open"}, "count"),
        ({"kind": "open", "count": None, "style": "of_count"}, "style"),
        ({"kind": "open", "count": None, "style": "roman_of_count"}, "style"),
        ({"style": "unnumbered"}, "style"),
        ({"outside": (ClassDraft(kind="AP", count=0),)}, "outside.0.count"),
        ({"outside": (ClassDraft(kind="AP", count=10**9),)}, "outside.0.count"),
        ({"outside": (ClassDraft(kind="BAT", count=2),)}, "outside.0.count"),
        ({"outside": (ClassDraft(kind="AP", count=1), ClassDraft(kind="AP", count=2))}, "outside.1.count"),
        ({"outside": (ClassDraft(kind="AP", count=3, style="unnumbered"),)}, "outside.0.count"),
        ({"outside": (ClassDraft(kind="AP", count=3, label="A" * 10_000),)}, "outside.0.label"),
        ({"sizes": ()}, "sizes"),
        ({"sizes": (size(0, 127),)}, "sizes.0.image_w_um"),
        ({"sizes": (size(127, -1),)}, "sizes.0.image_h_um"),
        ({"sizes": (size(127, 10**9),)}, "sizes.0.image_h_um"),
        ({"sizes": (size(sheet_w_um=180_000),)}, "sizes.0.sheet_w_um"),
        ({"sizes": (size(sheet_w_um=100_000, sheet_h_um=200_000),)}, "sizes.0.sheet_w_um"),
        ({"sizes": (size(), size())}, "sizes.1.label"),
        ({"sizes": (size(offer=offer((2, 6500))),)}, "sizes.0.offer.prices.0.from_sold"),
        ({"sizes": (size(offer=offer((1, 0))),)}, "sizes.0.offer.prices.0.price"),
        ({"sizes": (size(offer=offer((1, 10**18))),)}, "sizes.0.offer.prices.0.price"),
        ({"sizes": (size(offer=offer((1, 6500), (10**12, 7500))),)}, "sizes.0.offer.prices.1.from_sold"),
        ({"sizes": (size(offer=offer(process="\u202eevil")),)}, "sizes.0.offer.process"),
        ({"statement": ""}, "statement"),
        ({"statement": "One of twelve. 十二枚"}, "statement"),
        ({"sizes": (size(label="小"),)}, "sizes.0.label"),
        ({"sizes": (size(offer=offer(paper="和紙")),)}, "sizes.0.offer.paper"),
        ({"sizes": (size(offer=offer(process="顔料")),)}, "sizes.0.offer.process"),
        ({"outside": (ClassDraft(kind="AP", count=3, label="試刷"),)}, "outside.0.label"),
        ({"answers": {"marks": AnswerDraft(answer="value", text="印")}}, "answers.marks"),
        ({"answers": {"weather": AnswerDraft(answer="not_known")}}, "answers.weather"),
        ({"answers": {"marks": AnswerDraft(answer="value", text=" ")}}, "answers.marks"),
        ({"begun": BegunDraft(words="a while ago")}, "begun.words"),
    ],
)
def test_a_promise_that_cannot_be_kept_is_refused_beside_its_field(
    sqlite_engine: Engine, changes: dict[str, object], field: str
) -> None:
    opened(sqlite_engine)
    with refused("") as refusal, reading(sqlite_engine) as session:
        promises.check(session, promise(**changes))
    assert refusal.value.field == field
    with refused(""), acting(sqlite_engine) as book:
        declarations.declare(book, promise(**changes))


@pytest.mark.parametrize(
    ("ranges", "why"),
    [
        (("numbered", "1-12", "12-14"), "12 stands in two lines"),
        (("numbered", "1-41", "2"), "There is no number 41. The highest is 40."),
        (("numbered", "1-x", "2"), "“x” is not a whole number"),
        (("AP", "1", "2"), "This edition has no AP"),
    ],
)
def test_ranges_of_an_edition_under_way_are_checked_before_anything_is_written(
    sqlite_engine: Engine, ranges: tuple[promises.ClassKind, str, str], why: str
) -> None:
    opened(sqlite_engine)
    kind, *lines = ranges
    begun = BegunDraft(words="2011", ranges=tuple(RangeDraft(kind=kind, numbers=line, fate="sold") for line in lines))
    with refused(why), reading(sqlite_engine) as session:
        promises.check(session, promise(count=40, outside=(), begun=begun))


def test_a_range_names_a_size_that_was_declared(sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    begun = BegunDraft(words="2011", ranges=(RangeDraft(numbers="1-3", fate="sold", size="huge"),))
    with refused("No size of this edition is called “huge”"), reading(sqlite_engine) as session:
        promises.check(session, promise(begun=begun))


def test_steps_are_kept_in_order(engine: Engine) -> None:
    draft = EditionDraft.model_validate(promise().model_dump())
    assert draft.sizes[0].offer.prices[1] == StepDraft(from_sold=11, price_minor=7500)
