"""Certificates on pages: issued, printed, reissued and declared void."""

from collections.abc import Sequence
from typing import Any, Literal

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ledger import certificates, evidence, papers, pieces, studio
from ledger.certificates import CertificateView, IssueDraft
from ledger.database import Book, reading, writing
from ledger.errors import Refusal
from ledger.reckoning import codes, dates
from ledger.tables import Certificate
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.sale_shapes import bare_field
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, Shape, read_id
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)
PDF = "application/pdf"
What = Literal["reissue", "void", "restore"]


class Issue(Shape):
    """How a certificate is issued; what is left out is as the studio has chosen."""

    particulars: bool | None = None
    fixed_sentence: bool | None = None
    without_qr: bool = False
    reason: str = ""


class Batch(Issue):
    """A batch, from a page: the prints ticked."""

    piece: tuple[Id, ...] | Id = ()

    @property
    def piece_ids(self) -> tuple[int, ...]:
        return (self.piece,) if isinstance(self.piece, int) else self.piece


class Why(Shape):
    """Why a certificate stands for nothing any more, on its page."""

    why: str = ""


def draft_of(shape: Issue) -> IssueDraft:
    """What an act issues by."""
    return IssueDraft(
        particulars=shape.particulars,
        fixed_sentence=shape.fixed_sentence,
        without_qr=shape.without_qr,
        reason=shape.reason,
    )


def kept_pdf(house: House, certificate_id: int, actor: str) -> bytes:
    """The paper of a certificate: drawn and kept the first time, the kept bytes ever after. Raises Refusal."""
    with reading(house.engine) as session:
        view = certificates.as_view(certificates.get(session, certificate_id))
        proof = evidence.of(session, certificate_id)
    if view.paper_sha256 is None:
        sha256 = papers.keep_certificate(house.data_dir, view.snapshot, proof)
        with writing(house.engine, actor) as book:
            if certificates.get(book.session, certificate_id).paper_sha256 is None:
                certificates.keep_paper(book, certificate_id, sha256)
        return papers.kept(house.data_dir, sha256)
    return papers.kept(house.data_dir, view.paper_sha256)


def pdf_answer(data: bytes, name: str) -> Response:
    """A PDF to look at, with the name it is saved under."""
    return Response(data, media_type=PDF, headers={"Content-Disposition": f'inline; filename="{name}.pdf"'})


@pages.get("/certificates/new")
def new(request: Request, house: Here, who: Signed, piece: Id | None = None, edition: Id | None = None) -> Response:
    """Issue certificates: for one print, or for a batch of an edition, one tick each."""
    if piece is not None:
        with reading(house.engine) as session:
            edition = pieces.view(session, piece).edition_id
    if edition is None:
        raise Refusal("Choose the edition first, then its prints.", missing=True)
    with reading(house.engine) as session:
        owner = studio.the_studio(session)
    chosen = _chosen(piece) | {
        "particulars": str(owner.particulars).lower(),
        "fixed_sentence": str(owner.fixed_sentence).lower(),
    }
    return _issue_page(request, house, edition, blank(chosen))


def _chosen(piece: int | None) -> dict[str, Any]:
    return {"piece": [str(piece)] if piece is not None else []}


