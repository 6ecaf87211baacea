"""The append-only record: exact bytes, one entry after another.

A public entry says what the world may read. A sealed entry says only that something was recorded: two
commitments, `facts` and `person`, each HMAC-SHA256 under a fresh salt kept in `secret`. Erasing a person
deletes salt and value of `person`; `facts` can be replayed for ever.
"""

import hashlib
import hmac
import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any, TypeVar

from sqlalchemy import and_, bindparam, func, or_
from sqlmodel import Session, col, select
from sqlmodel.sql.expression import Select

from ledger import chance, rows
from ledger.database import Book
from ledger.errors import Refusal
from ledger.reckoning import merkle
from ledger.reckoning.canonical import canonical
from ledger.reckoning.merkle import Node
from ledger.tables import Event, Journal, JournalNode, Secret

Fields = dict[str, Any]
ROWS = "rows"
"""The act every act ends with: the rows it wrote, as they stand after it."""
Result = TypeVar("Result")


@dataclass(frozen=True)
class Touched:
    """One thing an entry touches, and the line its story gains. `text` is private and may be erased."""

    kind: str
    happened_on: date
    edition_id: int | None = None
    piece_id: int | None = None
    certificate_id: int | None = None
    sale_line_id: int | None = None
    person_id: int | None = None
    text: str | None = None
    picture_id: int | None = None


@dataclass(frozen=True)
class Head:
    """Size and root of the record at a moment."""

    size: int
    root: bytes


@dataclass(frozen=True)
class Entry:
    """One entry as anyone may read it: its place, its kind, when it was recorded, and what it says in the clear."""

    seq: int
    kind: str
    at: datetime
    fields: Fields


def stamp(at: datetime) -> str:
    return at.strftime("%Y-%m-%dT%H:%M:%SZ")


def _append(book: Book, kind: str, fields: Fields, touched: tuple[Touched, ...]) -> int:
    seq = book.next_entry
    body = canonical({"seq": seq, "kind": kind, "at": stamp(book.at), **fields})
    leaf = merkle.leaf_hash(body)
    grown = _over_nodes(book.session, lambda node: merkle.completed(seq, leaf, node))
    book.write(Journal, [{"seq": seq, "kind": kind, "at": book.at, "body": body, "leaf": leaf}])
    book.write(JournalNode, [{"level": level, "idx": index, "hash": made} for level, index, made in grown])
    book.write(Event, [{"entry_seq": seq, **vars(thing)} for thing in touched])
    if not book.entries:
        book.on_leaving.append(seal_rows)
    book.entries.append(seq)
    book.next_entry += 1
    return seq


def public(book: Book, kind: str, fields: Fields, *touched: Touched) -> int:
    """Append an entry anyone may read, and its lines of story; the entry's place is returned.

    `fields` hold no free text of the maker's, no buyer, price or place.
    """
    return _append(book, kind, fields, touched)


def commitment(salt: bytes, seq: int, field: str, value: Fields) -> bytes:
    """HMAC-SHA256 of the value in its context, so that no commitment can be moved to another entry."""
    return hmac.new(salt, canonical({"context": f"{seq}/{field}", "value": value}), hashlib.sha256).digest()


def sealed(
    book: Book, act: str, facts: Fields, *touched: Touched, person: Fields | None = None, person_id: int | None = None
) -> int:
    """Append an entry that says nothing to a stranger; the entry's place is returned.

    `facts` hold the act, ids and figures; `person` names and free text. Where there are none, random bytes
    stand in, so that both kinds look alike.
    """
    seq = book.next_entry
    facts_value: Fields = {"act": act, **facts}
    person_value: Fields = person or {"none": chance.salt().hex()}
    kept = [("facts", chance.salt(), facts_value, None), ("person", chance.salt(), person_value, person_id)]
    seals = {field: commitment(salt, seq, field, value).hex() for field, salt, value, _ in kept}
    _append(book, "sealed", {"commitments": seals}, touched)
    book.write(
        Secret,
        [
            {"entry_seq": seq, "field": field, "salt": salt, "value": canonical(value), "person_id": owner}
            for field, salt, value, owner in kept
        ],
    )
    return seq


