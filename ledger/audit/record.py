"""What the database, its guards, the record and the heads signed of it say of themselves."""

import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from sqlalchemy import func, literal, union_all
from sqlalchemy import select as columns
from sqlmodel import Session, SQLModel, col, select

from ledger import checkpoints, database, journal, keys
from ledger.errors import Refusal
from ledger.migrations.triggers import missing_triggers
from ledger.reckoning import merkle
from ledger.reckoning.notes import Checkpoint, read_key
from ledger.tables import BOOK_TABLES, Journal, JournalNode, SigningKeys


def database_is_whole(session: Session) -> Iterator[str]:
    """The database finds no damage in itself."""
    yield from database.damage(session.connection())


def guards_are_in_place(session: Session) -> Iterator[str]:
    """Every trigger that keeps rows from being changed is there."""
    for name in sorted(missing_triggers(session.connection())):
        yield f"the guard {name} is missing"


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
