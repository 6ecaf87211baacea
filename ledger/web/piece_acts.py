"""What may happen to one print: each act once, with its words, its fields, and when it is open.

Pages and API are both made from this table.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from ledger import conditions, numbers
from ledger.conditions import GiveDraft, ReplaceDraft
from ledger.database import Book
from ledger.numbers import InscribeDraft
from ledger.pieces import PieceView
from ledger.web.shapes import Id, Shape, Year


class Nothing(Shape):
    """An act that needs no more said."""


class Inscribe(Shape):
    """What the pencil wrote; what is left out is as the edition has it."""

    on: date | None = None
    size_id: Id | None = None
    inscription: str = ""
    where: str = ""
    pencil: str = ""
    printed_by: str = ""
    printed_year: Year | None = None
    printed_month: int | None = None
    paper_as_made: str = ""
    run_id: Id | None = None


class Said(Shape):
    """Who said so, or what happened; and the day."""

    said: str = ""
    on: date | None = None


class HandOver(Shape):
    """On which day its owner got it; left out: today."""

    on: date | None = None


class Found(Said):
    """Found again: good or damaged; its certificate stands again unless said otherwise."""

    damaged: bool = False
    restore: bool = True


class Replace(Inscribe):
    """A second print; of a missing one only on the owner's sworn statement."""

    sworn: str = ""


class Give(Shape):
    """To whom, and how."""

    how: Literal["gift", "exchange", "donation", "inheritance", "sale"]
    holder: Literal["person", "private", "unknown", "estate"] = "private"
    person_id: Id | None = None
    name: str = ""
    on: date | None = None
    note: str = ""


class Move(Shape):
    """Where it is now."""

    place: Literal["studio", "van", "framer", "loan", "post", "unknown"]
    person_id: Id | None = None
    on: date | None = None
    note: str = ""


class Withdraw(Shape):
    """Why it will never be made."""

    why: str = ""


@dataclass(frozen=True)
class Field:
    """A field of an act's form: which control, its words, and its choices."""

    control: str
    name: str
    label: str
    help: str = ""
    options: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class PieceAct:
    """One act: its address, its words, what it does, when it is open, and what is asked."""

    slug: str
    words: str
    help: str
    button: str
    no: str
    shape: type[Shape]
    open: Callable[[PieceView], bool]
    act: Callable[[Book, int, Any], Any]
    fields: tuple[Field, ...] = ()
    grave: bool = False


ON = Field("date", "on", "On which day", "Empty: today.")
_MORE = (
    Field("text", "inscription", "What the pencil says", "Only where it differs from the number as given."),
    Field("text", "where", "Where it is signed", "Such as ‘below the image, right’."),
    Field("text", "pencil", "With what", "Such as ‘pencil’."),
    Field("text", "printed_by", "Printed by"),
    Field("whole", "printed_year", "Year printed", "Empty: the year it is signed."),
    Field("text", "paper_as_made", "Paper", "Only where it differs from the paper offered."),
)
GIVEN_AS = (("gift", "A gift"), ("exchange", "A swap"), ("donation", "A donation"))
PASSED_AS = (("sale", "Its owner sold it"), ("inheritance", "Inherited"), ("gift", "Given"), ("exchange", "Swapped"))
WHO = (("person", "Somebody with a name"), ("private", "Private"), ("unknown", "Not known"))


def _draft(shape: Inscribe) -> InscribeDraft:
    return InscribeDraft(**{name: getattr(shape, name) for name in Inscribe.model_fields})


def _at_the_bench(seen: PieceView) -> bool:
    first_print = seen.generation == 1 and seen.origin == "made"
    return seen.state == "inscribed" and seen.ours and first_print and seen.code is None


def _alive(seen: PieceView) -> bool:
    return seen.state == "inscribed" and seen.condition != "destroyed"


