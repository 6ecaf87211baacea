"""A row of the book as the record seals it: what may be kept for ever, and the words that may be erased.

Figures, days, ids, hashes and the few words in `PLAIN` are facts. Any other text is the maker's own, may hold a
name, and is kept apart; a column is held private unless it is listed.
"""

import hashlib
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cache
from typing import Any

from sqlalchemy import DateTime, RowMapping, String, select, type_coerce
from sqlalchemy.types import NullType
from sqlmodel import Session, SQLModel

import ledger.tables  # noqa: F401  (it fills the metadata)

Fields = dict[str, Any]
AT_ONCE = 500
MOMENT = "%Y-%m-%dT%H:%M:%SZ"
PLAIN = {
    "address": ("url",),
    "certificate": ("code", "state", "paper_sha256"),
    "channel": ("kind",),
    "consigned": ("outcome",),
    "consignment": ("commission_on", "commission_of", "discount_by"),
    "correction": ("field",),
    "cost": ("basis",),
    "custody": ("place",),
    "edition": ("kind", "later_editions"),
    "edition_answer": ("item", "answer"),
    "event": ("kind",),
    "holding": ("holder", "how"),
    "occasion": ("kind",),
    "person": ("kind",),
    "picture": ("sha256", "format", "show_sha256", "paper_sha256", "thumb_sha256"),
    "piece": ("state", "condition", "origin"),
    "print_class": ("kind", "style", "edition_kind"),
    "receipt": ("how",),
    "sale": ("buyer_shown",),
    "sale_line": ("discount_by", "outcome"),
    "signing_keys": ("issuer", "journal"),
    "studio": ("currency", "paper", "tax_by"),
}
"""The columns of text that hold none of the maker's own words."""


@dataclass(frozen=True)
class Column:
    """A column as a seal sees it; a value that is the default is not written."""

    name: str
    private: bool
    default: Any
    moment: bool


@cache
def columns_of(table: str) -> tuple[Column, ...]:
    """The columns of a book table, its id apart."""
    made = next(each.class_ for each in SQLModel._sa_registry.mappers if str(each.local_table) == table)
    return tuple(
        Column(
            column.name,
            isinstance(getattr(column.type, "impl", column.type), String) and column.name not in PLAIN.get(table, ()),
            _default(made.model_fields[column.name].default),
            isinstance(getattr(column.type, "impl", column.type), DateTime),
        )
        for column in SQLModel.metadata.tables[table].columns
        if column.name != "id"
    )


def _default(value: object) -> Any:
    return said(value) if value is None or type(value) in (bool, int, str) else None


def said(value: object) -> Any:
    """A value of a column as a record can hold it; None where there is none."""
    if value is None or type(value) in (str, int):
        return value
    if type(value) is bool:
        return int(value)
    if type(value) is datetime:
        return value.astimezone(UTC).strftime(MOMENT)
    if type(value) is date:
        return value.isoformat()
    if type(value) is bytes:
        return hashlib.sha256(value).hexdigest()
    return str(value)  # what no act would write there, and a hand did


def moment(value: object) -> Any:
    """A moment as a record can hold it; SQLite keeps it as text."""
    found = re.fullmatch(r"(\d{4}-\d\d-\d\d) (\d\d:\d\d:\d\d)(?:\.000000)?", value) if isinstance(value, str) else None
    return f"{found[1]}T{found[2]}Z" if found else said(value)


def parted(table: str, row: RowMapping) -> tuple[Fields, Fields]:
    """The facts of a row, and its private words, both without what is as it is by default."""
    facts: Fields = {}
    words: Fields = {}
    for column in columns_of(table):
        value = moment(row[column.name]) if column.moment else said(row[column.name])
        if value != column.default and value is not None:
            (words if column.private else facts)[column.name] = value
        elif value is None and column.default is not None:
            facts.setdefault("none", []).append(column.name)
    return facts, words


def people_of(table: str, row: RowMapping) -> set[int]:
    """Whom a row is about: they may ask for its words to be erased."""
    if table == "person":
        return {row["id"]}
    return {row[name] for name in ("person_id", "buyer_id") if row.get(name) is not None}


def written(session: Session, table: str, ids: Iterable[int]) -> Iterator[RowMapping]:
    """These rows of a table as the database has them, by id."""
    kept = SQLModel.metadata.tables[table]
    wanted = sorted(ids)
    for start in range(0, len(wanted), AT_ONCE):
        part = wanted[start : start + AT_ONCE]
        asked = _as_they_are(table).where(kept.c.id.in_(part))
        yield from session.connection().execute(asked).mappings()


def above(session: Session, table: str, highest: int) -> Iterator[int]:
    """The ids of a table above this one."""
    ids = SQLModel.metadata.tables[table].c.id
    yield from session.connection().scalars(select(ids).where(ids > highest))


def every(session: Session, table: str) -> Iterator[RowMapping]:
    """All rows of a table, by id."""
    yield from session.connection().execute(_as_they_are(table), execution_options={"yield_per": AT_ONCE}).mappings()


@cache
def _as_they_are(table: str) -> Any:
    """The columns without what a library makes of them: a day that is none must be seen, not stumbled over."""
    kept = SQLModel.metadata.tables[table].c
    return select(*(type_coerce(column, NullType()).label(column.name) for column in kept)).order_by(kept.id)
