"""Spares: good prints of a printing that no number was written on, and what became of them."""

from collections import Counter
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict
from sqlalchemy import func
from sqlmodel import Session, col, select

from ledger import editions, journal
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.reckoning import dates
from ledger.reckoning.texts import tidy
from ledger.tables import Piece, PrintClass, Run, SpareFate

Fate = Literal["destroyed", "replacement", "archive", "given"]
FATES: dict[str, str] = {
    "destroyed": "destroyed",
    "replacement": "kept to replace damaged prints",
    "archive": "kept as archive copies",
    "given": "given away",
}


class FateDraft(BaseModel):
    """What became of so many spares."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    fate: Fate
    how_many: int
    note: str = ""


def settle(book: Book, run: Run, draft: FateDraft) -> SpareFate:
    """Write down what became of good prints that no number was written on. Raises Refusal, before they are counted."""
    if not counted(run):
        raise Refusal("This printing is not counted yet. Count what came back, then say what became of the spares.")
    left = by_run(book.session, run.edition_id)[run.id or 0]
    if not 1 <= draft.how_many <= left:
        raise Refusal(_left_said(left), field="how_many")
    return _write_down(book, run, draft)


def _write_down(book: Book, run: Run, draft: FateDraft) -> SpareFate:
    note = tidy(draft.note, "The note", limit=300, needed=False, field="note")
    row = SpareFate(
        run_id=run.id or 0, fate=draft.fate, how_many=draft.how_many, settled_on=book.today, note=note
    )  # fmt: skip
    book.session.add(row)
    book.session.flush()
    said = f"{draft.how_many:,} {FATES[draft.fate]}" + (f": {note}" if note else "")
    journal.sealed(
        book,
        "spares_settled",
        {"run": run.id, "fate": draft.fate, "how_many": draft.how_many},
        Touched("spares_settled", book.today, edition_id=run.edition_id, text=said),
        person={"note": note} if note else None,
    )
    return row


def keep_for_second(book: Book, run: Run) -> None:
    """A second print of a number is of those kept to replace damaged ones: where none is left, one more was kept."""
    if kept_by_run(book.session, run.edition_id)[run.id or 0] < 0:
        _write_down(book, run, FateDraft(fate="replacement", how_many=1))


def _left_said(left: int) -> str:
    if left < 1:
        return "Every good print of this printing is numbered or accounted for."
    if left == 1:
        return "This printing has 1 good print without a number. Write 1."
    return f"This printing has {left:,} good prints without a number. Write how many, from 1 to {left:,}."


def settle_beyond(book: Book, edition_id: int, fate: Fate | None, numbers_left: int) -> None:
    """Say of an edition that ends what became of its spares beyond the numbers still to be made.

    Raises Refusal while there are some and nothing is said, or a printing of them is not counted.
    """
    found = _beyond(book.session, edition_id, numbers_left)
    for run, _ in found:
        if not counted(run):
            day = dates.said(run.made_on)
            raise Refusal(
                f"The printing of {day} is not counted yet. Count what came back before this edition ends.",
                field="spares",
            )
    if found and fate is None:
        how_many = sum(left for _, left in found)
        raise Refusal(f"{without_number(how_many)} Say what became of them before this edition ends.", field="spares")
    for run, left in found:
        assert fate is not None
        settle(book, run, FateDraft(fate=fate, how_many=left))


def without_number(how_many: int) -> str:
    """'2 good prints have no number.'"""
    return "1 good print has no number." if how_many == 1 else f"{how_many:,} good prints have no number."


def _beyond(session: Session, edition_id: int, numbers_left: int) -> list[tuple[Run, int]]:
    """The spares that none of so many numbers still to be made will take, by printing: those take the oldest."""
    found = []
    for run, spare in _left(session, edition_id):
        if spare > numbers_left:
            found.append((run, spare - numbers_left))
        numbers_left = max(0, numbers_left - spare)
    return found


def left_over(session: Session, edition_id: int) -> int:
    """How many counted good prints of an edition no number is left for; an open one makes new numbers."""
    edition = editions.get(session, edition_id)
    if edition.kind == "open" and edition.closed_on is None:
        return 0
    found = _beyond(session, edition_id, editions.to_make(session, edition_id))
    return sum(left for run, left in found if counted(run))


def signed_beyond(session: Session, edition_id: int) -> int:
    """How many prints more are signed than came back good; 0 while there is no printing, or one is not counted."""
    left = [(run, spare) for run, spare in _left(session, edition_id) if run.struck_at is None]
    if not left or not all(counted(run) for run, _ in left):
        return 0
    of_none: Any = (
        select(func.count())
        .select_from(Piece)
        .join(PrintClass)
        .where(
            PrintClass.edition_id == edition_id,
            Piece.state == "inscribed",
            Piece.origin == "made",
            col(Piece.run_id).is_(None),
        )
    )
    return max(0, int(session.exec(of_none).one()) - sum(spare for _, spare in left))


def counted(run: Run) -> bool:
    """Whether its good prints are those that came back, not those planned on the sheets."""
    return run.planned is None or run.counted_on is not None


def settled(session: Session, run_id: int) -> list[SpareFate]:
    """What became of spares of a run so far."""
    return list(session.exec(select(SpareFate).where(SpareFate.run_id == run_id).order_by(col(SpareFate.id))))


def by_run(session: Session, edition_id: int) -> dict[int, int]:
    """For each run of an edition, oldest first, its good prints no number was written on and nothing became of."""
    return {run.id or 0: left for run, left in _left(session, edition_id)}


def by_size(session: Session, edition_id: int) -> dict[int | None, int]:
    """How many spares an edition has of each size (its id; None where no size was said), none left out but noughts."""
    found: dict[int | None, int] = {}
    for run, left in _left(session, edition_id):
        if left:
            found[run.size_id] = found.get(run.size_id, 0) + left
    return found


def kept_by_run(session: Session, edition_id: int) -> dict[int, int]:
    """For each run of an edition, oldest first, the prints kept to replace damaged ones that have replaced none yet."""
    return {run.id or 0: each.kept - each.seconds for run, each in _taken(session, edition_id)}


def _left(session: Session, edition_id: int) -> list[tuple[Run, int]]:
    return [(run, run.good - each.all) for run, each in _taken(session, edition_id)]


@dataclass(frozen=True)
class _Taken:
    """Good prints of a run: first prints of a number and second ones, those kept to replace, and the others gone."""

    firsts: int
    seconds: int
    kept: int
    gone: int

    @property
    def all(self) -> int:
        # Of earlier ledgers some second prints were never said to be kept for that.
        return self.firsts + self.gone + max(self.kept, self.seconds)


def _taken(session: Session, edition_id: int) -> list[tuple[Run, _Taken]]:
    """What was taken of each run of an edition, the oldest first."""
    of_it = select(Run.id).where(Run.edition_id == edition_id)
    numbered = (
        select(Piece.run_id, Piece.generation, func.count())
        .where(col(Piece.run_id).in_(of_it))
        .group_by(col(Piece.run_id), col(Piece.generation))
    )
    told = (
        select(SpareFate.run_id, SpareFate.fate, func.sum(SpareFate.how_many))
        .where(col(SpareFate.run_id).in_(of_it))
        .group_by(col(SpareFate.run_id), col(SpareFate.fate))
    )
    found: Counter[tuple[int | None, str]] = Counter()
    for run_id, generation, how_many in session.exec(numbered):
        found[run_id, "first" if generation == 1 else "second"] += how_many
    for run_id, fate, how_many in session.exec(told):
        found[run_id, "kept" if fate == "replacement" else "gone"] += int(how_many)
    oldest = select(Run).where(Run.edition_id == edition_id).order_by(col(Run.made_on), col(Run.id))
    whats = ("first", "second", "kept", "gone")
    return [(run, _Taken(*(found[run.id, what] for what in whats))) for run in session.exec(oldest)]
