"""Editions: what is promised is fixed; what was typed in error goes while nothing stands on it."""

from datetime import date

import pytest
from sqlalchemy import Engine
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from ledger import certificates, checks, editions, numbers, pieces, search
from ledger.database import reading
from ledger.editions import AnswerDraft, BegunDraft, ClassDraft, EditionDraft, RangeDraft, StepDraft
from ledger.tables import Piece, PrintClass, Size
from tests.cast import (
    TITLE,
    acting,
    certified,
    declared,
    drawer,
    made,
    offer,
    opened,
    promise,
    refused,
    road,
    seen,
    size,
    standings,
)

JUNE_1 = date(2026, 6, 1)


def test_declaring_gives_every_number_of_every_class_a_place(engine: Engine) -> None:
    road(engine)
    assert standings(engine) == {"free": 25}
    assert standings(engine, kind="AP") == {"free": 3}
    assert standings(engine, kind="BAT") == {"free": 1}
    with reading(engine) as session:
        run = [each.shown for each in pieces.run_of(session, 1)]
    assert run[0] == "1/25" and run[24] == "25/25"
    assert run[25:] == ["AP I/III", "AP II/III", "AP III/III", "BAT"]


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
        editions.check(session, promise(**changes))
    assert refusal.value.field == field
    with refused(""), acting(sqlite_engine) as book:
        numbers.declare(book, promise(**changes))


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
    sqlite_engine: Engine, ranges: tuple[editions.ClassKind, str, str], why: str
) -> None:
    opened(sqlite_engine)
    kind, *lines = ranges
    begun = BegunDraft(
        words="2011", ranges=tuple(RangeDraft(kind=kind, numbers=line, fate="sold") for line in lines)
    )
    with refused(why), reading(sqlite_engine) as session:
        editions.check(session, promise(count=40, outside=(), begun=begun))


