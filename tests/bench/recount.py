"""The record recounted against canonicalising and hashing the same bytes, in 100,000 entries laid by SQL."""

import hashlib
import json
import sqlite3
from contextlib import closing
from pathlib import Path

from ledger import chance, journal
from ledger.audit import of_the_record
from ledger.database import Engine, make_engine, reading
from ledger.reckoning import merkle
from ledger.reckoning.canonical import canonical
from ledger.schema import migrate
from tests.bench.measure import Row, in_turns, ms

ENTRIES = 100_000


def rows(folder: Path, entries: int = ENTRIES) -> list[Row]:
    engine, texts = _sealed_record(folder / "sealed.sqlite", entries)
    recounted, bare = in_turns(3, lambda: _recount(engine), lambda: _bare(texts))
    engine.dispose()
    return [
        Row(
            f"the record recounted, {entries:,} entries",
            ms(recounted),
            f"the same bytes written anew and hashed {ms(bare)}",
            f"{recounted / bare:.1f}x",
            "under 2x",
        )
    ]


def _recount(engine: Engine) -> None:
    with reading(engine) as session:
        assert list(of_the_record(session)) == []


def _bare(texts: list[bytes]) -> None:
    for each in texts:
        hashlib.sha256(canonical(json.loads(each))).digest()


def _sealed_record(path: Path, size: int) -> tuple[Engine, list[bytes]]:
    """Sealed entries that say as much as a sale does, and their bytes with what is behind them."""
    engine = make_engine(f"sqlite:///{path}")
    migrate(engine)
    entries, secrets, texts = [], [], []
    for seq in range(size):
        seals = {}
        for field, value in (("facts", _facts(seq)), ("person", {"note": "Sold at the fair, to be fetched on Monday"})):
            salt, kept = chance.salt(), canonical(value)
            seals[field] = journal.commitment(salt, seq, field, value).hex()
            secrets.append((seq, field, salt, kept))
            texts.append(kept)
        body = canonical({"seq": seq, "kind": "sealed", "at": "2026-05-04T10:00:00Z", "commitments": seals})
        entries.append((seq, body, merkle.leaf_hash(body)))
        texts.append(body)
    with closing(sqlite3.connect(path, isolation_level=None)) as loading:
        loading.execute("BEGIN")
        guards = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE '%\\_ne%' ESCAPE '\\'"
        put_back = loading.execute(guards).fetchall()
        for name, _ in put_back:
            loading.execute(f"DROP TRIGGER {name}")
        loading.executemany("INSERT INTO journal VALUES (?, 'sealed', '2026-05-04 10:00:00', ?, ?)", entries)
        leaves = [leaf for _, _, leaf in entries]
        loading.executemany("INSERT INTO journal_node VALUES (?, ?, ?)", merkle.subtrees(leaves))
        loading.executemany("INSERT INTO secret (entry_seq, field, salt, value) VALUES (?, ?, ?, ?)", secrets)
        for _, guard in put_back:
            loading.execute(guard)
        loading.execute("COMMIT")
    return engine, texts


def _facts(seq: int) -> journal.Fields:
    line = {"line": seq, "piece": seq, "position": 7, "list": 6500, "price": 6500, "charged": 0, "tax": 0, "fee": 114}
    return {"act": "sold", "sale": seq, "sold_on": "2026-05-04", "channel": 1, "buyer": 3, "lines": [line]}
