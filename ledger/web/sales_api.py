"""Sales through the API: record and read, money that arrives, and what may happen to a line."""

from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from ledger import sales, studio
from ledger.database import Book, reading
from ledger.web import answers, sale_shapes
from ledger.web.house import Here, House
from ledger.web.line_acts import ACTS, LineAct
from ledger.web.sale_shapes import NamedShape, ReceiptShape, SaleShape
from ledger.web.sales import doing, naming
from ledger.web.shapes import After, Id, Shape
from ledger.web.sign_in import Bearer

api = APIRouter(prefix="/api", tags=["sales"])
Limit = Annotated[int, Query(ge=1, le=200)]


def last_number(path: str) -> int:
    """The id at the end of the address of what was made."""
    return int(path.rsplit("/", 1)[1])


def _one(house: House, path: str) -> dict[str, Any]:
    with reading(house.engine) as session:
        return sale_shapes.one_json(session, last_number(path))


@api.post("/sales", status_code=201)
def record(request: Request, house: Here, who: Bearer, shape: SaleShape) -> Response:
    """Record a sale; what each line leaves comes back with it."""

    def act(book: Book) -> str:
        return f"/api/sales/{sales.record(book, shape.draft(book.session)).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _one(house, done.path))


@api.get("/sales")
def every(house: Here, who: Bearer, after: After = 0, limit: Limit = 50) -> dict[str, Any]:
    """The sales in the order they were recorded."""
    with reading(house.engine) as session:
        found = sales.after(session, after, limit + 1)
        items = sale_shapes.as_json(session, found[:limit])
    return {"items": items, "next": found[limit - 1].sale.id if len(found) > limit else None}


@api.get("/sales/{sale_id}")
def one(house: Here, who: Bearer, sale_id: Id) -> dict[str, Any]:
    """One sale, its lines and receipts, and what is still to come in."""
    with reading(house.engine) as session:
        return sale_shapes.one_json(session, sale_id)


@api.post("/sales/{sale_id}/receipts", status_code=201)
def receive(request: Request, house: Here, who: Bearer, sale_id: Id, shape: ReceiptShape) -> Response:
    """Money arrived for a sale; an amount below nothing was given back."""

    def act(book: Book) -> str:
        sales.add_receipt(book, sale_id, shape.draft(studio.currency(book.session)))
        return f"/api/sales/{sale_id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _one(house, done.path))


@api.post("/sales/{sale_id}/buyer", status_code=201)
def name_buyer(request: Request, house: Here, who: Bearer, sale_id: Id, shape: NamedShape) -> Response:
    """Name the buyer of a sale recorded without one."""
    done = house.record(who, naming(shape, "/api", sale_id), answers.repeat_of(request, shape))
    return answers.made(done, _one(house, done.path))


def _door(act: LineAct) -> Callable[..., Response]:
    def door(request: Request, house: Here, who: Bearer, sale_id: Id, n: int, shape: Shape) -> Response:
        done = house.record(who, doing(act, "/api", sale_id, n, shape), answers.repeat_of(request, shape))
        return answers.made(done, _one(house, done.path))

    door.__annotations__["shape"] = act.shape
    door.__name__ = act.slug
    door.__doc__ = act.help
    return door


for _act in ACTS:
    api.add_api_route(
        f"/sales/{{sale_id}}/lines/{{n}}/{_act.slug}", _door(_act), methods=["POST"], status_code=201,
        response_model=None,
    )  # fmt: skip
