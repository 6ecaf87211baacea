"""The sheets of a plan bought: its printings and what the sheets cost written down, or taken back as a mistake."""

from dataclasses import replace
from datetime import date

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import costs, editions, journal, runs, sheets, spares, works
from ledger.costs import CostDraft
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.reckoning import dates
from ledger.reckoning.money import shares
from ledger.reckoning.texts import tidy
from ledger.runs import RunDraft
from ledger.sheets import For, PlanView
from ledger.tables import Cost, Run, SheetPlan

MOST_SHEETS = 10_000


class AcceptDraft(BaseModel):
    """The sheets bought, what each cost and what delivery cost (minor units), and the day they were printed."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    sheets: int
    sheet_minor: int
    delivery_minor: int = 0
    made_on: date


def accept(book: Book, plan_id: int, draft: AcceptDraft) -> list[Run]:
    """The sheets of a plan were bought and printed: a printing for each size of an edition, its part of the cost on it.

    The money is split by planned area with gutter; what lies on prints of no edition, or of one that has ended since,
    is the studio's. Raises Refusal.
    """
    seen = sheets.view(book.session, plan_id)
    _check_accepted(seen, draft, book.today)
    seen = replace(seen, sizes=tuple(_still_made(book.session, each) for each in seen.sizes))
    row = sheets.get(book.session, plan_id)
    row.accepted_on, row.sheet_minor = book.today, draft.sheet_minor
    row.bought, row.delivery_minor, row.printed_on = draft.sheets, draft.delivery_minor, draft.made_on
    book.session.add(row)
    prints, areas = seen.planned.prints(draft.sheets), seen.planned.areas(draft.sheets)
    total = draft.sheets * draft.sheet_minor + draft.delivery_minor
    parts = shares(total, _by_purpose(seen, areas)) if total else []
    note = f"{draft.sheets:,} {'sheet' if draft.sheets == 1 else 'sheets'}, plan “{seen.name}”"
    made: list[Run] = []
    for place, made_for in enumerate(seen.sizes):
        if made_for is None or not prints[place]:
            continue
        run = RunDraft(
            edition_id=made_for.edition_id, size_id=made_for.size_id, plan_id=plan_id, made_on=draft.made_on,
            sheets=draft.sheets, good=prints[place], note=note,
        )  # fmt: skip
        made.append(runs.record(book, run))
        _spend(book, row, parts[place] if parts else 0, note, made[-1].id)
    _spend(book, row, parts[-1] if parts else 0, f"{note}: prints for no edition, or for one that has ended", None)
    journal.sealed(
        book,
        "sheets_accepted",
        {
            "plan": plan_id,
            "sheets": draft.sheets,
            "sheet": draft.sheet_minor,
            "delivery": draft.delivery_minor,
            "runs": [run.id for run in made],
        },
    )
    return made


def _still_made(session: Session, made_for: For | None) -> For | None:
    return None if made_for is None or editions.ended(session, made_for.edition_id) else made_for


def _check_accepted(seen: PlanView, draft: AcceptDraft, today: date) -> None:
    if seen.accepted_on is not None:
        raise Refusal(
            f"This plan was accepted on {dates.said(seen.accepted_on)}. Keep it again, under another name, for "
            "another order."
        )
    if not 1 <= draft.sheets <= MOST_SHEETS:
        raise Refusal(f"Write how many sheets were bought, from 1 to {MOST_SHEETS:,}.", field="sheets")
    if draft.made_on > today:
        raise Refusal("That day is still to come. Write the day they were printed.", field="made_on")
    for field, amount in (("sheet_minor", draft.sheet_minor), ("delivery_minor", draft.delivery_minor)):
        sheets.check_money(amount, field)
    sheets.check_money(draft.sheets * draft.sheet_minor + draft.delivery_minor, "sheet_minor")
    if not any(seen.sizes):
        raise Refusal(
            "No print of this plan is of an edition, so there is no printing to write down. Write what the sheets "
            "cost under Costs, or plan again and choose what each print is for."
        )


def _by_purpose(seen: PlanView, areas: tuple[int, ...]) -> list[int]:
    """The area of each size that is for an edition, then the area of all the others together."""
    ours = [area if made_for else 0 for area, made_for in zip(areas, seen.sizes, strict=True)]
    return [*ours, sum(areas) - sum(ours)]


def _spend(book: Book, plan: SheetPlan, amount: int, note: str, run_id: int | None) -> None:
    if amount and plan.printed_on:
        cost = CostDraft(
            basis="studio" if run_id is None else "run", target_id=run_id, amount_minor=amount,
            spent_on=plan.printed_on, note=note, sheet_plan_id=plan.id,
        )  # fmt: skip
        costs.add(book, cost)


def take_back(book: Book, plan_id: int, why: str) -> None:
    """A plan was accepted by mistake: its printings and costs are struck, and it can be accepted again.

    Raises Refusal once one of its printings was counted, or a print of it numbered, and where it was accepted before
    this book kept which costs were its own.
    """
    seen = sheets.view(book.session, plan_id)
    reason = tidy(why, "The reason", limit=300, field="why")
    if seen.accepted_on is None:
        raise Refusal("This plan is not accepted, so there is nothing to take back.")
    if seen.bought is None:
        raise Refusal(
            f"This plan was accepted on {dates.said(seen.accepted_on)}, before this book kept which costs came of it, "
            "so it cannot be taken back whole. Strike those costs under Costs, and count the prints of each of its "
            "printings as nought."
        )
    for cost in costs.of_sheet_plan(book.session, plan_id):
        costs.strike(book, cost.id or 0, reason)
    for run in seen.runs:
        _strike(book, run, reason)
    row = sheets.get(book.session, plan_id)
    row.accepted_on = row.bought = row.delivery_minor = row.printed_on = None
    book.session.add(row)
    facts = {"plan": plan_id, "runs": [run.id for run in seen.runs]}
    journal.sealed(book, "sheets_taken_back", facts, person={"why": reason})


def _strike(book: Book, run: Run, why: str) -> None:
    """A printing of a plan was written down by mistake: it stays in the record and has no prints."""
    _check_unused(book.session, run)
    run.good, run.struck_at = 0, book.at
    book.session.add(run)
    book.session.flush()
    touched = Touched("unprinted", book.today, edition_id=run.edition_id, text=why)
    journal.sealed(book, "run_struck", {"run": run.id}, touched, person={"why": why})


def _check_unused(session: Session, run: Run) -> None:
    title = works.get(session, editions.get(session, run.edition_id).work_id).title
    it = f"printing of {title}, {dates.said(run.made_on)},"
    if run.counted_on is not None:
        raise Refusal(f"The {it} was counted on {dates.said(run.counted_on)}, so it took place. Put its count right.")
    taken = run.good - spares.by_run(session, run.edition_id)[run.id or 0]
    if taken:
        prints = f"1 print of the {it} is" if taken == 1 else f"{taken:,} prints of the {it} are"
        raise Refusal(f"{prints} numbered, so it took place. Put its count right.")
    if run.spoilt:
        raise Refusal(f"A print of the {it} was spoilt at the bench, so it took place. Put its count right.")
    others = select(Cost.id).where(Cost.run_id == run.id, col(Cost.struck_at).is_(None))
    if session.exec(others).first() is not None:
        raise Refusal(f"Another cost was written on the {it} by itself. Strike that one under Costs first.")
