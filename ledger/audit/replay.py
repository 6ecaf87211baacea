"""What the record comes to when it is played again, against the rows: number by number."""

import hashlib
from collections.abc import Iterator
from datetime import date

from sqlalchemy import select as columns
from sqlmodel import Session, col, select

from ledger.audit.plays import ACTS, KINDS, UNSAID, WORK_LINES, Key, Number, Play, Said
from ledger.journal import Fields
from ledger.recount import Read
from ledger.tables import Certificate, Edition, Picture, Piece, PrintClass, Size, Work


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
