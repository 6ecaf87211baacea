"""A buyer whose name was learnt after the sale was recorded."""

import json
from datetime import date

from sqlalchemy import Engine
from sqlmodel import col, select

from ledger import buyers, conditions, numbers, people, sale_lines, sales, search
from ledger.conditions import ReplaceDraft
from ledger.database import reading
from ledger.sale_drafts import BuyerDraft
from ledger.sale_lines import ReturnDraft
from ledger.tables import Journal, Secret
from tests.cast import BUYER, MAY_4, SECOND_BUYER, acting, made, person, refused, road, seen
from tests.trade import assigned, only_line, sell, to, ways

MAY_9 = date(2026, 5, 9)


def named(engine: Engine, sale_id: int, draft: BuyerDraft, on: date = MAY_9) -> None:
    with acting(engine, on) as book:
        buyers.name_buyer(book, sale_id, draft)


def test_what_was_sold_to_nobody_known_is_the_buyers_once_the_name_is_learnt(engine: Engine) -> None:
    road(engine)
    first, second = made(engine, 1, 2)
    sale = sell(engine, ways(engine).fair, first, second, paid_by="card")
    named(engine, sale.sale.id or 0, to(BUYER))
    for number in (1, 2):
        now = seen(engine, number)
        assert (now.holder, now.holder_name, now.keeper_name, now.standing) == ("person", BUYER, BUYER, "passed on")
    with reading(engine) as session:
        assert sales.view(session, sale.sale.id or 0).buyer == BUYER
        found = search.find(session, BUYER)
        assert {each.id for each in found.pieces} == {first, second}
        assert [event.kind for event in people.story(session, found.people[0][0])].count("buyer_named") == 2


def test_the_name_is_sealed_and_can_be_erased_again(engine: Engine) -> None:
    road(engine)
    sale = sell(engine, ways(engine).fair, *made(engine, 1))
    named(engine, sale.sale.id or 0, to(BUYER))
    with reading(engine) as session:
        entry = session.exec(select(Journal).order_by(col(Journal.seq).desc()).offset(1)).first()
        assert entry is not None and BUYER.encode() not in entry.body
        kept = session.exec(select(Secret).where(Secret.entry_seq == entry.seq, Secret.field == "person")).one()
        assert json.loads(kept.value) == {"buyer": BUYER}
        person_id = kept.person_id
    with acting(engine, MAY_9) as book:
        people.erase(book, person_id or 0)
    with reading(engine) as session:
        assert sales.view(session, sale.sale.id or 0).buyer == "name erased"
        assert session.exec(select(Secret).where(Secret.entry_seq == entry.seq, Secret.field == "person")).all() == []


def test_an_order_is_handed_over_to_the_buyer_named_since(engine: Engine) -> None:
    road(engine)
    sale = sell(engine, ways(engine).studio, assigned(engine, 9))
    named(engine, sale.sale.id or 0, BuyerDraft(person_id=person(engine, SECOND_BUYER)))
    made(engine, 9, on=MAY_9)
    with acting(engine, MAY_9) as book:
        sale_lines.hand_over(book, only_line(sale).id or 0, MAY_9)
    assert seen(engine, 9).holder_name == SECOND_BUYER


def test_a_print_that_came_back_is_not_the_late_named_buyers(engine: Engine) -> None:
    road(engine)
    [piece_id] = made(engine, 1)
    way = ways(engine).studio
    sale = sell(engine, way, piece_id)
    with acting(engine, MAY_9) as book:
        sale_lines.return_line(book, only_line(sale).id or 0, ReturnDraft(on=MAY_9))
    sell(engine, way, piece_id, on=date(2026, 5, 10))
    named(engine, sale.sale.id or 0, to(BUYER), date(2026, 5, 11))
    assert seen(engine, 1).holder == "unknown"


def test_a_second_print_follows_the_buyer_of_the_first(engine: Engine) -> None:
    road(engine)
    [piece_id] = made(engine, 1)
    sale = sell(engine, ways(engine).studio, piece_id)
    with acting(engine, MAY_9) as book:
        conditions.destroy(book, piece_id, "burnt, its owner saw it")
        conditions.replace(book, piece_id, ReplaceDraft(inscribed=numbers.InscribeDraft()))
    named(engine, sale.sale.id or 0, to(BUYER))
    assert (seen(engine, 1).generation, seen(engine, 1).holder_name) == (2, BUYER)


def test_a_sale_has_one_buyer_and_a_struck_one_has_none(engine: Engine) -> None:
    road(engine)
    first, second = made(engine, 1, 2)
    way = ways(engine).studio
    sold, slip = sell(engine, way, first, buyer=to(BUYER)), sell(engine, way, second)
    with acting(engine, MAY_9) as book, refused("Its buyer is named: Wilhelmina Tarn. .* put it right on the page"):
        buyers.name_buyer(book, sold.sale.id or 0, to(SECOND_BUYER))
    with acting(engine, MAY_4) as book:
        sale_lines.strike_line(book, only_line(slip).id or 0, "a slip")
    with acting(engine, MAY_9) as book, refused("That sale was struck, so nobody bought"):
        buyers.name_buyer(book, slip.sale.id or 0, to(BUYER))


def test_no_name_is_no_naming(engine: Engine) -> None:
    road(engine)
    sale = sell(engine, ways(engine).fair, *made(engine, 1))
    with acting(engine, MAY_9) as book, refused("Write the buyer’s name, or choose somebody in the book"):
        buyers.name_buyer(book, sale.sale.id or 0, BuyerDraft(name="  "))
