"""The public folder of a book with many certificates, written first and then again, against the same files bare."""

import shutil
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from datetime import date
from hashlib import sha256
from pathlib import Path

from ledger import checkpoints, journal, publish, site_folder
from ledger.certificates import code_sha256
from ledger.database import Engine, make_engine, reading, writing
from ledger.keys import hold
from ledger.reckoning import merkle
from ledger.reckoning.canonical import canonical
from ledger.web.static_pages import StaticPages
from tests.bench.measure import Row, ms, seconds
from tests.bench.shelves import Shelf
from tests.cast import KEYS

SIGNED = b"{}" * 900  # as long as what is signed of a certificate
DAY, NEXT_DAY = date(2026, 5, 4), date(2026, 5, 5)


def rows(shelf: Shelf, folder: Path) -> list[Row]:
    copy = folder / "to-publish.sqlite"
    shutil.copyfile(shelf.path, copy)
    count = _told_whole(copy)
    engine = make_engine(f"sqlite:///{copy}")
    hold(engine, KEYS)
    with writing(engine, "bench") as book:
        checkpoints.sign(book, KEYS)
        journal.sealed(book, "noted", {})
    place = folder / "public"
    first = seconds(lambda: _put_out(engine, place, DAY))
    again = seconds(lambda: _put_out(engine, place, NEXT_DAY))
    engine.dispose()
    bare = seconds(lambda: _bare(place, folder / "bare"))
    return [
        Row(
            f"published, each of {count:,} certificates",
            ms(first / count),
            f"its page and proof written bare {ms(bare / count)}",
            f"{first / bare:.1f}x",
        ),
        Row("published again on the next day", ms(again / count)),
    ]


def _told_whole(path: Path) -> int:
    """Every certificate with a whole text and an entry of its own."""
    with closing(sqlite3.connect(path, isolation_level=None)) as loading:
        said = loading.execute("SELECT snapshot FROM certificate ORDER BY id LIMIT 1").fetchone()[0]
        size = loading.execute("SELECT count(*) FROM journal").fetchone()[0]
        guards = loading.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        loading.execute("BEGIN")
        for name, _ in guards:
            loading.execute(f"DROP TRIGGER {name}")
        loading.execute("UPDATE certificate SET snapshot = ?, credential = ?, state = 'valid'", (said, SIGNED))
        codes = [row[0] for row in loading.execute("SELECT code FROM certificate ORDER BY id")]
        _append(loading, size, codes, said)
        for _, guard in guards:
            loading.execute(guard)
        loading.execute("COMMIT")
    return len(codes)


def _append(loading: sqlite3.Connection, size: int, codes: Iterable[str], said: bytes) -> None:
    bodies = [row[0] for row in loading.execute("SELECT body FROM journal ORDER BY seq")]
    for seq, code in enumerate(codes, start=size):
        entry = {
            "seq": seq,
            "kind": "certificate.issued",
            "at": "2026-05-04T12:00:00Z",
            "code_sha256": code_sha256(code),
            "snapshot_sha256": sha256(said).hexdigest(),
            "credential_sha256": sha256(SIGNED).hexdigest(),
        }
        bodies.append(canonical(entry))
    leaves = [merkle.leaf_hash(body) for body in bodies]
    entries = ((seq, bodies[seq], leaves[seq]) for seq in range(size, len(bodies)))
    loading.executemany("INSERT INTO journal VALUES (?, 'certificate.issued', '2026-05-04 12:00:00', ?, ?)", entries)
    loading.execute("DELETE FROM journal_node")
    loading.executemany("INSERT INTO journal_node VALUES (?, ?, ?)", merkle.subtrees(leaves))


def _put_out(engine: Engine, place: Path, on: date) -> None:
    """As `publish.publish`, but for the look at the seals and guards: these certificates were copied, not issued."""
    with reading(engine) as session, site_folder.replacing(place) as site:
        publish.lay_out(session, place.parent, site, StaticPages, on, lambda _: None)


def _bare(place: Path, copy: Path) -> None:
    for folder in ("C", "journal/proof"):
        shutil.copytree(place / folder, copy / folder)
