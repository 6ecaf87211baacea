"""The marks: what the run, the lists and the stall draw for a print, and the words that go with the drawing.

Square: paper still the maker's. Round: gone for good. Broken line: not certain yet. Views in, words out.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ledger.pieces import PieceView
from ledger.reckoning import dates, numbering

MANY = 30
"""Beyond this many the run is drawn with letters in place of words."""
MOST_IN_A_LIST = 300
LETTERS = {
    "s": "studio", "d": "damaged, in the studio", "v": "van", "g": "gallery", "l": "loan", "f": "framer",
    "p": "post", "w": "away", "a": "assigned", "2nd": "second print", "o": "gone, not sold", "?": "missing",
    "x": "destroyed", "r": "never to be made",
}  # fmt: skip
_ORDER = (
    "sold", "sold_second", "given", "gallery", "loan", "framer", "post", "van", "studio", "assigned", "free",
    "missing", "destroyed", "withdrawn",
)  # fmt: skip
_GONE = {"gift": "gift", "donation": "donated", "exchange": "swapped"}
_GONE_AS = {"gift": "given away", "donation": "donated", "exchange": "swapped"}


@dataclass(frozen=True)
class Mark:
    """How a print is drawn, the word and the letter under it, and where it is as the end of a sentence."""

    mark: str
    word: str
    letter: str
    phrase: str


@dataclass(frozen=True)
class Place:
    """One place of the run, as its template takes it."""

    number_shown: str
    mark: str
    word: str
    letter: str
    spoken: str
    href: str


@dataclass(frozen=True)
class KeyRow:
    """One row of the sum that is the key of a run."""

    mark: str
    words: str
    count: int


def mark_of(seen: PieceView) -> Mark:
    """The mark of a print by what holds of it now."""
    if seen.order_stands:
        return Mark("sold", "sold", "", "sold, not handed over yet")
    if seen.standing == "passed on":
        return _passed_on(seen)
    if seen.standing == "out":
        return _out(seen)
    if seen.standing == "in hand":
        return _in_hand(seen)
    return {
        "free": Mark("free", "free", "", "free"),
        "assigned": Mark("assigned", "assigned", "a", "assigned, not signed yet"),
        "missing": Mark("missing", "missing", "?", "missing"),
        "destroyed": Mark("destroyed", "destroyed", "x", "destroyed"),
        "withdrawn": Mark("withdrawn", "never made", "r", "never to be made"),
    }[seen.standing]


def _passed_on(seen: PieceView) -> Mark:
    before = seen.from_words or ""
    if seen.number_sold and seen.generation > 1:
        return Mark("sold_second", "sold", "2nd", "sold, second print of that number")
    if seen.number_sold or seen.how == "sale":
        return Mark("sold", "sold", "", "sold")
    if before.startswith("sold"):
        return Mark("sold", "sold", "", before)
    if before.startswith("given"):
        return Mark("given", "gift", "o", before)
    how = seen.how or ""
    return Mark("given", _GONE.get(how, "gone"), "o", _GONE_AS.get(how, "gone, not sold"))


def _out(seen: PieceView) -> Mark:
    who = seen.keeper_name
    if seen.place == "gallery":
        return Mark("gallery", _short(who), "g", f"at {who or 'a gallery'}")
    if seen.place == "loan":
        return Mark("loan", "loan", "l", f"on loan to {who}" if who else "on loan")
    if seen.place == "framer":
        return Mark("framer", "framer", "f", f"at {who or 'the framer'}")
    if seen.place == "post":
        return Mark("post", "post", "p", "in the post")
    return Mark("loan", "away", "w", "away, nobody knows where")


def _short(name: str | None) -> str:
    """'Kelpstane' for 'Gallery Kelpstane'; 'gallery' where no short name is to be had."""
    parts = [part for part in (name or "").split() if part.casefold() not in ("gallery", "the")]
    return parts[0] if len(parts) == 1 and len(parts[0]) <= 12 else "gallery"


def _in_hand(seen: PieceView) -> Mark:
    if seen.condition == "damaged":
        return Mark("studio", "damaged", "d", "in the studio, damaged")
    if seen.place == "van":
        return Mark("van", "van", "v", "in the van")
    return Mark("studio", "studio", "s", "in the studio")


def spoken_number(seen: PieceView) -> str:
    """A number as it is said: '14 of 25', 'AP II of III'."""
    return seen.shown.replace("/", " of ")


def place(seen: PieceView, *, proof: bool = False) -> Place:
    """A print as a place of the run; a proof says its kind, for several kinds stand side by side."""
    drawn = mark_of(seen)
    word = f"{seen.label}, {drawn.word}" if proof else drawn.word
    return Place(
        seen.figure, drawn.mark, word, drawn.letter, f"{spoken_number(seen)}, {drawn.phrase}",
        f"/pieces/{seen.id}",
    )  # fmt: skip


def key(run: Iterable[PieceView]) -> list[KeyRow]:
    """One row for each state there is; the counts sum to the run."""
    counts: dict[tuple[str, str], int] = {}
    for seen in run:
        drawn = mark_of(seen)
        counts[drawn.mark, drawn.phrase] = counts.get((drawn.mark, drawn.phrase), 0) + 1
    rows = [KeyRow(mark, phrase, count) for (mark, phrase), count in counts.items()]
    return sorted(rows, key=lambda row: _ORDER.index(row.mark))


def letters(run: Iterable[PieceView]) -> str:
    """'Letters: s studio, g gallery.' for those the run has; '' without any."""
    there = {mark_of(seen).letter for seen in run} - {""}
    said = ", ".join(f"{letter} {words}" for letter, words in LETTERS.items() if letter in there)
    return f"Letters: {said}." if said else ""


def in_a_sentence(run: Sequence[PieceView]) -> str:
    """'17 sold, 3 at Gallery Kelpstane, 4 in the studio': the sum as one line."""
    rows = key(run)
    sold = sum(row.count for row in rows if row.mark in ("sold", "sold_second"))
    if sold == len(run) and run:
        last = max((seen.sold_on for seen in run if seen.sold_on), default=None)
        return f"{sold} sold, the last on {dates.said(last)}" if last else f"{sold} sold"
    rest = [row for row in rows if row.mark not in ("sold", "sold_second", "withdrawn")]
    said = [f"{sold} sold"] if sold else []
    said += [f"{row.count} {row.words}" for row in rest]
    never = [seen.number for seen in run if seen.standing == "withdrawn"]
    line = ", ".join(said)
    if not never:
        return line
    made = f"{numbering.said(never)} never made"
    return f"{line}. {made}" if line else made


def strip(run: Sequence[PieceView]) -> list[str]:
    """The marks of a run, one name a number, for the line in a list; none of a run too long to be taken in there."""
    return [mark_of(seen).mark for seen in run] if len(run) <= MOST_IN_A_LIST else []


def tail_of(run: Sequence[PieceView]) -> int:
    """How many places at the end of a long run are free and may be drawn as one dotted line."""
    if len(run) <= MANY:
        return 0
    free = 0
    for seen in reversed(run):
        if seen.standing != "free":
            break
        free += 1
    return free if free > 5 else 0
