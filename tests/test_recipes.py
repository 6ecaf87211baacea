"""What finishing a print costs, from the recipe to the sums of the edition. Figures are invented."""

from collections.abc import Callable
from datetime import date, timedelta
from fractions import Fraction

import pytest
from sqlalchemy import Engine
from sqlmodel import Session

from ledger import conditions, costs, journal, making_costs, pieces, recipes, reports
from ledger.audit import audit
from ledger.database import reading
from ledger.making_costs import Making
from ledger.recipes import LineDraft
from ledger.reckoning.recipe import Charge
from ledger.tables import Cost, Finished
from tests import cast
from tests.cast import MAY_4, acting, refused

LINES = (
    LineDraft(name="Window board", amount_minor=960, prints=12, spoilage_bp=400),
    LineDraft(name="Frame with glass", amount_minor=725),
    LineDraft(name="Own time", amount_minor=1600, prints=2, minutes=45),
)
BOARD = Fraction(80 * 100, 96)
JUNE_1 = date(2026, 6, 1)


@pytest.fixture
def mount(engine: Engine) -> int:
    """The edition of twenty-five with five signed, and the recipe of its window mount."""
    cast.road(engine)
    cast.made(engine, 1, 2, 3, 4, 5)
    return written(engine)


def written(engine: Engine, name: str = "Window mount", lines: tuple[LineDraft, ...] = LINES) -> int:
    with acting(engine) as book:
        return recipes.write(book, name, lines).id or 0


def ids(engine: Engine, *numbers: int) -> list[int]:
    return [cast.seen(engine, number).id for number in numbers]


def finished(engine: Engine, recipe_id: int, *numbers: int, again: bool = False, on: date = MAY_4) -> int:
    found = ids(engine, *numbers)
    with acting(engine, JUNE_1) as book:
        return recipes.finish(book, recipe_id, found, on, again=again)


def made_for(engine: Engine, number: int) -> Making:
    piece_id = cast.seen(engine, number).id
    with reading(engine) as session:
        return making_costs.of_pieces(session, {piece_id: 1})[piece_id]


def test_finished_prints_bear_what_the_recipe_says_with_own_time_and_without(engine: Engine, mount: int) -> None:
    finished(engine, mount, 1, 2, 3)
    exact = BOARD + 725 + 600
    in_all = [made_for(engine, number) for number in (1, 2, 3)]
    assert sum(each.with_own_labour for each in in_all) == round(3 * exact) == 4225
    assert sum(each.without_own_labour for each in in_all) == 4225 - 1800
    assert made_for(engine, 4) == Making(Fraction(0), Fraction(0))


def test_an_act_of_finishing_is_one_entry_and_a_line_of_each_story(engine: Engine, mount: int) -> None:
    with reading(engine) as session:
        before = journal.length(session)
    seq = finished(engine, mount, 1, 2, 3)
    with reading(engine) as session:
        assert journal.length(session) == before + 2  # the act and the seal of its rows
        assert seq == before
        told = pieces.story(session, ids(engine, 2))
        assert [(event.kind, event.text, event.happened_on) for event in told if event.entry_seq == seq] == [
            ("finished", "Window mount", MAY_4)
        ]


def test_the_costs_are_costs_of_the_print_like_any_other(engine: Engine, mount: int) -> None:
    finished(engine, mount, 1)
    with reading(engine) as session:
        found = costs.between(session, MAY_4, MAY_4)
        assert [(cost.basis, cost.own_labour, cost.amount_minor, cost.note) for cost in found] == [
            ("piece", False, 808, "Window mount"),
            ("piece", True, 600, "Window mount"),
        ]
        assert costs.lately(session) == []  # the list of single costs is not buried under them


def test_a_print_is_finished_twice_only_when_that_is_said(engine: Engine, mount: int) -> None:
    finished(engine, mount, 1)
    with refused("1/25 was finished so on 4 May 2026. Leave it out, or say that it is done again."):
        finished(engine, mount, 1, 2)
    assert made_for(engine, 2).with_own_labour == 0
    finished(engine, mount, 1, again=True)
    assert made_for(engine, 1).with_own_labour == 2 * 1408


def test_a_change_of_the_recipe_does_not_make_a_print_unfinished(engine: Engine, mount: int) -> None:
    finished(engine, mount, 1)
    with acting(engine, JUNE_1) as book:
        dearer = recipes.change(book, mount, (LineDraft(name="Frame with glass", amount_minor=900),)).id or 0
    with refused("1/25 was finished so"):
        finished(engine, dearer, 1)
    with refused("“Window mount” was changed on 1 June 2026. Go by it as it is now."):
        finished(engine, mount, 2)
    finished(engine, dearer, 2)
    assert (made_for(engine, 1).without_own_labour, made_for(engine, 2).without_own_labour) == (808, 900)


