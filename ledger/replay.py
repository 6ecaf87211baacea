"""The record played again, entry by entry, and what it comes to against the rows: number by number.

What the world can read of the record is enough for promises, prints and certificates; the sealed acts about a
number are played with it. A kind or an act that has no line in `KINDS` and `ACTS` changes none of these.
"""

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import select as columns
from sqlmodel import Session, col, select

from ledger.journal import Fields
from ledger.recount import Read
from ledger.tables import Certificate, Edition, Picture, Piece, PrintClass, Size, Work

Key = tuple[int, str, int, int]
"""Edition, class, number and generation."""
UNSAID: Any = object()
"""The record leaves it open."""


@dataclass
class Number:
    """How a number stands by the record."""

    state: Any = "free"
    condition: Any = "good"
    latest: bool = True
    origin: str = "made"
    size_id: Any = UNSAID
    inscription: str | None = None
    inscribed_on: str | None = None


@dataclass
class Issued:
    """A certificate by the record."""

    key: Key
    snapshot_sha256: str
    credential_sha256: str | None
    state: str = "valid"
    paper_sha256: str | None = None


@dataclass
class Said:
    """What the record comes to, as far as it was played. `keys` tells the pieces of sealed acts, by id."""

    keys: dict[int, Key] = field(default_factory=dict)
    numbers: dict[Key, Number] = field(default_factory=dict)
    certificates: dict[str, Issued] = field(default_factory=dict)
    editions: dict[int, Fields] = field(default_factory=dict)
    works: dict[int, Fields] = field(default_factory=dict)
    ended: dict[int, str] = field(default_factory=dict)

    def number(self, key: Key) -> Number:
        return self.numbers.setdefault(key, Number())


Play = Callable[[Said, Fields], None]


def _key(says: Fields) -> Key:
    return (says["edition"], says["class"], says["number"], says["generation"])


def _inscribed(said: Said, says: Fields) -> None:
    number = said.number(_key(says))
    entered = says["origin"] == "entered"
    number.state, number.origin, number.size_id = "inscribed", says["origin"], says.get("size")
    number.inscription, number.inscribed_on = says["inscription"], says.get("on")
    number.condition = UNSAID if entered else "good"  # what became of an earlier print is not for the world


def _back(state: Any) -> Play:
    def play(said: Said, says: Fields) -> None:
        said.numbers[_key(says)] = Number(state=state)

    return play


def _withdrawn(said: Said, says: Fields) -> None:
    said.number(_key(says)).state = "withdrawn"


def _destroyed(said: Said, says: Fields) -> None:
    said.number(_key(says)).condition = "destroyed"


def _replaced(said: Said, says: Fields) -> None:
    edition, kind, number, generation = _key(says)
    said.number((edition, kind, number, generation - 1)).latest = False


def _issued(said: Said, says: Fields) -> None:
    said.certificates[says["code_sha256"]] = Issued(_key(says), says["snapshot_sha256"], says.get("credential_sha256"))


def _printed(said: Said, says: Fields) -> None:
    said.certificates[says["code_sha256"]].paper_sha256 = says["paper_sha256"]


def _changed(said: Said, says: Fields) -> None:
    said.certificates[says["code_sha256"]].state = says["state"]


def _declared(said: Said, says: Fields) -> None:
    said.editions[says["edition"]] = says


def _ended(how: str) -> Play:
    def play(said: Said, says: Fields) -> None:
        said.ended[says["edition"]] = how

    return play


def _added(said: Said, says: Fields) -> None:
    said.works[says["work"]] = {name: str(says[name]) for name in WORK_LINES if name in says}


def _corrected(said: Said, says: Fields) -> None:
    said.works[says["work"]][says["field"]] = says["new"]


def _allocated(said: Said, facts: Fields) -> None:
    if "piece" in facts:
        said.number(said.keys[facts["piece"]]).state = "allocated"
    for number in facts.get("numbers", ()):
        said.number((facts["edition"], facts["class"], number, 1)).state = "allocated"


