"""An entry appended against a bare row, and one proof, in a record of 100,000 entries laid by SQL."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from itertools import count
from pathlib import Path

from ledger import checkpoints, journal
from ledger.database import PRAGMAS, Engine, make_engine, reading, writing
from ledger.reckoning import merkle
from ledger.reckoning.canonical import canonical
from ledger.schema import migrate
from tests.bench.measure import Row, in_turns, ms
from tests.cast import KEYS

ENTRIES = 100_000
AT_ONCE = 100


def rows(folder: Path) -> list[Row]:
    engine = _long_record(folder / "long.sqlite")
    with closing(sqlite3.connect(folder / "bare.sqlite", isolation_level=None)) as bare:
        for pragma in PRAGMAS:
            bare.execute(f"PRAGMA {pragma}")
        bare.execute("CREATE TABLE bare_entry (seq INTEGER PRIMARY KEY, body BLOB, leaf BLOB)")
        places = count()
        appended, plain = in_turns(20, lambda: _append(engine), lambda: _bare(bare, places))
    with reading(engine) as session:
        size = journal.length(session)
        proved, head = in_turns(
            100, lambda: journal.inclusion_proof(session, ENTRIES // 3, size), lambda: journal.head(session)
        )
        whole = checkpoints.proof(session, ENTRIES // 3)
        assert whole is not None and len(whole.hashes) == (ENTRIES - 1).bit_length()
    engine.dispose()
    return [
        Row(
            f"an entry appended, {AT_ONCE} in an act",
            ms(appended / AT_ONCE),
            f"a row, sqlite3 alone {ms(plain / AT_ONCE)}",
            f"{appended / plain:.1f}x",
        ),
        Row(f"one proof among {ENTRIES:,} entries", ms(proved), "", "", "under 1 ms"),
        Row("the head of the same record", ms(head)),
    ]


def _long_record(path: Path) -> Engine:
    engine = make_engine(f"sqlite:///{path}")
    migrate(engine)
    bodies = [canonical({"seq": seq, "kind": "noted", "at": "2026-05-04T10:00:00Z"}) for seq in range(ENTRIES)]
    leaves = [merkle.leaf_hash(body) for body in bodies]
    with closing(sqlite3.connect(path, isolation_level=None)) as loading:
        guards = loading.execute(
            "SELECT name, sql FROM sqlite_master WHERE name IN ('journal_next', 'journal_node_next')"
        )
        put_back = guards.fetchall()
        loading.execute("BEGIN")
        for name, _ in put_back:
            loading.execute(f"DROP TRIGGER {name}")
        entries = zip(range(ENTRIES), bodies, leaves, strict=True)
        loading.executemany("INSERT INTO journal VALUES (?, 'noted', '2026-05-04 10:00:00', ?, ?)", entries)
        loading.executemany("INSERT INTO journal_node VALUES (?, ?, ?)", merkle.subtrees(leaves))
        for _, guard in put_back:
            loading.execute(guard)
        loading.execute("COMMIT")
    with writing(engine, "bench") as book:
        journal.public(book, "key.added", {})
        checkpoints.sign(book, KEYS)
    return engine


def _append(engine: Engine) -> None:
    with writing(engine, "bench") as book:
        for _ in range(AT_ONCE):
            journal.public(book, "noted", {})


def _bare(bare: sqlite3.Connection, places: Iterator[int]) -> None:
    bare.execute("BEGIN IMMEDIATE")
    for _ in range(AT_ONCE):
        seq = next(places)
        body = canonical({"seq": seq, "kind": "noted", "at": "2026-05-04T10:00:00Z"})
        bare.execute("INSERT INTO bare_entry VALUES (?, ?, ?)", (seq, body, merkle.leaf_hash(body)))
    bare.execute("COMMIT")
