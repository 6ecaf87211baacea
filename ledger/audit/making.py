"""What must hold of what prints were made from, what that cost, and what is left of the takings."""

from collections.abc import Iterator
from itertools import groupby

from sqlmodel import Session, col, select

from ledger import mounts, recipes, reports, runs, spares
from ledger.reckoning.recipe import charges
from ledger.tables import Cost, Edition, Event, Finished, MountPlan, Run


def money_adds_up(session: Session) -> Iterator[str]:
    """Of every edition: taken, less tax, selling, occasions and making, is what is left less what is still here."""
    for edition_id in session.exec(select(Edition.id).order_by(col(Edition.id))):
        worth = reports.margin(session, edition_id or 0).with_labour
        spent = worth.takings - worth.tax - worth.selling - worth.occasions - worth.making
        here = worth.left - worth.stock - worth.waiting
        if spent != here:
            yield f"the money of edition {edition_id} does not add up: {spent} on one side, {here} on the other"


def good_prints_are_enough(session: Session) -> Iterator[str]:
    """A run counts at least as many good prints as were numbered from it or accounted for."""
    for edition_id in session.exec(select(Run.edition_id).distinct().order_by(col(Run.edition_id))):
        for run_id, left in spares.by_run(session, edition_id).items():
            if left < 0:
                good = runs.get(session, run_id).good
                yield f"printing {run_id} counts {good} good, and {good - left} are numbered or accounted for"


def finished_prints_bear_their_recipe(session: Session) -> Iterator[str]:
    """What each finishing charged its prints, struck or not, is what its recipe comes to for as many of them.

    Those whose share was nought, and no others, are kept without a charge.
    """
    told: dict[int, list[int]] = {}
    for event in session.exec(select(Event).where(Event.kind == "finished").order_by(col(Event.id))):
        told.setdefault(event.entry_seq, []).append(event.piece_id or 0)
    rows = select(Finished, Cost).outerjoin(Cost, col(Cost.id) == Finished.cost_id).order_by(col(Finished.entry_seq))
    for seq, kept in groupby(session.exec(rows).all(), key=lambda row: row[0].entry_seq):
        of_one = list(kept)
        charged = {(cost.piece_id, cost.own_labour): cost.amount_minor for _, cost in of_one if cost is not None}
        free = {row.piece_id for row, cost in of_one if cost is None}
        prints = told.get(seq, [])
        lines = recipes.lines_of(session, of_one[0][0].recipe_id)
        due = dict(zip(prints, charges(lines, len(prints)), strict=True)) if prints else {}
        asked = {(each, False): charge.materials for each, charge in due.items()}
        asked |= {(each, True): charge.own_time for each, charge in due.items()}
        borne = {bearer: amount for bearer, amount in asked.items() if amount}
        if charged != borne or free != due.keys() - {piece_id for piece_id, _ in borne}:
            yield f"the prints that entry {seq} finished do not bear what its recipe says"


def mount_plans_are_as_asked(session: Session) -> Iterator[str]:
    """The columns a mount plan is found by say what it was asked with."""
    for row in session.exec(select(MountPlan).order_by(col(MountPlan.id))):
        asked = mounts.draft_of(row)
        for name in ("title", "kind", "unit", "size_id", "cutter_id"):
            if getattr(row, name) != getattr(asked, name):
                yield f"mount plan {row.id} is found by another {name} than it was asked with"
