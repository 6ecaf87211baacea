"""What a stranger may know of a certificate: whether it stands in the record, and what to compare.

Never a buyer, an owner, a price, a place, nor whether the print was sold.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import bindparam, exists, func
from sqlalchemy import select as columns
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from ledger import pieces, works
from ledger.database import Engine, looking, reading
from ledger.evidence import Place
from ledger.reckoning import codes, dates
from ledger.tables import Certificate, Correction, Edition, Event, Piece, PrintClass

A_FEW = 500
SAID_ON_PAPERS = {field: works.FIELDS[field] for field in ("title", "artist", "year_made", "medium")}


@dataclass(frozen=True)
class Check:
    """A certificate that is in the record, as its public page tells it."""

    code: str
    state: str
    snapshot: dict[str, Any]
    issued_on: date
    place: Place
    since_on: date | None = None
    now_given_as: tuple[str, ...] = ()
    two_exist: bool = False

    @property
    def number_words(self) -> str:
        """'number 7 of 25'; for an open edition that it is not a limited one."""
        said = self.snapshot
        if not said["limited"]:
            return f"{said['number']}, not a limited edition"
        if said["class"] == "numbered":
            return f"number {said['n']} of {said['of']}"
        return str(said["number"])

    @property
    def catalogue_line(self) -> str:
        """One line to copy into a catalogue."""
        said = self.snapshot
        return (
            f"{said['artist']}, {said['title']}, {said['year']}. {said['process']}, {said['paper']}, image "
            f"{said['size']}. {said['inscription']}. Certificate {codes.grouped(self.code)}, "
            f"issued {dates.said(self.issued_on)}."
        )


_other = aliased(Piece)
_ROWS = (
    columns(
        col(Certificate.code),
        col(Certificate.id),
        col(Certificate.state),
        col(Certificate.snapshot),
        col(Certificate.issued_on),
        col(Certificate.piece_id),
        col(Certificate.credential).is_not(None).label("signed"),
        columns(func.min(Event.entry_seq))
        .where(col(Event.certificate_id) == Certificate.id, col(Event.kind) == "certified")
        .scalar_subquery()
        .label("entry"),
        col(Edition.work_id),
        exists().where(col(Correction.work_id) == Edition.work_id).label("corrected"),
        exists()
        .where(col(_other.class_id) == Piece.class_id, col(_other.number) == Piece.number, col(_other.id) != Piece.id)
        .label("printed_again"),
    )
    .join(Piece, col(Piece.id) == Certificate.piece_id)
    .join(PrintClass, col(PrintClass.id) == Piece.class_id)
    .join(Edition, col(Edition.id) == PrintClass.edition_id)
)
_QUERY = _ROWS.where(col(Certificate.code) == bindparam("code"))


def check(session: Session, code: str) -> Check | None:
    """What the record says of a well-formed code; None where it is not in the record."""
    row = session.connection().execute(_QUERY, {"code": code}).one_or_none()
    return None if row is None else _with_its_story(session, row)


def every(session: Session) -> Iterator[Check]:
    """What is to be told of every certificate there ever was, the first one first; a few are read at a time."""
    asked = _ROWS.order_by(col(Certificate.id)).execution_options(yield_per=A_FEW)
    rows = session.connection().execute(asked)
    return (_with_its_story(session, row) for row in rows)


def quick_check(engine: Engine, code: str) -> Check | None:
    """As `check`, by one indexed look; only a certificate with a story of its own takes more."""
    with looking(engine) as connection:
        row = connection.execute(_QUERY, {"code": code}).one_or_none()
    if row is None:
        return None
    if row.state == "valid" and not row.corrected and not row.printed_again:
        return Check(code, row.state, json.loads(row.snapshot), row.issued_on, Place(row.entry, row.signed))
    with reading(engine) as session:
        return check(session, code)


def _with_its_story(session: Session, row: Any) -> Check:
    return Check(
        code=row.code,
        state=row.state,
        snapshot=json.loads(row.snapshot),
        issued_on=row.issued_on,
        place=Place(row.entry, row.signed),
        since_on=None if row.state == "valid" else _since(session, row.id),
        now_given_as=_now_given_as(session, row.id, row.work_id) if row.corrected else (),
        two_exist=row.printed_again and _two_exist(session, row.piece_id),
    )


def _two_exist(session: Session, piece_id: int) -> bool:
    prints = pieces.generations(session, pieces.view(session, piece_id))
    return sum(print_.condition in ("good", "damaged") for print_ in prints) > 1


def _events(session: Session, certificate_id: int, *kinds: str) -> list[Event]:
    return list(
        session.exec(
            select(Event)
            .where(Event.certificate_id == certificate_id, col(Event.kind).in_(kinds))
            .order_by(col(Event.entry_seq).desc())
        )
    )


def _since(session: Session, certificate_id: int) -> date | None:
    told = _events(session, certificate_id, "superseded", "suspended", "voided")
    return told[0].happened_on if told else None


def _now_given_as(session: Session, certificate_id: int, work_id: int) -> tuple[str, ...]:
    """What was put right since the paper was issued; of a line put right twice, how it stands now."""
    issued = _events(session, certificate_id, "certified")[-1].entry_seq
    fixes = session.exec(
        select(Correction)
        .where(
            col(Correction.work_id) == work_id,
            col(Correction.field).in_(SAID_ON_PAPERS),
            col(Correction.entry_seq) > issued,
        )
        .order_by(col(Correction.entry_seq))
    )
    now = {fix.field: fix.new for fix in fixes}
    return tuple(f"{SAID_ON_PAPERS[field]} is now given as “{new}”." for field, new in now.items())
