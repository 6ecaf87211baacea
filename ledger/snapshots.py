"""Snapshots: everything a certificate says, put together from the book once and never again.

The keys and the sentences are what papers, the public check and printed certificates go by.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import Session

from ledger import editions, offers, pieces, studio, works
from ledger.editions import EditionFacts, SizeFacts
from ledger.errors import Refusal
from ledger.pieces import PieceView
from ledger.reckoning import answers as disclosure
from ledger.reckoning import dates, measures, numbering
from ledger.tables import EditionAnswer, Piece


@dataclass(frozen=True)
class _Told:
    """What the record tells of one print."""

    facts: EditionFacts
    piece: Piece
    size: SizeFacts | None
    process: str
    paper: str
    mounting: str
    given: dict[str, EditionAnswer]
    others: str


def take(
    session: Session,
    seen: PieceView,
    day: date,
    *,
    code: str,
    address: str,
    two_sides: bool,
    fixed_sentence: bool,
    replaces_code_sha256: str,
) -> dict[str, Any]:
    """What a certificate issued on a day says of a print; `address` is '' where it has no QR code.

    Raises Refusal while an item of disclosure is unanswered (the field names it).
    """
    told = _gathered(session, seen, day)
    return {
        "code": code,
        "address": address,
        "issued_on": day.isoformat(),
        "two_sides": int(two_sides),
        "fixed_sentence": disclosure.FIXED_SENTENCE if fixed_sentence else "",
        "replaces_code_sha256": replaces_code_sha256,
        **_of_the_print(seen, told),
        **_of_the_picture(session, seen.work_id),
        **_of_the_studio(session),
        **_in_sentences(session, told),
    }


def _gathered(session: Session, seen: PieceView, day: date) -> _Told:
    given = editions.answers(session, seen.edition_id)
    if missing := _missing(given):
        question = next(item.question for item in disclosure.ASKED if item.key == missing[0])
        raise Refusal(f"One thing is still to answer before a certificate: {question}", field=f"answers.{missing[0]}")
    facts = editions.facts(session, seen.edition_id, day)
    piece = pieces.get(session, seen.id)
    process, paper = _printed_as(session, piece)
    size = next((each for each in facts.sizes if each.id == seen.size_id), None)
    return _Told(facts, piece, size, process, paper, _mounting(session, piece), given, others_in_words(session, facts))


def _of_the_print(seen: PieceView, told: _Told) -> dict[str, Any]:
    work, size = told.facts.work, told.size
    return {
        "title": work.title,
        "artist": work.artist,
        "year": str(work.year_made),
        "number": seen.shown,
        "inscription": told.piece.inscription or seen.shown,
        "edition": seen.edition_id,
        "class": seen.class_kind,
        "n": seen.number,
        "of": seen.of,
        "generation": seen.generation,
        "limited": int(told.facts.edition.kind == "limited"),
        "process": told.process,
        "paper": told.paper,
        "mounting": told.mounting,
        "size": measures.by_measure(size.image_w_um, size.image_h_um) if size else "not known",
    }


def _of_the_picture(session: Session, work_id: int) -> dict[str, Any]:
    picture = works.picture_of(session, work_id)
    return {
        "picture": picture.paper_sha256 if picture else "",
        "show": picture.show_sha256 if picture else "",
        "picture_px": [picture.width_px, picture.height_px] if picture else [],
        "master_sha256": picture.sha256 if picture else "",
    }


def _of_the_studio(session: Session) -> dict[str, Any]:
    owner = studio.the_studio(session)
    return {
        "place": owner.place,
        "signed_name": owner.name_as_signed,
        "write_to": ", ".join(part for part in (owner.contact_line, owner.address) if part),
        "care": owner.care_line,
        "paper_size": owner.paper,
    }


def _in_sentences(session: Session, told: _Told) -> dict[str, Any]:
    statutory = _statutory(told)
    return {
        "facts": _face(session, told),
        "statement": told.facts.edition.statement,
        "particulars": [[words, text] for words, word, text in statutory if word == "value"],
        "not_applicable": [words for words, word, _ in statutory if word == "not_applicable"],
        "not_known": [words for words, word, _ in statutory if word == "not_known"],
    }


def unanswered(session: Session, edition_id: int) -> list[str]:
    """The items of disclosure that nobody has answered yet, in the order they are asked."""
    return _missing(editions.answers(session, edition_id))


def _missing(given: dict[str, EditionAnswer]) -> list[str]:
    return [item for item in disclosure.ASKED_KEYS if item not in given]


def _printed_as(session: Session, piece: Piece) -> tuple[str, str]:
    """Process and paper of the offer a print was made under, whatever is offered now."""
    if piece.offer_id is None:
        return "not known", piece.paper_as_made or "not known"
    made_under = offers.get(session, piece.offer_id)
    return made_under.process, piece.paper_as_made or made_under.paper


def _mounting(session: Session, piece: Piece) -> str:
    """The mounting of the offer a print was made under, '' where it was sold as a sheet."""
    return "" if piece.offer_id is None else offers.get(session, piece.offer_id).mounting


def _measures(size: SizeFacts | None) -> str:
    if size is None:
        return "Not known."
    image = f"Image {measures.by_measure(size.image_w_um, size.image_h_um)}"
    if size.sheet_w_um is None or size.sheet_h_um is None:
        return f"{image}."
    return f"{image} on a sheet of {measures.by_measure(size.sheet_w_um, size.sheet_h_um)}."


def _printed(piece: Piece) -> str:
    if piece.printed_year is None:
        return "not known"
    return dates.PartDate(piece.printed_year, piece.printed_month).said()


def _years(session: Session, facts: EditionFacts, piece: Piece) -> str:
    said = f"Made {facts.work.year_made}. This print {_printed(piece)}"
    if piece.replaces is None:
        return f"{said}."
    before = pieces.get(session, piece.replaces)
    if before.condition != "destroyed":
        fate = "a print that was missing"
    elif before.ended_on is None:
        fate = "the print destroyed before this record"
    else:
        fate = f"the print destroyed on {dates.said(before.ended_on)}"
    return f"{said}, the {numbering.ordinal(piece.generation)} of its number: it replaces {fate}."


def _edition_words(facts: EditionFacts) -> str:
    main = facts.numbered
    if facts.edition.kind == "open":
        return "Not a limited edition: numbered in order, without a ceiling."
    first, last = editions.shown(main, 1), editions.shown(main, main.count)
    span = f"numbered {first} to {last}" if main.count > 1 else f"numbered {first}"
    sizes = "one size" if len(facts.sizes) == 1 else f"over {numbering.words(len(facts.sizes))} sizes"
    closed = f" Closed on {dates.said(facts.edition.closed_on)}." if facts.edition.closed_on else ""
    return f"{main.count}, {span}, {sizes}.{closed}"


def _beside(facts: EditionFacts) -> str:
    outside = editions.outside_in_words(facts.classes)
    said = outside[0].upper() + outside[1:]
    if facts.edition.kind == "open":
        return f"{said}."
    return f"{said}. In all {facts.total}."


def others_in_words(session: Session, facts: EditionFacts) -> str:
    """The other editions of the work, found in this record, with their totals; then what may come later."""
    edition, said = facts.edition, []
    for other in editions.siblings(session, edition):
        them = editions.facts(session, other.id or 0, edition.declared_on)
        sizes = ", ".join(size.label for size in them.sizes)
        count = "open" if other.kind == "open" else f"{them.numbered.count} numbered, {them.total} in all"
        began = editions.began(other)
        first = (began.first, other.ordinal) < (editions.began(edition).first, edition.ordinal)
        name = "Earlier" if first else "Later"
        when = f", begun {began.said()}" if other.begun_words else f" of {began.year}"
        said.append(f"{name}, edition {other.ordinal}{when}: {sizes}, {count}")
    later = {
        "ruled_out": "Later, ruled out in any size or process",
        "reserved": "Later ones in other sizes are reserved",
        "not_stated": "Later, not stated",
    }[edition.later_editions]
    earlier = said or ["Earlier in this record, none"]
    return ". ".join([*earlier, later]) + "."


def _answered(given: dict[str, EditionAnswer], item: str) -> str:
    answer = given[item]
    return {"value": answer.text, "not_applicable": "Not applicable.", "not_known": "Not known."}[answer.answer]


def _marked(piece: Piece, given: dict[str, EditionAnswer]) -> str:
    said = _sentence(_answered(given, "signature"))
    if piece.inscribed_where or piece.inscribed_with:
        how = ", ".join(part for part in (piece.inscribed_with, piece.inscribed_where) if part)
        said += f" This print: {how}."
    if given["marks"].answer == "value":
        said += f" {_sentence(given['marks'].text)}"
    return said


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _face(session: Session, told: _Told) -> list[list[str]]:
    """The facts on the face: a label and a sentence each."""
    facts, piece = told.facts, told.piece
    printed_by = f"{piece.printed_by}. " if piece.printed_by else ""
    return [
        ["Process", _sentence(told.process)],
        ["Paper", _sentence(told.paper)],
        ["Sizes", _measures(told.size)],
        *([["Mounting", _sentence(told.mounting[0].upper() + told.mounting[1:])]] if told.mounting else []),
        ["Years", _years(session, facts, piece)],
        ["Edition", _edition_words(facts)],
        ["Beside it", _beside(facts)],
        ["Other editions", told.others],
        ["Printed by", printed_by + _sentence(_answered(told.given, "supervision"))],
        ["Marked", _marked(piece, told.given)],
    ]


def _derived(told: _Told) -> dict[str, str]:
    """The items of the statutes that the record itself answers."""
    facts, piece = told.facts, told.piece
    main, limited = facts.numbered, facts.edition.kind == "limited"
    return {
        "artist": facts.work.artist,
        "process": f"{facts.work.medium}: {told.process}",
        "paper": told.paper,
        "year_printed": _printed(piece),
        "year_made": str(facts.work.year_made),
        "limited": "Yes" if limited else "No. Not a limited edition",
        "most_numbered": str(main.count) if limited else "No ceiling",
        "most_proofs": str(sum(each.count for each in facts.outside)),
        "total": str(facts.total) if limited else "No ceiling",
        "how_numbered": f"{piece.inscription}, of " + ("this edition" if limited else "a series without a ceiling"),
    }


def _statutory(told: _Told) -> list[tuple[str, str, str]]:
    """Every item of the statutes: its words, what kind of answer, and the answer."""
    derived = _derived(told)
    answers = []
    for item in disclosure.STATUTE_ITEMS:
        if item.how == "derived":
            value = derived[item.key]
            answers.append((item.words, "not_known" if value == "not known" else "value", _sentence(value)))
        else:
            answer = told.given[item.answered_by]
            text = _sentence(answer.text) if answer.text else ""
            if item.key == "other_editions":
                text = f"{text} {told.others}".strip()
            answers.append((item.words, answer.answer, text))
    return answers
