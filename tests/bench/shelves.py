"""A ledger of any size: one edition made by the acts of the book, then copied by SQL with its ids shifted."""

import random
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from itertools import product
from pathlib import Path

from ledger.chance import below
from ledger.database import make_engine
from ledger.keys import hold
from ledger.migrations.triggers import install_triggers
from ledger.reckoning import codes
from ledger.reckoning.texts import folded_words
from ledger.schema import migrate
from tests.cast import KEYS, certified, declared, made, opened
from tests.trade import sell, to, ways

PIECES = 29
"""In one edition of the cast: 25 numbered, three artist's proofs and a bon à tirer."""
ASKED = 500
"""Certificates whose code is well-formed and whose text is kept whole; the others keep a short one."""
SHIFTED = {
    "work": {"id": "work"},
    "edition": {"id": "edition", "work_id": "work"},
    "edition_answer": {"id": "edition_answer", "edition_id": "edition"},
    "size": {"id": "size", "edition_id": "edition"},
    "offer": {"id": "offer", "size_id": "size"},
    "price_step": {"id": "price_step", "offer_id": "offer"},
    "print_class": {"id": "print_class", "edition_id": "edition"},
    "person": {"id": "person"},
    "piece": {"id": "piece", "class_id": "print_class", "size_id": "size", "offer_id": "offer"},
    "certificate": {"id": "certificate", "piece_id": "piece"},
    "holding": {"id": "holding", "piece_id": "piece", "person_id": "person"},
    "custody": {"id": "custody", "piece_id": "piece", "person_id": "person"},
    "sale": {"id": "sale", "buyer_id": "person"},
    "sale_line": {"id": "sale_line", "sale_id": "sale", "piece_id": "piece"},
    "receipt": {"id": "receipt", "sale_id": "sale"},
}
"""The tables copied, and whose ids their columns are."""
TITLES = (
    ("Forty", "Salt", "Slow", "North", "Thin", "Long", "Late", "Grey", "Low", "Far", "Third", "Winter",
     "Still", "Half", "Open", "Last", "Tall", "Pale", "Deep", "Lost"),
    ("Minutes", "Hours", "Miles", "Fields", "Gates", "Tides", "Walls", "Lamps", "Bells", "Rooms", "Stairs",
     "Roads", "Boats", "Barns", "Ropes", "Stones"),
    ("of Road", "of Rain", "at Dusk", "in March", "by Night", "from Saltrigg", "before Noon", "under Snow",
     "off Thessrow"),
)  # fmt: skip
NAMES = (
    ("Wilhelmina", "Jory", "Edda", "Piran", "Lowena", "Hesper", "Tobiah", "Ansel", "Morwen", "Cuby"),
    ("Tarn", "Pellow", "Quill", "Marsh", "Oak", "Sorrel", "Finch", "Heron", "Thorn", "Weir", "Sands", "Brack"),
)  # fmt: skip


@dataclass(frozen=True)
class Shelf:
    """A ledger on disk, how many pieces it has, and codes of certificates spread over it."""

    path: Path
    pieces: int
    codes: tuple[str, ...]

    @property
    def url(self) -> str:
        return f"sqlite:///{self.path}"


def filled(folder: Path, pieces: int) -> Shelf:
    """A ledger in a new folder with at least so many pieces, every one certified and five of each edition sold."""
    folder.mkdir()
    path = folder / "ledger.sqlite"
    _one_edition(path)
    editions = max(1, -(-pieces // PIECES))
    with closing(sqlite3.connect(path, isolation_level=None)) as loading:
        loading.execute("PRAGMA journal_mode = OFF")
        loading.execute("PRAGMA synchronous = OFF")
        put_back = list(_bare(loading))
        loading.execute("BEGIN")
        _copy(loading, editions - 1)
        asked = _codes(loading)
        loading.execute("COMMIT")
        for statement in put_back:
            loading.execute(statement)
    engine = make_engine(f"sqlite:///{path}")
    with engine.execution_options(writer=True).begin() as connection:
        install_triggers(connection)
    engine.dispose()
    return Shelf(path, editions * PIECES, tuple(asked))


def _one_edition(path: Path) -> None:
    engine = make_engine(f"sqlite:///{path}")
    migrate(engine)
    hold(engine, KEYS)
    opened(engine)
    declared(engine)
    numbered = made(engine, *range(1, 26))
    by = ways(engine)
    for piece_id in numbered[:5]:
        sell(engine, by.studio, piece_id, buyer=to("Wilhelmina Tarn"), paid_by="cash")
    for piece_id in numbered:
        certified(engine, piece_id)
    engine.dispose()


def _bare(loading: sqlite3.Connection) -> Iterator[str]:
    """Take triggers and indexes away for the time of loading; gives what puts the indexes back."""
    rows = loading.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
    for kind, name, sql in rows:
        if kind in ("trigger", "index"):
            loading.execute(f"DROP {kind} {name}")
        if kind == "index":
            yield sql


def _copy(loading: sqlite3.Connection, times: int) -> None:
    loading.execute("CREATE TEMP TABLE copy (k INTEGER PRIMARY KEY, title TEXT, name TEXT)")
    loading.executemany("INSERT INTO copy VALUES (?, ?, ?)", _called(times))
    step = {table: loading.execute(f"SELECT max(id) FROM {table}").fetchone()[0] or 0 for table in SHIFTED}
    for table, shifts in SHIFTED.items():
        columns = [row[1] for row in loading.execute(f"PRAGMA table_info({table})")]
        values = {column: f"t.{column}" for column in columns}
        values |= {column: f"t.{column} + k * {step[owner]}" for column, owner in shifts.items()}
        values |= {"work": {"title": "copy.title"}, "person": {"name": "copy.name"}}.get(table, {})
        if table == "certificate":
            values |= {"code": "hex(randomblob(8))", "snapshot": "x'7b7d'", "credential": "x'7b7d'"}
        loading.execute(
            f"INSERT INTO {table} ({', '.join(columns)}) SELECT {', '.join(values[each] for each in columns)} "
            f"FROM copy CROSS JOIN {table} t ORDER BY k, t.id"
        )
    for k, title, name in _called(times):
        for column, said, owner in (("work_id", title, "work"), ("person_id", name, "person")):
            id_ = (1 + k) * step[owner]
            words = ((word, id_) for word in folded_words(said))
            loading.executemany(f"INSERT INTO search_word (word, {column}) VALUES (?, ?)", words)


def _called(times: int) -> Iterable[tuple[int, str, str]]:
    """Title and buyer of each copy, the same at every run."""
    titles = [" ".join(parts) for parts in product(*TITLES)]
    names = [" ".join(parts) for parts in product(*NAMES)]
    by_chance = random.Random(25)
    for k in range(1, times + 1):
        yield k, by_chance.choice(titles), by_chance.choice(names)


def _codes(loading: sqlite3.Connection) -> list[str]:
    """Give certificates spread over the whole ledger a whole text and a code that can be typed."""
    text = loading.execute("SELECT snapshot FROM certificate ORDER BY id LIMIT 1").fetchone()[0]
    ids = [row[0] for row in loading.execute("SELECT id FROM certificate")]
    chosen = random.Random(7).sample(ids, min(ASKED, len(ids)))
    asked = [(codes.new_code(below), text, id_) for id_ in chosen]
    loading.executemany("UPDATE certificate SET code = ?, snapshot = ? WHERE id = ?", asked)
    return [code for code, _, _ in asked]