def test_a_range_names_a_size_that_was_declared(sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    begun = BegunDraft(words="2011", ranges=(RangeDraft(numbers="1-3", fate="sold", size="huge"),))
    with refused("No size of this edition is called “huge”"), reading(sqlite_engine) as session:
        editions.check(session, promise(begun=begun))


def test_an_edition_is_not_begun_in_the_future(sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    with refused("still to come"), acting(sqlite_engine) as book:
        numbers.declare(book, promise(begun=BegunDraft(words="2031")))


def test_the_biggest_edition_there_can_be_is_declared(sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    declared(sqlite_engine, promise(count=9999))
    assert standings(sqlite_engine) == {"free": 9999}


def test_a_price_of_many_figures_fits(engine: Engine) -> None:
    """Rupiah are written with two decimals (ISO 4217): thirty million of them are three thousand million units."""
    road(engine, sizes=(size(offer=offer((1, 30_000_000_00))),))
    with reading(engine) as session:
        assert editions.facts(session, 1, JUNE_1).sizes[0].offer.steps == ((1, 3_000_000_000),)


@pytest.mark.parametrize("count", [25, 30])
def test_the_twenty_sixth_of_twenty_five_cannot_exist(engine: Engine, count: int) -> None:
    road(engine)
    with pytest.raises(IntegrityError), Session(engine) as session:
        session.add(Piece(class_id=1, class_count=count, number=26))
        session.commit()
    assert standings(engine) == {"free": 25}


def test_an_edition_is_never_enlarged(engine: Engine) -> None:
    road(engine)
    another = PrintClass(
        edition_id=1, kind="HC", label="HC", style="of_count", count=2, edition_kind="limited"
    )
    for row in (another, Size(edition_id=1, label="large", image_w_um=400_000, image_h_um=400_000)):
        with pytest.raises(IntegrityError), Session(engine) as session:
            session.add(row)
            session.commit()


def test_two_hundred_and_fifty_typed_for_twenty_five_is_withdrawn_while_nothing_is_signed(
    engine: Engine,
) -> None:
    wrong = road(engine, count=250)
    with acting(engine) as book:
        editions.withdraw(book, wrong, "250 typed for 25")
    right = declared(engine)
    with reading(engine) as session:
        assert [each.id for each in editions.listing(session)] == [right]
        assert editions.get(session, wrong).withdrawn_on is not None
        assert editions.get(session, right).ordinal == 1
        assert editions.total_of_work(session, 1) == 29
        assert [each.of for each in search.find(session, "7").pieces] == [25]
    other = certified(engine, made(engine, 7, edition=right)[0])
    assert "250" not in str(other.snapshot)
    assert "Earlier in this record, none" in str(other.snapshot["facts"])


def test_nothing_more_happens_to_an_edition_withdrawn(engine: Engine) -> None:
    wrong = road(engine, count=250)
    with acting(engine) as book:
        numbers.allocate(book, wrong)
    first, second = seen(engine, 1).id, seen(engine, 2).id
    with acting(engine) as book:
        editions.withdraw(book, wrong, "250 typed for 25")
    said = "withdrawn as declared by mistake"
    with refused("withdrawn already"), acting(engine) as book:
        editions.withdraw(book, wrong, "again")
    with refused(said), acting(engine) as book:
        numbers.allocate(book, wrong)
    with refused(said), acting(engine) as book:
        numbers.inscribe(book, first, numbers.InscribeDraft())
    with refused(said), acting(engine) as book:
        numbers.withdraw(book, [second], "never")
    with refused(said), acting(engine) as book:
        numbers.close(book, wrong, "", "enough")
    with refused(said), acting(engine) as book:
        editions.new_offer(book, 1, offer())
    with refused(said), acting(engine) as book:
        editions.answer(book, wrong, "marks", AnswerDraft(answer="not_known"))


def test_an_edition_is_not_withdrawn_once_a_number_was_ever_signed(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    with refused("can be closed early, not withdrawn"), acting(engine) as book:
        editions.withdraw(book, 1, "changed my mind")
    with acting(engine) as book:
        numbers.uninscribe(book, piece_id)
    with refused("can be closed early, not withdrawn"), acting(engine) as book:
        editions.withdraw(book, 1, "changed my mind")


def test_an_edition_entered_with_prints_is_not_withdrawn(engine: Engine) -> None:
    opened(engine)
    declared(engine, drawer())
    with refused("not withdrawn"), acting(engine) as book:
        editions.withdraw(book, 1, "changed my mind")


def test_the_drawer_of_forty_begun_about_2011(engine: Engine) -> None:
    opened(engine)
    declared(engine, drawer())
    assert standings(engine) == {"in hand": 15, "passed on": 23, "missing": 2}
    with reading(engine) as session:
        edition = editions.get(session, 1)
        assert edition.begun_words == "about 2011"
        assert edition.sold_peak == 23  # the next one sold here is the twenty-fourth
        assert pieces.next_free(session, 1) == []
    assert seen(engine, 12).standing == "missing"
    assert seen(engine, 30).shown == "30/40" and seen(engine, 30).origin == "entered"
    certificate = certified(engine, seen(engine, 30).id)
    assert dict(certificate.snapshot["facts"])["Years"] == "Made 2023. This print not known."
    assert "Year printed" in certificate.snapshot["not_known"]
    with refused("is missing. It cannot have a certificate"), acting(engine) as book:
        certificates.issue(book, seen(engine, 12).id)


def test_a_number_in_no_range_stays_free_and_the_read_back_names_it(engine: Engine) -> None:
    opened(engine)
    ranges = (
        RangeDraft(numbers="1-11", fate="sold"),
        RangeDraft(numbers="13", fate="destroyed"),
        RangeDraft(numbers="14", fate="withdrawn"),
        RangeDraft(kind="AP", numbers="1", fate="given"),
    )
    draft = promise(
        count=16,
        outside=(ClassDraft(kind="AP", count=2),),
        begun=BegunDraft(words="May 2011", ranges=ranges),
    )
    with reading(engine) as session:
        assert editions.left_free(editions.check(session, draft)) == {"numbered": [12, 15, 16], "AP": [2]}
    declared(engine, draft)
    assert standings(engine) == {"free": 3, "passed on": 11, "destroyed": 1, "withdrawn": 1}
    assert standings(engine, kind="AP") == {"free": 1, "passed on": 1}
    with reading(engine) as session:
        assert pieces.next_free(session, 1) == [12, 15, 16]
        assert editions.get(session, 1).sold_peak == 11  # a proof given away is no sale


def test_a_price_change_is_for_sales_to_come_and_earlier_offers_are_kept(engine: Engine) -> None:
    road(engine)
    with acting(engine, JUNE_1) as book:
        editions.new_offer(book, 1, offer((1, 9000), paper="Baryta"))
    with reading(engine) as session:
        assert editions.offer_on(session, 1, date(2026, 5, 31)).steps == ((1, 6500), (11, 7500))
        assert editions.offer_on(session, 1, JUNE_1).steps == ((1, 9000),)
        assert editions.offer_on(session, 1, date(2020, 1, 1)).paper == "Cotton rag"
    with refused("No size has the number 7"), acting(engine) as book:
        editions.new_offer(book, 7, offer())


def test_a_print_keeps_the_paper_it_was_made_on_whatever_is_offered_later(engine: Engine) -> None:
    road(engine)
    (before,) = made(engine, 1)
    with acting(engine, JUNE_1) as book:
        editions.new_offer(book, 1, offer(process="Carbon print", paper="Baryta"))
    (after,) = made(engine, 2, on=JUNE_1)
    old, new = certified(engine, before, JUNE_1).snapshot, certified(engine, after, JUNE_1).snapshot
    assert (old["process"], old["paper"]) == ("Pigment print", "Cotton rag")
    assert (new["process"], new["paper"]) == ("Carbon print", "Baryta")


def test_an_answer_given_better_leaves_the_earlier_one_on_papers_that_are_out(engine: Engine) -> None:
    road(engine)
    before = certified(engine, made(engine, 1)[0])
    with acting(engine) as book:
        editions.answer(book, 1, "marks", AnswerDraft(answer="value", text="No stamp"))
    with refused("answered so already"), acting(engine) as book:
        editions.answer(book, 1, "marks", AnswerDraft(answer="value", text="No stamp"))
    after = certified(engine, made(engine, 2)[0])
    assert "Blind stamp" in str(before.snapshot["facts"])
    assert "No stamp" in str(after.snapshot["facts"])
    with reading(engine) as session:
        assert editions.answers(session, 1)["marks"].version == 2


def test_the_prints_of_a_work_are_counted_over_all_editions_proofs_too(engine: Engine) -> None:
    """20 in one size and 10 in another are 30; 28 and 3 artist's proofs are 31 (facts: 9.14, 9.15)."""
    opened(engine)
    declared(engine, promise(count=20, outside=()))
    declared(engine, promise(count=10, outside=(), sizes=(size(400, 400),)))
    with reading(engine) as session:
        assert editions.total_of_work(session, 1) == 30
    open_one = declared(engine, promise(kind="open", count=None, outside=(ClassDraft(kind="AP", count=3),)))
    with acting(engine) as book:
        numbers.allocate(book, open_one, how_many=2)
    with reading(engine) as session:
        assert editions.total_of_work(session, 1) == 35


def test_each_size_may_be_an_edition_of_its_own(engine: Engine) -> None:
    opened(engine)
    two = promise(sizes=(size(label="small"), size(400, 400, label="large")))
    with acting(engine) as book:
        numbers.declare(book, two, each_size_its_own_count=True)
    with reading(engine) as session:
        assert [each.ordinal for each in editions.listing(session)] == [2, 1]
        assert editions.total_of_work(session, 1) == 58


def test_closing_early_withdraws_the_free_numbers_and_prints_keep_theirs(engine: Engine) -> None:
    road(engine)
    first, *_ = made(engine, *range(1, 18))
    with refused("The reason is empty"), acting(engine) as book:
        numbers.close(book, 1, "", " ")
    with acting(engine, JUNE_1) as book:
        numbers.close(book, 1, "", "the plate is worn")
    assert standings(engine) == {"in hand": 17, "withdrawn": 8}
    assert seen(engine, 7).shown == "7/25"
    with refused("closed already"), acting(engine, JUNE_1) as book:
        numbers.close(book, 1, "", "again")
    with refused("this edition is 25 and stays 25"), acting(engine, JUNE_1) as book:
        numbers.allocate(book, 1)
    said = dict(certified(engine, first, JUNE_1).snapshot["facts"])["Edition"]
    assert said == "25, numbered 1/25 to 25/25, one size. Closed on 1 June 2026."


def test_closing_waits_for_a_number_that_is_promised(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        numbers.allocate(book, 1)
    with refused("1 is assigned. Sign it or give it back"), acting(engine) as book:
        numbers.close(book, 1, "1-25", "enough")
    with refused("There is no number 26"), acting(engine) as book:
        numbers.close(book, 1, "20-26", "enough")
    made(engine, 2)
    with refused("2/25 is in hand; it cannot be withdrawn"), acting(engine) as book:
        numbers.close(book, 1, "2-25", "enough")
    assert standings(engine) == {"free": 23, "assigned": 1, "in hand": 1}


def test_an_open_edition_numbers_prints_as_they_are_made(engine: Engine) -> None:
    road(engine, kind="open", count=None, outside=())
    with acting(engine) as book:
        given = numbers.allocate(book, 1, how_many=3)
        assert [each.number for each in given] == [1, 2, 3]
        numbers.give_back(book, given[1].id or 0)
    with acting(engine) as book:
        assert [each.number for each in numbers.allocate(book, 1, how_many=2)] == [2, 4]
    assert seen(engine, 4).shown == "No. 4"
    with refused("from 1 to 500"), acting(engine) as book:
        numbers.allocate(book, 1, how_many=10**9)
    with refused("numbered in order"), acting(engine) as book:
        numbers.allocate(book, 1, numbers=[40], reason="lucky")
    with acting(engine) as book:
        numbers.close(book, 1, "", "enough of it")
    with refused("This open edition is closed"), acting(engine) as book:
        numbers.allocate(book, 1)


def test_an_open_edition_says_so_on_the_face(engine: Engine) -> None:
    road(engine, kind="open", count=None, outside=())
    with acting(engine) as book:
        piece_id = numbers.allocate(book, 1)[0].id or 0
        numbers.inscribe(book, piece_id, numbers.InscribeDraft())
    certificate = certified(engine, piece_id)
    said = dict(certificate.snapshot["facts"])
    assert said["Edition"].startswith("Not a limited edition")
    assert ["Limited edition", "No. Not a limited edition."] in certificate.snapshot["particulars"]
    with reading(engine) as session:
        page = checks.check(session, certificate.code)
        assert page is not None and page.number_words == "No. 1, not a limited edition"


def test_a_work_with_title_and_edition_is_read_back_whole(engine: Engine) -> None:
    road(engine)
    with reading(engine) as session:
        facts = editions.facts(session, 1, JUNE_1)
    assert (facts.work.title, facts.numbered.count, facts.total) == (TITLE, 25, 29)
    assert editions.outside_in_words(facts.classes) == "3 artist’s proofs, 1 bon à tirer"
    assert [each.label for each in facts.sizes] == ["127 × 127 mm"]


def test_steps_are_kept_in_order(engine: Engine) -> None:
    draft = EditionDraft.model_validate(promise().model_dump())
    assert draft.sizes[0].offer.prices[1] == StepDraft(from_sold=11, price_minor=7500)
