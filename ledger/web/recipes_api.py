"""Recipes through the API: write and change one, finish prints by it, strike what was finished."""

import re
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import Field
from starlette.responses import Response

from ledger import recipes, studio
from ledger.database import Book, Session, reading
from ledger.errors import Refusal
from ledger.recipes import Finishing, LineDraft
from ledger.reckoning import recipe as reckoning
from ledger.reckoning.money import half_up
from ledger.reckoning.recipe import Line
from ledger.tables import Recipe
from ledger.web import answers
from ledger.web.house import Here
from ledger.web.sales_api import last_number
from ledger.web.shapes import Amount, Id, Percent, Shape, Whole, WhyShape, amount, day, percent_said
from ledger.web.sign_in import Bearer

api = APIRouter(prefix="/api", tags=["recipes"])
MOST = recipes.MOST_LINES


class MaterialShape(Shape):
    """What is spent for so many prints, and the part of it that is spoilt (per cent)."""

    name: str
    amount: Amount
    prints: Whole = 1
    spoilage: Percent = 0

    def draft(self, currency: str, at: str) -> LineDraft:
        return LineDraft(
            name=self.name,
            amount_minor=self.amount.minor(currency, f"{at}.amount"),
            prints=self.prints,
            spoilage_bp=self.spoilage,
        )


class TimeShape(Shape):
    """Own time: so many minutes for so many prints, at what an hour is worth."""

    name: str
    minutes: Whole
    an_hour: Amount
    prints: Whole = 1
    spoilage: Percent = 0

    def draft(self, currency: str, at: str) -> LineDraft:
        return LineDraft(
            name=self.name,
            amount_minor=self.an_hour.minor(currency, f"{at}.an_hour"),
            prints=self.prints,
            minutes=self.minutes,
            spoilage_bp=self.spoilage,
        )


class LinesShape(Shape):
    """What finishing one print takes. Packing is no part of it: each way of selling has its own."""

    lines: Annotated[tuple[MaterialShape, ...], Field(max_length=MOST)] = ()
    time: Annotated[tuple[TimeShape, ...], Field(max_length=MOST)] = ()

    def drafts(self, currency: str) -> list[LineDraft]:
        """Materials, then own time. Raises Slips."""
        materials = [line.draft(currency, f"lines.{at}") for at, line in enumerate(self.lines)]
        return materials + [line.draft(currency, f"time.{at}") for at, line in enumerate(self.time)]

    def placed(self, no: Refusal) -> Refusal:
        """The same refusal, its field named as it is here, where own time stands apart."""
        field = (no.field or "").replace("spoilage_bp", "spoilage")
        found = re.fullmatch(r"lines\.([0-9]+)\.(.+)", field)
        if found and int(found[1]) >= len(self.lines) and self.time:
            name = "an_hour" if found[2] == "amount" else found[2]
            field = f"time.{int(found[1]) - len(self.lines)}.{name}"
        return Refusal(no.message, field=field or None, missing=no.missing)


class RecipeShape(LinesShape):
    """A recipe: the name of the mounting it is for, and its lines."""

    name: str

    def write(self, book: Book) -> Recipe:
        """Raises Refusal, Slips."""
        try:
            return recipes.write(book, self.name, self.drafts(studio.currency(book.session)))
        except Refusal as no:
            raise self.placed(no) from None


class ChangeShape(LinesShape):
    """The lines of the next version."""

    def change(self, book: Book, recipe_id: int) -> Recipe:
        """Raises Refusal, Slips."""
        try:
            return recipes.change(book, recipe_id, self.drafts(studio.currency(book.session)))
        except Refusal as no:
            raise self.placed(no) from None


class FinishShape(Shape):
    """Which prints were finished, and on which day."""

    pieces: Annotated[tuple[Id, ...], Field(max_length=500)]
    on: date
    again: bool = False


