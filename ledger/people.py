"""People: buyers, galleries, labs, whoever holds a print."""

import json
import re
from collections.abc import Iterator
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import journal, sealed_rows, words
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.reckoning.texts import tidy
from ledger.tables import (
    Certificate,
    Correction,
    Cost,
    Custody,
    Edition,
    Event,
    Holding,
    Person,
    Piece,
    Run,
    SaleLine,
    Secret,
)

LINES = ("name", "town", "address", "email", "phone", "note")
PRIVATE_TEXT = (
    (Event, "text"),
    (Correction, "why"),
    (Person, "note"),
    (Piece, "reason"),
    (Piece, "ended_note"),
    (Certificate, "reason"),
    (Edition, "closed_reason"),
    (Holding, "from_words"),
    (Custody, "note"),
    (SaleLine, "reason"),
    (Run, "note"),
    (Cost, "note"),
)
"""Where the maker writes freely, and may have written a name."""


class PersonDraft(BaseModel):
    """Somebody in the book. Only the name is needed."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    kind: Literal["person", "business"] = "person"
    name: str
    town: str = ""
    address: str = ""
    email: str = ""
    phone: str = ""
    note: str = ""


def add(book: Book, draft: PersonDraft) -> Person:
    """Write a person down. Raises Refusal for an empty or unprintable name."""
    lines = _lines(draft)
    written: dict[str, Any] = {name: value or None for name, value in lines.items()}
    person = Person(kind=draft.kind, **written)
    book.session.add(person)
    book.session.flush()
    assert person.id is not None
    words.index(book.session, lines["name"], person_id=person.id)
    journal.sealed(
        book,
        "person_added",
        {"person": person.id},
        Touched("added", book.today, person_id=person.id),
        person=lines,
        person_id=person.id,
    )
    return person


def _lines(draft: PersonDraft) -> dict[str, str]:
    return {
        "name": tidy(draft.name, "The name", limit=120, field="name"),
        "town": tidy(draft.town, "The town", limit=120, needed=False, field="town"),
        "address": tidy(draft.address, "The address", limit=300, needed=False, field="address"),
        "email": tidy(draft.email, "The e-mail address", limit=200, needed=False, field="email"),
        "phone": tidy(draft.phone, "The telephone number", limit=60, needed=False, field="phone"),
        "note": tidy(draft.note, "The note", limit=1000, needed=False, field="note"),
    }


def find_or_add(book: Book, name: str) -> Person:
    """The one person of exactly this name, or a new one; where two share it, choosing tells them apart."""
    wanted = tidy(name, "The name", limit=120, field="buyer")
    same = book.session.exec(select(Person).where(Person.name == wanted)).all()
    return same[0] if len(same) == 1 else add(book, PersonDraft(name=wanted))


def correct(book: Book, person_id: int, field: str, new: str, why: str) -> Person:
    """Put one line about a person right; the old words are kept until the person asks to be erased.

    Raises Refusal.
    """
    person = get(book.session, person_id)
    if field not in LINES:
        raise Refusal(f"“{field}” is no line of a person. Choose {', '.join(LINES)}.", field="field")
    if person.erased_at is not None:
        raise Refusal("This name was erased and is not written again.")
    reason = tidy(why, "The reason", limit=300, needed=False, field="why")
    old = getattr(person, field) or ""
    written = _lines(PersonDraft(name=person.name or "").model_copy(update={field: new}))[field]
    if written == old:
        raise Refusal(f"It says “{old}” already. Nothing was changed." if old else "It is empty already.", field="new")
    setattr(person, field, written or None)
    book.session.add(person)
    if field == "name":
        words.index(book.session, written, person_id=person_id)
    seq = journal.sealed(
        book,
        "person_corrected",
        {"person": person_id, "field": field},
        Touched("corrected", book.today, person_id=person_id),
        person={"old": old, "new": written, "why": reason},
        person_id=person_id,
    )
    book.session.add(Correction(entry_seq=seq, person_id=person_id, field=field, old=old, new=written, why=reason))
    return person


def erase(book: Book, person_id: int) -> Person:
    """Erase what is written about a person: lines, free text, and the salts that seal them.

    The record stays whole: who held or bought what is kept, under no name.

    Raises Refusal.
    """
    person = get(book.session, person_id)
    if person.erased_at is not None:
        raise Refusal("This name was erased already.")
    named = _named(person)
    secrets = _words_about(book.session, person_id, named)
    gone = {secret.entry_seq for secret in secrets}
    mentions = _mentions(book.session, named)
    events = book.session.exec(select(Event).where(Event.person_id == person_id)).all()
    fixes = book.session.exec(select(Correction).where(Correction.person_id == person_id)).all()
    sealed_anew = journal.rows_behind(book.session, gone)
    for row in (person, *events, *fixes, *(row for row, _ in mentions)):
        sealed_anew.setdefault(row.__tablename__, set()).add(row.id)
    sealed_rows.refuse_changed(book.session, sealed_anew)
    for row, column in mentions:
        setattr(row, column, named.sub("name erased", getattr(row, column)))
    for line in LINES:
        setattr(person, line, None)
    person.erased_at = book.at
    words.forget(book.session, person_id=person_id)
    for secret in secrets:
        book.session.delete(secret)
    for event in events:
        event.text = None
    for fix in fixes:
        fix.old = fix.new = fix.why = ""
    for table, ids in sealed_anew.items():
        book.written.setdefault(table, set()).update(ids)
    facts = {"person": person_id, "entries": sorted(gone)}
    journal.sealed(book, "person_erased", facts, Touched("erased", book.today, person_id=person_id))
    return person


def _named(person: Person) -> re.Pattern[str]:
    """What to look for in free text: the person's name, address, e-mail and telephone."""
    known = [line for line in (person.address, person.email, person.phone) if line and len(line) > 3]
    return re.compile("|".join(_whole(line) for line in (person.name or "", *known)), re.IGNORECASE)


