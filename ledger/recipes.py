"""Recipes: what finishing a print costs, written once, and turned into costs whenever prints are finished."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from pydantic import BaseModel, ConfigDict
from sqlalchemy import func
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from ledger import costs, journal, offers, pieces
from ledger.costs import CostDraft
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.offers import OfferFacts
from ledger.pieces import PieceView
from ledger.reckoning import dates
from ledger.reckoning import recipe as reckoning
from ledger.reckoning.recipe import Charge, Line
from ledger.reckoning.texts import tidy
from ledger.tables import Cost, Finished, Piece, Recipe, RecipeLine

MOST_LINES = 40


class LineDraft(BaseModel):
    """An amount (minor units) for so many prints; with `minutes`, own time at that amount an hour."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    name: str
    amount_minor: int
    prints: int = 1
    minutes: int | None = None
    spoilage_bp: int = 0


@dataclass(frozen=True)
class Finishing:
    """Prints finished in one act (minor units, without what was struck); struck when no cost of it stands."""

    seq: int
    recipe: Recipe
    on: date
    piece_ids: tuple[int, ...]
    materials: int
    own_time: int
    struck: bool


def write(book: Book, name: str, lines: Sequence[LineDraft]) -> Recipe:
    """Write down a recipe under a name of its own. Raises Refusal."""
    name = tidy(name, "The name", limit=60, field="name")
    if named(book.session, name) is not None:
        raise Refusal(f"“{name}” is there already. Change that one, or name this one otherwise.", field="name")
    return _write(book, Recipe(name=name, written_on=book.today), lines)


def change(book: Book, recipe_id: int, lines: Sequence[LineDraft]) -> Recipe:
    """Write the next version of a recipe; prints finished before keep what they cost. Raises Refusal."""
    earlier = _in_force(book.session, recipe_id)
    return _write(book, Recipe(name=earlier.name, version=earlier.version + 1, written_on=book.today), lines)


def _in_force(session: Session, recipe_id: int) -> Recipe:
    recipe = get(session, recipe_id)
    last = versions(session, recipe.name)[0]
    if last.id != recipe_id:
        raise Refusal(f"“{recipe.name}” was changed on {dates.said(last.written_on)}. Go by it as it is now.")
    return recipe


def _write(book: Book, recipe: Recipe, drafts: Sequence[LineDraft]) -> Recipe:
    if len(drafts) > MOST_LINES:
        raise Refusal(f"A recipe has {MOST_LINES} lines at most. Draw some together.", field="lines")
    names = [tidy(line.name, "What it is", limit=60, field=f"lines.{at}.name") for at, line in enumerate(drafts)]
    rows = [RecipeLine(recipe_id=0, **{**line.model_dump(), "name": n}) for line, n in zip(drafts, names, strict=True)]
    reckoning.check_lines([_line(row) for row in rows])
    book.session.add(recipe)
    book.session.flush()
    assert recipe.id is not None
    for row in rows:
        row.recipe_id = recipe.id
        book.session.add(row)
        book.session.flush()
    figures = ("amount_minor", "prints", "minutes", "spoilage_bp")
    said = [{figure: getattr(row, figure) or 0 for figure in figures} for row in rows]
    journal.sealed(
        book,
        "recipe",
        {"recipe": recipe.id, "version": recipe.version, "lines": said},
        Touched("recipe", book.today),
        person={"name": recipe.name, "lines": names},
    )
    return recipe


def finish(book: Book, recipe_id: int, piece_ids: Sequence[int], on: date, *, again: bool = False) -> int:
    """These prints were finished by a recipe: what that costs lies on each. The place of its entry is returned.

    Raises Refusal for a print not signed yet, or, unless `again`, finished by this recipe before.
    """
    recipe = _in_force(book.session, recipe_id)
    if on > book.today:
        raise Refusal("That day is still to come. Write the day they were finished.", field="on")
    prints = _checked(book.session, recipe, piece_ids, again=again)
    charged = reckoning.charges(lines_of(book.session, recipe_id), len(prints))
    drafts = [_costs(seen, charge, recipe, on) for seen, charge in zip(prints, charged, strict=True)]
    given = [costs.enter(book, draft) for of_print in drafts for draft in of_print]
    if not given:
        raise Refusal("That comes to less than the smallest coin. Finish more of them at once.", field="pieces")
    said = [
        {"cost": cost.id, "piece": cost.piece_id, "own_labour": int(cost.own_labour), "amount": cost.amount_minor}
        for cost in given
    ]
    free = set(piece_ids) - {cost.piece_id for cost in given}
    seq = journal.sealed(
        book,
        "finished",
        {"recipe": recipe_id, "finished_on": on.isoformat(), "costs": said, "free": sorted(free)},
        *(_line_of_story("finished", on, seen, recipe) for seen in prints),
        person={"recipe": recipe.name},
    )
    kept = [(cost.id, None) for cost in given] + [(None, piece_id) for piece_id in sorted(free)]
    book.write(
        Finished,
        [{"entry_seq": seq, "recipe_id": recipe_id, "cost_id": cost, "piece_id": piece} for cost, piece in kept],
    )
    return seq


