"""The way into the book: one engine, one writer at a time, and a guard on the door.

`writing` takes the writer's lock before anything is read, commits on leaving, and refuses to leave when rows
changed and no entry says so. `reading` never waits for a writer. `housekeeping` is the second door, without
the guard, for accounts, sessions, tokens, sign-in tries, repeated requests and search words.
"""

import sqlite3
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from sqlalchemy import URL, Connection, Table, event, func, insert, make_url
from sqlalchemy import Engine as Engine  # the doors take both from here
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import ORMExecuteState
from sqlmodel import Session as Session
from sqlmodel import SQLModel, col, create_engine, select

from ledger import clock
from ledger.errors import Refusal
from ledger.tables import BOOK_TABLES, Journal

PRAGMAS = (
    "journal_mode=WAL",
    "synchronous=FULL",
    "foreign_keys=ON",
    "recursive_triggers=ON",
    "busy_timeout=10000",
    "secure_delete=ON",
)
WRITERS_LOCK = 0x7072_696E_746C  # the advisory lock every PostgreSQL writer takes: 'printl'


class _InTurn:
    """A lock given in the order it was asked for. Python's own goes to whoever is quickest, and others starve."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._taken = False
        self._waiting: deque[threading.Lock] = deque()

    def __enter__(self) -> None:
        with self._guard:
            if not self._taken:
                self._taken = True
                return
            turn = threading.Lock()
            turn.acquire()
            self._waiting.append(turn)
        try:
            turn.acquire()
        except BaseException:  # a Ctrl+C while waiting: the turn of one who left is the next one's
            self._leave(turn)
            raise

    def __exit__(self, *_: object) -> None:
        with self._guard:
            self._next()

    def _leave(self, turn: threading.Lock) -> None:
        with self._guard:
            if turn in self._waiting:
                self._waiting.remove(turn)
            else:
                self._next()

    def _next(self) -> None:
        if self._waiting:
            self._waiting.popleft().release()
        else:
            self._taken = False


_one_writer = _InTurn()
_writing = threading.local()


@dataclass
class Book:
    """An open act: the session it writes through, who acts, when (the clock is read once), and the next entry.

    `written` are the ids of the rows it has written, by table; those of `written_above` and more are its own too.
    What is in `on_leaving` is done before its commit, and what is in `afterwards` once it is durable.
    """

    session: Session
    actor: str
    at: datetime
    today: date
    next_entry: int
    entries: list[int] = field(default_factory=list)
    written: dict[str, set[int]] = field(default_factory=dict)
    written_above: dict[str, int] = field(default_factory=dict)
    on_leaving: list[Callable[["Book"], None]] = field(default_factory=list)
    afterwards: list[Callable[[], None]] = field(default_factory=list)

    def note_above(self, table: Table) -> None:
        """The rows of this table that are about to be inserted are written by this act."""
        name = str(table)
        if name in BOOK_TABLES and name not in self.written_above:
            self.written_above[name] = self.session.connection().scalar(select(func.max(table.c.id))) or 0

    def write(self, table: type[SQLModel], rows: Sequence[dict[str, Any]]) -> None:
        """Write rows nobody asks the ids of: one statement for all, after whatever the session still holds."""
        if rows:
            self.session.flush()
            self.note_above(SQLModel.metadata.tables[str(table.__tablename__)])
            self.session.connection().execute(insert(table), rows)


class UnrecordedChange(RuntimeError):
    """Rows changed and no entry was appended: a fault in an act, never the maker's doing."""


def make_engine(url: str) -> Engine:
    """An engine for SQLite (`sqlite:///path`) or PostgreSQL, with this house's transactions."""
    parsed = make_url(url)
    engine = _sqlite_engine(parsed) if parsed.get_backend_name() == "sqlite" else _postgres_engine(parsed)

    @event.listens_for(engine, "checkin")
    def _leave_nothing_open(connection: Any, _record: Any) -> None:
        # After a COMMIT that failed the pool believes all is over; the writer's lock would be held for ever.
        if connection is not None:
            with suppress(Exception):  # a connection that broke is replaced at its next use
                connection.rollback()

    return engine


def _sqlite_engine(url: URL) -> Engine:
    engine = create_engine(url, connect_args={"timeout": 10.0, "check_same_thread": False})

    @event.listens_for(engine, "connect")
    def _settle(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # the driver must begin nothing by itself
        cursor = connection.cursor()
        for pragma in PRAGMAS:
            cursor.execute(f"PRAGMA {pragma}")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        options = connection.get_execution_options()
        if not options.get("one_look"):
            connection.exec_driver_sql("BEGIN IMMEDIATE" if options.get("writer") else "BEGIN")

    return engine


def _postgres_engine(url: URL) -> Engine:
    engine = create_engine(url, pool_pre_ping=True)

    @event.listens_for(engine, "connect")
    def _settle(connection: Any, _record: Any) -> None:
        # The record holds moments in UTC; server, database and account may each have a time zone of their own.
        connection.execute("SET TIME ZONE 'UTC'")
        connection.commit()

    return engine


@contextmanager
def _writer(engine: Engine) -> Iterator[Session]:
    if getattr(_writing, "now", False):
        raise RuntimeError("this thread writes already: hand its book on, or it waits for itself for ever")
    # The process-wide lock comes before a connection leaves the pool: SQLite's own queue is unfair.
    with _one_writer, Session(engine.execution_options(writer=True), expire_on_commit=False) as session:
        # A session forgets a row as soon as nobody holds it; an act asks for the same edition again and again.
        held: list[object] = []
        event.listen(session, "loaded_as_persistent", lambda _session, row: held.append(row))
        _writing.now = True
        try:
            _queue(session.connection())
            yield session
            session.commit()
        except DBAPIError as cause:
            if _is_full(cause):
                raise Refusal("The disk is full, so nothing was recorded. Make room and send this again.") from cause
            raise
        finally:
            _writing.now = False


def _is_full(cause: DBAPIError) -> bool:
    # SQLite gives a number with its error, PostgreSQL a class of errors and one in it: 53100, disk_full.
    return getattr(cause.orig, "sqlite_errorcode", None) == sqlite3.SQLITE_FULL or (
        getattr(cause.orig, "sqlstate", None) == "53100"
    )


def _queue(connection: Connection) -> None:
    # SQLite's BEGIN IMMEDIATE has waited already. On PostgreSQL each statement after the lock sees all that
    # was committed before it.
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITERS_LOCK})")


