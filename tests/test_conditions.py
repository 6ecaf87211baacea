"""What becomes of a print once it is made, and that none of it moves a price step."""

from datetime import date

import pytest
from sqlalchemy import Engine

from ledger import (
    checks,
    conditions,
    costs,
    editions,
    making_costs,
    numbers,
    people,
    pieces,
    provenance,
    reports,
    runs,
    spares,
)
from ledger.conditions import GiveDraft, ReplaceDraft
from ledger.consignments import LentDraft
from ledger.costs import CostDraft
from ledger.database import reading
from ledger.numbers import InscribeDraft
from ledger.runs import RunDraft
from ledger.spares import FateDraft
from ledger.tables import Piece
from tests.cast import (
    BUYER,
    MAY_4,
    SECOND_BUYER,
    acting,
    certified,
    declared,
    drawer,
    made,
    opened,
    person,
    refused,
    road,
    seen,
    standings,
)
from tests.trade import lend, sell, ways

JUNE_1 = date(2026, 6, 1)


def peak(engine: Engine, edition: int = 1) -> int:
    with reading(engine) as session:
        return editions.get(session, edition).sold_peak


@pytest.mark.parametrize("how", ["gift", "exchange", "donation"])
def test_a_gift_a_swap_and_a_donation_move_no_price_step(engine: Engine, how: str) -> None:
    road(engine)
    first, second = made(engine, 1, 2)
    sell(engine, ways(engine).studio, first)
    assert peak(engine) == 1
    with acting(engine) as book:
        conditions.give(book, second, GiveDraft(how=how, name=BUYER))
    now = seen(engine, 2)
    assert (now.standing, now.holder_name, now.how, now.place) == ("passed on", BUYER, how, "holder")
    assert peak(engine) == 1


def test_proofs_move_no_price_step(engine: Engine) -> None:
    road(engine)
    proof = seen(engine, 1, kind="AP").id
    with acting(engine) as book:
        numbers.inscribe(book, proof, numbers.InscribeDraft())
        conditions.give(book, proof, GiveDraft(how="gift"))
    assert peak(engine) == 0
    assert standings(engine, kind="AP") == {"free": 2, "passed on": 1}


