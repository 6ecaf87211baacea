"""Runs: one printing of an edition in one size, and how many of its prints came out good."""

from datetime import date

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import editions, journal, spares
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.reckoning.texts import tidy
from ledger.tables import Run, Size


class RunDraft(BaseModel):
    """One printing: sheets bought for it, prints good and spoilt.

    Of a plan, `good` are the prints planned on the sheets: all of them, until they are counted.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    edition_id: int
    made_on: date
    sheets: int
    good: int
    spoilt: int = 0
    note: str = ""
    size_id: int | None = None
    plan_id: int | None = None


class CountDraft(BaseModel):
    """What came back from the cutter. Without `good`, all that are not spoilt; `why` there are more than planned."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    good: int | None = None
    spoilt: int = 0
    why: str = ""


def record(book: Book, draft: RunDraft) -> Run:
    """Write down a printing; what it cost is entered with it as basis. Raises Refusal."""
    editions.standing(book.session, draft.edition_id)
    if editions.ended(book.session, draft.edition_id):
        raise Refusal("This edition is closed and has no number left to make. Write what it cost under Costs.")
    if draft.made_on > book.today:
        raise Refusal("That day is still to come. Write the day it was printed.", field="made_on")
    for name, count in (("sheets", draft.sheets), ("good", draft.good), ("spoilt", draft.spoilt)):
        _check_count(count, name)
    if draft.size_id is not None:
        size = book.session.get(Size, draft.size_id)
        if size is None or size.edition_id != draft.edition_id:
            raise Refusal("That size is not one of this edition. Choose one that was declared.", field="size_id")
    note = tidy(draft.note, "The note", limit=300, needed=False, field="note")
    run = Run(
        edition_id=draft.edition_id,
        size_id=draft.size_id or editions.only_size(book.session, draft.edition_id),
        plan_id=draft.plan_id,
        planned=draft.good if draft.plan_id is not None else None,
        made_on=draft.made_on,
        sheets=draft.sheets,
        good=draft.good,
        spoilt=draft.spoilt,
        note=note,
    )
    book.session.add(run)
    book.session.flush()
    facts = {
        "run": run.id,
        "edition": run.edition_id,
        "made_on": run.made_on.isoformat(),
        "sheets": run.sheets,
        "good": run.good,
        "spoilt": run.spoilt,
        "size": run.size_id or 0,
        "plan": run.plan_id or 0,
    }
    touched = Touched("printed", run.made_on, edition_id=run.edition_id, text=note or None)
    journal.sealed(book, "run_recorded", facts, touched, person={"note": note} if note else None)
    return run


def _check_count(count: int, name: str) -> None:
    if count < 0:
        raise Refusal("A count is nought or more. Count the sheets again.", field=name)


def count(book: Book, run_id: int, draft: CountDraft) -> Run:
    """Write down how many prints are good and how many spoilt; done again, it puts the count right.

    Raises Refusal, for more prints than were planned on the sheets too, unless `why` says how.
    """
    run = standing(book.session, run_id)
    editions.standing(book.session, run.edition_id)
    before = run.good, run.spoilt
    every = run.planned if run.planned is not None else sum(before)
    good = max(every - draft.spoilt, 0) if draft.good is None else draft.good
    for name, counted in (("good", good), ("spoilt", draft.spoilt)):
        _check_count(counted, name)
    why = tidy(draft.why, "The reason", limit=300, needed=False, field="why")
    if run.planned is not None and good + draft.spoilt > run.planned and not why:
        raise Refusal(
            f"{run.planned:,} prints were planned on the sheets bought, and good and spoilt make "
            f"{good + draft.spoilt:,}. Count them again, or write why there are more.",
            field="why",
        )
    taken = run.good - spares.by_run(book.session, run.edition_id)[run_id]
    if good < taken:
        raise Refusal(
            f"{taken:,} good prints of this printing are numbered or accounted for already, and {good:,} are counted. "
            "Count them again; a numbered print that is spoilt is marked so on its own page.",
            field="good",
        )
    run.good, run.spoilt, run.counted_on = good, draft.spoilt, book.today
    book.session.add(run)
    facts = {"run": run_id, "good": good, "spoilt": run.spoilt, "good_before": before[0], "spoilt_before": before[1]}
    said = f"{good:,} good, {run.spoilt:,} spoilt" + (f": {why}" if why else "")
    touched = Touched("counted", book.today, edition_id=run.edition_id, text=said)
    journal.sealed(book, "run_counted", facts, touched, person={"why": why} if why else None)
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


def standing(session: Session, run_id: int) -> Run:
    """A printing that took place. Raises Refusal (missing), and for one that was struck."""
    run = get(session, run_id)
    if run.struck_at is not None:
        raise Refusal("That printing was struck as written down by mistake, so it has no prints.")
    return run


def of_edition(session: Session, edition_id: int) -> list[Run]:
    """The printings of an edition, in order, without struck ones."""
    of_it = select(Run).where(Run.edition_id == edition_id, col(Run.struck_at).is_(None))
    return list(session.exec(of_it.order_by(col(Run.id))))


def to_take_from(
    session: Session, edition_id: int, size_id: int, on: date, run_id: int | None = None, *, second: bool = False
) -> int | None:
    """The run a print signed on a day comes from: the one said, or the oldest of its size that has a spare.

    A `second` print of a number is taken from those kept to replace damaged ones, before any spare. Raises Refusal
    for a run that has none.
    """
    left = spares.by_run(session, edition_id)
    kept = spares.kept_by_run(session, edition_id) if second else {}
    if run_id is None:
        of_size = [each for each in left if _may_be_of(session, each, size_id, on)]
        have = [each for each in of_size if kept.get(each, 0) > 0] or [each for each in of_size if left[each] > 0]
        return have[0] if have else None
    if run_id not in left:
        raise Refusal("That printing is not one of this edition.", field="run_id")
    if left[run_id] < 1 and kept.get(run_id, 0) < 1:
        raise Refusal(
            "Every good print of that printing has its number. Choose another printing, or count that one again.",
            field="run_id",
        )
    if get(session, run_id).size_id not in (None, size_id):
        raise Refusal("That printing is of another size. Choose one of this size.", field="run_id")
    return run_id


def _may_be_of(session: Session, run_id: int, size_id: int, on: date) -> bool:
    run = get(session, run_id)
    return run.size_id == size_id and run.made_on <= on
