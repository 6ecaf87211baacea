"""Consignments as both doors take them, and through the API: lend, take back, tell a price."""

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import Field
from starlette.responses import Response

from ledger import consignments, studio
from ledger.consignments import ConsignmentDraft, LentDraft
from ledger.database import Book, Session, reading
from ledger.reckoning.prices import CommissionOf, CommissionOn, DiscountBy
from ledger.web import answers
from ledger.web.house import Here, House
from ledger.web.pieces import piece_json
from ledger.web.sale_shapes import minor
from ledger.web.sales_api import last_number
from ledger.web.shapes import Amount, Id, Percent, Shape, amount, day
from ledger.web.sign_in import Bearer

api = APIRouter(prefix="/api", tags=["consignments"])


class TermsShape(Shape):
    """What the gallery keeps, and of what."""

    commission: Percent
    commission_on: CommissionOn = "print"
    commission_of: CommissionOf = "with_tax"
    commission_tax: Percent = 0
    discount_by: DiscountBy = "shared"


class LentShape(Shape):
    """A print lent, and the price the gallery is told; left out, the present price."""

    piece_id: Id
    told_price: Amount | None = None
    told_frame: Amount | None = None

    def draft(self, currency: str, at: str) -> LentDraft:
        return LentDraft(
            piece_id=self.piece_id,
            told_price_minor=minor(self.told_price, currency, f"{at}.told_price"),
            told_frame_minor=minor(self.told_frame, currency, f"{at}.told_frame") or 0,
        )


class ConsignmentShape(TermsShape):
    """Prints lent to a gallery to sell, as a program says it."""

    person_id: Id
    lent_on: date
    occasion_id: Id | None = None
    pieces: Annotated[tuple[LentShape, ...], Field(max_length=400)]

    def draft(self, currency: str) -> ConsignmentDraft:
        """Raises Slips."""
        lent = tuple(each.draft(currency, f"pieces.{at}") for at, each in enumerate(self.pieces))
        return draft_of(self, self.person_id, self.lent_on, self.occasion_id, lent)


def draft_of(
    terms: TermsShape, person_id: int, lent_on: date, occasion_id: int | None, lent: tuple[LentDraft, ...]
) -> ConsignmentDraft:
    """Terms and prints as one draft."""
    return ConsignmentDraft(
        person_id=person_id,
        lent_on=lent_on,
        occasion_id=occasion_id,
        commission_bp=terms.commission,
        commission_on=terms.commission_on,
        commission_of=terms.commission_of,
        commission_tax_bp=terms.commission_tax,
        discount_by=terms.discount_by,
        pieces=lent,
    )


class BackShape(Shape):
    """Prints that came back unsold."""

    piece_ids: Annotated[tuple[Id, ...], Field(max_length=400)]
    on: date | None = None


class TellShape(Shape):
    """Prints still out, and the prices the gallery is told now; left out, the present price."""

    pieces: Annotated[tuple[LentShape, ...], Field(max_length=400)]


def as_json(session: Session, consignment_id: int) -> dict[str, Any]:
    """A consignment as the API gives it. Raises Refusal (missing)."""
    currency = studio.currency(session)
    row = consignments.get(session, consignment_id)
    return {
        "id": row.id, "person_id": row.person_id, "lent_on": day(row.lent_on), "occasion_id": row.occasion_id,
        "commission": row.commission_bp / 100, "commission_on": row.commission_on, "commission_of": row.commission_of,
        "commission_tax": row.commission_tax_bp / 100, "discount_by": row.discount_by,
        "pieces": [
            {
                "piece": piece_json(each.piece), "told_price": amount(each.told_price, currency),
                "told_frame": amount(each.told_frame, currency), "outcome": each.outcome,
                "ended_on": day(each.ended_on),
            }
            for each in consignments.lent_on(session, consignment_id)
        ],
    }  # fmt: skip


def _one(house: House, path: str) -> dict[str, Any]:
    with reading(house.engine) as session:
        return as_json(session, last_number(path))


@api.post("/consignments", status_code=201)
def lend_by_program(request: Request, house: Here, who: Bearer, shape: ConsignmentShape) -> Response:
    """Lend prints to a gallery."""

    def act(book: Book) -> str:
        return f"/api/consignments/{consignments.lend(book, shape.draft(studio.currency(book.session))).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _one(house, done.path))


@api.get("/consignments/{consignment_id}")
def one(house: Here, who: Bearer, consignment_id: Id) -> dict[str, Any]:
    """One consignment, its terms, its prints and what became of them."""
    return _one(house, f"/{consignment_id}")


@api.post("/consignments/{consignment_id}/take_back", status_code=201)
def take_back(request: Request, house: Here, who: Bearer, consignment_id: Id, shape: BackShape) -> Response:
    """Prints came back unsold."""

    def act(book: Book) -> str:
        consignments.take_back(book, consignment_id, shape.piece_ids, shape.on or book.today)
        return f"/api/consignments/{consignment_id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _one(house, done.path))


@api.post("/consignments/{consignment_id}/tell", status_code=201)
def tell(request: Request, house: Here, who: Bearer, consignment_id: Id, shape: TellShape) -> Response:
    """The gallery was told other prices for prints still out."""

    def act(book: Book) -> str:
        currency = studio.currency(book.session)
        told = [each.draft(currency, f"pieces.{at}") for at, each in enumerate(shape.pieces)]
        consignments.tell(book, consignment_id, told)
        return f"/api/consignments/{consignment_id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _one(house, done.path))
