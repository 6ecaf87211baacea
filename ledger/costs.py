"""Costs: money or own time spent, each with the one thing it was spent on."""

from datetime import date
from typing import Literal

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, SQLModel, col, select

from ledger import journal, studio
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.reckoning import money
from ledger.reckoning.texts import tidy
from ledger.tables import Cost, Edition, Finished, Occasion, Piece, PrintClass, Run, Sale, SaleLine

Basis = Literal["piece", "run", "edition", "sale", "occasion", "studio"]
TARGETS: dict[str, type[SQLModel]] = {
    "piece": Piece,
    "run": Run,
    "edition": Edition,
    "sale": Sale,
    "occasion": Occasion,
}
_CALLED = {"piece": "print", "run": "printing", "edition": "edition", "sale": "sale", "occasion": "fair or round"}


class CostDraft(BaseModel):
    """What was spent (minor units, less tax the maker gets back), and on what; the studio has no target.

    `sheet_plan_id` is the plan whose sheets it paid for, where accepting that writes it down.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    basis: Basis
    target_id: int | None = None
    own_labour: bool = False
    amount_minor: int
    spent_on: date
    note: str = ""
    sheet_plan_id: int | None = None


def add(book: Book, draft: CostDraft) -> Cost:
    """Write down a cost. Raises Refusal."""
    cost = enter(book, draft)
    journal.sealed(
        book,
        "cost",
        {
            "cost": cost.id,
            "basis": cost.basis,
            "target": draft.target_id or 0,
            "own_labour": int(cost.own_labour),
            "amount": cost.amount_minor,
            "spent_on": cost.spent_on.isoformat(),
        },
        _touched(book.session, "cost", cost),
        person={"note": cost.note} if cost.note else None,
    )
    return cost


def enter(book: Book, draft: CostDraft) -> Cost:
    """The row of a cost; appends no entry, for the act it is part of does. Raises Refusal."""
    if draft.amount_minor <= 0:
        raise Refusal("A cost is more than nothing. Write what was spent.", field="amount")
    if draft.spent_on > book.today:
        raise Refusal("That day is still to come. Write the day it was spent.", field="spent_on")
    _check_target(book.session, draft)
    note = tidy(draft.note, "The note", limit=300, needed=False, field="note")
    cost = Cost(
        basis=draft.basis,
        own_labour=draft.own_labour,
        amount_minor=draft.amount_minor,
        spent_on=draft.spent_on,
        note=note,
        sheet_plan_id=draft.sheet_plan_id,
    )
    if draft.basis != "studio":
        setattr(cost, f"{draft.basis}_id", draft.target_id)
    book.session.add(cost)
    book.session.flush()
    return cost


def _check_target(session: Session, draft: CostDraft) -> None:
    if draft.basis == "studio":
        if draft.target_id is not None:
            raise Refusal("A cost of the whole studio lies on no one thing. Leave it out.", field="target_id")
        return
    called = _CALLED[draft.basis]
    if draft.target_id is None:
        raise Refusal(f"Say which {called} it was spent on.", field="target_id")
    if session.get(TARGETS[draft.basis], draft.target_id) is None:
        raise Refusal(f"No {called} has the number {draft.target_id}.", field="target_id")
    if draft.basis == "sale" and not _stands(session, draft.target_id):
        raise Refusal("That sale was struck. Choose the one it was spent on.", field="target_id")
    if draft.basis == "run" and session.exec(select(Run.struck_at).where(Run.id == draft.target_id)).one():
        raise Refusal("That printing was struck. Choose the one it was spent on.", field="target_id")


def _stands(session: Session, sale_id: int) -> bool:
    lines = select(SaleLine.id).where(SaleLine.sale_id == sale_id, SaleLine.outcome != "struck")
    return session.exec(lines).first() is not None


def _touched(session: Session, kind: str, cost: Cost) -> Touched:
    said = money.shown(cost.amount_minor, studio.currency(session))
    return Touched(
        kind,
        cost.spent_on,
        edition_id=edition_of(session, cost),
        piece_id=cost.piece_id,
        text=f"{said} {cost.note}".strip(),
    )


def edition_of(session: Session, cost: Cost) -> int | None:
    """The edition whose making a cost belongs to; None for what selling or the studio cost."""
    if cost.run_id is not None:
        return session.exec(select(Run.edition_id).where(Run.id == cost.run_id)).one()
    if cost.piece_id is not None:
        of_piece = select(PrintClass.edition_id).join(Piece, col(Piece.class_id) == PrintClass.id)
        return session.exec(of_piece.where(Piece.id == cost.piece_id)).one()
    return cost.edition_id


def strike(book: Book, cost_id: int, why: str) -> Cost:
    """Strike a cost written down by mistake: it stays in the record and counts nowhere. Raises Refusal."""
    cost = get(book.session, cost_id)
    reason = tidy(why, "The reason", limit=300, field="why")
    if cost.struck_at is not None:
        raise Refusal("That cost was struck already.")
    cost.struck_at = book.at
    book.session.add(cost)
    journal.sealed(
        book, "cost_struck", {"cost": cost_id}, _touched(book.session, "cost_struck", cost), person={"why": reason}
    )
    return cost


def get(session: Session, cost_id: int) -> Cost:
    """Raises Refusal (missing)."""
    cost = session.get(Cost, cost_id)
    if cost is None:
        raise Refusal(f"No cost has the number {cost_id}.", missing=True)
    return cost


def between(session: Session, from_on: date, to_on: date) -> list[Cost]:
    """The costs of these days that were not struck, in order."""
    query = select(Cost).where(
        col(Cost.spent_on) >= from_on, col(Cost.spent_on) <= to_on, col(Cost.struck_at).is_(None)
    )
    return list(session.exec(query.order_by(col(Cost.spent_on), col(Cost.id))))


def of_sheet_plan(session: Session, plan_id: int) -> list[Cost]:
    """What accepting a sheet plan wrote down, without what was struck."""
    query = select(Cost).where(Cost.sheet_plan_id == plan_id, col(Cost.struck_at).is_(None))
    return list(session.exec(query.order_by(col(Cost.id))))


def lately(session: Session, limit: int = 50, sheet_plan_id: int | None = None) -> list[Cost]:
    """The costs written down last, newest first, struck ones too; not those that recipes gave.

    With a sheet plan, those that accepting it wrote down.
    """
    by_recipe = select(Finished.id).where(Finished.cost_id == Cost.id).exists()
    wanted = ~by_recipe if sheet_plan_id is None else col(Cost.sheet_plan_id) == sheet_plan_id
    return list(session.exec(select(Cost).where(wanted).order_by(col(Cost.id).desc()).limit(limit)))
