"""Runs: one printing of an edition, with its sheets, and how many came out good and spoilt."""

from datetime import date

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import editions, journal
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.reckoning.texts import tidy
from ledger.tables import Run


class RunDraft(BaseModel):
    """One printing: sheets bought for it, prints good and spoilt."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    edition_id: int
    made_on: date
    sheets: int
    good: int
    spoilt: int = 0
    note: str = ""


def record(book: Book, draft: RunDraft) -> Run:
    """Write down a printing; what it cost is entered with it as basis. Raises Refusal."""
    editions.standing(book.session, draft.edition_id)
    if draft.made_on > book.today:
        raise Refusal("That day is still to come. Write the day it was printed.", field="made_on")
    for name, count in (("sheets", draft.sheets), ("good", draft.good), ("spoilt", draft.spoilt)):
        if count < 0:
            raise Refusal("A count is nought or more. Count the sheets again.", field=name)
    note = tidy(draft.note, "The note", limit=300, needed=False, field="note")
    run = Run(
        edition_id=draft.edition_id,
        made_on=draft.made_on,
        sheets=draft.sheets,
        good=draft.good,
        spoilt=draft.spoilt,
        note=note,
    )
    book.session.add(run)
    book.session.flush()
    journal.sealed(
        book,
        "run_recorded",
        {
            "run": run.id,
            "edition": run.edition_id,
            "made_on": run.made_on.isoformat(),
            "sheets": run.sheets,
            "good": run.good,
            "spoilt": run.spoilt,
        },
        Touched("printed", run.made_on, edition_id=run.edition_id, text=note or None),
        person={"note": note} if note else None,
    )
    return run


def spoil_one(book: Book, run_id: int) -> None:
    """One print counted as good was spoilt at the bench; appends no entry, for the spoiling does."""
    run = get(book.session, run_id)
    run.good, run.spoilt = max(run.good - 1, 0), run.spoilt + 1
    book.session.add(run)


def get(session: Session, run_id: int) -> Run:
    """Raises Refusal (missing)."""
    run = session.get(Run, run_id)
    if run is None:
        raise Refusal(f"No printing has the number {run_id}.", missing=True)
    return run


def of_edition(session: Session, edition_id: int) -> list[Run]:
    """The printings of an edition, in order."""
    return list(session.exec(select(Run).where(Run.edition_id == edition_id).order_by(col(Run.id))))
