"""The audit of the books: what must hold over all rows, looked at afresh, whatever any act believed.

Each check is a function of an open session that yields a sentence for every fault it finds. A sound ledger
yields none.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from sqlalchemy.exc import DBAPIError
from sqlmodel import Session

from ledger.audit import making, prints, record
from ledger.audit.replay import Replay
from ledger.errors import Refusal
from ledger.recount import Order, Reader, Seals, Tree, entries
from ledger.sealed_rows import SealedRows

UNGUARDED = {
    ("secret", "id"): "nothing points at it; what is kept is found by its entry",
    ("secret", "person_id"): "whose words they are goes when they are erased; the record does not name people",
    ("checkpoint", "at"): "a head says how long the record is, not when it was signed",
}
"""Columns that no check claims to guard, and why. Beside them: words that were erased, and every column of what is
no part of the record (accounts, sessions, tokens, repeated requests, search words)."""
Check = Callable[[Session], Iterator[str]]
Progress = Callable[[str], None]


@dataclass(frozen=True)
class Fault:
    """One thing that does not hold: the check that found it, and what is so."""

    check: str
    sentence: str


CHECKS: tuple[Check, ...] = (
    record.database_is_whole,
    record.guards_are_in_place,
    record.the_record_ends_where_it_was_signed,
    record.keys_are_those_of_the_record,
    record.heads_are_of_this_record,
    record.rows_are_all_there,
    prints.numbers_are_all_there,
    prints.owners_and_places,
    prints.certificates_stand_on_prints,
    prints.sold_once,
    prints.lent_is_at_the_gallery,
    prints.editions_hold,
    making.good_prints_are_enough,
    making.money_adds_up,
    making.mount_plans_are_as_asked,
    making.finished_prints_bear_their_recipe,
)
QUICK: tuple[Check, ...] = (
    record.guards_are_in_place,
    record.the_record_ends_where_it_was_signed,
    record.rows_are_all_there,
)
"""What is looked at whenever the ledger is opened; its time hardly grows with the record."""
READERS: tuple[tuple[str, Callable[[], Reader]], ...] = (
    ("the record", Order),
    ("the tree", Tree),
    ("the seals", Seals),
    ("the rows", SealedRows),
    ("the replay", Replay),
)


def audit(session: Session, progress: Progress = lambda _: None) -> list[Fault]:
    """Every fault that is found, in the record first, then in the order of the checks; none in a sound ledger."""
    found = list(of_the_record(session, progress))
    for check in CHECKS:
        progress(_name(check))
        found += _tried(_name(check), partial(check, session))
    return found


def at_opening(session: Session, folder: Path) -> list[Fault]:
    """The faults that can be seen within a moment."""
    found = [fault for check in QUICK for fault in _tried(_name(check), partial(check, session))]
    return found + of_the_folder(session, folder)


def of_the_folder(session: Session, folder: Path) -> list[Fault]:
    """Faults that show where the ledger lies: an older one was put in its place."""
    return _tried("the newest head", partial(record.newest_head_is_of_this_record, session, folder))


def _name(check: Check) -> str:
    return check.__name__.replace("_", " ")


def of_the_record(session: Session, progress: Progress = lambda _: None) -> Iterator[Fault]:
    """What is found while the record is read once, from its first entry to its last."""
    readers = [(name, made()) for name, made in READERS]
    try:
        for entry in entries(session):
            if entry.seq and entry.seq % 10_000 == 0:
                progress(f"{entry.seq:,} entries")
            for name, reader in readers:
                try:
                    for said in reader.see(entry):
                        yield Fault(name, said)
                except STOPPED as cause:
                    yield Fault(name, f"entry {entry.seq} cannot be read: {_first_line(cause)}")
    except STOPPED as cause:
        yield Fault("the record", f"an entry cannot be read: {_first_line(cause)}")
    for name, reader in readers:
        progress(name)
        yield from _tried(name, partial(reader.end, session))


STOPPED = (DBAPIError, ValueError, TypeError, LookupError, AttributeError, Refusal)
"""What a damaged row may stop a check with."""


def _tried(name: str, look: Callable[[], Iterator[str]]) -> list[Fault]:
    """What a check says; a check that a damaged row stops says that."""
    found: list[Fault] = []
    try:
        for said in look():
            found.append(Fault(name, said))
    except STOPPED as cause:
        found.append(Fault(name, f"this could not be counted: {_first_line(cause)}"))
    return found


def _first_line(cause: Exception) -> str:
    said = f"it has no {cause}" if isinstance(cause, KeyError) else str(cause) or type(cause).__name__
    return said.splitlines()[0]