def _checked(session: Session, recipe: Recipe, piece_ids: Sequence[int], *, again: bool) -> list[PieceView]:
    if not piece_ids:
        raise Refusal("No print is chosen. Choose those that were finished.", field="pieces")
    if len(set(piece_ids)) < len(piece_ids):
        raise Refusal("One print is named twice. Name each once.", field="pieces")
    prints = [pieces.view(session, piece_id) for piece_id in piece_ids]
    for seen in prints:
        if seen.state != "inscribed" or seen.condition == "destroyed":
            what = "was destroyed" if seen.condition == "destroyed" else pieces.what_it_is(seen)
            raise Refusal(f"{seen.shown} {what}. Only signed prints are finished.", field="pieces")
    done = finished_on(session, recipe.name, piece_ids)
    if done and not again:
        seen = next(seen for seen in prints if seen.id in done)
        raise Refusal(
            f"{seen.shown} was finished so on {dates.said(done[seen.id])}. Leave it out, or say that it is done again.",
            field="pieces",
        )
    return prints


def _costs(seen: PieceView, charge: Charge, recipe: Recipe, on: date) -> list[CostDraft]:
    return [
        CostDraft(
            basis="piece", target_id=seen.id, own_labour=own_labour, amount_minor=amount, spent_on=on, note=recipe.name
        )
        for amount, own_labour in ((charge.materials, False), (charge.own_time, True))
        if amount
    ]


def _line_of_story(kind: str, on: date, seen: PieceView, recipe: Recipe) -> Touched:
    return Touched(kind, on, edition_id=seen.edition_id, piece_id=seen.id, text=recipe.name)


def strike(book: Book, seq: int, why: str) -> Finishing:
    """Strike what one act of finishing cost: it stays in the record and counts nowhere. Raises Refusal."""
    done = finishing(book.session, seq)
    reason = tidy(why, "The reason", limit=300, field="why")
    if done.struck:
        raise Refusal("That was struck already.")
    standing = select(Cost).join(Finished, col(Finished.cost_id) == Cost.id).where(Finished.entry_seq == seq)
    for cost in book.session.exec(standing.where(col(Cost.struck_at).is_(None))).all():
        cost.struck_at = book.at
        book.session.add(cost)
    prints = pieces.those(book.session, done.piece_ids).values()
    journal.sealed(
        book,
        "finished_struck",
        {"entry": seq},
        *(_line_of_story("finished_struck", book.today, seen, done.recipe) for seen in prints),
        person={"why": reason},
    )
    return done


def get(session: Session, recipe_id: int) -> Recipe:
    """Raises Refusal (missing)."""
    recipe = session.get(Recipe, recipe_id)
    if recipe is None:
        raise Refusal(f"No recipe has the number {recipe_id}.", missing=True)
    return recipe


def listing(session: Session) -> list[Recipe]:
    """Every recipe as it is now, by name."""
    rows = session.exec(select(Recipe).order_by(col(Recipe.name), col(Recipe.version)))
    return list({recipe.name: recipe for recipe in rows}.values())


def versions(session: Session, name: str) -> list[Recipe]:
    """A recipe as it is now, then as it was, the latest first."""
    return list(session.exec(select(Recipe).where(Recipe.name == name).order_by(col(Recipe.version).desc())))


def named(session: Session, words: str) -> Recipe | None:
    """The recipe of a mounting called so, in capitals or not, as it is now."""
    return next((each for each in listing(session) if each.name.casefold() == words.casefold()), None)


def of_offer(session: Session, offer: OfferFacts) -> Recipe | None:
    """The recipe of an offer’s mounting, as it is now: the one it was offered with, or else the one its words name.

    Of several names in its words the longest; a mount plan writes sizes after it.
    """
    if offer.recipe_id is not None:
        return versions(session, get(session, offer.recipe_id).name)[0]
    said = offer.mounting.casefold()
    held = [each for each in listing(session) if each.name.casefold() in said]
    return max(held, key=lambda each: len(each.name), default=None)


def of_prints(session: Session, piece_ids: Sequence[int]) -> dict[int, str]:
    """What the recipe of the offer each print was made under is called; those of none are left out."""
    made = select(Piece.id, Piece.offer_id).where(col(Piece.id).in_(piece_ids), col(Piece.offer_id).is_not(None))
    under = {piece_id or 0: offer_id or 0 for piece_id, offer_id in session.exec(made)}
    found = {each: of_offer(session, offers.get(session, each)) for each in set(under.values())}
    return {piece_id: recipe.name for piece_id, each in under.items() if (recipe := found[each]) is not None}


