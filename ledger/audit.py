"""The audit of the books: what must hold over all rows, looked at afresh, whatever any act believed.

Each check is a function of an open session that yields a sentence for every fault it finds. A sound ledger
yields none.
"""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, partial
from itertools import groupby
from pathlib import Path
from typing import Any

from sqlalchemy import func, literal, union_all
from sqlalchemy import select as columns
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session, SQLModel, col, select

from ledger import checkpoints, database, journal, keys, mounts, pieces, provenance, recipes, reports, runs, spares
from ledger.errors import Refusal
from ledger.migrations.triggers import missing_triggers
from ledger.reckoning import merkle
from ledger.reckoning.notes import Checkpoint, read_key
from ledger.reckoning.recipe import charges
from ledger.recount import Order, Reader, Seals, Tree, entries
from ledger.replay import Replay
from ledger.sealed_rows import SealedRows
from ledger.tables import (
    BOOK_TABLES,
    Certificate,
    Consigned,
    Consignment,
    Cost,
    Custody,
    Edition,
    Event,
    Finished,
    Holding,
    Journal,
    JournalNode,
    MountPlan,
    Piece,
    PrintClass,
    Run,
    SaleLine,
    SigningKeys,
)

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


def database_is_whole(session: Session) -> Iterator[str]:
    """The database finds no damage in itself."""
    yield from database.damage(session.connection())


def guards_are_in_place(session: Session) -> Iterator[str]:
    """Every trigger that keeps rows from being changed is there."""
    for name in sorted(missing_triggers(session.connection())):
        yield f"the guard {name} is missing"


def the_record_ends_where_it_was_signed(session: Session) -> Iterator[str]:
    """The last entry is the last of as many, it and its tree are as its bytes have it, and the newest head is theirs.

    What can be said at once, whatever the length of the record.
    """
    size = journal.length(session)
    count = session.exec(select(func.count()).select_from(Journal)).one()
    if count != size:
        yield f"the record has {count} entries and its last is number {size - 1}"
        return
    last = session.exec(select(Journal).order_by(col(Journal.seq).desc()).limit(1)).first()
    if last is not None:
        node = session.get(JournalNode, (0, last.seq))
        if last.leaf != merkle.leaf_hash(last.body) or node is None or node.hash != last.leaf:
            yield f"entry {last.seq} does not match its hash"
        journal.root(session, size)
    head, have = checkpoints.latest(session), keys.in_force(session)
    if head is not None and have is not None:
        yield from _head_fits(session, checkpoints.opened(head, read_key(have.journal)))


def _head_fits(session: Session, signed: Checkpoint) -> Iterator[str]:
    size = journal.length(session)
    if signed.size > size:
        yield f"a head of {signed.size} entries was signed, and the record holds {size}: an older ledger was put back"
    elif signed.root != journal.root(session, signed.size):
        yield f"the head of {signed.size} entries is not that of this record"


def newest_head_is_of_this_record(session: Session, folder: Path) -> Iterator[str]:
    """The record continues the newest head that was kept outside the database."""
    have = keys.in_force(session)
    if have is None:
        if checkpoints.any_beside(folder):
            yield "a head was signed, and the record names no keys: an older ledger was put back"
        return
    beside = checkpoints.newest_beside(folder, read_key(have.journal))
    if beside is not None:
        yield from _head_fits(session, beside)


def heads_are_of_this_record(session: Session) -> Iterator[str]:
    """Every signed head has the root the record had at that size, signed with the keys the record names."""
    have = keys.in_force(session)
    for head in checkpoints.every(session):
        if have is None or head.size <= have.entry_seq:
            yield f"the head of {head.size} entries is signed by nobody the record names"
            continue
        try:
            signed = checkpoints.opened(head, read_key(have.journal))
            if signed.root != journal.root(session, head.size):
                yield f"the head of {head.size} entries is not that of this record"
        except Refusal as refusal:
            yield f"the head of {head.size} entries cannot be opened: {refusal.message}"


def keys_are_those_of_the_record(session: Session) -> Iterator[str]:
    """The keys in force are the ones an entry names, in the clear."""
    named = {
        entry.seq: json.loads(entry.body) for entry in session.exec(select(Journal).where(Journal.kind == "key.added"))
    }
    for row in session.exec(select(SigningKeys)):
        said = named.pop(row.entry_seq, {})
        if (said.get("issuer"), said.get("journal")) != (row.issuer, row.journal):
            yield f"the signing keys of row {row.id} are not those that entry {row.entry_seq} names"
    for seq in named:
        yield f"the signing keys that entry {seq} names are not kept"


