"""Certificates of authenticity: issued once for a signed print, resolvable for ever, in one of four states.

What a certificate says is frozen in its snapshot, in canonical bytes. Papers are drawn from snapshots alone.
"""

import hashlib
import json
from dataclasses import dataclass
from datetime import date
from typing import Any

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import chance, editions, journal, papers, pieces, studio, works
from ledger.database import Book
from ledger.editions import EditionFacts, SizeFacts
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.pieces import PieceView
from ledger.reckoning import answers as disclosure
from ledger.reckoning import codes, dates, measures, numbering
from ledger.reckoning.canonical import canonical
from ledger.reckoning.texts import tidy
from ledger.tables import Certificate, Edition, EditionAnswer, Piece, Studio


class IssueDraft(BaseModel):
    """How a certificate is issued; what is left out is as the studio has chosen."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    particulars: bool | None = None
    fixed_sentence: bool | None = None
    without_qr: bool = False
    reason: str = ""


@dataclass(frozen=True)
class CertificateView:
    """A certificate as pages and papers need it; `snapshot` is what it says."""

    id: int
    code: str
    piece_id: int
    state: str
    issued_on: date
    reason: str | None
    reissue_of: int | None
    paper_sha256: str | None
    snapshot: dict[str, Any]


def issue(book: Book, piece_id: int, draft: IssueDraft | None = None) -> Certificate:
    """Issue the certificate of a signed print.

    Raises Refusal: before the pencil, for a second live one, while an item of disclosure is unanswered (the
    field names it), and while no public address was chosen, unless it is issued without a QR code.
    """
    return _issue(book, piece_id, draft or IssueDraft(), earlier=None)


def reissue(book: Book, certificate_id: int, draft: IssueDraft) -> Certificate:
    """Issue a certificate anew, with the reason; the earlier one is replaced.

    Raises Refusal.
    """
    earlier = get(book.session, certificate_id)
    reason = tidy(draft.reason, "The reason", limit=200, field="reason")
    if earlier.state not in ("valid", "suspended"):
        raise Refusal(f"That certificate is {_state_words(earlier.state)}. Issue from the print’s page.")
    _change(book, earlier, "superseded", "certificate.superseded", "superseded", reason)
    return _issue(book, earlier.piece_id, draft, earlier=earlier)


def _issue(book: Book, piece_id: int, draft: IssueDraft, *, earlier: Certificate | None) -> Certificate:
    seen = pieces.view(book.session, piece_id)
    _check_issuable(seen)
    reason = tidy(draft.reason, "The reason", limit=200, needed=False, field="reason")
    owner = studio.the_studio(book.session)
    address = studio.present_address(book.session)
    if address is None and not draft.without_qr:
        raise Refusal(
            "No public address was chosen yet, and the QR code would carry it for good. Choose it under "
            "Settings, or issue without a QR code.",
            field="without_qr",
        )
    code = codes.new_code(chance.below)
    printed = "" if draft.without_qr or address is None else address
    said = _snapshot(book, seen, owner, draft, code, printed, earlier)
    papers.check(said)
    snapshot = canonical(said)
    certificate = Certificate(
        code=code,
        piece_id=piece_id,
        issued_on=book.today,
        place=owner.place,
        address_printed=printed,
        snapshot=snapshot,
        reissue_of=earlier.id if earlier else None,
        reason=reason or None,
    )
    book.session.add(certificate)
    book.session.flush()
    journal.public(
        book,
        "certificate.issued",
        {
            "edition": seen.edition_id,
            "class": seen.class_kind,
            "number": seen.number,
            "generation": seen.generation,
            "code_sha256": code_sha256(code),
            "snapshot_sha256": hashlib.sha256(snapshot).hexdigest(),
        },
        _touched("certified", book, certificate, seen.edition_id),
    )
    return certificate


def code_sha256(code: str) -> str:
    """What stands for a code in the record."""
    return hashlib.sha256(code.encode()).hexdigest()


def _touched(
    kind: str, book: Book, certificate: Certificate, edition_id: int, text: str | None = None
) -> Touched:
    return Touched(
        kind,
        book.today,
        edition_id=edition_id,
        piece_id=certificate.piece_id,
        certificate_id=certificate.id,
        text=text,
    )


def _check_issuable(seen: PieceView) -> None:
    if seen.state != "inscribed":
        raise Refusal(
            f"{seen.shown} is not yet inscribed. Write the number on the print first, then the certificate."
        )
    if not seen.latest:
        raise Refusal(
            f"{seen.shown} was replaced by a later print of its number. Only that one can have a certificate."
        )
    if seen.condition not in ("good", "damaged"):
        raise Refusal(f"{seen.shown} {pieces.what_it_is(seen)}. It cannot have a certificate.")
    if seen.code is not None:
        raise Refusal(
            f"{seen.shown} has a certificate already: {codes.grouped(seen.code)}. "
            "Reissue that one, with the reason."
        )


def unanswered(session: Session, edition_id: int) -> list[str]:
    """The items of disclosure that nobody has answered yet, in the order they are asked."""
    given = editions.answers(session, edition_id)
    return [item for item in disclosure.ASKED_KEYS if item not in given]


def _snapshot(
    book: Book,
    seen: PieceView,
    owner: Studio,
    draft: IssueDraft,
    code: str,
    address: str,
    earlier: Certificate | None,
) -> dict[str, Any]:
    missing = unanswered(book.session, seen.edition_id)
    if missing:
        question = next(item.question for item in disclosure.ASKED if item.key == missing[0])
        raise Refusal(
            f"One thing is still to answer before a certificate: {question}", field=f"answers.{missing[0]}"
        )
    facts = editions.facts(book.session, seen.edition_id, book.today)
    piece = pieces.get(book.session, seen.id)
    picture = works.picture_of(book.session, seen.work_id)
    size = next((each for each in facts.sizes if each.id == seen.size_id), None)
    given = editions.answers(book.session, seen.edition_id)
    process, paper = _printed_as(book.session, piece)
    told = _told(book.session, facts, piece, (process, paper), given)
    fixed = owner.fixed_sentence if draft.fixed_sentence is None else draft.fixed_sentence
    two_sides = owner.particulars if draft.particulars is None else draft.particulars
    return {
        "code": code,
        "address": address,
        "title": facts.work.title,
        "artist": facts.work.artist,
        "year": str(facts.work.year_made),
        "number": seen.shown,
        "inscription": piece.inscription or seen.shown,
        "edition": seen.edition_id,
        "class": seen.class_kind,
        "n": seen.number,
        "of": seen.of,
        "generation": seen.generation,
        "limited": int(facts.edition.kind == "limited"),
        "picture": picture.paper_sha256 if picture else "",
        "show": picture.show_sha256 if picture else "",
        "picture_px": [picture.width_px, picture.height_px] if picture else [],
        "master_sha256": picture.sha256 if picture else "",
        "facts": _face(book.session, facts, piece, size, (process, paper), given),
        "statement": facts.edition.statement,
        "fixed_sentence": disclosure.FIXED_SENTENCE if fixed else "",
        "place": owner.place,
        "issued_on": book.today.isoformat(),
        "signed_name": owner.name_as_signed,
        "write_to": ", ".join(part for part in (owner.contact_line, owner.address) if part),
        "care": owner.care_line,
        "paper_size": owner.paper,
        "two_sides": int(two_sides),
        "particulars": [[words, text] for words, word, text in told if word == "value"],
        "not_applicable": [words for words, word, _ in told if word == "not_applicable"],
        "not_known": [words for words, word, _ in told if word == "not_known"],
        "process": process,
        "paper": paper,
        "size": measures.by_measure(size.image_w_um, size.image_h_um) if size else "not known",
        "replaces_code_sha256": code_sha256(earlier.code) if earlier else "",
    }


def _printed_as(session: Session, piece: Piece) -> tuple[str, str]:
    """Process and paper of the offer a print was made under, whatever is offered now."""
    if piece.offer_id is None:
        return "not known", piece.paper_as_made or "not known"
    made_under = editions.offer(session, piece.offer_id)
    return made_under.process, piece.paper_as_made or made_under.paper


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


def others_in_words(session: Session, edition: Edition, facts: EditionFacts, day: date) -> str:
    """The other editions of the work, found in this record, with their totals; then what may come later."""
    said = []
    for other in editions.siblings(session, edition):
        them = editions.facts(session, other.id or 0, day)
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
    }[facts.edition.later_editions]
    earlier = said or ["Earlier in this record, none"]
    return ". ".join([*earlier, later]) + "."


def _answered(given: dict[str, EditionAnswer], item: str) -> str:
    answer = given[item]
    return {"value": answer.text, "not_applicable": "Not applicable.", "not_known": "Not known."}[
        answer.answer
    ]


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


def _face(
    session: Session,
    facts: EditionFacts,
    piece: Piece,
    size: SizeFacts | None,
    printed_as: tuple[str, str],
    given: dict[str, EditionAnswer],
) -> list[list[str]]:
    printed_by = f"{piece.printed_by}. " if piece.printed_by else ""
    return [
        ["Process", _sentence(printed_as[0])],
        ["Paper", _sentence(printed_as[1])],
        ["Sizes", _measures(size)],
        ["Years", _years(session, facts, piece)],
        ["Edition", _edition_words(facts)],
        ["Beside it", _beside(facts)],
        ["Other editions", others_in_words(session, facts.edition, facts, facts.edition.declared_on)],
        ["Printed by", printed_by + _sentence(_answered(given, "supervision"))],
        ["Marked", _marked(piece, given)],
    ]


def _told(
    session: Session,
    facts: EditionFacts,
    piece: Piece,
    printed_as: tuple[str, str],
    given: dict[str, EditionAnswer],
) -> list[tuple[str, str, str]]:
    """Every item of the statutes: its words, what kind of answer, and the answer."""
    main = facts.numbered
    limited = facts.edition.kind == "limited"
    derived = {
        "artist": facts.work.artist,
        "process": f"{facts.work.medium}: {printed_as[0]}",
        "paper": printed_as[1],
        "year_printed": _printed(piece),
        "year_made": str(facts.work.year_made),
        "limited": "Yes" if limited else "No. Not a limited edition",
        "most_numbered": str(main.count) if limited else "No ceiling",
        "most_proofs": str(sum(each.count for each in facts.outside)),
        "total": str(facts.total) if limited else "No ceiling",
        "how_numbered": f"{piece.inscription}, of "
        + ("this edition" if limited else "a series without a ceiling"),
    }
    told = []
    for item in disclosure.STATUTE_ITEMS:
        if item.how == "derived":
            value = derived[item.key]
            told.append((item.words, "not_known" if value == "not known" else "value", _sentence(value)))
        else:
            answer = given[item.answered_by]
            text = _sentence(answer.text) if answer.text else ""
            if item.key == "other_editions":
                found = others_in_words(session, facts.edition, facts, facts.edition.declared_on)
                text = f"{text} {found}".strip()
            told.append((item.words, answer.answer, text))
    return told


def keep_paper(book: Book, certificate_id: int, sha256: str) -> Certificate:
    """Keep the PDF that was made of a certificate, by its hash. A kept paper is never drawn again.

    Raises Refusal for a second one.
    """
    certificate = get(book.session, certificate_id)
    if certificate.paper_sha256 is not None:
        raise Refusal("The paper of this certificate is kept already. Reissue it to print another.")
    certificate.paper_sha256 = sha256
    book.session.add(certificate)
    edition_id = _edition_id(book, certificate)
    journal.public(
        book,
        "certificate.printed",
        {"code_sha256": code_sha256(certificate.code), "paper_sha256": sha256},
        _touched("printed_certificate", book, certificate, edition_id),
    )
    return certificate


def _edition_id(book: Book, certificate: Certificate) -> int:
    return pieces.edition_of(book.session, pieces.get(book.session, certificate.piece_id))


def _change(
    book: Book, certificate: Certificate, state: str, entry: str, line: str, reason: str | None = None
) -> None:
    certificate.state = state
    certificate.reason = reason or certificate.reason
    book.session.add(certificate)
    book.session.flush()
    journal.public(
        book,
        entry,
        {"code_sha256": code_sha256(certificate.code), "state": state},
        _touched(line, book, certificate, _edition_id(book, certificate), reason),
    )


def void(book: Book, certificate_id: int, why: str) -> Certificate:
    """Say that a certificate stands for nothing any more. Raises Refusal."""
    certificate = get(book.session, certificate_id)
    reason = tidy(why, "The reason", limit=200, field="reason")
    if certificate.state not in ("valid", "suspended"):
        raise Refusal(f"That certificate is {_state_words(certificate.state)} already.")
    _change(book, certificate, "void", "certificate.void", "voided", reason)
    return certificate


def restore(book: Book, certificate_id: int) -> Certificate:
    """A suspended certificate stands again: its print, or its paper, was found. Raises Refusal."""
    certificate = get(book.session, certificate_id)
    if certificate.state != "suspended":
        raise Refusal(
            f"That certificate is {_state_words(certificate.state)}. Only a suspended one is restored."
        )
    if pieces.view(book.session, certificate.piece_id).condition == "missing":
        raise Refusal("Its print is still missing. Write first that it was found.")
    _change(book, certificate, "valid", "certificate.restored", "restored")
    return certificate


def suspend_of(book: Book, piece_id: int) -> None:
    """Suspend the live certificate of a piece, if it has one: the print, or its paper, is not to be found."""
    live = live_of(book.session, piece_id)
    if live is not None and live.state == "valid":
        _change(book, live, "suspended", "certificate.suspended", "suspended")


def void_of(book: Book, piece_id: int, why: str) -> None:
    """Void the live certificate of a piece, if it has one."""
    live = live_of(book.session, piece_id)
    if live is not None:
        _change(book, live, "void", "certificate.void", "voided", why)


def _state_words(state: str) -> str:
    return {"superseded": "replaced", "void": "void", "suspended": "suspended", "valid": "valid"}[state]


def live_of(session: Session, piece_id: int) -> Certificate | None:
    """The certificate of a piece that is valid or suspended."""
    return session.exec(
        select(Certificate).where(
            Certificate.piece_id == piece_id, col(Certificate.state).in_(("valid", "suspended"))
        )
    ).first()


def get(session: Session, certificate_id: int) -> Certificate:
    """Raises Refusal (missing)."""
    certificate = session.get(Certificate, certificate_id)
    if certificate is None:
        raise Refusal(f"No certificate has the number {certificate_id}.", missing=True)
    return certificate


def by_code(session: Session, code: str) -> CertificateView | None:
    """The certificate of a well-formed code, if the record has it."""
    row = session.exec(select(Certificate).where(Certificate.code == code)).first()
    return None if row is None else as_view(row)


def as_view(row: Certificate) -> CertificateView:
    return CertificateView(
        row.id or 0,
        row.code,
        row.piece_id,
        row.state,
        row.issued_on,
        row.reason,
        row.reissue_of,
        row.paper_sha256,
        json.loads(row.snapshot),
    )


def any_issued(session: Session) -> bool:
    """Whether any certificate was ever issued from this book."""
    return session.exec(select(Certificate.id).limit(1)).first() is not None


def printed(session: Session) -> list[str]:
    """The hash of every kept paper, oldest first."""
    kept = session.exec(
        select(Certificate.paper_sha256).where(col(Certificate.paper_sha256).is_not(None)).order_by(col(Certificate.id))
    )
    return [sha256 for sha256 in kept if sha256]