def _given_back(said: Said, facts: Fields) -> None:
    said.numbers[said.keys[facts["piece"]]] = Number()


def _condition(said: Said, facts: Fields) -> None:
    said.number(said.keys[facts["piece"]]).condition = facts.get("condition", UNSAID)


def _exchanged(said: Said, facts: Fields) -> None:
    for piece_id in (facts["from"], facts["to"]):
        said.number(said.keys[piece_id]).state = "allocated"


WORK_LINES = ("title", "artist", "year_made", "medium", "artist_born", "artist_died")
KINDS: Mapping[str, Play] = {
    "work.added": _added,
    "work.corrected": _corrected,
    "edition.declared": _declared,
    "edition.withdrawn": _ended("withdrawn"),
    "edition.closed": _ended("closed"),
    "piece.inscribed": _inscribed,
    "piece.uninscribed": _back("allocated"),
    "piece.spoilt": _back(UNSAID),  # assigned still where an order stands on it
    "piece.withdrawn": _withdrawn,
    "piece.destroyed": _destroyed,
    "piece.replaced": _replaced,
    "certificate.issued": _issued,
    "certificate.printed": _printed,
    "certificate.superseded": _changed,
    "certificate.suspended": _changed,
    "certificate.restored": _changed,
    "certificate.void": _changed,
}
ACTS: Mapping[str, Play] = {
    "allocated": _allocated,
    "given_back": _given_back,
    "damaged": _condition,
    "missing": _condition,
    "found": _condition,
    "number_exchanged": _exchanged,
}


class Replay:
    """What the record says of every promise, number and certificate is what the rows say."""

    def __init__(self) -> None:
        self._said = Said()
        self._later: list[tuple[int, Play, Fields]] = []

    def see(self, entry: Read) -> Iterator[str]:
        play = KINDS.get(entry.kind) or (ACTS.get(entry.facts.get("act", "")) if entry.kind == "sealed" else None)
        if play is not None:
            self._later.append((entry.seq, play, entry.facts if entry.kind == "sealed" else entry.says))
        yield from ()

    def end(self, session: Session) -> Iterator[str]:
        asked = columns(
            col(Piece.id), col(PrintClass.edition_id), col(PrintClass.kind), col(Piece.number), col(Piece.generation)
        ).join(PrintClass, col(PrintClass.id) == Piece.class_id)
        found = session.connection().execute(asked)
        self._said.keys = {id or 0: (of, kind, number, nth) for id, of, kind, number, nth in found}
        for seq, play, said in self._later:
            try:
                play(self._said, said)
            except (KeyError, TypeError):
                yield f"entry {seq} cannot be played again: it is about something the record does not have"
        yield from _works(session, self._said)
        yield from _editions(session, self._said)
        yield from _numbers(session, self._said)
        yield from _certificates(session, self._said)


def _works(session: Session, said: Said) -> Iterator[str]:
    pictures = {row.id: row.sha256 for row in session.exec(select(Picture)) if row.id is not None}
    for row in session.exec(select(Work)):
        lines = said.works.get(row.id or 0)
        if lines is None:
            yield f"work {row.id} was added by no entry"
            continue
        now = {name: str(getattr(row, name) or "") for name in WORK_LINES} | {
            "picture": pictures.get(row.picture_id or 0, "")
        }
        for name, value in now.items():
            if value != lines.get(name, ""):
                yield f"the {name} of work {row.id} is not what the record says"


