"""What laws on the sale of multiples ask to be told, and how the ledger tells it.

Two lists. ASKED are the things only the maker knows, answered when an edition is declared: a value, 'not
applicable' or 'not known', never left blank (California Civil Code 1742(a); New York Arts and Cultural
Affairs Law 13.05(2)). STATUTE_ITEMS is every item of California 1744(a) and New York 15.03, with where its
answer comes from: one of ASKED, or a reading of the record. The numbering within both statutes is partly from
memory, and none of this is legal advice.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

AnswerWord = Literal["value", "not_applicable", "not_known"]

FIXED_SENTENCE = "This is to certify that all information and the statements contained herein are true and correct."
"""California Civil Code 1740, word for word."""


@dataclass(frozen=True)
class Answer:
    """The answer to one item; `text` says it where `answer` is 'value', and may add to the other two."""

    answer: AnswerWord
    text: str = ""


@dataclass(frozen=True)
class OtherEdition:
    """Another edition of the same image: what it is called, and all its prints, proofs too (None: open)."""

    words: str
    prints: int | None


@dataclass(frozen=True)
class KnownFacts:
    """What a proposal may draw on. `year_printed` is the year printing begins, as far as is known."""

    artist_died: int | None
    year_made: int
    year_printed: int
    other_editions: Sequence[OtherEdition] = ()


@dataclass(frozen=True)
class Item:
    """One thing asked: the question in words, the rules that ask it, and what is proposed."""

    key: str
    question: str
    sources: tuple[str, ...]
    propose: Callable[[KnownFacts], Answer | None]


def _value(text: str) -> Answer:
    return Answer("value", text)


def _signature(facts: KnownFacts) -> Answer | None:
    alive = facts.artist_died is None or facts.year_printed <= facts.artist_died
    return _value("Signed by the artist’s own hand, in pencil.") if alive else None


def _supervision(facts: KnownFacts) -> Answer | None:
    alive = facts.artist_died is None or facts.year_printed <= facts.artist_died
    return _value("Printed by the artist or under the artist’s supervision.") if alive else None


def _dead_when_made(facts: KnownFacts) -> Answer:
    if facts.artist_died is None or facts.year_made < facts.artist_died:
        return _value("No. The artist was living when the image was made.")
    if facts.year_made > facts.artist_died:
        return _value(f"Yes. The artist died in {facts.artist_died}.")
    return Answer("not_known", f"The image was made in {facts.year_made}, the year in which the artist died.")


def _posthumous(facts: KnownFacts) -> Answer:
    if facts.artist_died is None or facts.year_printed < facts.artist_died:
        return _value("No. Printed in the artist’s lifetime.")
    if facts.year_printed > facts.artist_died:
        return _value(f"Yes. Printed after the artist’s death in {facts.artist_died}.")
    return Answer("not_known", f"Printed in {facts.year_printed}, the year in which the artist died.")


def _other_editions(facts: KnownFacts) -> Answer:
    if not facts.other_editions:
        return _value("No other edition of this image.")
    return _value("; ".join(_told(other) for other in facts.other_editions) + ".")


def _told(other: OtherEdition) -> str:
    if other.prints is None:
        return f"{other.words}: open, no fixed number"
    return f"{other.words}: {other.prints} prints, proofs included"


ASKED: tuple[Item, ...] = (
    Item(
        "signature",
        "Is each print signed by the artist? If not, where does the name on it come from?",
        ("California Civil Code 1744(a)(2)", "New York ACAL 15.03(2)", "Directive 2006/112/EC Annex IX A(7)"),
        _signature,
    ),
    Item(
        "marks",
        "Which other marks does a print carry, such as a blind stamp, and where?",
        ("common practice, no source",),
        lambda facts: None,
    ),
    Item(
        "supervision",
        "Who printed it, and under whose eye?",
        ("Directive 2006/112/EC Annex IX A(7)", "Hawaii Revised Statutes 481F"),
        _supervision,
    ),
    Item(
        "reproduction",
        "Is it a reproduction of a work made in another medium? If so, name both media.",
        ("California Civil Code 1744(a)(4)", "New York ACAL 15.03(3)(c)"),
        lambda facts: _value("No. The image was made to be printed."),
    ),
    Item(
        "reproduction_approved",
        "If it is a reproduction and unsigned: did the artist approve it in writing?",
        ("California Civil Code 1744(a)(5)", "New York ACAL 15.03(3)(d)"),
        lambda facts: Answer("not_applicable"),
    ),
    Item(
        "dead_when_made",
        "Had the artist died when the image, the master, was made?",
        ("California Civil Code 1744(a)(6)", "New York ACAL 15.03(3)(b)"),
        _dead_when_made,
    ),
    Item(
        "posthumous",
        "Is it printed after the artist’s death, from an image made in life?",
        ("California Civil Code 1744(a)(7)", "New York ACAL 15.03(4)(a)"),
        _posthumous,
    ),
    Item(
        "unnumbered",
        "How many unsigned or unnumbered prints may exist beside the edition?",
        ("California Civil Code 1744(a)(10)(ii)",),
        lambda facts: _value("0"),
    ),
    Item(
        "master",
        "Will the master be destroyed, altered or cancelled after the edition?",
        ("California Civil Code 1744(a)(11)", "Hawaii Revised Statutes 481F"),
        lambda facts: _value("No. It is kept, not altered and not cancelled."),
    ),
    Item(
        "other_editions",
        "Was the image used for editions that are not in this book? Name each, with all its prints, proofs included.",
        ("California Civil Code 1744(a)(8)", "New York ACAL 15.03(4)(b) and 15.03(6)(d)"),
        _other_editions,
    ),
)

ASKED_KEYS: tuple[str, ...] = tuple(item.key for item in ASKED)


def proposals(facts: KnownFacts) -> dict[str, Answer]:
    """What the form holds before the maker looks at it, by key; what nothing is proposed for is left out."""
    return {item.key: answer for item in ASKED if (answer := item.propose(facts)) is not None}


@dataclass(frozen=True)
class StatuteItem:
    """One item of a statute: its words on the page, and the asked key or the reading that answers it."""

    key: str
    words: str
    california: str | None
    new_york: str | None
    how: Literal["asked", "derived"]
    answered_by: str


def _asked(key: str, words: str, california: str | None, new_york: str | None) -> StatuteItem:
    return StatuteItem(key, words, california, new_york, "asked", key)


def _derived(key: str, words: str, california: str | None, new_york: str | None, source: str) -> StatuteItem:
    return StatuteItem(key, words, california, new_york, "derived", source)


STATUTE_ITEMS: tuple[StatuteItem, ...] = (
    _derived("artist", "Artist", "1744(a)(1)", "15.03(1)", "work.artist"),
    _asked("signature", "Signature", "1744(a)(2)", "15.03(2)"),
    _derived("process", "Medium and process", "1744(a)(3)", "15.03(3)(a)", "offer.process"),
    _derived("paper", "Material", "1744(a)(3)", "15.03(3)(a)", "offer.paper"),
    _asked("reproduction", "Reproduction of another medium", "1744(a)(4)", "15.03(3)(c)"),
    _asked("reproduction_approved", "Approved in writing", "1744(a)(5)", "15.03(3)(d)"),
    _asked("dead_when_made", "Artist dead when the master was made", "1744(a)(6)", "15.03(3)(b)"),
    _asked("posthumous", "Printed after the artist’s death", "1744(a)(7)", "15.03(4)(a)"),
    _asked("other_editions", "Other editions from the master", "1744(a)(8)", "15.03(4)(b), 15.03(6)(d)"),
    _derived("year_printed", "Year printed", "1744(a)(9)", "15.03(5)", "piece.printed_year"),
    _derived("year_made", "Year of the image", "1744(a)(9)", "15.03(5)", "work.year_made"),
    _derived("limited", "Limited edition", "1744(a)(10)", "15.03(6)(a)", "edition.kind"),
    _derived("most_numbered", "Most numbered", "1744(a)(10)(i)", "15.03(6)(a)", "print_class.count"),
    _asked("unnumbered", "Most unsigned or unnumbered", "1744(a)(10)(ii)", None),
    _derived("most_proofs", "Most proofs", "1744(a)(10)(iii)", "15.03(6)(c)-(d)", "print_class.count"),
    _derived("total", "Most prints in all", "1744(a)(10)(iv)", "15.03(6)(a)", "print_class.count"),
    _derived("how_numbered", "How numbered", None, "15.03(6)(a)", "piece.inscription"),
    _asked("master", "Master destroyed, altered or cancelled", "1744(a)(11)", None),
)
"""Every item of California Civil Code 1744(a) and New York ACAL 15.03, in the order a page tells them."""
