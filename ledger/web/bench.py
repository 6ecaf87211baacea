"""The bench: what is planned there, what was last kept of it, and the prices its prints need."""

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import clock, editions, mounts, recipes, sheets, studio
from ledger.database import Session, reading
from ledger.editions import EditionFacts
from ledger.reckoning import dates, money
from ledger.spent_on import SpentOn
from ledger.web.edition_words import price_now
from ledger.web.house import Here
from ledger.web.pages import render
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)


@pages.get("/bench")
def bench(request: Request, house: Here, who: Signed) -> Response:
    """The rooms of the bench, each with what was last kept there."""
    with reading(house.engine) as session:
        last = [_sheet(session), _mount(session), _recipe(session), _price(session)]
    rooms = [
        ("/sheets", "Sheets", "How prints lie on the lab’s sheet, how they are cut, and what came back."),
        ("/mounts", "Mounts", "Windows and floats to cut by, frames, cutters, and what a board yields."),
        ("/recipes", "Recipes", "What finishing a print costs, and the prints finished."),
        ("/bench/prices", "Prices a print needs", "The lowest price in each way of selling that leaves what you want."),
    ]
    rows = [
        {"href": href, "name": name, "words": words, "last": kept}
        for (href, name, words), kept in zip(rooms, last, strict=True)
    ]
    return render(request, "bench/bench.html", rows=rows)


def _sheet(session: Session) -> str:
    kept = sheets.newest(session, 1)
    return f"Last kept: {kept[0].name}, {dates.said(kept[0].made_on)}." if kept else "None kept yet."


def _mount(session: Session) -> str:
    kept = mounts.listing(session)
    return f"Last kept: {kept[0].title}, {dates.said(kept[0].made_on)}." if kept else "None kept yet."


def _recipe(session: Session) -> str:
    last = max(recipes.listing(session), key=lambda each: each.id or 0, default=None)
    return f"Last written: {last.name}, {dates.said(last.written_on)}." if last else "None written yet."


def _price(session: Session) -> str:
    offered = [(size.offer.from_on, facts) for facts in _standing(session) for size in facts.sizes]
    if not offered:
        return "No edition yet."
    on, facts = max(offered, key=lambda each: each[0])
    return f"Last priced: {facts.work.title}, {dates.said(on)}."


def _standing(session: Session) -> list[EditionFacts]:
    return [editions.facts(session, each.id or 0, clock.today()) for each in editions.listing(session)]


@pages.get("/bench/prices")
def prices(request: Request, house: Here, who: Signed) -> Response:
    """The editions that stand, each with its price today and a way to what it needs."""
    with reading(house.engine) as session:
        currency, names = studio.currency(session) if editions.listing(session) else "", SpentOn(session)
        rows = [_priced(names, facts, currency) for facts in _standing(session)]
    return render(request, "bench/prices.html", rows=rows)


def _priced(names: SpentOn, facts: EditionFacts, currency: str) -> dict[str, Any]:
    asked = sorted({price_now(size.offer, facts.edition.sold_peak) for size in facts.sizes})
    edition_id = facts.edition.id or 0
    return {
        "href": f"/editions/{edition_id}/price",
        "title": names.edition(edition_id),
        "words": f"{', '.join(money.shown(each, currency) for each in asked)} today.",
    }