def test_the_earlier_version_stays_as_it_was(engine: Engine, mount: int) -> None:
    with acting(engine, JUNE_1) as book:
        recipes.change(book, mount, LINES[:1])
    with reading(engine) as session:
        now, before = recipes.versions(session, "Window mount")
        assert (now.version, now.written_on, before.version, before.written_on) == (2, JUNE_1, 1, MAY_4)
        assert [line.name for line in recipes.lines_of(session, before.id or 0)] == [line.name for line in LINES]
        assert [recipe.id for recipe in recipes.listing(session)] == [now.id]
    with acting(engine, JUNE_1) as book, refused("was changed on 1 June 2026"):
        recipes.change(book, mount, LINES)


def test_another_recipe_may_finish_the_same_print(engine: Engine, mount: int) -> None:
    crate = written(engine, "Travelling box", (LineDraft(name="Box", amount_minor=350),))
    finished(engine, mount, 1)
    finished(engine, crate, 1)
    assert made_for(engine, 1).without_own_labour == 808 + 350


def test_what_was_written_by_mistake_is_struck_and_may_be_written_again(engine: Engine, mount: int) -> None:
    seq = finished(engine, mount, 1, 2)
    with acting(engine, JUNE_1) as book:
        recipes.strike(book, seq, "the wrong drawer")
    assert made_for(engine, 1).with_own_labour == 0
    with reading(engine) as session:
        done = recipes.finishing(session, seq)
        assert (done.struck, done.materials, done.own_time, len(done.piece_ids)) == (True, 0, 0, 2)
    with acting(engine, JUNE_1) as book, refused("That was struck already"):
        recipes.strike(book, seq, "again")
    finished(engine, mount, 1)
    assert made_for(engine, 1).with_own_labour == 1408


def test_a_single_cost_of_it_can_be_struck_like_any_other(engine: Engine, mount: int) -> None:
    seq = finished(engine, mount, 1)
    with acting(engine, JUNE_1) as book:
        costs.strike(book, 2, "somebody helped")
    with reading(engine) as session:
        done = recipes.finishing(session, seq)
    assert (done.materials, done.own_time, done.struck) == (808, 0, False)
    assert made_for(engine, 1) == Making(Fraction(808), Fraction(808))


def test_striking_needs_a_reason_and_something_to_strike(engine: Engine, mount: int) -> None:
    seq = finished(engine, mount, 1)
    with acting(engine) as book, refused("The reason is empty"):
        recipes.strike(book, seq, " ")
    with acting(engine) as book, refused("Entry 999 of the record finished no prints"):
        recipes.strike(book, 999, "a slip")


def test_what_finishing_cost_is_in_the_margin_of_the_edition(engine: Engine, mount: int) -> None:
    finished(engine, mount, 1, 2, 3, 4, 5)
    with reading(engine) as session:
        margin = reports.margin(session, 1)
    assert margin.with_labour.making == margin.with_labour.stock == 5 * 600 + round(5 * (BOARD + 725))
    assert margin.without_labour.making == margin.with_labour.making - 5 * 600


@pytest.mark.parametrize(
    ("numbers", "sentence"),
    [
        ((), "No print is chosen"),
        ((1, 1), "One print is named twice"),
        ((1, 9), "9/25 is not numbered yet. Only signed prints are finished."),
    ],
)
def test_what_cannot_be_finished_is_refused(
    engine: Engine, mount: int, numbers: tuple[int, ...], sentence: str
) -> None:
    with refused(sentence):
        finished(engine, mount, *numbers)
    assert made_for(engine, 1).with_own_labour == 0


def test_a_day_to_come_or_a_recipe_there_is_not_is_refused(engine: Engine, mount: int) -> None:
    with refused("That day is still to come"):
        finished(engine, mount, 1, on=JUNE_1 + timedelta(1))
    with refused("No recipe has the number 99"):
        finished(engine, 99, 1)


@pytest.fixture
def thread(engine: Engine, mount: int) -> int:
    """A recipe of which two prints share a single penny."""
    return written(engine, "Thread", (LineDraft(name="Thread", amount_minor=1, prints=2),))


