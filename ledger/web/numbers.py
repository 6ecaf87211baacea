"""Numbers: assigned by the batch, and tonight's batch signed on one page, one tap each."""

from typing import Any
from urllib.parse import parse_qsl, urlencode

from fastapi import APIRouter, Request
from pydantic import Field
from starlette.responses import Response

from ledger import clock, editions, numbers, pieces, promises, runs, spares
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.numbers import InscribeDraft
from ledger.reckoning import dates, numbering
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.pieces import piece_json
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, Shape, Whole
from ledger.web.sign_in import Bearer, Signed

pages = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["numbers"])


class Allocate(Shape):
    """How many numbers of a class, the lowest free; or which, with a reason."""

    kind: str = Field("numbered", alias="class")
    how_many: int = 1
    numbers: list[Whole] | None = None
    reason: str = ""
    size_id: Id | None = None


class Assigned(Shape):
    """The assign form: which is typed as '4, 9-12'."""

    kind: str = "numbered"
    how_many: int = 1
    which: str = ""
    reason: str = ""


class Signing(Shape):
    """Tonight's batch: the prints tapped, and what they have in common."""

    piece: tuple[Id, ...] | Id = ()
    size_id: Id | None = None
    run_id: Id | None = None
    where: str = ""
    pencil: str = ""
    printed_by: str = ""

    @property
    def piece_ids(self) -> tuple[int, ...]:
        return (self.piece,) if isinstance(self.piece, int) else self.piece


@pages.get("/editions/{edition_id}/numbers")
def page(request: Request, house: Here, who: Signed, edition_id: Id) -> Response:
    """Assign numbers, and tick off those the pencil has written."""
    return _page(request, house, edition_id, blank({"how_many": "1", "kind": "numbered"}))


def _page(request: Request, house: House, edition_id: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        facts = editions.facts(session, edition_id, clock.today())
        run = pieces.run_of(session, edition_id)
        printings = [
            {"value": run_id, "words": f"{dates.said(runs.get(session, run_id).made_on)}, {left} spare"}
            for run_id, left in spares.by_run(session, edition_id).items()
            if left > 0
        ]
        free = {each.kind: pieces.next_free(session, each.id, 9999) for each in facts.classes}
    waiting = [
        {"id": seen.id, "shown": seen.shown, "sold": seen.line_id is not None}
        for seen in run
        if seen.state == "allocated"
    ]
    chosen = form.values.get("piece", [])
    kinds = [
        {
            "value": each.kind,
            "words": f"{promises.LABELS[each.kind].capitalize()}: {_free_words(each.count, free[each.kind])}",
        }
        for each in facts.classes
    ]
    return render(
        request,
        "numbers/batch.html",
        status,
        form=form,
        title=facts.work.title,
        edition_href=f"/editions/{edition_id}",
        kinds=kinds,
        waiting=waiting,
        chosen=[chosen] if isinstance(chosen, str) else chosen,
        sizes=[{"value": each.id, "words": each.label} for each in facts.sizes],
        printings=[{"value": "", "words": "The oldest that has a spare"}, *printings],
        action=f"/editions/{edition_id}/numbers",
    )


def _free_words(count: int, free: list[int]) -> str:
    if count == 0:
        return "as many as are made"
    return f"free: {numbering.said(free)}" if free else "none free"


@pages.post("/editions/{edition_id}/numbers")
def sent(request: Request, house: Here, who: Signed, edition_id: Id, sent: Sent) -> Response:
    """Assign, or sign the prints that were tapped."""
    try:
        done = house.record(
            who, _signing(sent, edition_id) if sent.step == "sign" else _assigning(house, sent, edition_id), sent.repeat
        )
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        status = status_of(no) if isinstance(no, Refusal) else 422
        return _page(request, house, edition_id, sent.refused("Not done", no), status)
    return answers.see(done.path)


def _assigning(house: House, sent: Any, edition_id: int) -> Any:
    shape = sent.read(Assigned)
    with reading(house.engine) as session:
        top = pieces.find_class(session, edition_id, shape.kind).count or 9999
    try:
        which = numbering.ranges(shape.which, top) if shape.which else None
    except Refusal as no:
        raise Refusal(no.message, field="which") from None

    def act(book: Book) -> str:
        numbers.allocate(book, edition_id, kind=shape.kind, how_many=shape.how_many, numbers=which, reason=shape.reason)
        return f"/editions/{edition_id}/numbers"

    return act


def _signing(sent: Any, edition_id: int) -> Any:
    shape = sent.read(Signing)
    if not shape.piece_ids:
        raise Refusal("No print is tapped. Tap each print that the pencil has numbered and signed.", field="piece")
    draft = InscribeDraft(
        size_id=shape.size_id, run_id=shape.run_id, where=shape.where, pencil=shape.pencil, printed_by=shape.printed_by
    )

    def act(book: Book) -> str:
        for piece_id in shape.piece_ids:
            if pieces.edition_of(book.session, pieces.get(book.session, piece_id)) != edition_id:
                raise Refusal("One of these prints is not of this edition. Nothing was written down.", field="piece")
            numbers.inscribe(book, piece_id, draft)
        return f"/editions/{edition_id}"

    return act


@api.post("/editions/{edition_id}/numbers", status_code=201)
def allocate(request: Request, house: Here, who: Bearer, edition_id: Id, shape: Allocate) -> Response:
    """Give numbers of an edition; a refusal names the next free ones."""

    def act(book: Book) -> str:
        given = numbers.allocate(
            book,
            edition_id,
            kind=shape.kind,
            how_many=shape.how_many,
            numbers=shape.numbers,
            reason=shape.reason,
            size_id=shape.size_id,
        )
        return "/api/pieces?" + urlencode([("id", piece.id) for piece in given])

    done = house.record(who, act, answers.repeat_of(request, shape))
    ids = [int(value) for _, value in parse_qsl(done.path.partition("?")[2])]
    with reading(house.engine) as session:
        given = [piece_json(pieces.view(session, each)) for each in ids]
    return answers.made(done, {"pieces": given})
