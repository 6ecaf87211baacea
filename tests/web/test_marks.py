"""The marks of the run: each state has one shape, one word and one spoken sentence, and the key sums to the count."""

from typing import Any

from sqlalchemy import Engine

from ledger import conditions, numbers, pieces
from ledger.database import reading
from ledger.pieces import PieceView
from ledger.web import marks
from tests import cast


def run(engine: Engine, edition: int = 1) -> list[PieceView]:
    with reading(engine) as session:
        main = pieces.find_class(session, edition, "numbered").id
        return [seen for seen in pieces.run_of(session, edition) if seen.class_id == main]


def test_every_state_of_a_number_has_its_own_mark_and_words(sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine)
    ids = cast.made(sqlite_engine, *range(1, 10))
    thrumsay = cast.person(sqlite_engine, "Thrumsay Hall")

    def do(act: Any, number: int, *args: Any, **more: Any) -> None:
        with cast.acting(sqlite_engine) as book:
            act(book, ids[number - 1], *args, **more)

    do(conditions.move, 2, "van")
    do(conditions.move, 3, "loan", person_id=thrumsay)
    do(conditions.move, 4, "framer")
    do(conditions.move, 5, "post")
    do(conditions.give, 6, conditions.GiveDraft(how="gift", name=cast.BUYER))
    do(conditions.missing, 7, "Looked for in every drawer.")
    do(conditions.destroy, 8, "Signed corner kept.")
    do(conditions.damage, 9, "A dent in the lower margin.")
    with cast.acting(sqlite_engine) as book:
        numbers.allocate(book, 1, how_many=1)
        numbers.withdraw(book, [seen.id for seen in run(sqlite_engine) if seen.number == 25], "Not needed.")
    places = {place.number_shown: place for place in map(marks.place, run(sqlite_engine))}
    assert {number: (places[number].mark, places[number].word, places[number].letter) for number in (
        "1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "25",
    )} == {
        "1": ("studio", "studio", "s"), "2": ("van", "van", "v"), "3": ("loan", "loan", "l"),
        "4": ("framer", "framer", "f"), "5": ("post", "post", "p"), "6": ("given", "gift", "o"),
        "7": ("missing", "missing", "?"), "8": ("destroyed", "destroyed", "x"), "9": ("studio", "damaged", "d"),
        "10": ("assigned", "assigned", "a"), "11": ("free", "free", ""), "25": ("withdrawn", "never made", "r"),
    }  # fmt: skip
    assert places["3"].spoken == "3 of 25, on loan to Thrumsay Hall"
    key = marks.key(run(sqlite_engine))
    assert sum(row.count for row in key) == 25
    assert marks.in_a_sentence(run(sqlite_engine)).endswith("14 free, 1 missing, 1 destroyed. 25 never made")


def test_numbers_sold_before_this_record_are_dots_too(sqlite_engine: Engine) -> None:
    cast.opened(sqlite_engine)
    cast.declared(sqlite_engine, cast.drawer())
    drawer = run(sqlite_engine)
    assert marks.key(drawer) == [
        marks.KeyRow("sold", "sold before this record", 23), marks.KeyRow("studio", "in the studio", 15),
        marks.KeyRow("missing", "missing", 2),
    ]  # fmt: skip
    assert marks.letters(drawer) == "Letters: s studio, ? missing."


def test_a_proof_says_its_kind_and_is_read_in_roman_figures(sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine)
    with reading(sqlite_engine) as session:
        outside = [seen for seen in pieces.run_of(session, 1) if seen.class_kind != "numbered"]
    places = [marks.place(each, proof=True) for each in outside]
    said = [(place.number_shown, place.word, place.spoken) for place in places]
    assert said[1] == ("II", "AP, free", "AP II of III, free") and said[3] == ("", "BAT, free", "BAT, free")


def test_the_free_end_of_a_long_run_is_one_line(sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine, count=150)
    with cast.acting(sqlite_engine) as book:
        numbers.allocate(book, 1, how_many=75)
    assert marks.tail_of(run(sqlite_engine)) == 75
    assert marks.in_a_sentence(run(sqlite_engine)) == "75 assigned, not signed yet, 75 free"


def test_a_list_draws_a_run_only_as_long_as_can_be_taken_in(sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine, count=300)
    assert marks.strip(run(sqlite_engine)) == ["free"] * 300
    longer = cast.declared(sqlite_engine, cast.promise(count=301))
    assert marks.strip(run(sqlite_engine, longer)) == []
