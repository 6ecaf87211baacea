"""Finishing prints by a recipe: which edition, which prints and when; and striking what was finished."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import clock, editions, pieces, recipes, studio
from ledger.database import Book, Session, reading
from ledger.errors import Refusal
from ledger.reckoning import dates, money
from ledger.spent_on import SpentOn
from ledger.tables import Recipe
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.recipes import prints_said
from ledger.web.sale_sum import unit_of
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, Shape, WhyShape, read_id
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)
OURS = ("in hand", "out")
"""The standings of prints that are still the maker’s: those offered to be finished."""


class FinishForm(Shape):
    """The prints ticked, and the day they were finished."""

    edition: Id
    pieces: tuple[Id, ...] | Id = ()
    on: date
    again: str = ""

    def finish(self, book: Book, recipe_id: int) -> None:
        """Raises Refusal."""
        ticked = (self.pieces,) if isinstance(self.pieces, int) else self.pieces
        recipes.finish(book, recipe_id, ticked, self.on, again=bool(self.again))


@pages.get("/recipes/{recipe_id}/finish")
def form(request: Request, house: Here, who: Signed, recipe_id: Id, edition: Id | None = None) -> Response:
    """The prints of one edition that may be finished; without one, which edition."""
    if edition is None:
        return _editions_page(request, house, recipe_id)
    return _page(request, house, recipe_id, edition, blank({"on": clock.today().isoformat()}))


def _editions_page(request: Request, house: House, recipe_id: int) -> Response:
    with reading(house.engine) as session:
        recipe = recipes.get(session, recipe_id)
        names = SpentOn(session)
        here = {edition_id: _prints(session, edition_id, recipe) for edition_id in names.editions}
    rows = [
        {
            "href": f"/recipes/{recipe_id}/finish?edition={edition_id}",
            "title": names.edition(edition_id),
            "words": "1 signed print is yours." if len(prints) == 1 else f"{len(prints)} signed prints are yours.",
        }
        for edition_id, prints in sorted(here.items(), key=lambda each: not any(row["meant"] for row in each[1]))
        if prints
    ]
    return render(request, "recipes/which.html", name=recipe.name, href=f"/recipes/{recipe_id}", rows=rows)


def _prints(session: Session, edition_id: int, recipe: Recipe) -> list[dict[str, Any]]:
    """The signed prints of an edition that are still the maker's: those offered so and not finished so yet first."""
    found = [seen for seen in pieces.run_of(session, edition_id) if seen.standing in OURS]
    done = recipes.finished_on(session, recipe.name, [seen.id for seen in found])
    meant = recipes.of_prints(session, [seen.id for seen in found])
    rows = [
        {"id": seen.id, "shown": seen.shown, "meant": meant.get(seen.id) == recipe.name,
         "done": seen.id in done, "more": _more(done.get(seen.id), meant.get(seen.id, recipe.name), recipe.name)}
        for seen in found
    ]  # fmt: skip
    return sorted(rows, key=lambda row: (row["done"], bool(row["more"])))


def _more(done: date | None, meant: str, name: str) -> str:
    if done is not None:
        return f"finished so on {dates.said(done)}"
    return "" if meant == name else f"offered with “{meant}”"


def _page(request: Request, house: House, recipe_id: int, edition_id: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        recipe = recipes.get(session, recipe_id)
        edition = editions.get(session, edition_id)
        prints = _prints(session, edition_id, recipe)
        title = SpentOn(session).edition(edition.id or 0)
    return render(
        request, "recipes/finish.html", status, form=form, name=recipe.name, href=f"/recipes/{recipe_id}",
        title=title, edition_id=edition_id, prints=prints, chosen=_chosen(form.values),
        any_done=any(row["done"] for row in prints), action=f"/recipes/{recipe_id}/finish",
    )  # fmt: skip


def _chosen(values: Mapping[str, Any]) -> list[str]:
    ticked = values.get("pieces", [])
    return [ticked] if isinstance(ticked, str) else ticked


@pages.post("/recipes/{recipe_id}/finish")
def finish(request: Request, house: Here, who: Signed, recipe_id: Id, sent: Sent) -> Response:
    """What a recipe says lies on each print ticked."""

    def act(book: Book) -> str:
        sent.read(FinishForm).finish(book, recipe_id)
        return f"/recipes/{recipe_id}"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        edition_id = read_id(sent.text("edition"))
        if (isinstance(no, Refusal) and no.missing) or edition_id is None:
            raise
        refused = sent.refused("Not written down", no)
        return _page(request, house, recipe_id, edition_id, refused, status_of(no))
    return answers.see(done.path)


@pages.get("/recipes/finished/{seq}/strike")
def strike_form(request: Request, house: Here, who: Signed, seq: Id) -> Response:
    return _strike_page(request, house, seq, blank())


def _strike_page(request: Request, house: House, seq: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        currency = studio.currency(session)
        done = recipes.finishing(session, seq)
        prints = pieces.those(session, done.piece_ids)
        cost = {
            "on": dates.said(done.on),
            "words": prints_said([prints[piece_id] for piece_id in done.piece_ids]),
            "note": done.recipe.name,
            "amount": money.bare(done.materials + done.own_time, currency),
            "struck": done.struck,
        }
    back = {"href": f"/recipes/{done.recipe.id}", "words": done.recipe.name}
    return render(
        request, "costs/strike.html", status, form=form, cost=cost, unit=unit_of(currency), back=back,
        action=f"/recipes/finished/{seq}/strike",
    )  # fmt: skip


@pages.post("/recipes/finished/{seq}/strike")
def strike(request: Request, house: Here, who: Signed, seq: Id, sent: Sent) -> Response:
    """What was finished by mistake counts nowhere."""

    def act(book: Book) -> str:
        return f"/recipes/{recipes.strike(book, seq, sent.read(WhyShape).why).recipe.id}"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        return _strike_page(request, house, seq, sent.refused("Not struck", no), status_of(no))
    return answers.see(done.path)