def _issue_page(request: Request, house: House, edition: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        run = pieces.run_of(session, edition)
        owner = studio.the_studio(session)
        address = studio.present_address(session)
        first = not certificates.any_issued(session)
    ready = [
        {"id": seen.id, "shown": seen.shown, "spoken": seen.shown.replace("/", " of ")}
        for seen in run
        if seen.state == "inscribed" and seen.condition in ("good", "damaged") and seen.code is None
    ]
    chosen = form.values.get("piece", [])
    return render(
        request,
        "certificates/new.html",
        status,
        form=form,
        edition_href=f"/editions/{edition}",
        title=run[0].title if run else "",
        ready=ready,
        signed=any(seen.state == "inscribed" for seen in run),
        unsigned=any(seen.state in ("free", "allocated") for seen in run),
        chosen=[chosen] if isinstance(chosen, str) else chosen,
        address=address or "",
        first=first,
        particulars=owner.particulars,
        fixed_sentence=owner.fixed_sentence,
        action=f"/certificates/new?edition={edition}",
    )


@pages.post("/certificates/new")
def issue(request: Request, house: Here, who: Signed, sent: Sent, edition: Id) -> Response:
    """Issue the certificates of the prints ticked; all of them, or none."""
    try:
        shape = sent.read(Batch)
        if not shape.piece_ids:
            raise Refusal("No print is ticked. Tick at least one.", field="piece")
        ids: list[int] = []

        def act(book: Book) -> str:
            ids.extend(certificates.issue(book, piece_id, draft_of(shape)).id or 0 for piece_id in shape.piece_ids)
            return "/certificates/printed?" + "&".join(f"id={each}" for each in ids)

        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and (no.field or "").startswith("answers."):
            item = (no.field or "").removeprefix("answers.")
            return RedirectResponse(f"/editions/{edition}/answers?for={item}#f-answers.{item}.answer", 303)
        status = status_of(no) if isinstance(no, Refusal) else 422
        return _issue_page(request, house, edition, sent.refused("Not issued", no), status)
    return answers.see(done.path)


def views_of(house: House, ids: Sequence[int]) -> list[CertificateView]:
    """These certificates. Raises Refusal (missing)."""
    with reading(house.engine) as session:
        return [certificates.as_view(certificates.get(session, each)) for each in ids]


def _asked_ids(request: Request) -> list[int]:
    found = (read_id(each) for each in request.query_params.getlist("id"))
    return [each for each in found if each][:500]


@pages.get("/certificates/printed")
def issued(request: Request, house: Here, who: Signed) -> Response:
    """What was issued just now: the papers to print, together or one by one, and their labels."""
    ids = _asked_ids(request)
    views = views_of(house, ids)
    rows = [
        {
            "shown": view.snapshot["number"],
            "code_shown": codes.grouped(view.code),
            "pdf_href": f"/certificates/{view.id}.pdf",
            "href": f"/certificates/{view.id}",
        }
        for view in views
    ]
    query = "&".join(f"id={each}" for each in ids)
    return render(
        request,
        "certificates/issued.html",
        rows=rows,
        title=views[0].snapshot["title"] if views else "",
        batch_href=f"/certificates/batch.pdf?{query}",
        labels_href=f"/certificates/labels?{query}",
    )


@pages.get("/certificates/batch.pdf")
def batch(request: Request, house: Here, who: Signed) -> Response:
    """The certificates of a batch in one file, the picture in it once."""
    views = views_of(house, _asked_ids(request))
    for view in views:
        kept_pdf(house, view.id, who.name)
    with reading(house.engine) as session:
        signed = [(view.snapshot, evidence.of(session, view.id)) for view in views]
    return pdf_answer(papers.certificate_pdf(house.data_dir, signed), "certificates")


@pages.get("/certificates/{certificate_id}.pdf")
def pdf(house: Here, who: Signed, certificate_id: Id) -> Response:
    """The paper of one certificate."""
    view = views_of(house, [certificate_id])[0]
    return pdf_answer(kept_pdf(house, certificate_id, who.name), f"certificate-{view.code}")


@pages.get("/certificates/{certificate_id}")
def one(request: Request, house: Here, who: Signed, certificate_id: Id) -> Response:
    """One certificate: what it says, and what may happen to it."""
    return _one_page(request, house, certificate_id, blank())


def _one_page(request: Request, house: House, certificate_id: int, form: Form, status: int = 200) -> Response:
    view = views_of(house, [certificate_id])[0]
    with reading(house.engine) as session:
        place = evidence.place_of(session, certificate_id)
    state = {
        "valid": "It stands.",
        "suspended": "It is on hold.",
        "superseded": "It was replaced.",
        "void": "It is void.",
    }
    said = view.snapshot
    return render(
        request,
        "certificates/one.html",
        status,
        form=form,
        certificate={
            "id": view.id,
            "code_shown": codes.grouped(view.code),
            "number": said["number"],
            "title": said["title"],
            "piece_href": f"/pieces/{view.piece_id}",
            "state": view.state,
            "state_words": state[view.state],
            "reason": view.reason or "",
            "issued": dates.said(view.issued_on),
            "place": place.words,
            "pdf_href": f"/certificates/{view.id}.pdf",
            "public_href": f"/c/{view.code}",
            "label_href": f"/certificates/labels?id={view.id}",
            "facts": [{"label": label, "words": words} for label, words in said["facts"]],
            "carries": papers.link(said) or "",
        },
    )


@pages.post("/certificates/{certificate_id}/{what}")
def change(request: Request, house: Here, who: Signed, certificate_id: Id, what: What, sent: Sent) -> Response:
    """Reissue, declare void, or let stand again."""
    try:
        shape = sent.read(Issue) if what == "reissue" else Issue(reason=sent.read(Why).why)
        done = house.record(
            who, lambda book: f"/certificates/{change_one(book, certificate_id, what, shape).id}", sent.repeat
        )
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        fault = bare_field(no, {"reason": "why"}) if isinstance(no, Refusal) and what == "void" else no
        return _one_page(request, house, certificate_id, sent.refused("Left as it was", fault), 409)
    return answers.see(done.path)


def change_one(book: Book, certificate_id: int, what: What, shape: Issue) -> Certificate:
    """Reissue, void or restore a certificate within an act. Raises Refusal."""
    if what == "reissue":
        return certificates.reissue(book, certificate_id, draft_of(shape))
    if what == "void":
        return certificates.void(book, certificate_id, shape.reason)
    return certificates.restore(book, certificate_id)
