"""Sheets planned and accepted: what each edition's prints bear, what is counted, and what becomes of spares."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine
from sqlmodel import select

from ledger import costs, declarations, journal, making_costs, numbers, reports, runs, sheets, sheets_bought, spares
from ledger.backups import back_up, restore
from ledger.database import reading
from ledger.numbers import InscribeDraft
from ledger.promises import ClassDraft
from ledger.reckoning import sheet_plan
from ledger.reckoning.money import shares
from ledger.reckoning.sheet_layout import Job, Sheet, Wanted
from ledger.reckoning.sheet_plan import Cutting, Planned, work_out
from ledger.runs import CountDraft, RunDraft
from ledger.sheets import PlanDraft
from ledger.sheets_bought import AcceptDraft
from ledger.spares import FateDraft
from ledger.tables import Cost, Run
from ledger.works import WorkDraft, add
from tests import cast
from tests.cast import MAY_4, acting, made, refused, seen

MAY_5 = date(2026, 5, 5)
A3 = Sheet(297_000, 420_000, 5_000, 5_000, 5_000, 5_000)


def planned(*wanted: Wanted, cutting: Cutting = "guillotine", counts: tuple[int, ...] = ()) -> Planned:
    """The plan proposed for these sizes on A3, margins 5 and gutter 4, or the mix with these counts."""
    choices = work_out(Job(A3, wanted, 4_000), cutting).choices
    return next(each for each in choices if not counts or each.counts == counts)


def mm(width: int, height: int, **more: Any) -> Wanted:
    return Wanted(width * 1000, height * 1000, **more)


def eleven() -> Planned:
    """Four of 127 mm square and seven of 60 x 90 on one A3."""
    return planned(mm(127, 127), mm(60, 90), counts=(4, 7))


def two_editions(engine: Engine) -> None:
    """The road in 25 without proofs, 127 mm square (edition and size 1), and a small one in 7, 60 x 90 (2 and 2)."""
    cast.road(engine, outside=())
    with acting(engine) as book:
        add(book, WorkDraft(title="Lamp Room, Low Tide", artist=cast.MAKER, year_made=2024, medium="Photograph"))
        small = cast.promise(work_id=2, count=7, outside=(), sizes=(cast.size(60, 90),))
        declarations.declare(book, small)


def kept(engine: Engine, plan: Planned, *size_ids: int | None, name: str = "Eleven up") -> int:
    with acting(engine) as book:
        return sheets.keep(book, PlanDraft(name=name, planned=plan, size_ids=size_ids)).id or 0


def accepted(engine: Engine, plan_id: int, bought: int = 1, price: int = 840, delivery: int = 0) -> list[Run]:
    draft = AcceptDraft(sheets=bought, sheet_minor=price, delivery_minor=delivery, made_on=MAY_4)
    with acting(engine) as book:
        return sheets_bought.accept(book, plan_id, draft)


def count(engine: Engine, run_id: int, **counted: Any) -> None:
    with acting(engine) as book:
        runs.count(book, run_id, CountDraft(**counted))


def cost_of(engine: Engine, number: int, edition: int = 1) -> Any:
    piece_id = seen(engine, number, edition=edition).id
    with reading(engine) as session:
        return making_costs.of_pieces(session, {piece_id: edition})[piece_id].with_own_labour


def test_a_kept_plan_reads_back_as_it_was_worked_out(engine: Engine) -> None:
    two_editions(engine)
    plan = eleven()
    pinwheel = planned(mm(100, 150), cutting="knife")
    assert sheet_plan.read(sheet_plan.written(pinwheel)) == pinwheel
    plan_id = kept(engine, plan, 1, None)
    with reading(engine) as session:
        view = sheets.view(session, plan_id)
        assert view.planned == plan and view.accepted_on is None and view.runs == ()
        assert [each.title if each else None for each in view.sizes] == [cast.TITLE, None]
        assert [each.id for each in sheets.listing(session)] == [plan_id]


def test_the_worked_sheet_of_eleven_lies_on_its_prints_to_the_penny(engine: Engine) -> None:
    # A sheet of 8.40 with 4 of 127 sq and 7 of 60 x 90: 131 x 131 = 17,161 and 64 x 94 = 6,016 with gutter, 110,756
    # in all. 4 x 1.30, 5 x 0.46 and 2 x 0.45 make 8.40.
    two_editions(engine)
    large, small = accepted(engine, kept(engine, eleven(), 1, 2))
    with reading(engine) as session:
        lies_on = [(cost.run_id, cost.amount_minor) for cost in session.exec(select(Cost).order_by(Cost.id))]
    assert lies_on == [(large.id, 521), (small.id, 319)]  # 840 x 68,644 / 110,756 = 520.6
    made(engine, 1, 2, 3, 4)
    made(engine, *range(1, 8), edition=2)
    each = [cost_of(engine, number) for number in range(1, 5)]
    each += [cost_of(engine, number, edition=2) for number in range(1, 8)]
    assert sum(each) == 840
    assert shares(840, each) == [130] * 4 + [46] * 5 + [45] * 2


def test_three_spoilt_make_the_others_dearer(engine: Engine) -> None:
    two_editions(engine)
    (run,) = accepted(engine, kept(engine, planned(mm(127, 127)), 1), price=1200, delivery=600)
    assert (run.planned, run.good, run.spoilt) == (6, 6, 0)
    made(engine, 1)
    assert cost_of(engine, 1) == 300
    count(engine, run.id or 0, spoilt=3)
    assert cost_of(engine, 1) == 600
    with reading(engine) as session:
        again = runs.get(session, run.id or 0)
        assert (again.good, again.spoilt, again.counted_on) == (3, 3, MAY_4)
        worth = reports.margin(session, 1).with_labour
        assert (worth.making, worth.stock, worth.waiting) == (1800, 1800, 0)
        assert spares.by_size(session, 1) == {1: 2}


def test_counting_again_is_a_correction_with_an_entry_of_its_own(engine: Engine) -> None:
    two_editions(engine)
    (run,) = accepted(engine, kept(engine, planned(mm(127, 127)), 1))
    with reading(engine) as session:
        before = journal.length(session)
    count(engine, run.id or 0, good=4, spoilt=2)
    count(engine, run.id or 0, good=5, spoilt=1)
    with reading(engine) as session:
        assert journal.length(session) == before + 4  # two acts, and the seal of the rows of each
        assert (runs.get(session, run.id or 0).good, runs.get(session, run.id or 0).spoilt) == (5, 1)


def test_more_prints_than_were_planned_need_a_sentence(engine: Engine) -> None:
    two_editions(engine)
    (run,) = accepted(engine, kept(engine, planned(mm(127, 127)), 1), bought=2)
    with refused("12 prints were planned on the sheets bought, and good and spoilt make 13."):
        count(engine, run.id or 0, good=12, spoilt=1)
    count(engine, run.id or 0, good=12, spoilt=1, why="the lab put one more on the edge")
    with refused("A count is nought or more"):
        count(engine, run.id or 0, good=3, spoilt=-1)


def test_fewer_good_prints_than_are_numbered_are_not_counted(engine: Engine) -> None:
    two_editions(engine)
    (run,) = accepted(engine, kept(engine, planned(mm(127, 127)), 1))
    made(engine, 1, 2)
    with refused("2 good prints of this printing are numbered or accounted for already, and 1 are counted"):
        count(engine, run.id or 0, good=1, spoilt=5)


def test_prints_of_no_edition_bear_their_part_and_it_is_the_studios(engine: Engine) -> None:
    two_editions(engine)
    (large,) = accepted(engine, kept(engine, eleven(), 1, None))
    with reading(engine) as session:
        rows = [(cost.basis, cost.run_id, cost.amount_minor) for cost in costs.lately(session)]
    assert rows == [("studio", None, 319), ("run", large.id, 521)]


def test_a_plan_is_accepted_once_and_only_with_sheets_of_an_edition(engine: Engine) -> None:
    two_editions(engine)
    plan_id = kept(engine, eleven(), 1, 2)
    with refused("Write how many sheets were bought, from 1 to 10,000."):
        accepted(engine, plan_id, bought=0)
    with refused("A price is nought or more."):
        accepted(engine, plan_id, price=-1)
    accepted(engine, plan_id)
    with refused("This plan was accepted on 4 May 2026."):
        accepted(engine, plan_id)
    with refused("No print of this plan is of an edition"):
        accepted(engine, kept(engine, eleven(), None, None))
    with refused("No sheet plan has the number 9."):
        accepted(engine, 9)


def test_a_plan_is_refused_for_a_size_that_does_not_hold_its_image(engine: Engine) -> None:
    two_editions(engine)
    with refused("The image of Forty Minutes of Road is 127 × 127 mm and does not fit on a print of 60 × 90 mm."):
        kept(engine, eleven(), 2, 1)
    with refused("Two lines of this plan are for the same size."):
        kept(engine, eleven(), 1, 1)
    with refused("No size has the number 9."):
        kept(engine, eleven(), 9, None)
    with refused("The name is empty"):
        kept(engine, eleven(), 1, 2, name=" ")


def test_quantities_take_the_fewest_sheets_and_the_plan_says_how_many_of_each_those_give(engine: Engine) -> None:
    two_editions(engine)
    plan = planned(mm(127, 127, quantity=8), mm(60, 90, quantity=20))
    assert plan.proved and plan.prints(plan.count) == plan.counts
    assert all(got >= wanted for got, wanted in zip(plan.counts, (8, 20), strict=True))
    assert plan.prints(2 * plan.count) == tuple(2 * each for each in plan.counts)
    of_each = accepted(engine, kept(engine, plan, 1, 2), bought=plan.count)
    assert tuple(run.planned for run in of_each) == plan.counts


def test_numbering_takes_the_oldest_spare_of_its_size(engine: Engine) -> None:
    cast.opened(engine)
    sizes = (cast.size(127, 127, "small"), cast.size(203, 203, "large"))
    cast.declared(engine, cast.promise(sizes=sizes))
    with acting(engine) as book:
        for made_on, size_id in ((MAY_4, 1), (MAY_4, 2), (date(2026, 5, 1), 2)):
            draft = RunDraft(edition_id=1, made_on=made_on, sheets=1, good=1, size_id=size_id)
            runs.record(book, draft)
    taken = []
    for number in (1, 2, 3):
        with acting(engine) as book:
            piece = numbers.inscribe(book, seen(engine, number).id, InscribeDraft(size_id=2))
            taken.append(piece.run_id)
    assert taken == [3, 2, None]
    with reading(engine) as session:
        assert spares.by_size(session, 1) == {1: 1}
    with refused("Every good print of that printing has its number."), acting(engine) as book:
        numbers.inscribe(book, seen(engine, 4).id, InscribeDraft(size_id=2, run_id=2))
    with refused("That printing is of another size."), acting(engine) as book:
        numbers.inscribe(book, seen(engine, 4).id, InscribeDraft(size_id=2, run_id=1))


def test_a_print_signed_before_a_printing_was_not_of_it(engine: Engine) -> None:
    cast.road(engine)
    with acting(engine, MAY_5) as book:
        runs.record(book, RunDraft(edition_id=1, made_on=MAY_5, sheets=1, good=6))
        assert numbers.inscribe(book, seen(engine, 1).id, InscribeDraft(on=MAY_4)).run_id is None
        assert numbers.inscribe(book, seen(engine, 2).id, InscribeDraft()).run_id == 1


def test_closing_early_asks_what_became_of_the_spares(engine: Engine) -> None:
    two_editions(engine)
    (run,) = accepted(engine, kept(engine, planned(mm(127, 127)), 1), price=1200)
    made(engine, 1, 2)
    with refused("This printing is not counted yet. Count what came back"), acting(engine) as book:
        spares.settle(book, runs.get(book.session, run.id or 0), FateDraft(fate="archive", how_many=1))
    not_counted = "The printing of 4 May 2026 is not counted yet. Count what came back before this edition ends."
    with refused(not_counted), acting(engine) as book:
        numbers.close(book, 1, "", "the plate is worn", spares="destroyed")
    count(engine, run.id or 0)
    with acting(engine) as book:
        spares.settle(book, runs.get(book.session, run.id or 0), FateDraft(fate="archive", how_many=1))
    asked = "3 good prints have no number. Say what became of them before this edition ends."
    with refused(asked), acting(engine) as book:
        numbers.close(book, 1, "", "the plate is worn")
    with acting(engine) as book:
        numbers.close(book, 1, "", "the plate is worn", spares="destroyed")
    with reading(engine) as session:
        assert spares.by_size(session, 1) == {}
    assert cost_of(engine, 1) == 600
    with refused("Every good print of this printing is numbered or accounted for."), acting(engine) as book:
        spares.settle(book, runs.get(book.session, run.id or 0), FateDraft(fate="given", how_many=1))


def test_spares_that_can_become_no_number_any_more_bear_nothing(engine: Engine) -> None:
    two_editions(engine)
    with acting(engine) as book:
        run = runs.record(book, RunDraft(edition_id=2, made_on=MAY_4, sheets=1, good=9))
        draft = costs.CostDraft(basis="run", target_id=run.id, amount_minor=900, spent_on=MAY_4)
        costs.add(book, draft)
    made(engine, *range(1, 7), edition=2)
    assert cost_of(engine, 1, edition=2) * 7 == 900  # one number is still to be made, of three spares
    made(engine, 7, edition=2)
    assert cost_of(engine, 1, edition=2) * 7 == 900
    with reading(engine) as session:
        assert reports.margin(session, 2).with_labour.stock == 900


def test_the_audit_finds_a_printing_with_fewer_good_prints_than_are_numbered(unaudited_engine: Engine) -> None:
    from ledger.audit import audit

    cast.road(unaudited_engine)
    with acting(unaudited_engine) as book:
        run = runs.record(book, RunDraft(edition_id=1, made_on=MAY_4, sheets=1, good=2))
    made(unaudited_engine, 1, 2)
    with acting(unaudited_engine) as book:
        runs.get(book.session, run.id or 0).good = 1
        journal.sealed(book, "damage", {"run": run.id})
    with reading(unaudited_engine) as session:
        said = [fault.sentence for fault in audit(session)]
    assert said == ["printing 1 counts 1 good, and 2 are numbered or accounted for"]


@pytest.mark.parametrize(
    ("cutting", "counts", "proved"), [("guillotine", 5, True), ("knife", 6, True)]
)  # of seven it is shown that they do not fit
def test_one_size_is_held_against_straight_turned_and_the_other_way_of_cutting(
    cutting: Cutting, counts: int, proved: bool
) -> None:
    answer = work_out(Job(A3, (mm(100, 150),), 4_000), cutting)
    assert answer.one is not None and (answer.one.straight, answer.one.turned) == (4, 3)
    (choice,) = answer.choices
    assert choice.counts == (counts,)
    assert choice.proved is (proved and (answer.bound is None or answer.bound == counts))


def run_of(engine: Engine, good: int, edition: int = 1, cost: int = 0) -> int:
    with acting(engine) as book:
        run_id = runs.record(book, RunDraft(edition_id=edition, made_on=MAY_4, sheets=1, good=good)).id or 0
        if cost:
            draft = costs.CostDraft(basis="run", target_id=run_id, amount_minor=cost, spent_on=MAY_4)
            costs.add(book, draft)
    return run_id


def test_closing_part_of_an_edition_leaves_the_spares_that_its_other_numbers_need(engine: Engine) -> None:
    two_editions(engine)
    run_id = run_of(engine, 6, cost=1200)
    made(engine, 1)
    with acting(engine) as book:
        numbers.close(book, 1, "10-25", "enough of it")
    made(engine, 2)
    with reading(engine) as session:
        assert spares.by_run(session, 1) == {run_id: 4}
    assert cost_of(engine, 2) == 200


def test_closing_part_of_an_edition_asks_only_of_spares_beyond_the_numbers_left(engine: Engine) -> None:
    two_editions(engine)
    first, last = run_of(engine, 2), run_of(engine, 4)
    with refused("3 good prints have no number."), acting(engine) as book:
        numbers.close(book, 1, "4-25", "enough of it")
    with acting(engine) as book:
        numbers.close(book, 1, "4-25", "enough of it", spares="archive")
    with reading(engine) as session:
        assert spares.by_run(session, 1) == {first: 2, last: 1}


@pytest.fixture
def closed(engine: Engine) -> int:
    """An edition closed with two numbers still to make, and a printing with a good print for each of them."""
    two_editions(engine)
    run_id = run_of(engine, 2)
    with acting(engine) as book:
        numbers.close(book, 1, "3-25", "enough of it")
    return run_id


def test_closing_leaves_a_print_to_each_proof_still_to_be_made(engine: Engine) -> None:
    cast.road(engine, outside=(ClassDraft(kind="AP", count=1),))
    run_id = run_of(engine, 4, cost=1200)
    made(engine, 1, 2)
    with refused("1 good print has no number."), acting(engine) as book:
        numbers.close(book, 1, "", "enough of it")
    with acting(engine) as book:
        numbers.close(book, 1, "", "enough of it", spares="archive")
        assert numbers.inscribe(book, seen(engine, 1, kind="AP").id, InscribeDraft()).run_id == run_id
    with reading(engine) as session:
        assert spares.by_run(session, 1) == {run_id: 0}
    with refused("This edition is closed and has no number left to make."):
        run_of(engine, 1)


def left_over(engine: Engine) -> int:
    with reading(engine) as session:
        return spares.left_over(session, 1)


def counted_again(engine: Engine, run_id: int) -> None:
    count(engine, run_id, good=3)


def printed(engine: Engine, run_id: int) -> None:
    run_of(engine, 1)


def signed_before_the_printing(engine: Engine, run_id: int) -> None:
    with acting(engine) as book:
        numbers.inscribe(book, seen(engine, 1).id, InscribeDraft(on=date(2026, 5, 1)))


def never_made(engine: Engine, run_id: int) -> None:
    with acting(engine) as book:
        numbers.withdraw(book, [seen(engine, 2).id], "enough")


@pytest.mark.parametrize("happened", [counted_again, printed, signed_before_the_printing, never_made])
def test_what_leaves_a_closed_edition_a_print_too_many_is_written_down_and_said_until_it_is_settled(
    engine: Engine, closed: int, happened: Callable[[Engine, int], None]
) -> None:
    assert left_over(engine) == 0
    happened(engine, closed)
    assert left_over(engine) == 1
    with acting(engine) as book:
        spares.settle(book, runs.get(book.session, closed), FateDraft(fate="replacement", how_many=1))
    assert left_over(engine) == 0


def test_prints_of_a_plan_accepted_after_closing_are_left_over_once_they_are_counted(
    engine: Engine, closed: int
) -> None:
    (run,) = accepted(engine, kept(engine, planned(mm(127, 127)), 1))
    assert left_over(engine) == 0
    count(engine, run.id or 0)
    assert left_over(engine) == 6


def test_what_was_printed_for_an_edition_that_has_ended_is_the_studios(engine: Engine) -> None:
    two_editions(engine)
    plan_id, other = kept(engine, eleven(), 1, 2), kept(engine, eleven(), 1, 2, name="Again")
    with acting(engine) as book:
        declarations.withdraw(book, 2, "declared by mistake")
    (large,) = accepted(engine, plan_id)
    with reading(engine) as session:
        studios, ours = costs.lately(session)
    assert (ours.basis, ours.run_id, ours.amount_minor) == ("run", large.id, 521)
    assert (studios.basis, studios.run_id, studios.amount_minor) == ("studio", None, 319)
    assert studios.note == "1 sheet, plan “Eleven up”: prints for no edition, or for one that has ended"
    count(engine, large.id or 0)
    with acting(engine) as book:
        numbers.close(book, 1, "", "enough", spares="destroyed")
    assert accepted(engine, other) == []
    with reading(engine) as session:
        assert spares.by_size(session, 1) == spares.by_size(session, 2) == {}
    with refused("This edition is closed and has no number left to make."):
        run_of(engine, 3)


def test_sheets_are_not_printed_on_a_day_to_come_even_for_editions_that_have_ended(engine: Engine) -> None:
    two_editions(engine)
    plan_id = kept(engine, eleven(), None, 2)
    with acting(engine) as book:
        declarations.withdraw(book, 2, "declared by mistake")
    draft = AcceptDraft(sheets=1, sheet_minor=0, made_on=date(2031, 5, 4))
    with refused("That day is still to come.") as no, acting(engine) as book:
        sheets_bought.accept(book, plan_id, draft)
    assert no.value.field == "made_on"


def test_withdrawing_an_edition_asks_what_became_of_the_prints_made_for_it(engine: Engine) -> None:
    two_editions(engine)
    run_id = run_of(engine, 4)
    with refused("4 good prints have no number."), acting(engine) as book:
        declarations.withdraw(book, 1, "declared by mistake")
    with acting(engine) as book:
        declarations.withdraw(book, 1, "declared by mistake", spares="destroyed")
    with reading(engine) as session:
        assert [(each.fate, each.how_many) for each in spares.settled(session, run_id)] == [("destroyed", 4)]
    with refused("withdrawn as declared by mistake"):
        count(engine, run_id, good=9)


@pytest.mark.parametrize("ended", ["withdrawn", "closed"])
def test_a_ledger_from_before_spares_were_asked_after_is_sound_and_comes_back_from_its_backup(
    sqlite_engine: Engine, tmp_path: Path, ended: str
) -> None:
    cast.road(sqlite_engine, outside=())
    run_id = run_of(sqlite_engine, 5)
    if ended == "closed":
        made(sqlite_engine, 1, 2)
    with acting(sqlite_engine) as book:
        if ended == "withdrawn":
            declarations.withdraw(book, 1, "declared by mistake", spares="destroyed")
        else:
            numbers.close(book, 1, "6-25", "the plate is worn")
    with acting(sqlite_engine) as book:  # as an earlier program let it happen
        runs.get(book.session, run_id).good = 9
        journal.sealed(book, "run_counted", {"run": run_id})
    back_up(sqlite_engine, tmp_path, tmp_path / "backup")
    assert restore(tmp_path / "backup", tmp_path / "elsewhere").files == 0
