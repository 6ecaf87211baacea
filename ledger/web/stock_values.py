"""What unsold prints are worth: the page with their cost and what they would bring, and the API."""

import re
from typing import Any

from fastapi import APIRouter, Request
from pydantic import Field
from starlette.responses import Response

from ledger import clock, floor_prices, stock_values, studio
from ledger.database import Session, reading
from ledger.errors import Refusal
from ledger.floor_prices import Wish
from ledger.reckoning import money
from ledger.spent_on import SpentOn
from ledger.stock_values import Lot
from ledger.web import lately
from ledger.web.answers import status_of
from ledger.web.forms import Posted
from ledger.web.house import Here
from ledger.web.pages import render
from ledger.web.sale_shapes import minor
from ledger.web.sale_sum import unit_of
from ledger.web.sentences import Slips
from ledger.web.shapes import Amount, Shape, amount
from ledger.web.sign_in import Bearer, Signed

pages = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["costs"])


class StockForm(Shape):
    """How prints at no gallery are sold, and what any print would fetch, its frame apart, by edition ('e3')."""

    way: str = ""
    fetch: dict[str, Amount] = Field(default_factory=dict)


def _look(session: Session, asked: Posted, currency: str) -> list[Lot]:
    """Raises Refusal or Slips."""
    form = asked.read(StockForm, currency)
    fetched = {
        int(key[1:]): minor(each, currency, f"fetch.{key}") or 0
        for key, each in form.fetch.items()
        if re.fullmatch("e[0-9]{1,9}", key)
    }
    return stock_values.look(session, clock.today(), form.way, fetched)


@pages.get("/costs/stock")
def page(request: Request, house: Here, who: Signed) -> Response:
    """The unsold prints and what they are worth, with own time and without."""
    asked = Posted(dict(request.query_params), {}, "", "", request.url.path)
    form, status, lots = asked.again(), 200, []
    with reading(house.engine) as session:
        currency, names = studio.currency(session), SpentOn(session)
        ways = [each.name for each in floor_prices.ways(session, Wish(), clock.today())]
        try:
            lots = _look(session, asked, currency) if ways else []
        except (Refusal, Slips) as no:
            form, status = asked.refused("Not worked out", no), status_of(no)
            lots = stock_values.look(session, clock.today())
    of_each = {lot.edition_id: names.edition(lot.edition_id) for lot in lots}
    return render(
        request, "costs/stock.html", status, form=form, unit=unit_of(currency),
        ways=[{"value": each, "words": each} for each in ways],
        fetches=[{"name": f"fetch.e{each}", "title": title} for each, title in of_each.items()],
        bases=[_basis(lots, of_each, currency, own_labour=each) for each in (True, False) if lots and status == 200],
    )  # fmt: skip


def _basis(lots: list[Lot], names: dict[int, str], currency: str, *, own_labour: bool) -> dict[str, Any]:
    found = [each.value(with_own_labour=own_labour) for each in lots]
    cost, down = sum(each.cost for each in found), sum(each.written_down for each in found)
    return {
        "words": "With own time" if own_labour else "Without own time",
        "rows": [
            [f"{names[lot.edition_id]} {lately.together(lot.prints)}: each would bring "
             f"{money.shown(lot.each.realisable, currency)}",
             money.bare(each.cost, currency), money.bare(each.worth, currency)]
            for lot, each in zip(lots, found, strict=True)
        ],
        "total": ["In all", money.bare(cost, currency), money.bare(cost - down, currency)],
        "down": f"{money.shown(down, currency)} is written down." if down else "No print is worth less than it cost.",
    }  # fmt: skip


@api.get("/stock")
def by_program(request: Request, house: Here, who: Bearer) -> dict[str, Any]:
    """What unsold prints cost and are worth; `way`, and `fetch.e3` for what a print of edition 3 would fetch."""
    with reading(house.engine) as session:
        currency = studio.currency(session)
        lots = _look(session, Posted(dict(request.query_params), {}, "", "", request.url.path), currency)
    return {"items": [_json(each, currency) for each in lots]}


def _json(lot: Lot, currency: str) -> dict[str, Any]:
    worth = {}
    for name in ("with_own_labour", "without_own_labour"):
        found = lot.value(with_own_labour=name == "with_own_labour")
        worth[name] = {"cost": amount(found.cost, currency), "worth": amount(found.worth, currency)}
    return {
        "edition_id": lot.edition_id, "pieces": [seen.id for seen in lot.prints],
        "would_bring": amount(lot.each.realisable, currency), **worth,
    }  # fmt: skip
