"""Find: one box, one page; a single exact hit opens at once."""

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from ledger import editions, search
from ledger.database import Session, reading
from ledger.pieces import PieceView
from ledger.reckoning import dates, numbering
from ledger.search import Found
from ledger.web import answers
from ledger.web.house import Here
from ledger.web.marks import mark_of
from ledger.web.pages import render
from ledger.web.pieces import piece_json
from ledger.web.sign_in import Bearer, Signed

pages = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["pieces"])
Row = dict[str, str]
Asked = Annotated[str, Query(min_length=1, max_length=200)]
After = Annotated[int, Query(ge=0, le=10_000)]
Limit = Annotated[int, Query(ge=1, le=500)]


@pages.get("/find")
def find(request: Request, house: Here, who: Signed, q: str = "") -> Response:
    with reading(house.engine) as session:
        found = search.find(session, q)
        works = [row for work_id, title in found.works for row in _work(session, work_id, title)]
    people = [_row(f"/people/{person_id}", name=name) for person_id, name in found.people]
    prints = [_print(seen) for seen in found.pieces]
    rows = people + works + prints
    if len(rows) == 1:
        return answers.see(rows[0]["href"])
    groups = [("People", people), ("Editions", works), ("Prints", prints),
              ("Near it", [_print(seen) for seen in found.near])]  # fmt: skip
    return render(
        request, "find/results.html",
        question="" if found.beyond else found.asked, find=found.asked, verdict=_verdict(found, len(rows)),
        groups=[{"head": head, "rows": some} for head, some in groups if some],
    )  # fmt: skip


def _verdict(found: Found, rows: int) -> str:
    if not found.asked:
        return "Find"
    if found.beyond:
        number, count = found.beyond.number, found.beyond.count
        return (
            f"No edition of {count} has a {number}"
            if found.beyond.kind is None
            else (f"No {found.beyond.kind} of {count} has a {number}")
        )
    if not rows:
        return "is nowhere in the book"
    if found.more or found.more_names:
        return f"is in the book more than {search.MOST} times"
    if found.works or found.people:
        return f"is in the book {'twice' if rows == 2 else f'{numbering.words(rows)} times'}"
    held_in = len({seen.edition_id for seen in found.pieces})
    return "is in one edition" if held_in == 1 else f"is in {numbering.words(held_in)} editions"


def _row(href: str, **said: str) -> Row:
    return {"href": href, "mark": "", "number_shown": "", "shown": "", "title": "", "name": "", "words": "", **said}


def _work(session: Session, work_id: int, title: str) -> list[Row]:
    """A row for each edition of a work; the work itself while it has none."""
    of_work = search.editions_of_work(session, work_id)
    if not of_work:
        return [_row(f"/works/{work_id}", title=title, words="No edition declared yet")]
    return [
        _row(f"/editions/{edition_id}", title=title, words=_edition(session, edition_id, len(of_work)))
        for edition_id in of_work
    ]


def _edition(session: Session, edition_id: int, among: int) -> str:
    edition = editions.get(session, edition_id)
    which = f"Edition {edition.ordinal}" if among > 1 else "The edition"
    kind = "" if edition.kind == "limited" else ", not a limited one"
    return f"{which}{kind}, declared {dates.said(edition.declared_on)}"


def _print(seen: PieceView) -> Row:
    drawn = mark_of(seen)
    return _row(
        f"/pieces/{seen.id}", mark=drawn.mark, number_shown=seen.figure, shown=seen.shown, title=seen.title,
        words=_state(seen, drawn.phrase),
    )  # fmt: skip


def _state(seen: PieceView, phrase: str) -> str:
    """'Sold 4 May 2026. Isbert Quell. Second print'."""
    if seen.line_id is not None and seen.sold_on and seen.standing in ("passed on", "assigned", "in hand", "out"):
        said = [f"Sold {dates.said(seen.sold_on)}" + (", not handed over yet" if seen.order_stands else "")]
    else:
        said = [phrase[0].upper() + phrase[1:]]
    holder = {"person": seen.holder_name or "Name erased", "private": "A private owner", "unknown": "Owner not known",
              "estate": "The estate"}.get(seen.holder or "")  # fmt: skip
    said += [holder] if holder else []
    said += ["Second print"] if seen.generation > 1 else []
    return ". ".join(said)


@api.get("/pieces")
def matching(house: Here, who: Bearer, q: Asked, after: After = 0, limit: Limit = 100) -> dict[str, Any]:
    """The prints a line of text may mean: a number, a title with one, a name, a code. `next` goes to `after`."""
    with reading(house.engine) as session:
        found = search.find(session, q, after + limit)
    items = [piece_json(seen) for seen in found.pieces[after:]]
    return {"items": items, "next": after + limit if found.more else None}
