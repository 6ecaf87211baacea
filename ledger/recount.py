"""One walk over the whole record, for whoever counts along: each entry once, with what is kept behind its seals."""

import hmac
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Protocol

from sqlalchemy import select as columns
from sqlalchemy import type_coerce
from sqlalchemy.types import NullType
from sqlmodel import Session, col, select

from ledger import rows
from ledger.journal import Fields
from ledger.reckoning import merkle
from ledger.reckoning.canonical import canonical
from ledger.tables import Journal, JournalNode, Secret

AT_ONCE = 1000


@dataclass(frozen=True)
class Kept:
    """What lies behind one seal."""

    salt: bytes
    value: bytes


@dataclass(frozen=True)
class Read:
    """An entry, what it says, and what is kept of its facts and its words."""

    seq: int
    kind: str
    at: str
    body: bytes
    leaf: bytes
    says: Fields
    kept: dict[str, Kept]
    facts: Fields


class Reader(Protocol):
    """Somebody who counts along: sentences while an entry is seen, and at the end."""

    def see(self, entry: Read) -> Iterator[str]: ...
    def end(self, session: Session) -> Iterator[str]: ...


def entries(session: Session) -> Iterator[Read]:
    """Every entry, in order. What cannot be read says nothing: its hash or its seal tells."""
    chunks = {"yield_per": AT_ONCE}
    seq, place = col(Journal.seq), col(Secret.entry_seq)
    wanted = columns(seq, col(Journal.kind), *map(_as_it_is, (Journal.at, Journal.body, Journal.leaf))).order_by(seq)
    secrets = columns(place, col(Secret.field), *map(_as_it_is, (Secret.salt, Secret.value))).order_by(place)
    behind = iter(session.connection().execute(secrets, execution_options=chunks))
    ahead = next(behind, None)
    for at_seq, kind, at, body, leaf in session.connection().execute(wanted, execution_options=chunks):
        kept: dict[str, Kept] = {}
        while ahead is not None and ahead[0] <= at_seq:
            if ahead[0] == at_seq:
                kept[ahead[1]] = Kept(_bytes(ahead[2]), _bytes(ahead[3]))
            ahead = next(behind, None)
        facts = fields_of(kept["facts"].value) if "facts" in kept else {}
        yield Read(at_seq, kind, str(rows.moment(at)), _bytes(body), _bytes(leaf), fields_of(_bytes(body)), kept, facts)


def _as_it_is(column: Any) -> Any:
    """A column without what a library makes of it: a damaged value is to be named, not stumbled over."""
    return type_coerce(column, NullType())


def _bytes(value: object) -> bytes:
    return value if isinstance(value, bytes) else b""


def fields_of(text: bytes) -> Fields:
    """What a text of the record says; nothing where it cannot be read."""
    try:
        found: Any = json.loads(text)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


class Order:
    """Entries follow one another without a gap, never back in time, each canonical and under its own hash."""

    def __init__(self) -> None:
        self._place = 0
        self._latest = ""

    def see(self, entry: Read) -> Iterator[str]:
        if entry.seq != self._place:
            yield f"entry {self._place} is missing"
        self._place = entry.seq + 1
        if entry.leaf != merkle.leaf_hash(entry.body):
            yield f"entry {entry.seq} does not match its hash"
        if not _is_canonical(entry):
            yield f"entry {entry.seq} is not written canonically"
        said = (entry.says.get("seq"), entry.says.get("kind"), entry.says.get("at"))
        if said != (entry.seq, entry.kind, entry.at):
            yield f"entry {entry.seq} says something else than its row"
        if entry.at < self._latest:
            yield f"entry {entry.seq} is older than the one before it"
        self._latest = entry.at

    def end(self, session: Session) -> Iterator[str]:
        yield from ()


def _is_canonical(entry: Read) -> bool:
    try:
        return canonical(entry.says) == entry.body
    except Exception:  # a refusal, a type or a number that has no place in a record
        return False


class Tree:
    """The tree over the entries is what their bytes make it, every node in its place and none beside."""

    def __init__(self) -> None:
        self._size = 0
        self._newest: dict[int, bytes] = {}
        self._made: dict[tuple[int, int], bytes] = {}

    def see(self, entry: Read) -> Iterator[str]:
        leaf = merkle.leaf_hash(entry.body)
        for level, index, made in merkle.completed(self._size, leaf, lambda level, _: self._newest[level]):
            self._newest[level] = made
            self._made[level, index] = made
        self._size += 1
        yield from ()

    def end(self, session: Session) -> Iterator[str]:
        nodes = columns(col(JournalNode.level), col(JournalNode.idx), _as_it_is(JournalNode.hash))
        beside = []
        for level, index, kept in session.connection().execute(nodes, execution_options={"yield_per": AT_ONCE}):
            made = self._made.pop((level, index), None)
            if made is None:
                beside.append((level, index))
            elif made != kept:
                yield f"node {index} of level {level} does not match the entries under it"
        for level, index in sorted(self._made):
            yield f"node {index} of level {level} does not match the entries under it"
        for level, index in sorted(beside):
            yield f"node {index} of level {level} stands over entries that are not there"


class Seals:
    """Every sealed entry still has its facts, and what is kept answers to the commitments.

    Words may be gone only where an erasure says so, and stay gone where one did; one recorded before erasures said it
    excuses all that came before it.
    """

    def __init__(self) -> None:
        self._wordless: list[int] = []
        self._erased: set[int] = set()
        self._sealed: set[int] = set()

    def see(self, entry: Read) -> Iterator[str]:
        if entry.kind != "sealed":
            return
        self._sealed.add(entry.seq)
        if entry.facts.get("act") == "person_erased":
            gone = set(entry.facts.get("entries", self._wordless))
            self._erased |= gone
            self._wordless = [seq for seq in self._wordless if seq not in gone]
        seals = entry.says.get("commitments", {})
        for field in ("facts", "person"):
            kept = entry.kept.get(field)
            if kept is None:
                if field == "facts":
                    yield f"the facts behind entry {entry.seq} are gone"
                else:
                    self._wordless.append(entry.seq)
            elif _commitment(entry.seq, field, kept) != seals.get(field):
                yield f"{field} of entry {entry.seq} is not what was sealed"

    def end(self, session: Session) -> Iterator[str]:
        for seq in self._wordless:
            yield f"the words behind entry {seq} are gone, and no erasure took them"
        kept = select(Secret.entry_seq, Secret.field).order_by(col(Secret.entry_seq), col(Secret.field))
        for seq, field in session.connection().execute(kept):
            if field == "person" and seq in self._erased:
                yield f"the words behind entry {seq} are there again, though an erasure took them"
            if seq not in self._sealed or field not in ("facts", "person"):
                yield f"{field} is kept for entry {seq}, which seals nothing"


def _commitment(seq: int, field: str, kept: Kept) -> str:
    # The value is canonical already where it is what was sealed: it is put between the bytes round it as it is.
    sealed = b'{"context":"%d/%s","value":%s}' % (seq, field.encode(), kept.value)
    return hmac.digest(kept.salt, sealed, "sha256").hex()
