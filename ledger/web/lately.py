"""An edition's story in dated lines: what happened to several numbers one after another is one line."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from ledger.database import Session
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
    """One dated line: the day, the sentence in parts, the place of its entry or entries in the record."""

    on: str
    words: list[Part]
    seq: str


def lines(session: Session, events: Iterable[Event], piece: Callable[[int], PieceView]) -> list[Line]:
    """The lines of events that come latest first; the same said of several numbers in a row is said once."""
    told = []
    events = _without_steps_on_the_way(list(events))
    tell = story.teller(session, events)
    for (_, said), together in groupby(events, key=lambda event: (event.happened_on, tell(event))):
        group = list(together)
        seen = [piece(event.piece_id) for event in group if event.piece_id is not None]
        places = sorted({event.entry_seq for event in group})
        seq = str(places[0]) if len(places) == 1 else f"{places[0]} to {places[-1]}"
        told.append(Line(dates.said(group[0].happened_on), [*_named(seen), Part(said)], seq))
    return told


def _without_steps_on_the_way(events: list[Event]) -> list[Event]:
    """A number assigned because it was signed is told once, as signed."""
    signed = {(event.piece_id, event.entry_seq - 1) for event in events if event.kind == "inscribed"}
    return [
        event
        for event in events
        if event.kind != "allocated" or event.text or (event.piece_id, event.entry_seq) not in signed
    ]


def _named(seen: list[PieceView]) -> list[Part]:
    if not seen:
        return []
    if len(seen) > MOST_NAMED:
        return [Part(f"{together(seen)}. ")]
    parts: list[Part] = []
    for each in sorted(seen, key=lambda one: (one.class_id, one.number)):
        parts += [Part(each.shown, f"/pieces/{each.id}"), Part(", ")]
    return [*parts[:-1], Part(". ")]


def together(seen: Sequence[PieceView]) -> str:
    """The numbers of several prints: '20 to 25, AP 1, 3'."""
    kinds = dict.fromkeys((each.class_id, "" if each.class_kind == "numbered" else f"{each.label} ") for each in seen)
    return ", ".join(
        label + numbering.said(each.number for each in seen if each.class_id == class_id) for class_id, label in kinds
    )
