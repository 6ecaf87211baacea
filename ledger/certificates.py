"""Certificates of authenticity: issued once for a signed print, resolvable for ever, in one of four states.

What a certificate says is frozen in its snapshot, in canonical bytes. Papers are drawn from snapshots alone.
"""

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import chance, checkpoints, credentials, journal, keys, papers, pieces, snapshots, studio, words
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.pieces import PieceView
from ledger.reckoning import codes, credential
from ledger.reckoning.canonical import canonical
from ledger.reckoning.texts import tidy
from ledger.tables import Certificate


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
    field names it), while no public address was chosen, unless it is issued without a QR code, and without signing
    keys at hand.
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
    printed = _address_for(book.session, draft)
    signing = keys.ready(book.session)
    code = codes.new_code(chance.below)
    said = snapshots.take(
        book.session,
        seen,
        book.today,
        code=code,
        address=printed,
        two_sides=owner.particulars if draft.particulars is None else draft.particulars,
        fixed_sentence=owner.fixed_sentence if draft.fixed_sentence is None else draft.fixed_sentence,
        replaces_code_sha256=code_sha256(earlier.code) if earlier else "",
    )
    papers.check(said)
    place = _place(seen, code, canonical(said))
    at = journal.stamp(book.at)
    signed = credentials.signed_bytes(
        credential.unsigned(said, keys=signing.public, place=place, at=at), signing.certificate, at
    )
    certificate = Certificate(
        code=code,
        piece_id=piece_id,
        issued_on=book.today,
        place=owner.place,
        address_printed=printed,
        snapshot=canonical(said),
        credential=signed,
        reissue_of=earlier.id if earlier else None,
        reason=reason or None,
    )
    book.session.add(certificate)
    book.session.flush()
    words.index_code(book, code, certificate.id or 0)
    journal.public(
        book,
        "certificate.issued",
        place | {"credential_sha256": hashlib.sha256(signed).hexdigest()},
        _touched("certified", book, certificate, seen.edition_id),
    )
    checkpoints.sign(book, signing)
    return certificate


def _address_for(session: Session, draft: IssueDraft) -> str:
    """The address the QR code carries; '' without one."""
    if draft.without_qr:
        return ""
    address = studio.present_address(session)
    if address is None:
        raise Refusal(
            "No public address was chosen yet, and the QR code would carry it for good. Choose it under "
            "Settings, or issue without a QR code.",
            field="without_qr",
        )
    return address


def _place(seen: PieceView, code: str, snapshot: bytes) -> dict[str, Any]:
    """What the record and the credential say alike of a certificate: whose it is, its code and its snapshot."""
    return {
        "edition": seen.edition_id,
        "class": seen.class_kind,
        "number": seen.number,
        "generation": seen.generation,
        "code_sha256": code_sha256(code),
        "snapshot_sha256": hashlib.sha256(snapshot).hexdigest(),
    }


def code_sha256(code: str) -> str:
    """What stands for a code in the record."""
    return hashlib.sha256(code.encode()).hexdigest()


def _touched(kind: str, book: Book, certificate: Certificate, edition_id: int, text: str | None = None) -> Touched:
    return Touched(
        kind, book.today, edition_id=edition_id, piece_id=certificate.piece_id, certificate_id=certificate.id, text=text
    )


def _check_issuable(seen: PieceView) -> None:
    if seen.state != "inscribed":
        raise Refusal(f"{seen.shown} is not yet inscribed. Write the number on the print first, then the certificate.")
    if not seen.latest:
        raise Refusal(
            f"{seen.shown} was replaced by a later print of its number. Only that one can have a certificate."
        )
    if seen.condition not in ("good", "damaged"):
        raise Refusal(f"{seen.shown} {pieces.what_it_is(seen)}. It cannot have a certificate.")
    if seen.code is not None:
        raise Refusal(
            f"{seen.shown} has a certificate already: {codes.grouped(seen.code)}. Reissue that one, with the reason."
        )


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


def _change(book: Book, certificate: Certificate, state: str, entry: str, line: str, reason: str | None = None) -> None:
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
        raise Refusal(f"That certificate is {_state_words(certificate.state)}. Only a suspended one is restored.")
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
        select(Certificate).where(Certificate.piece_id == piece_id, col(Certificate.state).in_(("valid", "suspended")))
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


def codes_printed_with(session: Session, address: str) -> Iterator[str]:
    """The code of every certificate that carries this address, oldest first; a few are read at a time."""
    asked = select(Certificate.code).where(Certificate.address_printed == address).order_by(col(Certificate.id))
    yield from session.exec(asked.execution_options(yield_per=500))


def printed(session: Session) -> list[str]:
    """The hash of every kept paper, oldest first."""
    kept = session.exec(
        select(Certificate.paper_sha256).where(col(Certificate.paper_sha256).is_not(None)).order_by(col(Certificate.id))
    )
    return [sha256 for sha256 in kept if sha256]
