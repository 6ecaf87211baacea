"""Certificates and labels: issued, printed, reissued and declared void, from pages and through the API."""

from collections.abc import Sequence
from typing import Any, Literal

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from ledger import certificates, papers, pieces, studio
from ledger.certificates import CertificateView, IssueDraft
from ledger.database import reading, writing
from ledger.errors import Refusal
from ledger.paper.label import LabelSheet
from ledger.reckoning import codes, dates, numbering
from ledger.tables import Certificate
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.sale_shapes import bare_field
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, Mm, Shape, read_id
from ledger.web.sign_in import Bearer, Signed

pages = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["certificates"])
PDF = "application/pdf"
MEASURES = (
    "page_w_mm", "page_h_mm", "label_w_mm", "label_h_mm", "left_mm", "top_mm", "gap_x_mm", "gap_y_mm",
)  # fmt: skip


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


class Labels(Shape):
    """A sheet of labels, in mm as its packet gives it, and the first free place."""

    certificate: tuple[Id, ...] | Id
    on: Literal["single", "sheet"] = "single"
    page_w_mm: Mm = 210_000
    page_h_mm: Mm = 297_000
    label_w_mm: Mm = 70_000
    label_h_mm: Mm = 42_000
    left_mm: Mm = 0
    top_mm: Mm = 0
    gap_x_mm: Mm = 0
    gap_y_mm: Mm = 0
    start: int = 1

    @property
    def certificate_ids(self) -> tuple[int, ...]:
        return (self.certificate,) if isinstance(self.certificate, int) else self.certificate


def _draft(shape: Issue) -> IssueDraft:
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
    if view.paper_sha256 is None:
        sha256 = papers.keep_certificate(house.data_dir, view.snapshot)
        with writing(house.engine, actor) as book:
            if certificates.get(book.session, certificate_id).paper_sha256 is None:
                certificates.keep_paper(book, certificate_id, sha256)
        return papers.kept(house.data_dir, sha256)
    return papers.kept(house.data_dir, view.paper_sha256)


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


def _pdf(data: bytes, name: str) -> Response:
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
        "particulars": str(owner.particulars).lower(), "fixed_sentence": str(owner.fixed_sentence).lower()
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

        def act(book: Any) -> str:
            ids.extend(certificates.issue(book, piece_id, _draft(shape)).id or 0 for piece_id in shape.piece_ids)
            return "/certificates/printed?" + "&".join(f"id={each}" for each in ids)

        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and (no.field or "").startswith("answers."):
            item = (no.field or "").removeprefix("answers.")
            return RedirectResponse(f"/editions/{edition}/answers?for={item}#f-answers.{item}.answer", 303)
        status = status_of(no) if isinstance(no, Refusal) else 422
        return _issue_page(request, house, edition, sent.refused("Not issued", no), status)
    return answers.see(done.path)


def _views(house: House, ids: Sequence[int]) -> list[CertificateView]:
    with reading(house.engine) as session:
        return [certificates.as_view(certificates.get(session, each)) for each in ids]


def _asked_ids(request: Request) -> list[int]:
    found = (read_id(each) for each in request.query_params.getlist("id"))
    return [each for each in found if each][:500]


@pages.get("/certificates/printed")
def issued(request: Request, house: Here, who: Signed) -> Response:
    """What was issued just now: the papers to print, together or one by one, and their labels."""
    ids = _asked_ids(request)
    views = _views(house, ids)
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
    views = _views(house, _asked_ids(request))
    for view in views:
        kept_pdf(house, view.id, who.name)
    return _pdf(papers.certificate_pdf(house.data_dir, [view.snapshot for view in views]), "certificates")


@pages.get("/certificates/labels")
def labels_form(request: Request, house: Here, who: Signed) -> Response:
    """Labels for the backs: each alone, or on a sheet as its packet measures."""
    ids = [each for each in request.query_params.getlist("id") if each.isdecimal()][:500]
    return _labels_page(
        request,
        blank(
            {
                "certificate": ids,
                "on": "single" if len(ids) == 1 else "sheet",
                "page_w_mm": "210",
                "page_h_mm": "297",
                "label_w_mm": "70",
                "label_h_mm": "42.3",
                "left_mm": "0",
                "top_mm": "0",
                "gap_x_mm": "0",
                "gap_y_mm": "0",
                "start": "1",
            }
        ),
    )


