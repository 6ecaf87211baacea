"""Recipes: the list with the form for the next, one with what a print costs by it, and finishing prints."""

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import pieces, recipes, studio
from ledger.database import Book, Session, reading
from ledger.errors import Refusal
from ledger.pieces import PieceView
from ledger.recipes import Finishing
from ledger.reckoning import dates, money
from ledger.reckoning import recipe as reckoning
from ledger.reckoning.money import half_up
from ledger.reckoning.recipe import Line
from ledger.tables import Recipe
from ledger.web import answers, lately
from ledger.web.answers import status_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.recipes_api import ChangeShape, RecipeShape
from ledger.web.sale_sum import unit_of
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, percent_said
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)
ANOTHER = ("lines", "time")
"""The lists of the form to which its buttons add a row."""


@pages.get("/recipes")
def every(request: Request, house: Here, who: Signed) -> Response:
    """The recipes, and the form for the next."""
    return _list_page(request, house, blank())


def _list_page(request: Request, house: House, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        currency = studio.currency(session)
        rows = [
            {"name": each.name, "href": f"/recipes/{each.id}", "words": _in_all(session, each, currency)}
            for each in recipes.listing(session)
        ]
    return render(
        request, "recipes/list.html", status, form=form, action="/recipes", rows=rows, unit=unit_of(currency),
    )  # fmt: skip


def _in_all(session: Session, recipe: Recipe, currency: str) -> str:
    lines = recipes.lines_of(session, recipe.id or 0)
    with_it, without = (half_up(reckoning.a_print(lines, with_own_labour=each)) for each in (True, False))
    own = f", {money.shown(without, currency)} without own time" if with_it != without else ""
    return f"{money.shown(with_it, currency)} a print{own}."


@pages.post("/recipes")
def write(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    """Write down a recipe, or show one more row."""
    if sent.step in ANOTHER:
        return _list_page(request, house, sent.again(sent.step))

    def act(book: Book) -> str:
        return f"/recipes/{sent.read(RecipeShape, studio.currency(book.session)).write(book).id}"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        form = sent.refused("Not written down", no)
        return _list_page(request, house, form, status_of(no))
    return answers.see(done.path)


@pages.get("/recipes/{recipe_id}")
def one(request: Request, house: Here, who: Signed, recipe_id: Id) -> Response:
    """What a print costs by one recipe, and what was finished by it."""
    with reading(house.engine) as session:
        recipe = recipes.get(session, recipe_id)
        currency = studio.currency(session)
        lines = recipes.lines_of(session, recipe_id)
        every_version = recipes.versions(session, recipe.name)
        done = recipes.finishings(session, recipe.name)
        values: dict[str, Any] = {
            "recipe": recipe,
            "in_force": every_version[0].id == recipe_id,
            "now_href": f"/recipes/{every_version[0].id}",
            "sum": _sum(lines, currency),
            "done": finished_rows(session, done, currency),
            "others": [
                {"href": f"/recipes/{each.id}", "words": f"As written on {dates.said(each.written_on)}"}
                for each in every_version
                if each.id != recipe_id
            ],
        }
    return render(request, "recipes/one.html", unit=unit_of(currency), **values)


def _sum(lines: Sequence[Line], currency: str) -> dict[str, Any]:
    """One print finished alone: its rows add up to its total."""
    parts = reckoning.by_line(lines, 1)
    without = sum(part for part, line in zip(parts, lines, strict=True) if not line.own_labour)
    own = f"Without own time {money.shown(without, currency)}." if without != sum(parts) else ""
    return {
        "rows": [
            {"words": _words(line, currency), "amount": money.bare(part, currency)}
            for line, part in zip(lines, parts, strict=True)
        ],
        "total": money.bare(sum(parts), currency),
        "own": own,
    }


def _words(line: Line, currency: str) -> str:
    """'Window board: £9.60 for 12, 4% spoilt'."""
    paid = money.shown(line.amount, currency)
    taken = paid if line.minutes is None else f"{line.minutes} min at {paid} an hour"
    shared = f" for {line.prints}" if line.prints > 1 else ""
    spoilt = f", {percent_said(line.spoilage_bp)}% spoilt" if line.spoilage_bp else ""
    return f"{line.name}: {taken}{shared}{spoilt}"


def finished_rows(session: Session, done: Sequence[Finishing], currency: str) -> list[dict[str, Any]]:
    """Rows for acts of finishing, each with what it cost in all and a way to strike it."""
    seen = pieces.those(session, (piece_id for each in done for piece_id in each.piece_ids))
    return [
        {
            "on": dates.said(each.on),
            "words": prints_said([seen[piece_id] for piece_id in each.piece_ids]),
            "name": each.recipe.name,
            "own": f"{money.shown(each.own_time, currency)} of it own time" if each.own_time else "",
            "amount": money.bare(each.materials + each.own_time, currency),
            "struck": each.struck,
            "strike_href": "" if each.struck else f"/recipes/finished/{each.seq}/strike",
        }
        for each in done
    ]


def prints_said(seen: Sequence[PieceView]) -> str:
    """'Forty Minutes of Road 1 to 5, 9'."""
    by_edition: dict[int, list[PieceView]] = {}
    for each in seen:
        by_edition.setdefault(each.edition_id, []).append(each)
    return "; ".join(f"{prints[0].title} {lately.together(prints)}" for prints in by_edition.values())


@pages.get("/recipes/{recipe_id}/change")
def change_form(request: Request, house: Here, who: Signed, recipe_id: Id) -> Response:
    with reading(house.engine) as session:
        currency = studio.currency(session)
        values = _typed(recipes.lines_of(session, recipes.get(session, recipe_id).id or 0), currency)
    return _change_page(request, house, recipe_id, blank(values))


def _typed(lines: Sequence[Line], currency: str) -> dict[str, str]:
    """Lines as the form holds them."""
    values: dict[str, str] = {}
    for name, own_labour in (("lines", False), ("time", True)):
        for at, line in enumerate(line for line in lines if line.own_labour == own_labour):
            row = {
                "name": line.name,
                "prints": str(line.prints) if line.prints > 1 else "",
                "spoilage": percent_said(line.spoilage_bp) if line.spoilage_bp else "",
                "an_hour" if own_labour else "amount": money.plain(line.amount, currency),
            }  # fmt: skip
            if own_labour:
                row["minutes"] = str(line.minutes)
            values |= {f"{name}.{at}.{field}": typed for field, typed in row.items()}
    return values


def _change_page(request: Request, house: House, recipe_id: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        currency = studio.currency(session)
        name = recipes.get(session, recipe_id).name
    return render(
        request, "recipes/change.html", status, form=form, name=name, unit=unit_of(currency),
        href=f"/recipes/{recipe_id}", action=f"/recipes/{recipe_id}/change",
    )  # fmt: skip


@pages.post("/recipes/{recipe_id}/change")
def change(request: Request, house: Here, who: Signed, recipe_id: Id, sent: Sent) -> Response:
    """Write the next version, or show one more row."""
    if sent.step in ANOTHER:
        return _change_page(request, house, recipe_id, sent.again(sent.step))

    def act(book: Book) -> str:
        return f"/recipes/{sent.read(ChangeShape, studio.currency(book.session)).change(book, recipe_id).id}"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        if isinstance(no, Refusal) and no.missing:
            raise
        form = sent.refused("Not changed", no)
        return _change_page(request, house, recipe_id, form, status_of(no))
    return answers.see(done.path)
