"""The audit of the books: what must hold over all rows, looked at afresh, whatever any act believed.

Each check is a function of an open session that yields a sentence for every fault it finds. A sound ledger
yields none.
"""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from sqlalchemy import Table, func
from sqlmodel import Session, SQLModel, col, select

from ledger import checkpoints, database, journal, keys, pieces, provenance, runs
from ledger.errors import Refusal
from ledger.migrations.triggers import missing_triggers
from ledger.reckoning import merkle
from ledger.reckoning.canonical import canonical
from ledger.reckoning.notes import read_key
from ledger.tables import (
    BOOK_TABLES,
    Certificate,
    Consigned,
    Consignment,
    Custody,
    Edition,
    Holding,
    Journal,
    JournalNode,
    Piece,
    PrintClass,
    Run,
    SaleLine,
    Secret,
    SigningKeys,
)

Check = Callable[[Session], Iterator[str]]


@dataclass(frozen=True)
class Fault:
    """One thing that does not hold: the check that found it, and what is so."""

    check: str
    sentence: str


def database_is_whole(session: Session) -> Iterator[str]:
    """The database finds no damage in itself, and its guards are in place."""
    connection = session.connection()
    yield from database.damage(connection)
    for name in sorted(missing_triggers(connection)):
        yield f"the guard {name} is missing"


def journal_is_whole(session: Session) -> Iterator[str]:
    """Entries follow one another without a gap, never back in time, each canonical and under its own hash."""
    latest = None
    for place, entry in enumerate(session.exec(select(Journal).order_by(col(Journal.seq)))):
        if entry.seq != place:
            yield f"entry {place} is missing"
            return
        if entry.leaf != merkle.leaf_hash(entry.body):
            yield f"entry {place} does not match its hash"
        said = json.loads(entry.body)
        if canonical(said) != entry.body:
            yield f"entry {place} is not written canonically"
        if (said["seq"], said["kind"], said["at"]) != (entry.seq, entry.kind, journal.stamp(entry.at)):
            yield f"entry {place} says something else than its row"
        if latest is not None and entry.at < latest:
            yield f"entry {place} is older than the one before it"
        latest = entry.at


def tree_is_whole(session: Session) -> Iterator[str]:
    """The tree over the entries is what their bytes make it, every node in its place and none beside."""
    kept = {
        (level, index): made
        for level, index, made in session.exec(select(JournalNode.level, JournalNode.idx, JournalNode.hash))
    }
    bodies = session.exec(select(Journal.body).order_by(col(Journal.seq)))
    for level, index, made in merkle.subtrees(map(merkle.leaf_hash, bodies)):
        if kept.pop((level, index), None) != made:
            yield f"node {index} of level {level} does not match the entries under it"
    for level, index in sorted(kept):
        yield f"node {index} of level {level} stands over entries that are not there"


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


def seals_hold(session: Session) -> Iterator[str]:
    """Every sealed entry still has its facts, and what is kept answers to the commitments."""
    kept = {(row.entry_seq, row.field): row for row in session.exec(select(Secret))}
    for entry in session.exec(select(Journal).where(Journal.kind == "sealed")):
        promised = json.loads(entry.body)["commitments"]
        if (entry.seq, "facts") not in kept:
            yield f"the facts behind entry {entry.seq} are gone"
        for field, seal in promised.items():
            row = kept.pop((entry.seq, field), None)
            if row and journal.commitment(row.salt, entry.seq, field, json.loads(row.value)).hex() != seal:
                yield f"{field} of entry {entry.seq} is not what was sealed"
    for seq, field in kept:
        yield f"{field} is kept for entry {seq}, which seals nothing"


def rows_are_all_there(session: Session) -> Iterator[str]:
    """No row of the book is gone: SQLite leaves no gap; PostgreSQL leaves one where an act failed."""
    if session.connection().dialect.name != "sqlite":
        return
    for name in BOOK_TABLES:
        table: Table = SQLModel.metadata.tables[name]
        count, highest = session.execute(select(func.count(), func.max(table.c.id))).one()
        if count != (highest or 0):
            yield f"{name} has {count} rows and its highest id is {highest}"


def numbers_are_all_there(session: Session) -> Iterator[str]:
    """Every number of a class stands in exactly one place, and the standings sum to the count."""
    for each in session.exec(select(PrintClass)):
        assert each.id is not None
        count, lowest, highest = session.exec(
            select(func.count(), func.min(Piece.number), func.max(Piece.number)).where(
                Piece.class_id == each.id, col(Piece.latest)
            )
        ).one()
        where = f"{each.kind} of edition {each.edition_id}"
        if (lowest or 1, highest or 0) != (1, count) or (each.count and count != each.count):
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
        for run_id, left in runs.spares_by_run(session, edition_id).items():
            if left < 0:
                good = runs.get(session, run_id).good
                yield f"printing {run_id} counts {good} good, and {good - left} are numbered or accounted for"


CHECKS: tuple[Check, ...] = (
    database_is_whole,
    journal_is_whole,
    tree_is_whole,
    keys_are_those_of_the_record,
    heads_are_of_this_record,
    seals_hold,
    rows_are_all_there,
    numbers_are_all_there,
    owners_and_places,
    certificates_stand_on_prints,
    sold_once,
    lent_is_at_the_gallery,
    editions_hold,
    good_prints_are_enough,
)


def audit(session: Session) -> list[Fault]:
    """Every fault every check finds, in the order of the checks; none in a sound ledger."""
    return [Fault(check.__name__.replace("_", " "), said) for check in CHECKS for said in check(session)]
