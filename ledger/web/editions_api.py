"""Editions through the API: declare, read, close, withdraw, and what one leaves."""

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from ledger import clock, declarations, editions, numbers, pieces, price_steps, reports, studio
from ledger.database import Book, Session, reading
from ledger.editions import EditionFacts, SizeFacts
from ledger.errors import Refusal
from ledger.reckoning.prices import step_price
from ledger.spares import Fate
from ledger.web import answers, margins
from ledger.web.house import Here, House
from ledger.web.promise_shapes import EditionShape, in_outside_words
from ledger.web.shapes import After, Id, WhyShape, amount, day, mm
from ledger.web.sign_in import Bearer

api = APIRouter(prefix="/api", tags=["editions"])
Limit = Annotated[int, Query(ge=1, le=200)]


class EndShape(WhyShape):
    """Why an edition ends. `spares`: what became of good prints without a number."""

    spares: Fate | None = None


class CloseShape(EndShape):
    """The numbers never to be made, as '18-25'; left out, every free one."""

    numbers: str = ""


def _size_json(size: SizeFacts, currency: str) -> dict[str, Any]:
    sheet = size.sheet_w_um is not None and size.sheet_h_um is not None
    return {
        "id": size.id,
        "label": size.label,
        "image": {"width_mm": mm(size.image_w_um), "height_mm": mm(size.image_h_um)},
        "sheet": {"width_mm": mm(size.sheet_w_um or 0), "height_mm": mm(size.sheet_h_um or 0)} if sheet else None,
        "offer": {
            "from_on": day(size.offer.from_on),
            "process": size.offer.process,
            "paper": size.offer.paper,
            "mounting": size.offer.mounting,
            "mount_plan_id": size.offer.mount_plan_id,
            "recipe_id": size.offer.recipe_id,
            "prices": [{"from_sold": start, "price": amount(price, currency)} for start, price in size.offer.steps],
        },
    }


def _next_price(facts: EditionFacts, free: bool, currency: str) -> dict[str, str] | None:
    if not free:
        return None
    return amount(step_price(facts.sizes[0].offer.steps, facts.edition.sold_peak + 1), currency)


def edition_json(session: Session, edition_id: int) -> dict[str, Any]:
    """An edition as the API gives it; the next price is that of its first size, None once nothing is left."""
    facts = editions.facts(session, edition_id, clock.today())
    edition, currency = facts.edition, studio.currency(session)
    classes = [
        {
            "class": each.kind,
            "label": each.label,
            "style": each.style,
            "count": each.count or None,
            "standings": pieces.standings(session, each.id),
            "next_free": pieces.next_free(session, each.id),
        }
        for each in facts.classes
    ]
    standing: dict[str, int] = pieces.standings(session, facts.numbered.id)
    left = edition.kind == "open" or any(name in standing for name in ("free", "assigned", "in hand", "out"))
    given = editions.answers(session, edition_id)
    return {
        "id": edition.id,
        "work_id": edition.work_id,
        "title": facts.work.title,
        "ordinal": edition.ordinal,
        "kind": edition.kind,
        "statement": edition.statement,
        "later_editions": edition.later_editions,
        "declared_on": day(edition.declared_on),
        "begun": edition.begun_words,
        "withdrawn_on": day(edition.withdrawn_on),
        "closed_on": day(edition.closed_on),
        "classes": classes,
        "sizes": [_size_json(size, currency) for size in facts.sizes],
        "answers": {item: {"answer": each.answer, "text": each.text} for item, each in given.items()},
        "sold": price_steps.standing_sold(session, edition_id),
        "next_price": _next_price(facts, left, currency),
    }


def _one(house: House, edition_id: int) -> dict[str, Any]:
    with reading(house.engine) as session:
        return edition_json(session, edition_id)


def _number(path: str) -> int:
    return int(path.rsplit("/", 1)[1])


@api.post("/editions", status_code=201)
def declare(request: Request, house: Here, who: Bearer, shape: EditionShape) -> Response:
    """Declare an edition. What is declared can never be changed; there is no read-back here."""

    def act(book: Book) -> str:
        draft = shape.draft(studio.currency(book.session))
        return f"/api/editions/{declarations.declare(book, draft).id}"

    try:
        done = house.record(who, act, answers.repeat_of(request, shape))
    except Refusal as refusal:
        raise in_outside_words(refusal) from refusal
    return answers.made(done, _one(house, _number(done.path)))


@api.get("/editions")
def every(house: Here, who: Bearer, after: After = 0, limit: Limit = 50) -> dict[str, Any]:
    """The editions that stand, in the order they were declared."""
    with reading(house.engine) as session:
        ids = sorted(each.id or 0 for each in editions.listing(session) if (each.id or 0) > after)
        items = [edition_json(session, edition_id) for edition_id in ids[:limit]]
    return {"items": items, "next": ids[limit - 1] if len(ids) > limit else None}


@api.get("/editions/{edition_id}")
def one(house: Here, who: Bearer, edition_id: Id) -> dict[str, Any]:
    """One edition: its classes with every number's standing, its sizes, what the next print costs."""
    return _one(house, edition_id)


@api.get("/editions/{edition_id}/margin")
def margin(house: Here, who: Bearer, edition_id: Id) -> dict[str, Any]:
    """What an edition took, cost and leaves, with own labour and without it."""
    with reading(house.engine) as session:
        return margins.as_json(reports.margin(session, edition_id), studio.currency(session))


@api.post("/editions/{edition_id}/withdraw", status_code=201)
def withdraw(request: Request, house: Here, who: Bearer, edition_id: Id, shape: EndShape) -> Response:
    """Withdraw an edition declared by mistake, while nothing of it was signed, sold or lent."""

    def act(book: Book) -> str:
        return f"/api/editions/{declarations.withdraw(book, edition_id, shape.why, shape.spares).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _one(house, edition_id))


@api.post("/editions/{edition_id}/close", status_code=201)
def close(request: Request, house: Here, who: Bearer, edition_id: Id, shape: CloseShape) -> Response:
    """Close an edition early by naming the numbers never to be made."""

    def act(book: Book) -> str:
        return f"/api/editions/{numbers.close(book, edition_id, shape.numbers, shape.why, shape.spares).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _one(house, edition_id))
