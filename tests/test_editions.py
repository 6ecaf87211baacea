"""Editions: what is promised is fixed; what was typed in error goes while nothing stands on it."""

from datetime import date

from sqlalchemy import Engine

from ledger import checks, declarations, editions, numbers, offers, search
from ledger.database import reading
from ledger.promises import AnswerDraft, ClassDraft
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


def test_a_price_of_many_figures_fits(engine: Engine) -> None:
    """Rupiah are written with two decimals (ISO 4217): thirty million of them are three thousand million units."""
    road(engine, sizes=(size(offer=offer((1, 30_000_000_00))),))
    with reading(engine) as session:
        assert editions.facts(session, 1, JUNE_1).sizes[0].offer.steps == ((1, 3_000_000_000),)


def test_two_hundred_and_fifty_typed_for_twenty_five_is_withdrawn_while_nothing_is_signed(engine: Engine) -> None:
    wrong = road(engine, count=250)
    with acting(engine) as book:
        declarations.withdraw(book, wrong, "250 typed for 25")
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
        declarations.withdraw(book, wrong, "250 typed for 25")
    said = "withdrawn as declared by mistake"
    with refused("withdrawn already"), acting(engine) as book:
        declarations.withdraw(book, wrong, "again")
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
        declarations.withdraw(book, 1, "changed my mind")
    with acting(engine) as book:
        numbers.uninscribe(book, piece_id)
    with refused("can be closed early, not withdrawn"), acting(engine) as book:
        declarations.withdraw(book, 1, "changed my mind")


def test_an_edition_entered_with_prints_is_not_withdrawn(engine: Engine) -> None:
    opened(engine)
    declared(engine, drawer())
    with refused("not withdrawn"), acting(engine) as book:
        declarations.withdraw(book, 1, "changed my mind")


def test_a_price_change_is_for_sales_to_come_and_earlier_offers_are_kept(engine: Engine) -> None:
    road(engine)
    with acting(engine, JUNE_1) as book:
        editions.new_offer(book, 1, offer((1, 9000), paper="Baryta"))
    with reading(engine) as session:
        assert offers.in_force(session, 1, date(2026, 5, 31)).steps == ((1, 6500), (11, 7500))
        assert offers.in_force(session, 1, JUNE_1).steps == ((1, 9000),)
        assert offers.in_force(session, 1, date(2020, 1, 1)).paper == "Cotton rag"
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
