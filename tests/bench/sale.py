"""A recorded sale against two bare rows made durable with the same SQLite settings, and eight threads recording."""

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from sqlmodel import Session, col, select

from ledger import sales
from ledger.database import PRAGMAS, Engine, make_engine, reading, writing
from ledger.sale_drafts import ReceiptDraft
from ledger.tables import Channel, Piece, PrintClass, SearchWord
from tests.bench.measure import Row, in_turns, ms
from tests.bench.shelves import Shelf
from tests.cast import MAKER, MAY_4
from tests.trade import draft

THREADS, EACH = 8, 10


def rows(shelf: Shelf, folder: Path) -> list[Row]:
    engine = make_engine(shelf.url)
    prints = _in_hand(engine)
    with reading(engine) as session:
        channel = session.exec(select(Channel.id).where(Channel.kind == "direct")).one() or 0
    with closing(sqlite3.connect(folder / "bare.sqlite", isolation_level=None)) as bare:
        for pragma in PRAGMAS:
            bare.execute(f"PRAGMA {pragma}")
        bare.execute("CREATE TABLE two (id INTEGER PRIMARY KEY, said TEXT)")
        recorded, plain, mapped = in_turns(
            60, lambda: _record(engine, channel, next(prints)), lambda: _two_rows(bare), lambda: _two_mapped(engine)
        )
    worst = _worst_wait(engine, channel, prints)
    engine.dispose()
    return [
        Row("recorded sale", ms(recorded), f"two rows, sqlite3 alone {ms(plain)}", f"{recorded / plain:.1f}x", "4x"),
        Row("", "", f"two rows, SQLModel session {ms(mapped)}", f"{recorded / mapped:.1f}x"),
        Row(f"{THREADS} threads recording {EACH} sales each", f"longest wait {ms(worst)}", "", "", "under 250 ms"),
    ]


def _in_hand(engine: Engine) -> Iterator[int]:
    with reading(engine) as session:
        numbered = select(Piece.id).join(PrintClass, col(PrintClass.id) == Piece.class_id)
        ids = session.exec(numbered.where(PrintClass.kind == "numbered", col(Piece.number) > 5)).all()
    return (piece_id or 0 for piece_id in ids)


def _record(engine: Engine, channel: int, piece_id: int, waited: list[float] | None = None) -> None:
    paid = (ReceiptDraft(amount_minor=6500, how="cash", received_on=MAY_4),)
    wanted = draft(channel, piece_id, receipts=paid)
    begun = time.perf_counter()
    with writing(engine, MAKER) as book:
        if waited is not None:
            waited.append(time.perf_counter() - begun)
        sales.record(book, wanted)


def _two_rows(bare: sqlite3.Connection) -> None:
    bare.execute("BEGIN IMMEDIATE")
    bare.execute("INSERT INTO two (said) VALUES ('a sale')")
    bare.execute("INSERT INTO two (said) VALUES ('a line')")
    bare.execute("COMMIT")


def _two_mapped(engine: Engine) -> None:
    with Session(engine.execution_options(writer=True)) as session:
        session.add_all([SearchWord(word="sale"), SearchWord(word="line")])
        session.commit()


def _worst_wait(engine: Engine, channel: int, prints: Iterator[int]) -> float:
    waited: list[float] = []
    shares = [[next(prints) for _ in range(EACH)] for _ in range(THREADS)]

    def sell(share: list[int]) -> None:
        for piece_id in share:
            _record(engine, channel, piece_id, waited)

    threads = [threading.Thread(target=sell, args=(share,)) for share in shares]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(waited) == THREADS * EACH
    return max(waited)
