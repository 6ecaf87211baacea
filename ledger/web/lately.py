"""An edition's story in dated lines: what one entry did to several numbers is one line."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from itertools import groupby

from ledger.pieces import PieceView
from ledger.reckoning import dates, numbering
from ledger.tables import Event
from ledger.web import story

MOST_NAMED = 3
"""Beyond this many numbers a line names them together, without links."""


@dataclass(frozen=True)
class Part:
    """A part of a sentence; `href` is '' where it is plain."""

    words: str
    href: str = ""


@dataclass(frozen=True)
class Line:
    """One dated line: the day, the sentence in parts, the place of its entry in the record."""

    on: str
    words: list[Part] = field(default_factory=list)
    seq: int = 0


def lines(events: Iterable[Event], piece: Callable[[int], PieceView]) -> list[Line]:
    """The lines in the order of the events, which come entry by entry."""
    told = []
    for _, together in groupby(events, key=lambda event: (event.entry_seq, event.kind)):
        group = list(together)
        seen = [piece(event.piece_id) for event in reversed(group) if event.piece_id is not None]
        said = story.sentence(group[-1])
        told.append(Line(dates.said(group[0].happened_on), [*_named(seen), Part(said)], group[0].entry_seq))
    return told


def _named(seen: list[PieceView]) -> list[Part]:
    if not seen:
        return []
    if len(seen) > MOST_NAMED:
        numbers = numbering.said(each.number for each in seen)
        return [Part(f"{_kind(seen[0])}{numbers}. ")]
    parts: list[Part] = []
    for each in sorted(seen, key=lambda one: (one.class_id, one.number)):
        parts += [Part(each.shown, f"/pieces/{each.id}"), Part(", ")]
    return [*parts[:-1], Part(". ")]


def _kind(seen: PieceView) -> str:
    return "" if seen.class_kind == "numbered" else f"{seen.label} "
