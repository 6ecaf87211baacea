"""What the record comes to when it is played again, entry by entry: promises, numbers and certificates.

What the world can read of the record is enough for promises, prints and certificates; the sealed acts about a
number are played with it. A kind or an act that has no line in `KINDS` and `ACTS` changes none of these.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from ledger.journal import Fields

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