def _labels_page(request: Request, form: Form, status: int = 200) -> Response:
    chosen = form.values.get("certificate", [])
    ids = [chosen] if isinstance(chosen, str) else chosen
    said = numbering.words(len(ids)) if ids else "no"
    return render(
        request,
        "certificates/labels.html",
        status,
        form=form,
        ids=ids,
        how_many=f"{said} label{'s' if len(ids) != 1 else ''}",
    )


@pages.post("/certificates/labels")
def labels(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    """The labels as a PDF."""
    try:
        shape = sent.read(Labels)
        sheet = LabelSheet(*(getattr(shape, name) / 1000 for name in MEASURES)) if shape.on == "sheet" else None
        views = _views(house, shape.certificate_ids)
        return _pdf(papers.labels_pdf([view.snapshot for view in views], sheet, shape.start), "labels")
    except (Refusal, Slips) as no:
        return _labels_page(request, sent.refused("Not printed", no), 422)


@pages.get("/certificates/{certificate_id}.pdf")
def pdf(house: Here, who: Signed, certificate_id: Id) -> Response:
    """The paper of one certificate."""
    view = _views(house, [certificate_id])[0]
    return _pdf(kept_pdf(house, certificate_id, who.name), f"certificate-{view.code}")


@pages.get("/certificates/{certificate_id}")
def one(request: Request, house: Here, who: Signed, certificate_id: Id) -> Response:
    """One certificate: what it says, and what may happen to it."""
    return _one_page(request, house, certificate_id, blank())


def _one_page(request: Request, house: House, certificate_id: int, form: Form, status: int = 200) -> Response:
    view = _views(house, [certificate_id])[0]
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
            "pdf_href": f"/certificates/{view.id}.pdf",
            "public_href": f"/c/{view.code}",
            "label_href": f"/certificates/labels?id={view.id}",
            "facts": [{"label": label, "words": words} for label, words in said["facts"]],
            "carries": papers.link(said) or "",
        },
    )


@pages.post("/certificates/{certificate_id}/{what}")
def change(
    request: Request,
    house: Here,
    who: Signed,
    certificate_id: Id,
    what: Literal["reissue", "void", "restore"],
    sent: Sent,
) -> Response:
    """Reissue, declare void, or let stand again."""
    try:
        shape = sent.read(Issue) if what == "reissue" else Issue(reason=sent.read(Why).why)
        done = house.record(
            who, lambda book: f"/certificates/{_change(book, certificate_id, what, shape).id}", sent.repeat
        )
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        fault = bare_field(no, {"reason": "why"}) if isinstance(no, Refusal) and what == "void" else no
        return _one_page(request, house, certificate_id, sent.refused("Left as it was", fault), 409)
    return answers.see(done.path)


def _change(book: Any, certificate_id: int, what: str, shape: Any) -> Certificate:
    if what == "reissue":
        return certificates.reissue(book, certificate_id, _draft(shape))
    if what == "void":
        return certificates.void(book, certificate_id, shape.reason)
    return certificates.restore(book, certificate_id)


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
        lambda book: f"/api/certificates/{certificates.issue(book, piece_id, _draft(shape)).code}",
        answers.repeat_of(request, shape),
    )
    view = _by_code(house, done.path.rsplit("/", 1)[1])
    kept_pdf(house, view.id, who.name)
    return answers.made(done, certificate_json(view))


@api.get("/certificates/{code}.pdf")
def pdf_of_code(house: Here, who: Bearer, code: str) -> Response:
    """The kept paper of a certificate."""
    view = _by_code(house, code)
    return _pdf(kept_pdf(house, view.id, who.name), f"certificate-{view.code}")


@api.get("/certificates/{code}")
def by_code(house: Here, who: Bearer, code: str) -> dict[str, Any]:
    """A certificate by its code."""
    return certificate_json(_by_code(house, code))


@api.post("/certificates/{code}/{what}", status_code=201)
def change_by_code(
    request: Request, house: Here, who: Bearer, code: str, what: Literal["reissue", "void", "restore"], shape: Issue
) -> Response:
    """Reissue (the new certificate is returned), declare void, or let stand again."""
    view = _by_code(house, code)
    done = house.record(
        who,
        lambda book: f"/api/certificates/{_change(book, view.id, what, shape).code}",
        answers.repeat_of(request, shape),
    )
    return answers.made(done, certificate_json(_by_code(house, done.path.rsplit("/", 1)[1])))
