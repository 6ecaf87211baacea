"""Certificates through the API: issued, fetched, reissued and declared void, by their codes."""

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import certificates, papers
from ledger.certificates import CertificateView
from ledger.database import reading
from ledger.errors import Refusal
from ledger.reckoning import codes
from ledger.web import answers
from ledger.web.certificates import Issue, What, change_one, draft_of, kept_pdf, pdf_answer
from ledger.web.house import Here, House
from ledger.web.shapes import Id
from ledger.web.sign_in import Bearer

api = APIRouter(prefix="/api", tags=["certificates"])


def certificate_json(view: CertificateView) -> dict[str, Any]:
    """A certificate as the API says it."""
    return {
        "code": view.code,
        "state": view.state,
        "issued_on": view.issued_on.isoformat(),
        "piece_id": view.piece_id,
        "url": papers.link(view.snapshot),
        "pdf": f"/api/certificates/{view.code}.pdf",
    }


def _by_code(house: House, code: str) -> CertificateView:
    with reading(house.engine) as session:
        view = certificates.by_code(session, codes.read(code))
    if view is None:
        raise Refusal("No certificate in this book has that code.", missing=True)
    return view


@api.post("/pieces/{piece_id}/certificate", status_code=201)
def issue_one(request: Request, house: Here, who: Bearer, piece_id: Id, shape: Issue) -> Response:
    """Issue the certificate of a piece and keep its paper."""
    done = house.record(
        who,
        lambda book: f"/api/certificates/{certificates.issue(book, piece_id, draft_of(shape)).code}",
        answers.repeat_of(request, shape),
    )
    view = _by_code(house, done.path.rsplit("/", 1)[1])
    kept_pdf(house, view.id, who.name)
    return answers.made(done, certificate_json(view))


@api.get("/certificates/{code}.pdf")
def pdf_of_code(house: Here, who: Bearer, code: str) -> Response:
    """The kept paper of a certificate."""
    view = _by_code(house, code)
    return pdf_answer(kept_pdf(house, view.id, who.name), f"certificate-{view.code}")


@api.get("/certificates/{code}")
def by_code(house: Here, who: Bearer, code: str) -> dict[str, Any]:
    """A certificate by its code."""
    return certificate_json(_by_code(house, code))


@api.post("/certificates/{code}/{what}", status_code=201)
def change_by_code(request: Request, house: Here, who: Bearer, code: str, what: What, shape: Issue) -> Response:
    """Reissue (the new certificate is returned), declare void, or let stand again."""
    view = _by_code(house, code)
    done = house.record(
        who,
        lambda book: f"/api/certificates/{change_one(book, view.id, what, shape).code}",
        answers.repeat_of(request, shape),
    )
    return answers.made(done, certificate_json(_by_code(house, done.path.rsplit("/", 1)[1])))