def test_a_print_whose_share_is_nought_is_finished_like_the_others(engine: Engine, thread: int) -> None:
    seq = finished(engine, thread, 1, 2)
    assert [made_for(engine, number).with_own_labour for number in (1, 2)] == [1, 0]
    with reading(engine) as session:
        assert recipes.finishing(session, seq).piece_ids == tuple(ids(engine, 1, 2))
        assert recipes.finished_on(session, "Thread", ids(engine, 1, 2, 3)) == dict.fromkeys(ids(engine, 1, 2), MAY_4)
        assert recipes.spent(session, ids(engine, 1, 2, 3)) == dict(
            zip(ids(engine, 1, 2), (Charge(1, 0), Charge(0, 0)), strict=True)
        )
    with refused("2/25 was finished so on 4 May 2026."):
        finished(engine, thread, 2, 3)


def test_it_is_finished_no_more_once_the_finishing_was_struck(engine: Engine, thread: int) -> None:
    seq = finished(engine, thread, 1, 2)
    with acting(engine, JUNE_1) as book:
        recipes.strike(book, seq, "the wrong drawer")
    with reading(engine) as session:
        assert recipes.finishing(session, seq).piece_ids == tuple(ids(engine, 1, 2))
        assert recipes.finished_on(session, "Thread", ids(engine, 1, 2)) == {}
        assert recipes.spent(session, ids(engine, 1, 2)) == {}
    finished(engine, thread, 2, 3)


def test_less_than_a_penny_for_all_is_refused(engine: Engine, mount: int) -> None:
    thread = written(engine, "Thread", (LineDraft(name="Thread", amount_minor=1, prints=100),))
    with refused("less than the smallest coin"):
        finished(engine, thread, 1, 2)


def test_two_recipes_cannot_share_a_name(engine: Engine, mount: int) -> None:
    with refused("“window MOUNT” is there already"):
        written(engine, "window MOUNT")
    with reading(engine) as session:
        assert recipes.named(session, "WINDOW mount") is not None and recipes.named(session, "Box") is None


@pytest.mark.parametrize(
    ("line", "field", "sentence"),
    [
        ({"spoilage_bp": 10_000}, "spoilage_bp", "Where all of it is spoilt"),
        ({"minutes": 30, "amount_minor": 0}, "amount", "An hour of your own time costs more than nothing"),
        ({"name": " "}, "name", "What it is is empty"),
    ],
)
def test_a_line_that_cannot_be_is_refused(engine: Engine, line: dict[str, object], field: str, sentence: str) -> None:
    cast.opened(engine)
    bad = LineDraft(**{"name": "Board", "amount_minor": 160, **line})
    with refused(sentence) as no:
        written(engine, "Mount", (LINES[0], bad))
    assert no.value.field == f"lines.1.{field}"
    with refused("Write at least one line"):
        written(engine, "Mount", ())
    with reading(engine) as session:
        assert recipes.listing(session) == []


def test_a_destroyed_print_is_not_finished(engine: Engine, mount: int) -> None:
    (piece_id,) = ids(engine, 1)
    with acting(engine) as book:
        conditions.destroy(book, piece_id, "dropped on the stairs; seen by two")
    with refused("1/25 was destroyed."):
        finished(engine, mount, 1)


def _dearer(session: Session, seq: int) -> None:
    cost = session.get(Cost, 1)
    assert cost is not None
    cost.amount_minor += 1


def _one_more(session: Session, seq: int) -> None:
    session.add(Finished(entry_seq=seq, recipe_id=1, piece_id=9))


def _charged_and_without_a_charge(session: Session, seq: int) -> None:
    cost = session.get(Cost, 1)
    assert cost is not None
    session.add(Finished(entry_seq=seq, recipe_id=1, piece_id=cost.piece_id))


@pytest.mark.parametrize("damage", [_dearer, _one_more, _charged_and_without_a_charge])
def test_the_audit_finds_a_finishing_that_is_not_what_its_recipe_says(
    unaudited_engine: Engine, damage: Callable[[Session, int], None]
) -> None:
    cast.road(unaudited_engine)
    cast.made(unaudited_engine, 1, 2)
    seq = finished(unaudited_engine, written(unaudited_engine), 1, 2)
    with acting(unaudited_engine) as book:
        costs.strike(book, 2, "somebody helped")  # struck, and still what was charged
    with reading(unaudited_engine) as session:
        assert audit(session) == []
    with acting(unaudited_engine) as book:
        damage(book.session, seq)
        book.session.flush()
        journal.sealed(book, "damage", {"entry": seq})
    with reading(unaudited_engine) as session:
        said = [fault.sentence for fault in audit(session)]
    assert said == [f"the prints that entry {seq} finished do not bear what its recipe says"]
