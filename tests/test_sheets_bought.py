"""The sheets of a plan bought: what is kept of it, and taking it back where it was accepted by mistake."""

from collections.abc import Callable

import pytest
from sqlalchemy import Engine
from sqlmodel import select

from ledger import costs, numbers, reports, runs, sheets, sheets_bought, spares
from ledger.costs import CostDraft
from ledger.database import reading
from ledger.runs import CountDraft, RunDraft
from ledger.sheets import Bought, PlanDraft
from ledger.spares import FateDraft
from ledger.tables import Event
from tests.cast import MAY_4, acting, made, refused, seen
from tests.test_sheets import MAY_5, accepted, count, eleven, kept, run_of, two_editions


def taken_back(engine: Engine, plan_id: int, why: str = "the wrong price") -> None:
    with acting(engine, MAY_5) as book:
        sheets_bought.take_back(book, plan_id, why)


def test_what_a_sheet_will_cost_is_kept_with_the_plan_and_what_it_did_cost_once_it_is_bought(engine: Engine) -> None:
    two_editions(engine)
    with acting(engine) as book:
        draft = PlanDraft(name="Eleven up", planned=eleven(), size_ids=(1, 2), sheet_minor=840)
        plan_id = sheets.keep(book, draft).id or 0
        with refused("A price is nought or more."):
            sheets.keep(book, draft.model_copy(update={"sheet_minor": -1}))
        with refused("That is more money than this book can hold."):
            sheets.keep(book, draft.model_copy(update={"sheet_minor": sheets.MOST_MONEY}))
    with reading(engine) as session:
        view = sheets.view(session, plan_id)
        assert (view.sheet_minor, view.bought) == (840, None)
    accepted(engine, plan_id, bought=2, price=900, delivery=450)
    with reading(engine) as session:
        view = sheets.view(session, plan_id)
        assert (view.sheet_minor, view.bought) == (900, Bought(2, 450, MAY_4))
        assert sum(cost.amount_minor for cost in costs.of_sheet_plan(session, plan_id)) == 2 * 900 + 450


def test_a_plan_accepted_by_mistake_is_taken_back_and_accepted_again(engine: Engine) -> None:
    two_editions(engine)
    plan_id = kept(engine, eleven(), 1, None)
    (first,) = accepted(engine, plan_id, bought=10, price=8400)
    taken_back(engine, plan_id)
    with reading(engine) as session:
        view = sheets.view(session, plan_id)
        assert (view.accepted_on, view.bought, view.runs) == (None, None, ())
        assert view.sheet_minor == 8400  # what was last said of it
        struck = runs.get(session, first.id or 0)
        assert struck.struck_at and (struck.good, struck.planned) == (0, 40)
        assert all(cost.struck_at for cost in costs.lately(session))
        assert (spares.by_size(session, 1), runs.of_edition(session, 1)) == ({}, [])
        assert reports.margin(session, 1).with_labour.making == 0
        told = session.exec(select(Event).where(Event.edition_id == 1).order_by(Event.id)).all()
        assert (told[-1].kind, told[-1].text) == ("unprinted", "the wrong price")
    (again,) = accepted(engine, plan_id)
    with reading(engine) as session:
        assert [run.id for run in sheets.view(session, plan_id).runs] == [again.id]
        assert spares.by_size(session, 1) == {1: 4}
        assert [cost.amount_minor for cost in costs.of_sheet_plan(session, plan_id)] == [521, 319]
        assert reports.margin(session, 1).with_labour.making == 521


def test_only_an_accepted_plan_is_taken_back_and_only_with_a_reason(engine: Engine) -> None:
    two_editions(engine)
    plan_id = kept(engine, eleven(), 1, 2)
    with refused("This plan is not accepted, so there is nothing to take back."):
        taken_back(engine, plan_id)
    accepted(engine, plan_id)
    with refused("The reason is empty. Write it."):
        taken_back(engine, plan_id, why=" ")
    with refused("No sheet plan has the number 9."):
        taken_back(engine, 9)