ACTS: tuple[PieceAct, ...] = (
    PieceAct(
        "inscribe", "Number and sign it", "Says that the pencil has written its number on the print.", "It is signed",
        "Not signed", Inscribe, lambda seen: seen.latest and seen.state in ("free", "allocated"),
        lambda book, piece_id, shape: numbers.inscribe(book, piece_id, _draft(shape)), (ON, *_MORE),
    ),
    PieceAct(
        "give_back", "Give the number back", "The number is free again for the next print.", "Give it back",
        "Not given back", Nothing, lambda seen: seen.state == "allocated" and seen.line_id is None,
        lambda book, piece_id, _: numbers.give_back(book, piece_id),
    ),
    PieceAct(
        "withdraw", "Never make it", "For good: this number will never be made.", "It will never be made",
        "Not withdrawn", Withdraw, lambda seen: seen.state == "free" and seen.of > 0,
        lambda book, piece_id, shape: numbers.withdraw(book, [piece_id], shape.why),
        (Field("text", "why", "Why"),), grave=True,
    ),
    PieceAct(
        "uninscribe", "Not signed after all", "A tap by mistake: the number is assigned again.", "It is not signed",
        "Left as it was", Nothing, _at_the_bench,
        lambda book, piece_id, _: numbers.uninscribe(book, piece_id),
    ),
    PieceAct(
        "spoil", "Spoilt at the bench", "The sheet is thrown away; its number goes to the next one. No paper says so.",
        "It is spoilt", "Left as it was", Nothing, _at_the_bench,
        lambda book, piece_id, _: numbers.spoil(book, piece_id),
    ),
    PieceAct(
        "move", "Say where it is", "In the studio, the van, at the framer, on loan, in the post.", "It is there now",
        "Not moved", Move, lambda seen: seen.ours and seen.place != "gallery",
        lambda book, piece_id, shape: conditions.move(
            book, piece_id, shape.place, person_id=shape.person_id, on=shape.on, note=shape.note
        ),
        (
            Field("radios", "place", "Where it is now", options=(
                ("studio", "In the studio"), ("van", "In the van"), ("framer", "At the framer"), ("loan", "On loan"),
                ("post", "In the post"), ("unknown", "Not known"),
            )),
            Field("people", "person_id", "With whom", "Only for a loan or a framer."), ON,
            Field("text", "note", "Note", "Such as ‘until 1 October’."),
        ),
    ),
    PieceAct(
        "give", "Give, swap or donate it", "It leaves you without a sale, and moves no price step.", "It has left",
        "Not given", Give, lambda seen: seen.ours and seen.line_id is None and seen.place != "gallery",
        lambda book, piece_id, shape: conditions.give(book, piece_id, GiveDraft(**shape.model_dump())),
        (
            Field("radios", "how", "How", options=GIVEN_AS), Field("radios", "holder", "Who has it now", options=WHO),
            Field("text", "name", "Name", "Only the maker sees it."), ON, Field("text", "note", "Note"),
        ),
    ),
    PieceAct(
        "hand_over", "Hand it to its owner", "It waits here for them; from that day they have it.", "They have it",
        "Not handed over", HandOver,
        lambda seen: seen.holder not in (None, "maker") and seen.place in ("studio", "van", "post") and _alive(seen),
        lambda book, piece_id, shape: conditions.hand_to_owner(book, piece_id, shape.on), (ON,),
    ),
    PieceAct(
        "pass", "A new owner", "Passed on by sale, gift or will. The old line stays.", "It has a new owner",
        "Not written down", Give, lambda seen: seen.holder not in (None, "maker") and _alive(seen),
        lambda book, piece_id, shape: conditions.give(book, piece_id, GiveDraft(**shape.model_dump())),
        (
            Field("radios", "how", "How", options=PASSED_AS), Field("radios", "holder", "Who has it now", options=WHO),
            Field("text", "name", "Name", "Only the maker sees it."), ON, Field("text", "note", "Note"),
        ),
    ),
    PieceAct(
        "damage", "Damaged", "Says so in its story; its certificate stands.", "It is damaged", "Left as it was", Said,
        lambda seen: _alive(seen) and seen.condition == "good",
        lambda book, piece_id, shape: conditions.damage(book, piece_id, shape.said, on=shape.on),
        (Field("text", "said", "Who said so, and what is damaged"), ON),
    ),
    PieceAct(
        "missing", "Lost or stolen", "Puts its certificate on hold until it is found.", "It is missing",
        "Left as it was", Said, lambda seen: _alive(seen) and seen.condition != "missing",
        lambda book, piece_id, shape: conditions.missing(book, piece_id, shape.said, on=shape.on),
        (Field("text", "said", "Who said so"), ON),
    ),
    PieceAct(
        "found", "Found again", "Its certificate may stand again.", "It was found", "Left as it was", Found,
        lambda seen: seen.condition == "missing",
        lambda book, piece_id, shape: conditions.found(
            book, piece_id, shape.said, damaged=shape.damaged, restore=shape.restore, on=shape.on
        ),
        (
            Field("text", "said", "Who said so"), Field("checkbox", "damaged", "It is damaged"),
            Field("radios", "restore", "Its certificate",
                  options=(("true", "Stands again"), ("false", "Stays on hold"))),
            ON,
        ),
    ),
    PieceAct(
        "destroy", "Destroyed", "For good: its certificate is void, and its number may be printed a second time.",
        "It was destroyed", "Left as it was", Said, _alive,
        lambda book, piece_id, shape: conditions.destroy(book, piece_id, shape.said, on=shape.on),
        (Field("text", "said", "How, and who saw it", "Such as ‘cut up, signed corner kept’."), ON), grave=True,
    ),
    PieceAct(
        "replace",
        "Print the number a second time", "A second print takes its number, and belongs to whoever held the first.",
        "The second print is signed", "Not replaced", Replace,
        lambda seen: seen.latest and seen.condition in ("destroyed", "missing"),
        lambda book, piece_id, shape: conditions.replace(
            book, piece_id, ReplaceDraft(inscribed=_draft(shape), sworn=shape.sworn)
        ),
        (
            Field("text", "sworn", "The owner’s sworn statement",
                  "Needed where the first is missing: date and where it is kept."),
            ON, *_MORE,
        ),
        grave=True,
    ),
)  # fmt: skip
BY_SLUG = {act.slug: act for act in ACTS}