def _editions(session: Session, said: Said) -> Iterator[str]:
    sizes: dict[int, list[Size]] = {}
    for size in session.exec(select(Size).order_by(col(Size.id))):
        sizes.setdefault(size.edition_id, []).append(size)
    classes: dict[int, list[PrintClass]] = {}
    for each in session.exec(select(PrintClass).order_by(col(PrintClass.id))):
        classes.setdefault(each.edition_id, []).append(each)
    for row in session.exec(select(Edition)):
        promise = said.editions.get(row.id or 0)
        if promise is None:
            yield f"edition {row.id} was declared by no entry"
            continue
        now = {
            "work": row.work_id,
            "ordinal": row.ordinal,
            "edition_kind": row.kind,
            "statement": row.statement,
            "later_editions": row.later_editions,
            "declared_on": row.declared_on.isoformat(),
            "begun": row.begun_words,
            "classes": [
                {"class": c.kind, "label": c.label, "style": c.style, "count": c.count}
                for c in classes.get(row.id or 0, [])
            ],
            "sizes": [_measures(size) for size in sizes.get(row.id or 0, [])],
        }
        for name, value in now.items():
            if value != promise.get(name):
                yield f"the {name} of edition {row.id} is not what was declared"
        ended = "withdrawn" if row.withdrawn_on else "closed" if row.closed_on else None
        if ended != said.ended.get(row.id or 0):
            yield f"edition {row.id} stands as {ended or 'open'}; the record says {said.ended.get(row.id or 0, 'open')}"


def _measures(size: Size) -> Fields:
    found: Fields = {"label": size.label, "image_w_um": size.image_w_um, "image_h_um": size.image_h_um}
    if size.sheet_w_um is not None:
        found |= {"sheet_w_um": size.sheet_w_um, "sheet_h_um": size.sheet_h_um}
    return found


COMPARED = ("state", "condition", "latest", "origin", "size_id", "inscription", "inscribed_on")


def _numbers(session: Session, said: Said) -> Iterator[str]:
    asked = columns(
        col(Piece.id), col(Piece.state), col(Piece.condition), col(Piece.latest), col(Piece.origin),
        col(Piece.size_id), col(Piece.inscription), col(Piece.inscribed_on),
    ).order_by(col(Piece.id))  # fmt: skip
    for piece_id, *now in session.connection().execute(asked):
        key = said.keys.get(piece_id or 0)
        if key is None:
            yield f"piece {piece_id} is of no class"
            continue
        then = said.numbers.pop(key, Number())
        for name, value in zip(COMPARED, now, strict=True):
            expected = getattr(then, name)
            value = value.isoformat() if isinstance(value, date) else value
            if expected is not UNSAID and value != expected:
                yield f"{name} of {_named(key)} is {value!r}, and the record says {expected!r}"
    for key in said.numbers:
        yield f"{_named(key)} is in the record and has no row"


def _named(key: Key) -> str:
    edition, kind, number, generation = key
    second = f", print {generation} of it" if generation > 1 else ""
    return f"{'number' if kind == 'numbered' else kind} {number} of edition {edition}{second}"


def _certificates(session: Session, said: Said) -> Iterator[str]:
    for row in session.exec(select(Certificate)):
        then = said.certificates.pop(hashlib.sha256(row.code.encode()).hexdigest(), None)
        if then is None:
            yield f"certificate {row.id} was issued by no entry under its code"
            continue
        if said.keys.get(row.piece_id) != then.key:
            yield f"certificate {row.id} was issued for {_named(then.key)}"
        if row.state != then.state:
            yield f"certificate {row.id} is {row.state}, and the record says {then.state}"
        if hashlib.sha256(row.snapshot).hexdigest() != then.snapshot_sha256:
            yield f"certificate {row.id} does not say what was issued"
        if (hashlib.sha256(row.credential).hexdigest() if row.credential else None) != then.credential_sha256:
            yield f"certificate {row.id} is signed as something else than was issued"
        if row.paper_sha256 != then.paper_sha256:
            yield f"certificate {row.id} has another paper than the record"
    for code, then in said.certificates.items():
        yield f"the certificate of {_named(then.key)} (SHA-256 of its code {code[:16]}) has no row"