def rows_are_all_there(session: Session) -> Iterator[str]:
    """No row of the book is gone: SQLite leaves no gap; PostgreSQL leaves one where an act failed."""
    if session.connection().dialect.name != "sqlite":
        return
    for name, count, highest in session.connection().execute(_counts()):
        if count != (highest or 0):
            yield f"{name} has {count} rows and its highest id is {highest}"


@cache
def _counts() -> Any:
    """How many rows each table of the book has, and its highest id: one question for all."""
    tables = ((name, SQLModel.metadata.tables[name].c.id) for name in BOOK_TABLES)
    return union_all(
        *(columns(literal(name), func.count(), func.max(ids)).select_from(ids.table) for name, ids in tables)
    )


def money_adds_up(session: Session) -> Iterator[str]:
    """Of every edition: taken, less tax, selling, occasions and making, is what is left less what is still here."""
    for edition_id in session.exec(select(Edition.id).order_by(col(Edition.id))):
        worth = reports.margin(session, edition_id or 0).with_labour
        spent = worth.takings - worth.tax - worth.selling - worth.occasions - worth.making
        here = worth.left - worth.stock - worth.waiting
        if spent != here:
            yield f"the money of edition {edition_id} does not add up: {spent} on one side, {here} on the other"


def numbers_are_all_there(session: Session) -> Iterator[str]:
    """Every number of a class stands in exactly one place, and the standings sum to the count."""
    numbers = columns(col(Piece.class_id), func.count(), func.min(Piece.number), func.max(Piece.number))
    grouped = numbers.where(col(Piece.latest)).group_by(col(Piece.class_id))
    found = {of: (count, lowest, highest) for of, count, lowest, highest in session.connection().execute(grouped)}
    for each in session.exec(select(PrintClass)):
        assert each.id is not None
        count, lowest, highest = found.get(each.id, (0, 1, 0))
        where = f"{each.kind} of edition {each.edition_id}"
        if (lowest, highest) != (1, count) or (each.count and count != each.count):
            yield f"{where} has {count} numbers from {lowest} to {highest}; it was declared as {each.count}"
        if (summed := sum(pieces.standings(session, each.id).values())) != count:
            yield f"the standings of {where} sum to {summed}, not {count}"


def owners_and_places(session: Session) -> Iterator[str]:
    """A made print that still exists has one owner and one place; anything else has neither."""
    held = select(Holding.id).where(Holding.piece_id == Piece.id, col(Holding.ended_on).is_(None), ~col(Holding.struck))
    kept = select(Custody.id).where(Custody.piece_id == Piece.id, col(Custody.ended_on).is_(None))
    rows = session.exec(select(Piece, held.exists(), kept.exists()).where(col(Piece.latest)))
    for piece, has_owner, has_place in rows:
        exists = piece.state == "inscribed" and piece.condition != "destroyed"
        what = f"piece {piece.id} ({piece.state}, {piece.condition})"
        if exists != has_owner:
            yield f"{what} has {'an' if has_owner else 'no'} owner"
        if exists != has_place and piece.condition != "missing":
            yield f"{what} has {'a' if has_place else 'no'} place"


def certificates_stand_on_prints(session: Session) -> Iterator[str]:
    """A piece has at most one live certificate; a valid one is of a print that is there."""
    live: set[int] = set()
    rows = session.exec(
        select(Certificate.id, Certificate.state, Piece)
        .join(Piece, col(Piece.id) == Certificate.piece_id)
        .where(col(Certificate.state).in_(("valid", "suspended")))
    )
    for certificate_id, state, piece in rows:
        assert piece.id is not None
        if piece.id in live:
            yield f"piece {piece.id} has more than one live certificate"
        live.add(piece.id)
        if piece.state != "inscribed" or piece.condition == "destroyed" or not piece.latest:
            yield f"certificate {certificate_id} is {state}; its piece {piece.id} is not a print that stands"
        elif state == "valid" and piece.condition == "missing":
            yield f"certificate {certificate_id} is valid; its piece {piece.id} is missing"


