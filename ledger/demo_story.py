"""What the demonstration tells: its acts in order, and what they call by name."""

import json
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from sqlalchemy import Engine
from sqlmodel import col, select

from ledger import pieces
from ledger.database import Book, writing
from ledger.paths import folder
from ledger.pictures import StoredPicture
from ledger.reckoning import money, numbering
from ledger.tables import Piece

Act = dict[str, Any]


@dataclass
class Replay:
    """What the story calls by name, and the book it is written into."""

    data_dir: Path
    currency: str
    pictures: dict[str, Future[StoredPicture]]
    ids: dict[str, int] = field(default_factory=dict)

    def minor(self, amount: str) -> int:
        return money.parse(amount, self.currency)

    def edition(self, key: str) -> int:
        return self.ids[f"edition {key}"]

    def size(self, key: str) -> int:
        """The one size of an edition."""
        return self.ids[f"size {key}"]

    def chosen(self, book: Book, act: Act) -> list[Piece]:
        """The prints an act names, by their numbers."""
        main = pieces.find_class(book.session, self.edition(act["edition"]), act.get("class", "numbered"))
        wanted = [act["number"]] if "number" in act else numbering.ranges(act["numbers"], main.count or 9999)
        rows = select(Piece).where(Piece.class_id == main.id, col(Piece.latest), col(Piece.number).in_(wanted))
        return list(book.session.exec(rows.order_by(col(Piece.number))))


Told = Callable[[Engine, Replay, Act], None]
Write = Callable[[Book, Replay, Act], int | None]


def scenario(today: date) -> dict[str, Any]:
    """The invented history. Its last fair is held today, so that there is a stall to try."""
    told = (folder("demo_data") / "book.json").read_text(encoding="utf-8")
    acts: dict[str, Any] = json.loads(told.replace('"today"', f'"{today.isoformat()}"'))
    return acts


def moment(on: str) -> datetime:
    """Noon of that day, when all of it is written down."""
    return datetime.combine(date.fromisoformat(on), time(12), tzinfo=UTC)


def each_in_one_act(write: dict[str, Write]) -> dict[str, Told]:
    """Each of these written in one act, and what it made kept under its key."""
    return {name: _in_one_act(write_it) for name, write_it in write.items()}


def _in_one_act(write: Write) -> Told:
    def act_on(engine: Engine, run: Replay, act: Act) -> None:
        with writing(engine, "demo", at=moment(act["on"])) as book:
            made = write(book, run, act)
        if "key" in act and made is not None:
            run.ids[act["key"]] = made

    return act_on