def test_a_plan_accepted_before_its_costs_were_known_is_not_taken_back_and_counts_no_money_twice(
    engine: Engine,
) -> None:
    two_editions(engine)
    plan_id = kept(engine, eleven(), 1, None)
    with acting(engine) as book:  # as an earlier program kept it
        sheets.get(book.session, plan_id).accepted_on = MAY_4
        draft = RunDraft(edition_id=1, size_id=1, plan_id=plan_id, made_on=MAY_4, sheets=1, good=4)
        run_id = runs.record(book, draft).id or 0
        spent = {"amount_minor": 521, "spent_on": MAY_4}
        costs.add(book, CostDraft(basis="run", target_id=run_id, **spent))
        costs.add(book, CostDraft(basis="studio", **spent))
    with refused("Strike those costs under Costs, and count the prints of each of its printings as nought."):
        taken_back(engine, plan_id)
    with reading(engine) as session:
        assert [each.id for each in sheets.view(session, plan_id).runs] == [run_id]
        assert [cost.struck_at for cost in costs.lately(session)] == [None, None]
        ids = [cost.id or 0 for cost in costs.lately(session)]
    with acting(engine, MAY_5) as book:
        for cost_id in ids:
            costs.strike(book, cost_id, "the wrong price")
        runs.count(book, run_id, CountDraft(good=0))
    with reading(engine) as session:
        assert (reports.margin(session, 1).with_labour.making, spares.by_size(session, 1)) == (0, {})


def numbered(engine: Engine, run_id: int) -> None:
    made(engine, 1)


def spoilt_at_the_bench(engine: Engine, run_id: int) -> None:
    made(engine, 1)
    with acting(engine) as book:
        numbers.spoil(book, seen(engine, 1).id)


def counted(engine: Engine, run_id: int) -> None:
    count(engine, run_id, spoilt=1)


def charged(engine: Engine, run_id: int) -> None:
    with acting(engine) as book:
        costs.add(book, CostDraft(basis="run", target_id=run_id, amount_minor=100, spent_on=MAY_4))


@pytest.mark.parametrize(
    ("happened", "sentence"),
    [
        (numbered, "1 print of the printing of Forty Minutes of Road, 4 May 2026, is numbered"),
        (spoilt_at_the_bench, "A print of the printing of Forty Minutes of Road, 4 May 2026, was spoilt at the bench"),
        (counted, "The printing of Forty Minutes of Road, 4 May 2026, was counted on 4 May 2026, so it took place."),
        (charged, "Another cost was written on the printing of Forty Minutes of Road, 4 May 2026, by itself."),
    ],
)
def test_what_took_place_is_not_taken_back_and_nothing_of_it_is_struck(
    engine: Engine, happened: Callable[[Engine, int], None], sentence: str
) -> None:
    two_editions(engine)
    plan_id = kept(engine, eleven(), 1, 2)
    large, small = accepted(engine, plan_id)
    happened(engine, large.id or 0)
    with refused(sentence):
        taken_back(engine, plan_id)
    with reading(engine) as session:
        assert [run.id for run in sheets.view(session, plan_id).runs] == [large.id, small.id]
        assert sum(cost.amount_minor for cost in costs.of_sheet_plan(session, plan_id)) == 840


def test_a_number_taken_back_from_a_printing_frees_it_to_be_taken_back_too(engine: Engine) -> None:
    two_editions(engine)
    plan_id = kept(engine, eleven(), 1, 2)
    accepted(engine, plan_id)
    made(engine, 1)
    with acting(engine) as book:
        numbers.uninscribe(book, seen(engine, 1).id)
    taken_back(engine, plan_id)
    with reading(engine) as session:
        assert spares.by_size(session, 1) == {}


def test_a_cost_struck_by_itself_is_no_hindrance(engine: Engine) -> None:
    two_editions(engine)
    plan_id = kept(engine, eleven(), 1, 2)
    accepted(engine, plan_id)
    with reading(engine) as session:
        first, second = (cost.id or 0 for cost in costs.of_sheet_plan(session, plan_id))
    with acting(engine) as book:
        costs.strike(book, first, "paid by the other book")
    taken_back(engine, plan_id)
    with reading(engine) as session:
        assert costs.get(session, second).struck_at and costs.of_sheet_plan(session, plan_id) == []


def test_a_struck_printing_is_not_counted_charged_or_given_away_and_no_number_comes_of_it(engine: Engine) -> None:
    two_editions(engine)
    plan_id = kept(engine, eleven(), 1, 2)
    (large, _) = accepted(engine, plan_id)
    run_id = large.id or 0
    taken_back(engine, plan_id)
    with acting(engine, MAY_5) as book:
        with refused("That printing was struck as written down by mistake, so it has no prints."):
            runs.count(book, run_id, CountDraft(good=1))
        with refused("That printing was struck as written down by mistake, so it has no prints."):
            spares.settle(book, runs.standing(book.session, run_id), FateDraft(fate="given", how_many=1))
        with refused("That printing was struck. Choose the one it was spent on."):
            costs.add(book, CostDraft(basis="run", target_id=run_id, amount_minor=100, spent_on=MAY_4))
    made(engine, 1)
    with reading(engine) as session:
        assert spares.by_run(session, 1) == {run_id: 0}
    standing = run_of(engine, 1)
    made(engine, 2)
    with reading(engine) as session:
        assert spares.by_run(session, 1) == {run_id: 0, standing: 0}