def seal_rows(book: Book) -> None:
    """Seal the rows an act has written, as its last entry: every act ends so, whatever it was about.

    Facts and words are under the two commitments, so that words can be erased and the facts replayed.
    """
    book.session.flush()
    for table, highest in book.written_above.items():
        book.written.setdefault(table, set()).update(rows.above(book.session, table, highest))
    if not book.written:
        return
    facts: Fields = {}
    words: Fields = {}
    people: set[int] = set()
    for table, ids in sorted(book.written.items()):
        for row in rows.written(book.session, table, ids):
            kept, private = rows.parted(table, row)
            name = f"{table}"  # SQLAlchemy's names are of a kind of text that no record holds
            facts.setdefault(name, []).append({"id": row["id"], **kept})
            if private:
                words.setdefault(name, []).append({"id": row["id"], **private})
                people |= rows.people_of(table, row)
    about = {"people": sorted(people)} if people else {}
    sealed(book, ROWS, {"rows": facts}, person={"rows": words, **about} if words else None)


def rows_behind(session: Session, seqs: Iterable[int]) -> dict[str, set[int]]:
    """The rows these entries sealed, their ids by table."""
    found: dict[str, set[int]] = {}
    facts = select(Secret.value).where(Secret.field == "facts", col(Secret.entry_seq).in_(list(seqs)))
    for value in session.exec(facts):
        for table, made in json.loads(value).get(ROWS, {}).items():
            found.setdefault(table, set()).update(row["id"] for row in made)
    return found


def head(session: Session) -> Head:
    """The record's size and root now."""
    size = length(session)
    return Head(size, root(session, size))


def root(session: Session, size: int) -> bytes:
    """The root over the first `size` entries."""
    return _over_nodes(session, lambda node: merkle.root_of(size, node))


def inclusion_proof(session: Session, seq: int, size: int) -> list[bytes]:
    """What leads from an entry to the root of the first `size`. Raises ValueError when it is none of those."""
    return _over_nodes(session, lambda node: merkle.inclusion_proof(seq, size, node))


def consistency_proof(session: Session, old: int, new: int) -> list[bytes]:
    """What shows that the first `new` entries begin with the first `old`. Raises ValueError for other sizes."""
    return _over_nodes(session, lambda node: merkle.consistency_proof(old, new, node))


def _over_nodes(session: Session, work: Callable[[Node], Result]) -> Result:
    """Work over the nodes of the tree, fetched in one query: what is asked for never depends on what they hold.

    Raises Refusal when one is gone.
    """
    wanted: set[tuple[int, int]] = set()

    def note(level: int, index: int) -> bytes:
        wanted.add((level, index))
        return bytes(merkle.HASH_BYTES)

    result = work(note)
    if not wanted:
        return result
    values = {f"{name}_{at}": part for at, node in enumerate(wanted) for name, part in zip(PARTS, node, strict=True)}
    found = {(level, index): made for level, index, made in session.exec(_nodes(len(wanted)), params=values)}
    if gone := wanted - found.keys():
        level, index = min(gone)
        raise Refusal(f"The record’s tree has no node {index} of level {level}. Restore the last backup.")
    return work(lambda level, index: found[level, index])


PARTS = ("level", "index")


@cache  # put together anew each time, the question takes ten times as long as its answer
def _nodes(how_many: int) -> Select[int, int, bytes]:
    """The question for so many nodes, answered by index on both engines."""
    each = (
        and_(col(JournalNode.level) == bindparam(f"level_{at}"), col(JournalNode.idx) == bindparam(f"index_{at}"))
        for at in range(how_many)
    )
    return select(JournalNode.level, JournalNode.idx, JournalNode.hash).where(or_(*each))


def length(session: Session) -> int:
    """How many entries the record holds."""
    last = session.exec(select(func.max(Journal.seq))).one()
    return 0 if last is None else last + 1


def entries(session: Session, limit: int, before: int | None = None) -> list[Entry]:
    """The last entries, newest first; with `before`, those ahead of that place in the record."""
    asked = select(Journal).order_by(col(Journal.seq).desc()).limit(limit)
    if before is not None:
        asked = asked.where(col(Journal.seq) < before)
    return [Entry(row.seq, row.kind, row.at, json.loads(row.body)) for row in session.exec(asked)]


def pieces_of(session: Session, seqs: Iterable[int]) -> dict[int, int]:
    """The piece each of these entries is about, where it is about one; the first of several."""
    touched = select(Event.entry_seq, Event.piece_id).where(
        col(Event.entry_seq).in_(list(seqs)), col(Event.piece_id).is_not(None)
    )
    return {seq: piece_id for seq, piece_id in session.exec(touched.order_by(col(Event.id).desc())) if piece_id}