def _changes(session: Session) -> object:
    connection = session.connection()
    if connection.dialect.name == "sqlite":
        return connection.connection.driver_connection.total_changes  # type: ignore[union-attr]  # sqlite3’s own
    return connection.exec_driver_sql("SELECT pg_current_xact_id_if_assigned()::text").scalar_one()


@contextmanager
def writing(engine: Engine, actor: str, *, at: datetime | None = None) -> Iterator[Book]:
    """One act: locked, read, written, and durable when the block is left; any exception rolls all of it back.

    `at` stands in for the clock where a history is replayed; no entry is ever earlier than the one before.
    Raises UnrecordedChange when rows changed and no entry was appended.
    """
    with _writer(engine) as session:
        last = session.exec(select(Journal.seq, Journal.at).order_by(col(Journal.seq).desc()).limit(1)).first()
        now, next_entry = at or clock.now(), 0
        if last is not None:
            now, next_entry = max(now, last[1]), last[0] + 1
        before = _changes(session)
        book = Book(session, actor, now, at.date() if at else clock.today(), next_entry)
        event.listen(session, "after_flush", lambda flushed, _: _note_rows(flushed, book))
        event.listen(session, "do_orm_execute", lambda asked: _note_statement(asked, book))
        yield book
        session.flush()
        if not book.entries and _changes(session) != before:
            raise UnrecordedChange("rows changed and no entry records it")
        for last_step in book.on_leaving:
            last_step(book)
    for next_step in book.afterwards:
        next_step()


def _note_rows(session: Session, book: Book) -> None:
    for row in (*session.new, *session.dirty):
        table = str(getattr(row, "__tablename__", ""))
        if table in BOOK_TABLES:
            book.written.setdefault(table, set()).add(row.id)


@contextmanager
def housekeeping(engine: Engine) -> Iterator[Session]:
    """The second door: same lock, no guard. For rows that are no part of the record."""
    with _writer(engine) as session:
        yield session


@contextmanager
def reading(engine: Engine) -> Iterator[Session]:
    """A session that looks at one moment of the book; it waits for no writer, and nothing is kept."""
    if engine.dialect.name == "postgresql":  # SQLite reads one moment by itself
        engine = engine.execution_options(isolation_level="REPEATABLE READ")
    with Session(engine) as session:
        yield session


@contextmanager
def looking(engine: Engine) -> Iterator[Connection]:
    """A plain connection for one statement, which is one moment by itself: a third of the time of `reading`."""
    with engine.connect() as connection:
        yield connection.execution_options(one_look=True)


def _note_statement(asked: ORMExecuteState, book: Book) -> None:
    """One statement may change many rows: those it is about to are asked for first."""
    if not (asked.is_update or asked.is_insert):
        return
    table: Any = getattr(asked.statement, "table", None)
    if str(table) not in BOOK_TABLES:
        return
    asked.session.flush()
    if asked.is_insert:
        book.note_above(table)
        return
    where = getattr(asked.statement, "whereclause", None)
    if where is None or isinstance(asked.parameters, list):
        raise UnrecordedChange(f"say which rows of {table} are written: the record seals each of them")
    changed = asked.session.connection().scalars(select(table.c.id).where(where), asked.parameters or {})
    book.written.setdefault(str(table), set()).update(changed)


@contextmanager
def altering(engine: Engine) -> Iterator[Connection]:
    """A connection on which tables are changed: the writer's lock is held, and SQLite looks after no foreign key.

    Altering a SQLite table drops and remakes it, which would drop what points at it.
    """
    try:
        with _one_writer, engine.connect() as plain:
            if engine.dialect.name == "sqlite":
                cursor = plain.connection.cursor()
                cursor.execute("PRAGMA foreign_keys=OFF")
                cursor.close()
            with plain.execution_options(writer=True) as connection, connection.begin():
                _queue(connection)
                yield connection
    finally:
        engine.dispose()  # no connection without foreign keys goes back among the others


def damage(connection: Connection) -> list[str]:
    """What the database itself finds broken: pages it cannot read, rows that point at nothing."""
    if connection.dialect.name != "sqlite":
        return []  # PostgreSQL keeps its foreign keys at all times, and its pages are the server's affair
    pages = [row[0] for row in connection.exec_driver_sql("PRAGMA integrity_check") if row[0] != "ok"]
    lost = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    return pages + [f"row {row[1]} of {row[0]} points at a row of {row[2]} that is not there" for row in lost]