def recipe_json(session: Session, recipe: Recipe) -> dict[str, Any]:
    """A recipe as the API gives it; `amount` of each line is its part of one print finished alone."""
    currency = studio.currency(session)
    lines = recipes.lines_of(session, recipe.id or 0)
    with_it, without = (reckoning.a_print(lines, with_own_labour=each) for each in (True, False))
    return {
        "id": recipe.id, "name": recipe.name, "version": recipe.version, "written_on": day(recipe.written_on),
        "a_print": amount(half_up(with_it), currency), "a_print_without_own_labour": amount(half_up(without), currency),
        "lines": [_line(line, currency) for line in lines if not line.own_labour],
        "time": [_line(line, currency) for line in lines if line.own_labour],
    }  # fmt: skip


def _line(line: Line, currency: str) -> dict[str, Any]:
    spent = amount(line.amount, currency)
    taken = {"amount": spent} if line.minutes is None else {"minutes": line.minutes, "an_hour": spent}
    return {"name": line.name, **taken, "prints": line.prints, "spoilage": float(percent_said(line.spoilage_bp))}


def finishing_json(session: Session, seq: int) -> dict[str, Any]:
    """What one act of finishing cost."""
    done: Finishing = recipes.finishing(session, seq)
    currency = studio.currency(session)
    return {
        "id": done.seq, "recipe_id": done.recipe.id, "on": day(done.on), "pieces": list(done.piece_ids),
        "materials": amount(done.materials, currency), "own_labour": amount(done.own_time, currency),
        "struck": done.struck,
    }  # fmt: skip


@api.get("/recipes")
def all_recipes(house: Here, who: Bearer) -> dict[str, Any]:
    """Every recipe as it is now."""
    with reading(house.engine) as session:
        return {"items": [recipe_json(session, each) for each in recipes.listing(session)], "next": None}


@api.get("/recipes/{recipe_id}")
def one_recipe(house: Here, who: Bearer, recipe_id: Id) -> dict[str, Any]:
    """One version of a recipe."""
    with reading(house.engine) as session:
        return recipe_json(session, recipes.get(session, recipe_id))


@api.post("/recipes", status_code=201)
def write_by_program(request: Request, house: Here, who: Bearer, shape: RecipeShape) -> Response:
    """Write down a recipe."""
    done = house.record(who, lambda book: f"/api/recipes/{shape.write(book).id}", answers.repeat_of(request, shape))
    return answers.made(done, one_recipe(house, who, last_number(done.path)))


@api.post("/recipes/{recipe_id}/change", status_code=201)
def change_by_program(request: Request, house: Here, who: Bearer, recipe_id: Id, shape: ChangeShape) -> Response:
    """Write the next version of a recipe."""

    def act(book: Book) -> str:
        return f"/api/recipes/{shape.change(book, recipe_id).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, one_recipe(house, who, last_number(done.path)))


@api.post("/recipes/{recipe_id}/finish", status_code=201)
def finish_by_program(request: Request, house: Here, who: Bearer, recipe_id: Id, shape: FinishShape) -> Response:
    """Prints were finished by a recipe: what that costs lies on each."""

    def act(book: Book) -> str:
        seq = recipes.finish(book, recipe_id, shape.pieces, shape.on, again=shape.again)
        return f"/api/recipes/finished/{seq}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, one_finishing(house, who, last_number(done.path)))


@api.get("/recipes/finished/{seq}")
def one_finishing(house: Here, who: Bearer, seq: Id) -> dict[str, Any]:
    """What one act of finishing cost."""
    with reading(house.engine) as session:
        return finishing_json(session, seq)


@api.post("/recipes/finished/{seq}/strike", status_code=201)
def strike_by_program(request: Request, house: Here, who: Bearer, seq: Id, shape: WhyShape) -> Response:
    """What was finished by mistake counts nowhere."""

    def act(book: Book) -> str:
        recipes.strike(book, seq, shape.why)
        return f"/api/recipes/finished/{seq}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, one_finishing(house, who, seq))
