"""Numbers: each given once, in order; the state of a number changes in the ways the table allows and no other."""

import multiprocessing
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from multiprocessing.synchronize import Barrier as ProcessBarrier

import pytest
from sqlalchemy import Engine

from ledger import certificates, conditions, journal, numbers, pieces, promises, provenance, runs, sale_lines
from ledger.conditions import GiveDraft, ReplaceDraft
from ledger.database import Book, make_engine, reading
from ledger.errors import Refusal
from ledger.numbers import InscribeDraft
from ledger.runs import RunDraft
from ledger.tables import Piece
from tests.cast import (
    MAY_4,
    acting,
    certified,
    declared,
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
from tests.trade import only_line, sell, ways

NUMBER_OF = {
    "free": 1,
    "allocated": 2,
    "inscribed": 3,
    "damaged": 4,
    "certified": 5,
    "lent": 6,
    "given": 7,
    "missing": 8,
    "destroyed": 9,
    "withdrawn": 10,
}
SAYS = {
    "free": "1/25 is not numbered yet",
    "allocated": "2/25 is assigned and not signed yet",
    "inscribed": "3/25 is (in hand|not missing)",
    "damaged": "4/25 is (in hand|not missing)",
    "certified": "5/25 (is in hand|is not missing|has had a certificate)",
    "lent": "6/25 (is on loan|is not missing|has been out of the studio)",
    "given": "7/25 (was given away|is not missing|has been out of the studio)",
    "missing": "8/25 (is missing|has been out of the studio|has had a certificate)",
    "destroyed": "9/25 (was destroyed|has been out of the studio)",
    "withdrawn": "10/25 will never be made",
}
"""How each refusal begins: what is so."""


def every_state(engine: Engine) -> dict[str, int]:
    """One number of the edition in each state a number can be in; the ids of the pieces."""
    road(engine)
    ids = {state: seen(engine, number).id for state, number in NUMBER_OF.items()}
    made(engine, *range(3, 10))
    with acting(engine) as book:
        numbers.allocate(book, 1, numbers=[2], reason="kept for a friend")
        conditions.damage(book, ids["damaged"], "corner bent, seen by me")
        certificates.issue(book, ids["certified"])
        conditions.move(book, ids["lent"], "loan")
        conditions.give(book, ids["given"], GiveDraft(how="gift"))
        conditions.missing(book, ids["missing"], "not in the drawer, I looked twice")
        conditions.destroy(book, ids["destroyed"], "torn up before a witness")
        numbers.withdraw(book, [ids["withdrawn"]], "the plate is worn")
    return ids


@dataclass(frozen=True)
class Row:
    """One act: how it is done, from which states, and what the number is afterwards (state, condition, standing)."""

    act: Callable[[Book, int], object]
    allowed: tuple[str, ...]
    after: tuple[str, str, str]
    names_the_free: bool = False


PRINTS = ("inscribed", "damaged", "certified", "lent", "given")
TABLE = {
    "allocate": Row(
        lambda book, piece: numbers.allocate(
            book, 1, numbers=[pieces.get(book.session, piece).number], reason="asked for"
        ),
        ("free",),
        ("allocated", "good", "assigned"),
        names_the_free=True,
    ),
    "give back": Row(numbers.give_back, ("allocated",), ("free", "good", "free")),
    "inscribe": Row(
        lambda book, piece: numbers.inscribe(book, piece, InscribeDraft()),
        ("free", "allocated"),
        ("inscribed", "good", "in hand"),
        names_the_free=True,
    ),
    "not inscribed after all": Row(numbers.uninscribe, ("inscribed", "damaged"), ("allocated", "good", "assigned")),
    "spoilt at the bench": Row(numbers.spoil, ("inscribed", "damaged"), ("free", "good", "free")),
    "withdraw": Row(
        lambda book, piece: numbers.withdraw(book, [piece], "enough"), ("free",), ("withdrawn", "good", "withdrawn")
    ),
    "damage": Row(
        lambda book, piece: conditions.damage(book, piece, "seen by me"), PRINTS, ("inscribed", "damaged", "")
    ),
    "missing": Row(
        lambda book, piece: conditions.missing(book, piece, "I looked"), PRINTS, ("inscribed", "missing", "missing")
    ),
    "found": Row(
        lambda book, piece: conditions.found(book, piece, "behind the press"),
        ("missing",),
        ("inscribed", "good", "in hand"),
    ),
    "destroy": Row(
        lambda book, piece: conditions.destroy(book, piece, "burnt before a witness"),
        (*PRINTS, "missing"),
        ("inscribed", "destroyed", "destroyed"),
    ),
    "replace": Row(
        lambda book, piece: conditions.replace(book, piece, ReplaceDraft(sworn="sworn on 3 May")),
        ("missing", "destroyed"),
        ("inscribed", "good", ""),
    ),
    "give": Row(
        lambda book, piece: conditions.give(book, piece, GiveDraft(how="donation")),
        PRINTS,
        ("inscribed", "", "passed on"),
    ),
    "move": Row(
        lambda book, piece: conditions.move(book, piece, "framer"),
        ("inscribed", "damaged", "certified", "lent"),
        ("inscribed", "", "out"),
    ),
}


@pytest.mark.parametrize("name", TABLE)
def test_an_act_is_refused_from_every_state_but_its_own(engine: Engine, name: str) -> None:
    row = TABLE[name]
    ids = every_state(engine)
    for state, piece_id in ids.items():
        if state in row.allowed:
            continue
        with refused(SAYS[state]) as refusal, acting(engine) as book:
            row.act(book, piece_id)
        if row.names_the_free:
            assert refusal.value.message.endswith("Free next: 1, 11, 12.")
    for state in row.allowed:
        with acting(engine) as book:
            row.act(book, ids[state])
        now = seen(engine, NUMBER_OF[state])
        for there, wanted in zip((now.state, now.condition, now.standing), row.after, strict=True):
            assert wanted in ("", there), (state, now)
    assert sum(standings(engine).values()) == 25


def test_the_lowest_free_numbers_are_given_in_order(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        assert [each.number for each in numbers.allocate(book, 1, how_many=3)] == [1, 2, 3]
    with acting(engine) as book:
        numbers.give_back(book, seen(engine, 2).id)
    with acting(engine) as book:
        assert [each.number for each in numbers.allocate(book, 1, how_many=2)] == [2, 4]


def test_another_number_is_given_for_one_reason_a_batch(engine: Engine) -> None:
    road(engine)
    with refused("The reason for these numbers is empty") as refusal, acting(engine) as book:
        numbers.allocate(book, 1, numbers=[7, 9])
    assert refusal.value.field == "reason"
    with acting(engine) as book:
        given = numbers.allocate(book, 1, numbers=[9, 7, 9], reason="her house is number 7")
        assert [each.number for each in given] == [7, 9]
        assert [each.number for each in numbers.allocate(book, 1, numbers=[1, 2])] == [1, 2]


@pytest.mark.parametrize(
    ("asked", "why"),
    [
        ({"numbers": [26]}, "There is no number 26: this edition is 25 and stays 25. Free next: 1, 2, 3."),
        ({"numbers": [0]}, "There is no number 0"),
        ({"numbers": [-1]}, "There is no number -1"),
        ({"numbers": []}, "Write which numbers"),
        ({"how_many": 0}, "from 1"),
        ({"how_many": -3}, "from 1"),
        ({"how_many": 26}, "Only 25 of 25 are free. Later editions of this picture are ruled out."),
        ({"how_many": 10**9}, "Only 25 of 25 are free"),
        ({"kind": "HC"}, "This edition has no HC"),
        ({"size_id": 7}, "That size is not one of this edition"),
    ],
)
def test_what_was_not_declared_is_not_given(engine: Engine, asked: dict[str, object], why: str) -> None:
    road(engine)
    with refused(why), acting(engine) as book:
        numbers.allocate(book, 1, **asked)
    assert standings(engine) == {"free": 25}


def test_when_all_are_given_the_next_edition_is_pointed_at(engine: Engine) -> None:
    road(engine, count=2)
    made(engine, 1, 2)
    left = "No number is left: this edition is 2 and stays 2. Later editions of this picture"
    with refused(left), acting(engine) as book:
        numbers.allocate(book, 1)
    with refused("1/2 is in hand. No number of it is free."), acting(engine) as book:
        numbers.allocate(book, 1, numbers=[1], reason="again")


def test_a_number_sold_to_be_made_is_not_given_back(engine: Engine) -> None:
    road(engine)
    channel = ways(engine).studio
    with acting(engine) as book:
        (piece,) = numbers.allocate(book, 1)
    sell(engine, channel, piece.id or 0)
    with refused("1/25 is sold and still to be made. Cancel the order first"), acting(engine) as book:
        numbers.give_back(book, piece.id or 0)


def test_signing_a_number_straight_away_tells_of_both_steps(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        numbers.inscribe(book, seen(engine, 7).id, InscribeDraft())
        assert len(book.entries) == 2
    with reading(engine) as session:
        told = [line.kind for line in pieces.story(session, [seen(engine, 7).id])]
    assert told == ["allocated", "inscribed"]
    now = seen(engine, 7)
    assert (now.holder, now.place, now.inscription) == ("maker", "studio", "7/25")


def test_papers_quote_what_the_pencil_says(engine: Engine) -> None:
    road(engine)
    piece_id = seen(engine, 2, kind="AP").id
    with acting(engine) as book:
        numbers.inscribe(
            book,
            piece_id,
            InscribeDraft(inscription="A/P 2/3", where="verso", pencil="pencil", printed_year=2025, printed_month=11),
        )
    snapshot = certified(engine, piece_id).snapshot
    assert snapshot["inscription"] == "A/P 2/3" and snapshot["number"] == "AP II/III"
    said = dict(snapshot["facts"])
    assert said["Years"] == "Made 2023. This print November 2025."
    assert "This print: pencil, verso." in said["Marked"]


@pytest.mark.parametrize(
    ("lines", "field"),
    [
        ({"on": date(2027, 1, 1)}, "on"),
        ({"printed_year": 2022}, "printed_year"),  # the picture was made in 2023
        ({"printed_year": 10**9}, "printed_year"),
        ({"printed_month": 13}, "printed_month"),
        ({"printed_month": 0}, "printed_month"),
        ({"inscription": "7" * 41}, "inscription"),
        ({"inscription": "7/25\u202e"}, "inscription"),
        ({"size_id": 2}, "size_id"),
        ({"run_id": 99}, "run_id"),
    ],
)
def test_an_inscription_that_cannot_be_is_refused(engine: Engine, lines: dict[str, object], field: str) -> None:
    road(engine)
    declared(engine, promise(sizes=(size(400, 400),)))  # its size is number 2
    piece_id = seen(engine, 7).id
    with refused("") as refusal, acting(engine) as book:
        numbers.inscribe(book, piece_id, InscribeDraft(**lines))
    assert refusal.value.field == field
    assert seen(engine, 7).state == "free"


def test_of_several_sizes_the_print_says_which(engine: Engine) -> None:
    road(engine, sizes=(size(label="small"), size(400, 400, label="large", offer=offer((1, 18000)))))
    with refused("Say which size"), acting(engine) as book:
        numbers.inscribe(book, seen(engine, 1).id, InscribeDraft())
    with acting(engine) as book:
        numbers.allocate(book, 1, size_id=2)
    with acting(engine) as book:
        numbers.inscribe(book, seen(engine, 1).id, InscribeDraft())
    assert seen(engine, 1).size_label == "large"


def test_a_pen_slip_at_the_bench_leaves_no_trace_on_paper_and_the_number_is_free_again(engine: Engine) -> None:
    road(engine)
    with acting(engine) as book:
        run = runs.record(book, RunDraft(edition_id=1, made_on=book.today, sheets=3, good=8, spoilt=0))
    piece_id = seen(engine, 7).id
    with acting(engine) as book:
        numbers.inscribe(book, piece_id, InscribeDraft(run_id=run.id, inscription="7/52"))
    with acting(engine) as book:
        numbers.spoil(book, piece_id)
    with reading(engine) as session:
        row = pieces.get(session, piece_id)
        assert (row.state, row.inscription, row.run_id, row.inscribed_on) == ("free", None, None, None)
        counted = runs.get(session, run.id or 0)
        assert (counted.good, counted.spoilt) == (7, 1)
        assert provenance.holding_of(session, piece_id) is None
        assert provenance.custody_of(session, piece_id) is None
    made(engine, 7)
    snapshot = str(certified(engine, piece_id).snapshot)
    for word in ("spoil", "7/52", "second", "2nd"):
        assert word not in snapshot


def test_spoiling_a_print_that_is_ordered_keeps_its_number_for_the_order(engine: Engine) -> None:
    road(engine)
    channel = ways(engine).studio
    with acting(engine) as book:
        (piece,) = numbers.allocate(book, 1)
    sell(engine, channel, piece.id or 0)
    with acting(engine) as book:
        numbers.inscribe(book, piece.id or 0, InscribeDraft())
    with acting(engine) as book:
        numbers.spoil(book, piece.id or 0)
    assert seen(engine, 1).standing == "assigned"


def test_a_print_that_came_back_after_it_left_cannot_go_back_to_the_bench(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 1)
    with acting(engine) as book:
        conditions.move(book, piece_id, "framer")
        conditions.move(book, piece_id, "studio")
    for act in (numbers.uninscribe, numbers.spoil):
        with refused("1/25 has been out of the studio. Mark it destroyed"), acting(engine) as book:
            act(book, piece_id)


def test_a_print_in_the_van_can_still_be_taken_back(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 1)
    with acting(engine) as book:
        conditions.move(book, piece_id, "van")
        numbers.uninscribe(book, piece_id)
    made(engine, 1)
    assert seen(engine, 1).standing == "in hand"


def test_a_print_that_once_had_a_certificate_cannot_go_back_to_the_bench(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 1)
    certificate = certified(engine, piece_id)
    with acting(engine) as book:
        certificates.void(book, certificate.id, "wrong name")
    with refused("has had a certificate. Mark it destroyed"), acting(engine) as book:
        numbers.spoil(book, piece_id)


def test_an_entered_print_cannot_go_back_to_the_bench(engine: Engine) -> None:
    opened(engine)
    begun = promises.BegunDraft(words="2011", ranges=(promises.RangeDraft(numbers="1", fate="in_hand"),))
    declared(engine, promise(begun=begun))
    with refused("was made before this record"), acting(engine) as book:
        numbers.spoil(book, seen(engine, 1).id)


ROUNDS = 50


def _want(engine: Engine, number: int) -> str:
    """One of two who want a number: 'won', or what the other was told."""
    try:
        with acting(engine) as book:
            numbers.allocate(book, 1, numbers=[number], reason="she wants this one")
    except Refusal as no:
        return no.message
    return "won"


def _want_all(address: str, start: ProcessBarrier, told: "multiprocessing.SimpleQueue[list[str]]") -> None:
    engine = make_engine(address)
    said = []
    for number in range(1, ROUNDS + 1):
        start.wait(60)
        said.append(_want(engine, number))
    told.put(said)
    engine.dispose()


def _two_threads(engine: Engine) -> list[list[str]]:
    start = threading.Barrier(2)
    told: list[list[str]] = [[], []]

    def want_all(mine: list[str]) -> None:
        for number in range(1, ROUNDS + 1):
            start.wait(60)
            mine.append(_want(engine, number))

    callers = [threading.Thread(target=want_all, args=(mine,)) for mine in told]
    for caller in callers:
        caller.start()
    for caller in callers:
        caller.join()
    return told


def _two_processes(engine: Engine) -> list[list[str]]:
    fresh = multiprocessing.get_context("spawn")
    start, told = fresh.Barrier(2), fresh.SimpleQueue()
    address = engine.url.render_as_string(hide_password=False)
    callers = [fresh.Process(target=_want_all, args=(address, start, told)) for _ in range(2)]
    for caller in callers:
        caller.start()
    for caller in callers:
        caller.join()
    return [told.get(), told.get()]


def test_of_two_who_want_a_number_at_once_one_gets_it_and_the_other_is_told_what_is_free(engine: Engine) -> None:
    road(engine, count=ROUNDS + 10)
    with reading(engine) as session:
        before = journal.length(session)
    postgres = engine.dialect.name == "postgresql"
    one, other = _two_processes(engine) if postgres else _two_threads(engine)
    for number, answers in enumerate(zip(one, other, strict=True), start=1):
        free = ", ".join(str(number + step) for step in (1, 2, 3))
        lost = f"{number}/60 is assigned and not signed yet. Free next: {free}."
        assert sorted(answers) == sorted(["won", lost])
    with reading(engine) as session:
        assert journal.length(session) == before + 2 * ROUNDS  # each act and the seal of its rows
        assert len(session.exec(numbers.select(Piece).where(Piece.state == "allocated")).all()) == ROUNDS


def test_a_sale_struck_as_a_slip_does_not_keep_a_print_from_the_bench(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 1)
    slip = sell(engine, ways(engine).studio, piece_id)
    with acting(engine) as book:
        sale_lines.strike_line(book, only_line(slip).id or 0, "a mis-tap")
        numbers.uninscribe(book, piece_id)
    assert seen(engine, 1).standing == "assigned"


def test_a_print_sold_and_brought_back_has_been_out_even_beside_a_slip(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 1)
    channel = ways(engine).studio
    slip = sell(engine, channel, piece_id)
    with acting(engine) as book:
        sale_lines.strike_line(book, only_line(slip).id or 0, "a mis-tap")
    sold = sell(engine, channel, piece_id)
    with acting(engine) as book:
        sale_lines.return_line(book, only_line(sold).id or 0, sale_lines.ReturnDraft(on=MAY_4))
    with refused("1/25 has been out of the studio"), acting(engine) as book:
        numbers.spoil(book, piece_id)