def _mentions(session: Session, named: re.Pattern[str]) -> list[tuple[Any, str]]:
    """The rows that name somebody in free text, each with the column that does."""
    return [
        (row, column)
        for table, column in PRIVATE_TEXT
        for row in session.exec(select(table).where(col(getattr(table, column)).is_not(None)))
        if named.search(getattr(row, column))
    ]


def _words_about(session: Session, person_id: int, named: re.Pattern[str]) -> list[Secret]:
    """The words behind entries that are about a person or name them."""
    found = []
    for secret in session.exec(select(Secret).where(Secret.field == "person")):
        kept = json.loads(secret.value)
        if secret.person_id == person_id or person_id in kept.get("people", ()) or any(map(named.search, _texts(kept))):
            found.append(secret)
    return found


def _texts(value: object) -> Iterator[str]:
    """Every text in a value, however deep."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, (dict, list)):
        for member in value.values() if isinstance(value, dict) else value:
            yield from _texts(member)


def _whole(line: str) -> str:
    # 'Ann' is not to be found in 'Annual'; scripts that write without spaces have no such edges.
    return rf"(?<!\w){re.escape(line)}(?!\w)" if line.isascii() else re.escape(line)


def get(session: Session, person_id: int) -> Person:
    """Raises Refusal (missing) for an id nobody has."""
    person = session.get(Person, person_id)
    if person is None:
        raise Refusal(f"Nobody has the number {person_id} in this book.", missing=True)
    return person


def shown(session: Session, person_id: int) -> str:
    """The name, or that it was erased."""
    return get(session, person_id).name or "name erased"


def listing(session: Session) -> list[Person]:
    """Everybody, by name."""
    return list(session.exec(select(Person).where(col(Person.erased_at).is_(None)).order_by(col(Person.name))))


def page(session: Session, limit: int, skip: int = 0) -> list[Person]:
    """A part of the list of everybody, by name."""
    named = select(Person).where(col(Person.erased_at).is_(None)).order_by(col(Person.name), col(Person.id))
    return list(session.exec(named.offset(skip).limit(limit)))


def after(session: Session, person_id: int, limit: int) -> list[Person]:
    """The people written down after this one, in that order, those whose names were erased too."""
    later = select(Person).where(col(Person.id) > person_id).order_by(col(Person.id)).limit(limit)
    return list(session.exec(later))


def corrections(session: Session, person_id: int) -> list[Correction]:
    """What was put right, oldest first; the words are gone where the name was erased."""
    return list(
        session.exec(select(Correction).where(Correction.person_id == person_id).order_by(col(Correction.entry_seq)))
    )


def story(session: Session, person_id: int) -> list[Event]:
    """What happened that concerns a person, oldest first."""
    return list(
        session.exec(select(Event).where(Event.person_id == person_id).order_by(col(Event.entry_seq), col(Event.id)))
    )