def sold_once(session: Session) -> Iterator[str]:
    """A piece stands sold at most once, and only a number that was given can."""
    rows = session.exec(
        select(Piece.id, Piece.state, func.count())
        .join(SaleLine, col(SaleLine.piece_id) == Piece.id)
        .where(SaleLine.outcome == "sold")
        .group_by(col(Piece.id), col(Piece.state))
    )
    for piece_id, state, count in rows:
        if count > 1:
            yield f"piece {piece_id} stands sold {count} times"
        if state not in ("allocated", "inscribed"):
            yield f"piece {piece_id} stands sold and is {state}"


def lent_is_at_the_gallery(session: Session) -> Iterator[str]:
    """What is out on consignment is the maker’s still, and at that gallery."""
    rows = session.exec(
        select(Consigned.piece_id, Consignment.person_id)
        .join(Consignment, col(Consignment.id) == Consigned.consignment_id)
        .where(Consigned.outcome == "out")
    )
    for piece_id, gallery in rows:
        holding, custody = provenance.holding_of(session, piece_id), provenance.custody_of(session, piece_id)
        if holding is None or holding.holder != "maker":
            yield f"piece {piece_id} is lent and not the maker’s"
        if custody is None or (custody.place, custody.person_id) != ("gallery", gallery):
            yield f"piece {piece_id} is lent and not at its gallery"


def editions_hold(session: Session) -> Iterator[str]:
    """The editions of a work that stand are counted from one, and a withdrawn one has no print."""
    last: tuple[int, int] = (0, 0)
    for edition in session.exec(select(Edition).order_by(col(Edition.work_id), col(Edition.id))):
        if edition.withdrawn_on is not None:
            made = (
                select(func.count())
                .select_from(Piece)
                .join(PrintClass, col(PrintClass.id) == Piece.class_id)
                .where(PrintClass.edition_id == edition.id, Piece.state == "inscribed")
            )
            if session.exec(made).one():
                yield f"edition {edition.id} was withdrawn and has prints"
            continue
        if edition.work_id == last[0] and edition.ordinal <= last[1]:
            yield f"edition {edition.id} has the ordinal {edition.ordinal}, after {last[1]}"
        last = (edition.work_id, edition.ordinal)


def good_prints_are_enough(session: Session) -> Iterator[str]:
    """A run counts at least as many good prints as were numbered from it or accounted for."""
    for edition_id in session.exec(select(Run.edition_id).distinct().order_by(col(Run.edition_id))):
        for run_id, left in spares.by_run(session, edition_id).items():
            if left < 0:
                good = runs.get(session, run_id).good
                yield f"printing {run_id} counts {good} good, and {good - left} are numbered or accounted for"


def ended_editions_have_no_spare(session: Session) -> Iterator[str]:
    """Of an edition withdrawn, or closed, what became of the prints that no number is left for is written down."""
    for edition in session.exec(select(Edition).order_by(col(Edition.id))):
        if left := spares.unaccounted(session, edition.id or 0):
            ended = "withdrawn" if edition.withdrawn_on is not None else "closed"
            yield f"edition {edition.id} was {ended} and {left} good prints wait for a number"


def finished_prints_bear_their_recipe(session: Session) -> Iterator[str]:
    """What each finishing charged its prints, struck or not, is what its recipe comes to for as many of them."""
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
        if charged != {bearer: amount for bearer, amount in asked.items() if amount} or not free <= due.keys():
            yield f"the prints that entry {seq} finished do not bear what its recipe says"


def mount_plans_are_as_asked(session: Session) -> Iterator[str]:
    """The columns a mount plan is found by say what it was asked with."""
    for row in session.exec(select(MountPlan).order_by(col(MountPlan.id))):
        asked = mounts.draft_of(row)
        for name in ("title", "kind", "unit", "size_id", "cutter_id"):
            if getattr(row, name) != getattr(asked, name):
                yield f"mount plan {row.id} is found by another {name} than it was asked with"


CHECKS: tuple[Check, ...] = (
    database_is_whole,
    guards_are_in_place,
    the_record_ends_where_it_was_signed,
    keys_are_those_of_the_record,
    heads_are_of_this_record,
    rows_are_all_there,
    numbers_are_all_there,
    owners_and_places,
    certificates_stand_on_prints,
    sold_once,
    lent_is_at_the_gallery,
    editions_hold,
    good_prints_are_enough,
    ended_editions_have_no_spare,
    money_adds_up,
    mount_plans_are_as_asked,
    finished_prints_bear_their_recipe,
)
QUICK: tuple[Check, ...] = (guards_are_in_place, the_record_ends_where_it_was_signed, rows_are_all_there)
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
    return _tried("the newest head", partial(newest_head_is_of_this_record, session, folder))


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
