"""The rows of the book against what the record sealed: each as the last act that wrote it left it."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import RowMapping
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session, col, select

from ledger import journal, rows
from ledger.database import Engine, reading, writing
from ledger.errors import Refusal
from ledger.journal import Fields
from ledger.recount import Read, Seals, entries, fields_of
from ledger.tables import BOOK_TABLES, Secret


@dataclass(frozen=True)
class Sealed:
    """A row as an entry has it; `words` are None once they were erased."""

    seq: int
    facts: Fields
    words: Fields | None


class SealedRows:
    """No row is other than the record left it, none is gone, and none was written by no entry."""

    def __init__(self) -> None:
        self._last: dict[str, dict[int, Sealed]] = {}

    def see(self, entry: Read) -> Iterator[str]:
        if entry.facts.get("act") == journal.ROWS:
            person = entry.kept.get("person")
            words = _words(person.value) if person else None
            for table, made in entry.facts["rows"].items():
                last = self._last.setdefault(table, {})
                for row in made:
                    facts = {name: value for name, value in row.items() if name != "id"}
                    said = None if words is None else words.get((table, row["id"]), {})
                    last[row["id"]] = Sealed(entry.seq, facts, said)
        yield from ()

    def end(self, session: Session) -> Iterator[str]:
        for table in sorted({*BOOK_TABLES, *self._last}):
            try:
                yield from self._compared(table, rows.every(session, table), dict(self._last.get(table, {})))
            except (DBAPIError, ValueError) as cause:
                yield f"{table} cannot be read: {str(cause).splitlines()[0]}"

    def among(self, session: Session, wanted: Mapping[str, set[int]]) -> Iterator[str]:
        """The same of some rows only, their ids by table."""
        for table, ids in sorted(wanted.items()):
            left = {each: sealed for each, sealed in self._last.get(table, {}).items() if each in ids}
            yield from self._compared(table, rows.written(session, table, ids), left)

    def _compared(self, table: str, found: Iterable[RowMapping], left: dict[int, Sealed]) -> Iterator[str]:
        for row in found:
            sealed = left.pop(row["id"], None)
            if sealed is None:
                yield f"row {row['id']} of {table} was written by no entry"
                continue
            for column, private in _differences(table, row, sealed):
                what = "" if private else f": it is {_shown(row[column])}, and was {_shown(sealed.facts.get(column))}"
                yield f"{column} of row {row['id']} of {table} is not what entry {sealed.seq} left there{what}"
        for gone, sealed in left.items():
            yield f"row {gone} of {table} is gone; entry {sealed.seq} wrote it"


def _words(value: bytes) -> dict[tuple[str, int], Fields]:
    return {
        (table, row["id"]): {name: text for name, text in row.items() if name != "id"}
        for table, made in fields_of(value).get("rows", {}).items()
        for row in made
    }


def _differences(table: str, row: Any, sealed: Sealed) -> Iterator[tuple[str, bool]]:
    facts, words = rows.parted(table, row)
    if facts == sealed.facts and sealed.words in (None, words):
        return
    nothing = object()
    for column in rows.columns_of(table):
        then, now = (sealed.words, words) if column.private else (sealed.facts, facts)
        if then is None:
            continue
        emptied = (column.name in sealed.facts.get("none", ())) != (column.name in facts.get("none", ()))
        if then.get(column.name, nothing) != now.get(column.name, nothing) or (emptied and not column.private):
            yield column.name, column.private


def _shown(value: object) -> str:
    said = rows.said(value)
    return "as it is by default" if said is None else repr(said)


def refuse_changed(session: Session, wanted: Mapping[str, set[int]]) -> None:
    """Hold these rows, their ids by table, against the record: sealed anew as they stand, a false one would pass.

    Raises Refusal.
    """
    seals, sealed = Seals(), SealedRows()
    for entry in entries(session):
        _refuse(seals.see(entry))  # first: what was sealed is read only where it is what was sealed
        _refuse(sealed.see(entry))
    _refuse(sealed.among(session, wanted))


def _refuse(faults: Iterator[str]) -> None:
    for fault in faults:
        raise Refusal(f"Nothing was erased, for the book was changed by hand: {fault}. Run 'print-ledger check'.")


def take_over(engine: Engine) -> None:
    """Seal, once, the rows of a ledger kept before acts sealed them; a record that has such an entry is left alone."""
    with reading(engine) as session:
        if not journal.length(session) or _are_sealed(session):
            return
    with writing(engine, "print-ledger") as book:
        for table in BOOK_TABLES:
            book.written[table] = {row["id"] for row in rows.every(book.session, table)}
        journal.sealed(book, "rows_taken_over", {})


def _are_sealed(session: Session) -> bool:
    """Whether an act ever sealed its rows. The newest act did, in a ledger of these days."""
    facts = select(Secret.value).where(Secret.field == "facts").order_by(col(Secret.entry_seq).desc())
    newest_first = session.connection().execute(facts, execution_options={"yield_per": 10}).scalars()
    return any(fields_of(each).get("act") == journal.ROWS for each in newest_first)
