"""What a stranger may know of a certificate: whether it stands in the record, and what to compare.

Never a buyer, an owner, a price, a place, nor whether the print was sold.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import Session, col, select

from ledger import certificates, pieces, works
from ledger.reckoning import codes, dates
from ledger.tables import Event


@dataclass(frozen=True)
class Check:
    """A certificate that is in the record, as its public page tells it."""

    code: str
    state: str
    snapshot: dict[str, Any]
    number_words: str
    issued_on: date
    since_on: date | None
    now_given_as: tuple[str, ...]
    two_exist: bool
    missing: bool

    @property
    def stands(self) -> bool:
        return self.state == "valid"

    @property
    def catalogue_line(self) -> str:
        """One line to copy into a catalogue."""
        said = self.snapshot
        return (
            f"{said['artist']}, {said['title']}, {said['year']}. {said['process']}, {said['paper']}, image "
            f"{said['size']}. {said['inscription']}. Certificate {codes.grouped(self.code)}, "
            f"issued {dates.said(self.issued_on)}."
        )


def check(session: Session, code: str) -> Check | None:
    """What the record says of a well-formed code; None where it is not in the record."""
    found = certificates.by_code(session, code)
    if found is None:
        return None
    seen = pieces.view(session, found.piece_id)
    corrected = [
        f"{label} is now given as “{fix.new}”"
        for fix in works.corrections(session, seen.work_id)
        for label in [works.FIELDS.get(fix.field)]
        if label
        and fix.field in ("title", "artist", "year_made", "medium")
        and _after(session, found.id, fix.entry_seq)
    ]
    prints = pieces.generations(session, seen)
    return Check(
        code=code,
        state=found.state,
        snapshot=found.snapshot,
        number_words=_number_words(found.snapshot),
        issued_on=found.issued_on,
        since_on=None if found.state == "valid" else _since(session, found.id),
        now_given_as=tuple(corrected),
        two_exist=len(prints) > 1 and all(print_.condition in ("good", "damaged") for print_ in prints[-2:]),
        missing=found.state == "suspended",
    )


def _number_words(snapshot: dict[str, Any]) -> str:
    if snapshot["class"] == "numbered" and snapshot["of"]:
        return f"number {snapshot['n']} of {snapshot['of']}"
    return (
        f"{snapshot['number']}, not a limited edition" if not snapshot["limited"] else str(snapshot["number"])
    )


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


def _after(session: Session, certificate_id: int, entry_seq: int) -> bool:
    issued = _events(session, certificate_id, "certified")
    return bool(issued) and issued[-1].entry_seq < entry_seq