def test_a_print_passes_on_from_one_owner_to_the_next(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    second = person(engine, SECOND_BUYER)
    with acting(engine) as book:
        conditions.give(book, piece_id, GiveDraft(how="gift", name=BUYER))
    with acting(engine, JUNE_1) as book:
        conditions.give(book, piece_id, GiveDraft(how="sale", person_id=second))
    assert seen(engine, 7).holder_name == SECOND_BUYER
    with acting(engine, JUNE_1) as book:
        conditions.give(book, piece_id, GiveDraft(how="inheritance"))
    now = seen(engine, 7)
    assert (now.holder, now.holder_name) == ("private", None)
    assert peak(engine) == 0


@pytest.mark.parametrize(
    ("draft", "why"),
    [
        (GiveDraft(how="sale", name=BUYER), "It is yours: record a sale under Sales"),
        (GiveDraft(how="inheritance", name=BUYER), "It is yours"),
        (GiveDraft(how="gift", holder="person"), "Write who has it now"),
        (GiveDraft(how="gift", person_id=99), "Nobody has the number 99"),
        (GiveDraft(how="gift", name="B\x00"), "cannot be printed"),
        (GiveDraft(how="gift", on=date(2027, 1, 1)), "still to come"),
        (GiveDraft(how="gift", note="n" * 10_000), "10,000 characters"),
    ],
)
def test_a_gift_that_cannot_be_is_refused(engine: Engine, draft: GiveDraft, why: str) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    with refused(why), acting(engine) as book:
        conditions.give(book, piece_id, draft)
    assert seen(engine, 7).standing == "in hand"


def test_what_is_sold_or_at_a_gallery_is_not_given_away(engine: Engine) -> None:
    road(engine)
    where = ways(engine)
    ordered, lent = seen(engine, 1).id, made(engine, 2)[0]
    with acting(engine) as book:
        numbers.allocate(book, 1)
    sell(engine, where.studio, ordered)
    with acting(engine) as book:
        numbers.inscribe(book, ordered, numbers.InscribeDraft())
    lend(engine, where.kelpstane, LentDraft(piece_id=lent, told_price_minor=6500))
    with refused("1/25 was sold on 4 May 2026 and waits to be handed over"), acting(engine) as book:
        conditions.give(book, ordered, GiveDraft(how="gift"))
    with refused("2/25 is at Gallery Kelpstane. Take it back"), acting(engine) as book:
        conditions.give(book, lent, GiveDraft(how="gift"))
    with refused("2/25 is at Gallery Kelpstane. Take it back"), acting(engine) as book:
        conditions.move(book, lent, "studio")


def test_a_print_of_somebody_else_is_not_moved(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    with acting(engine) as book:
        conditions.give(book, piece_id, GiveDraft(how="gift"))
    with refused("Where it is now is its owner.s affair"), acting(engine) as book:
        conditions.move(book, piece_id, "framer")


def test_a_print_is_out_while_it_is_at_the_framer_and_in_hand_when_it_is_back(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    framer = person(engine, "Thrupp Frames", kind="business")
    with acting(engine) as book:
        conditions.move(book, piece_id, "framer", person_id=framer)
    now = seen(engine, 7)
    assert (now.standing, now.keeper_name) == ("out", "Thrupp Frames")
    with acting(engine) as book:
        conditions.move(book, piece_id, "studio")
    assert seen(engine, 7).standing == "in hand"
    with refused("Nobody has the number 99"), acting(engine) as book:
        conditions.move(book, piece_id, "loan", person_id=99)
    with refused("still to come"), acting(engine) as book:
        conditions.move(book, piece_id, "loan", on=date(2027, 1, 1))


def test_who_said_so_is_asked_every_time(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    for act in (conditions.damage, conditions.missing, conditions.destroy):
        with refused("is empty") as refusal, acting(engine) as book:
            act(book, piece_id, "  ")
        assert refusal.value.field == "said"


def test_a_damaged_print_taken_back_to_the_bench_is_good_paper_again(engine: Engine) -> None:
    road(engine)
    first, second = made(engine, 1, 2)
    with acting(engine) as book:
        conditions.damage(book, first, "smudged")
        conditions.damage(book, second, "smudged")
        numbers.spoil(book, first)
        numbers.uninscribe(book, second)
    assert standings(engine) == {"free": 24, "assigned": 1}


def test_destroying_a_print_ends_who_has_it_and_where_it_is(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    lend(engine, ways(engine).kelpstane, LentDraft(piece_id=piece_id, told_price_minor=6500))
    with refused("The account is empty. Write it."), acting(engine) as book:
        conditions.destroy(book, piece_id, " ")
    with acting(engine) as book:
        conditions.destroy(book, piece_id, "water came in at the gallery; photographed")
    with reading(engine) as session:
        assert provenance.holding_of(session, piece_id) is None
        assert provenance.custody_of(session, piece_id) is None
    with refused("7/25 was destroyed. Nothing more happens to that print"), acting(engine) as book:
        conditions.destroy(book, piece_id, "again")
    assert standings(engine) == {"free": 24, "destroyed": 1}


def test_a_sold_print_that_burns_is_not_said_to_wait(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    sell(engine, ways(engine).studio, piece_id)
    with acting(engine) as book:
        conditions.destroy(book, piece_id, "a fire at the buyer's")
    assert not seen(engine, 7).order_stands
    assert pieces.what_it_is(seen(engine, 7)) == "was destroyed"


def test_a_second_print_belongs_to_whoever_held_the_first(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    with acting(engine) as book:
        conditions.give(book, piece_id, GiveDraft(how="gift", name=BUYER))
        conditions.destroy(book, piece_id, "a fire at hers")
        second = conditions.replace(book, piece_id, ReplaceDraft())
    now = seen(engine, 7)
    assert (now.id, now.generation, now.holder_name, now.how) == (second.id, 2, BUYER, "replacement")
    assert standings(engine) == {"free": 24, "passed on": 1}
    assert peak(engine) == 0
    with refused("7/25 was printed again already"), acting(engine) as book:
        conditions.replace(book, piece_id, ReplaceDraft())
    with refused("Mark it destroyed"), acting(engine) as book:
        numbers.spoil(book, second.id or 0)


def test_a_missing_print_is_printed_again_on_a_sworn_statement_alone(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    with refused("7/25 is in hand. Write first that it was destroyed"), acting(engine) as book:
        conditions.replace(book, piece_id, ReplaceDraft(sworn="sworn"))
    with acting(engine) as book:
        conditions.missing(book, piece_id, "never arrived")
    with refused("sworn statement is empty") as refusal, acting(engine) as book:
        conditions.replace(book, piece_id, ReplaceDraft())
    assert refusal.value.field == "sworn"
    with acting(engine) as book:
        conditions.replace(book, piece_id, ReplaceDraft(sworn="sworn before a notary on 3 May"))
    assert seen(engine, 7).generation == 2


def test_a_print_found_after_it_was_printed_again_stays_second_and_both_pages_say_that_two_exist(
    engine: Engine,
) -> None:
    road(engine)
    (first,) = made(engine, 7)
    old = certified(engine, first)
    with acting(engine) as book:
        conditions.give(book, first, GiveDraft(how="gift", name=BUYER))
        conditions.missing(book, first, "stolen")
        second = conditions.replace(book, first, ReplaceDraft(sworn="sworn")).id or 0
    new = certified(engine, second)
    with reading(engine) as session:
        assert [checks.check(session, each.code).two_exist for each in (old, new)] == [False, False]
    with acting(engine) as book:
        conditions.found(book, first, "the police wrote")
    with reading(engine) as session:
        said = [checks.check(session, each.code) for each in (old, new)]
        assert [(each.state, each.two_exist) for each in said if each] == [("void", True), ("valid", True)]
        found = pieces.view(session, first)
        assert not found.latest and found.holder_name == BUYER and found.standing == "passed on"
    assert seen(engine, 7).id == second
    assert sum(standings(engine).values()) == 25


def test_the_drawer_of_forty_sells_on_from_the_twenty_fourth(engine: Engine) -> None:
    opened(engine)
    declared(engine, drawer())
    with acting(engine) as book:
        conditions.give(book, seen(engine, 40).id, GiveDraft(how="gift"))
    sale = sell(engine, ways(engine).studio, seen(engine, 26).id)
    assert sale.lines[0].position == 24
    assert sale.lines[0].list_minor == 7500
    assert peak(engine) == 24
    assert standings(engine) == {"in hand": 13, "passed on": 25, "missing": 2}
    with reading(engine) as session:
        assert reports.margin(session, 1) is not None
    with acting(engine) as book:
        conditions.found(book, seen(engine, 12).id, "behind the plan chest")
    assert seen(engine, 12).state == "inscribed"


def test_a_person_who_holds_a_print_can_be_erased_and_the_print_is_still_passed_on(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    with acting(engine) as book:
        conditions.give(book, piece_id, GiveDraft(how="gift", name=BUYER))
    with acting(engine) as book:
        people.erase(book, seen_holder(book, piece_id))
    now = seen(engine, 7)
    assert (now.standing, now.holder, now.holder_name) == ("passed on", "person", None)


def seen_holder(book: conditions.Book, piece_id: int) -> int:
    return pieces.view(book.session, piece_id).holder_id or 0


def six_printed_for_twelve_pounds(engine: Engine) -> int:
    """Six good prints for 12.00, 1 and 2 signed; closed, the other four kept to replace damaged prints."""
    road(engine, outside=())
    with acting(engine) as book:
        run_id = runs.record(book, RunDraft(edition_id=1, made_on=MAY_4, sheets=2, good=6)).id or 0
        costs.add(book, CostDraft(basis="run", target_id=run_id, amount_minor=1200, spent_on=MAY_4))
    made(engine, 1, 2)
    with acting(engine) as book:
        numbers.close(book, 1, "", "the plate is worn", spares="replacement")
    return run_id


def printed_again(engine: Engine, number: int, run_id: int | None = None) -> Piece:
    piece_id = seen(engine, number).id
    with acting(engine) as book:
        conditions.destroy(book, piece_id, "a leak in the roof")
        return conditions.replace(book, piece_id, ReplaceDraft(inscribed=InscribeDraft(run_id=run_id)))


@pytest.mark.parametrize("said", [True, False])
def test_a_print_kept_to_replace_damaged_ones_becomes_the_second_and_bears_its_part(engine: Engine, said: bool) -> None:
    run_id = six_printed_for_twelve_pounds(engine)
    second = printed_again(engine, 1, run_id if said else None)
    assert second.run_id == run_id
    with reading(engine) as session:
        making = making_costs.of_pieces(session, {second.id or 0: 1, seen(engine, 2).id: 1})
        assert {each.with_own_labour for each in making.values()} == {600}
        assert reports.margin(session, 1).with_labour.stock == 1200
        assert [(each.fate, each.how_many) for each in spares.settled(session, run_id)] == [("replacement", 4)]
        assert (spares.by_run(session, 1), spares.kept_by_run(session, 1)) == ({run_id: 0}, {run_id: 3})


def test_what_was_kept_to_replace_damaged_prints_is_used_up_in_the_end(engine: Engine) -> None:
    run_id = six_printed_for_twelve_pounds(engine)
    for _ in range(4):
        assert printed_again(engine, 1).run_id == run_id
    with refused("Every good print of that printing has its number."):
        printed_again(engine, 1, run_id)
    assert printed_again(engine, 1).run_id is None


def test_a_spare_that_becomes_a_second_print_was_kept_for_that(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        older = runs.record(book, RunDraft(edition_id=1, made_on=MAY_4, sheets=1, good=3)).id or 0
        newer = runs.record(book, RunDraft(edition_id=1, made_on=MAY_4, sheets=1, good=2)).id or 0
        spares.settle(book, runs.get(book.session, newer), FateDraft(fate="replacement", how_many=1))
    made(engine, 1)
    assert [printed_again(engine, 1).run_id for _ in range(3)] == [newer, older, older]
    with reading(engine) as session:
        assert [(each.fate, each.how_many) for each in spares.settled(session, older)] == [("replacement", 1)] * 2
        assert spares.by_run(session, 1) == {older: 0, newer: 1}
