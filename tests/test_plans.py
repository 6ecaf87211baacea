"""However large the book grows, a question is answered by index: no table of pieces or people is read through."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from sqlalchemy import Connection, Engine, event
from sqlmodel import Session

from ledger import checks, pieces, reports, search
from ledger.database import reading
from tests.cast import certified, declared, made, opened
from tests.trade import sell, to, ways

GROWING = {
    "work", "edition", "size", "offer", "price_step", "print_class", "piece", "certificate", "holding", "custody",
    "person", "sale", "sale_line", "receipt", "consigned", "cost", "event", "correction", "journal", "journal_node",
    "search_word",
}  # fmt: skip
"""The tables that grow with the maker's years."""


@contextmanager
def asked(engine: Engine) -> Iterator[list[tuple[str, Any]]]:
    """Every SELECT sent to the database inside, with its values."""
    sent: list[tuple[str, Any]] = []

    def note(_connection: Connection, _cursor: Any, statement: str, values: Any, *_: Any) -> None:
        if statement.startswith("SELECT"):
            sent.append((statement, values))

    event.listen(engine, "before_cursor_execute", note)
    yield sent
    event.remove(engine, "before_cursor_execute", note)


def read_through(engine: Engine, question: Callable[[Session], object]) -> list[str]:
    """The lines of SQLite's plans for a question that go through a whole growing table or one of its indexes."""
    with asked(engine) as sent, reading(engine) as session:
        question(session)
    assert sent
    with engine.connect() as connection:
        plans = [
            line.detail
            for statement, values in sent
            for line in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values)
        ]
    alias = {found[2]: found[1] for statement, _ in sent for found in re.finditer(r"(\w+) AS (\w+)", statement)}
    scanned = [(line, re.match(r"SCAN (\w+)", line)) for line in plans]
    return [line for line, found in scanned if found and alias.get(found[1], found[1]) in GROWING]


@pytest.fixture
def shop(sqlite_engine: Engine) -> tuple[Engine, str, int]:
    """One edition with a certified and sold 7/25; its engine, the code, and the piece's id."""
    opened(sqlite_engine)
    declared(sqlite_engine)
    seventh, ninth = made(sqlite_engine, 7, 9)
    code = certified(sqlite_engine, seventh).code
    sell(sqlite_engine, ways(sqlite_engine).studio, seventh, buyer=to("Wilhelmina Tarn"), paid_by="cash")
    return sqlite_engine, code, ninth


@pytest.mark.parametrize("line", ["7/25", "7/25 forty", "forty 7", "forty minutes", "wilh", "AP II"])
def test_a_find_reads_no_growing_table_through(shop: tuple[Engine, str, int], line: str) -> None:
    engine, _, _ = shop
    with reading(engine) as session:
        found = search.find(session, line)
    assert found.pieces or found.works or found.people
    assert read_through(engine, lambda session: search.find(session, line)) == []


def test_a_find_by_code_reads_no_growing_table_through(shop: tuple[Engine, str, int]) -> None:
    engine, code, _ = shop
    for typed in (code, code[:8], code[8:]):
        assert read_through(engine, lambda session, typed=typed: search.find(session, typed)) == []


def test_the_public_check_reads_no_growing_table_through(shop: tuple[Engine, str, int]) -> None:
    engine, code, _ = shop
    assert read_through(engine, lambda session: checks.check(session, code)) == []


def test_one_print_is_read_by_index(shop: tuple[Engine, str, int]) -> None:
    engine, _, piece_id = shop
    assert read_through(engine, lambda session: pieces.view(session, piece_id)) == []


def test_the_margin_of_one_edition_reads_no_growing_table_through(shop: tuple[Engine, str, int]) -> None:
    engine, _, _ = shop
    assert read_through(engine, lambda session: reports.margin(session, 1)) == []


def test_a_plan_that_reads_a_table_through_is_noticed(shop: tuple[Engine, str, int]) -> None:
    engine, _, _ = shop
    through = read_through(engine, lambda session: pieces.views(session, pieces.Piece.reason == "lost"))
    assert any(line.startswith("SCAN piece") for line in through)