def lines_of(session: Session, recipe_id: int) -> list[Line]:
    """The lines of one version, in their order."""
    rows = select(RecipeLine).where(RecipeLine.recipe_id == recipe_id).order_by(col(RecipeLine.id))
    return [_line(row) for row in session.exec(rows)]


def _line(row: RecipeLine) -> Line:
    return Line(row.name, row.amount_minor, row.prints, row.minutes, row.spoilage_bp)


def finished_on(session: Session, name: str, piece_ids: Sequence[int]) -> dict[int, date]:
    """On which day each of these prints was last finished by a recipe, in whichever version; others are left out."""
    given = (
        select(Cost.piece_id, func.max(Cost.spent_on))
        .join(Finished, col(Finished.cost_id) == Cost.id)
        .join(Recipe, col(Recipe.id) == Finished.recipe_id)
        .where(Recipe.name == name, col(Cost.piece_id).in_(piece_ids), col(Cost.struck_at).is_(None))
        .group_by(col(Cost.piece_id))
    )
    free = _free_of_charge(piece_ids).join(Recipe, col(Recipe.id) == Finished.recipe_id).where(Recipe.name == name)
    days: dict[int, date] = {}
    for piece_id, on in (*session.exec(given), *session.exec(free)):
        days[piece_id] = max(on, days.get(piece_id, on))
    return days


def _free_of_charge(piece_ids: Sequence[int]) -> Any:
    """Those of these prints whose share of a finishing was nought, and its day, while a cost of it stands."""
    beside = aliased(Finished)
    return (
        select(Finished.piece_id, func.max(Cost.spent_on))
        .join(beside, col(beside.entry_seq) == Finished.entry_seq)
        .join(Cost, col(Cost.id) == beside.cost_id)
        .where(col(Finished.piece_id).in_(piece_ids), col(Cost.struck_at).is_(None))
        .group_by(col(Finished.piece_id))
    )


def spent(session: Session, piece_ids: Sequence[int]) -> dict[int, Charge]:
    """What recipes charged each of these prints, without what was struck; those never finished are left out."""
    found = {piece_id: Charge(0, 0) for piece_id, _ in session.exec(_free_of_charge(piece_ids))}
    rows = select(Cost).join(Finished, col(Finished.cost_id) == Cost.id).where(col(Cost.piece_id).in_(piece_ids))
    for cost in session.exec(rows.where(col(Cost.struck_at).is_(None))):
        so_far = found.get(cost.piece_id or 0, Charge(0, 0))
        found[cost.piece_id or 0] = Charge(
            so_far.materials + (0 if cost.own_labour else cost.amount_minor),
            so_far.own_time + (cost.amount_minor if cost.own_labour else 0),
        )
    return found


def finishing(session: Session, seq: int) -> Finishing:
    """One act of finishing, by its place in the record. Raises Refusal (missing)."""
    found = _finishings(session, Finished.entry_seq == seq)
    if not found:
        raise Refusal(f"Entry {seq} of the record finished no prints.", missing=True)
    return found[0]


def finishings(session: Session, name: str) -> list[Finishing]:
    """All that was finished by a recipe, in whichever version, the latest first."""
    return _finishings(session, Recipe.name == name)


def lately(session: Session, limit: int = 20) -> list[Finishing]:
    """What was finished last by any recipe, the latest first."""
    last = select(Finished.entry_seq).distinct().order_by(col(Finished.entry_seq).desc()).limit(limit)
    return _finishings(session, col(Finished.entry_seq).in_(last))


def _finishings(session: Session, where: Any) -> list[Finishing]:
    rows: Any = (
        select(Finished, Recipe, Cost)
        .join(Recipe, col(Recipe.id) == Finished.recipe_id)
        .outerjoin(Cost, col(Cost.id) == Finished.cost_id)
        .where(where)
        .order_by(col(Finished.entry_seq).desc(), col(Finished.id))
    )
    by_act = groupby(session.exec(rows), key=lambda row: row[0].entry_seq)
    return [_together(seq, list(group)) for seq, group in by_act]


def _together(seq: int, rows: list[Any]) -> Finishing:
    given = [cost for _, _, cost in rows if cost is not None]
    standing = [cost for cost in given if cost.struck_at is None]
    return Finishing(
        seq=seq,
        recipe=rows[0][1],
        on=given[0].spent_on,
        piece_ids=tuple(dict.fromkeys(cost.piece_id if cost else kept.piece_id for kept, _, cost in rows)),
        materials=sum(cost.amount_minor for cost in standing if not cost.own_labour),
        own_time=sum(cost.amount_minor for cost in standing if cost.own_labour),
        struck=not standing,
    )
