"""People: who is in the book, what they hold, a line put right, and a name erased."""

from collections.abc import Callable, Mapping
from itertools import groupby
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from ledger import people, search
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.people import LINES, PersonDraft
from ledger.pieces import PieceView
from ledger.reckoning import dates
from ledger.reckoning.texts import folded_words
from ledger.tables import Event, Person
from ledger.web import answers
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.lately import Line, Part
from ledger.web.marks import mark_of
from ledger.web.pages import render
from ledger.web.sentences import Slips
from ledger.web.shapes import After, Id, Shape, day
from ledger.web.sign_in import Bearer, Signed
from ledger.web.story import teller

pages = APIRouter(prefix="/people", include_in_schema=False)
api = APIRouter(prefix="/api/people", tags=["people"])
MOST = 200
NAMES = {
    "name": "Name", "town": "Town", "address": "Address", "email": "E-mail", "phone": "Telephone", "note": "Note",
}  # fmt: skip
KINDS = (
    {"value": "person", "words": "A person", "more": ""},
    {"value": "business", "words": "A gallery, a lab, a shop or the like", "more": ""},
)
Limit = Annotated[int, Query(ge=1, le=500)]


class PersonShape(Shape):
    """Somebody in the book. Only the name is needed."""

    kind: Literal["person", "business"] = "person"
    name: str
    town: str = ""
    address: str = ""
    email: str = ""
    phone: str = ""
    note: str = ""

    def draft(self) -> PersonDraft:
        return PersonDraft(**self.model_dump())


# The list, and somebody new


@pages.get("")
def everybody(request: Request, house: Here, who: Signed, skip: After = 0) -> Response:
    with reading(house.engine) as session:
        found = people.page(session, MOST + 1, skip)
    return render(
        request, "people/list.html",
        people=found[:MOST],
        earlier=f"/people?skip={max(skip - MOST, 0)}" if skip else "",
        later=f"/people?skip={skip + MOST}" if len(found) > MOST else "",
    )  # fmt: skip


@pages.get("/new")
def new(request: Request, house: Here, who: Signed) -> Response:
    return _new_page(request, blank({"kind": "person"}))


def _new_page(request: Request, form: Form, status: int = 200) -> Response:
    return render(request, "people/new.html", status, form=form, kinds=KINDS)


@pages.post("")
def write_down(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    try:
        done = house.record(who, _adding(sent.read(PersonShape), "/people"), sent.repeat)
    except (Refusal, Slips) as fault:
        form = sent.refused("Not written down", fault)
        return _new_page(request, form, answers.status_of(fault))
    return answers.see(done.path)


def _adding(shape: PersonShape, home: str) -> Any:
    def act(book: Book) -> str:
        return f"{home}/{people.add(book, shape.draft()).id}"

    return act


# One of them


@pages.get("/{person_id}")
def page(request: Request, house: Here, who: Signed, person_id: Id) -> Response:
    """What is written of somebody, the prints, and what happened."""
    return _page(request, house, person_id, blank())


def _page(request: Request, house: House, person_id: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        person = people.get(session, person_id)
        fixes = people.corrections(session, person_id) if person.erased_at is None else []
        theirs = search.pieces_of_people(session, [person_id])
        events = people.story(session, person_id)
        seen = search.pieces_by_id(session, (one.piece_id for one in events if one.piece_id is not None))
        tell = teller(session, events)
    return render(
        request, "people/one.html", status,
        person=person, name=person.name or "Name erased", lines=_written(person),
        erased=dates.said(person.erased_at.date()) if person.erased_at else "",
        prints=[_print(one, person_id) for one in theirs[: search.MOST]], more=len(theirs) > search.MOST,
        story=_story(events, seen, tell),
        fields=[{"value": name, "words": NAMES[name]} for name in LINES], names=NAMES, fixes=fixes, form=form,
    )  # fmt: skip


def _written(person: Person) -> list[dict[str, str]]:
    return [
        {"label": NAMES[name], "words": getattr(person, name)}
        for name in LINES
        if name != "name" and getattr(person, name)
    ]


def _print(seen: PieceView, person_id: int) -> dict[str, str]:
    """A print of somebody's as a row of what was found."""
    drawn = mark_of(seen)
    return {
        "mark": drawn.mark, "number_shown": seen.figure, "shown": seen.shown, "title": seen.title,
        "href": f"/pieces/{seen.id}", "words": _relation(seen, person_id, drawn.phrase),
    }  # fmt: skip


def _relation(seen: PieceView, person_id: int, phrase: str) -> str:
    if seen.order_stands and seen.sold_on:
        return f"Sold {dates.said(seen.sold_on)}, not handed over yet"
    if seen.holder_id != person_id:
        return f"Held before. Now {phrase}"
    how = {"gift": "a gift", "donation": "donated", "exchange": "by exchange"}.get(seen.how or "", "")
    if seen.line_id is not None and seen.sold_on:
        how = f"bought {dates.said(seen.sold_on)}"
    return f"Holds it{f', {how}' if how else ''}"


def _story(events: list[Event], seen: Mapping[int, PieceView], tell: Callable[[Event], str]) -> list[Line]:
    """What happened, one line an entry, the prints it is about named with their titles."""
    told = []
    for (seq, _), together in groupby(events, key=lambda event: (event.entry_seq, event.kind)):
        group = list(together)
        prints = [seen[event.piece_id] for event in group if event.piece_id is not None]
        named = [part for one in prints for part in (Part(f"{one.shown} {one.title}", f"/pieces/{one.id}"), Part(", "))]
        words = [*named[:-1], *([Part(". ")] if named else []), Part(tell(group[0]))]
        told.append(Line(dates.said(group[0].happened_on), words, str(seq)))
    return told


@pages.post("/{person_id}/correct")
def correct(request: Request, house: Here, who: Signed, sent: Sent, person_id: Id) -> Response:
    def act(book: Book) -> str:
        people.correct(book, person_id, sent.text("field"), sent.text("new"), sent.text("why"))
        return f"/people/{person_id}"

    try:
        done = house.record(who, act, sent.repeat)
    except Refusal as refusal:
        told = Refusal(refusal.message, field="new") if refusal.field in LINES else refusal
        form = sent.refused("Not put right", told)
        return _page(request, house, person_id, form, answers.status_of(refusal))
    return answers.see(done.path)


@pages.get("/{person_id}/erase")
def read_back(request: Request, house: Here, who: Signed, person_id: Id) -> Response:
    """What goes and what stays, before a name is erased."""
    return _read_back(request, house, person_id, blank())


def _read_back(request: Request, house: House, person_id: int, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        person = people.get(session, person_id)
        theirs = search.pieces_of_people(session, [person_id])
    if person.erased_at is not None:
        raise Refusal("This name was erased already.")
    kept = [NAMES[name].lower() for name in LINES if getattr(person, name)]
    return render(
        request, "people/erase.html", status,
        form=form, name=person.name, action=f"/people/{person_id}/erase", home=f"/people/{person_id}",
        goes=_goes(kept), stays=_stays(len(theirs)),
    )  # fmt: skip


def _goes(kept: list[str]) -> list[str]:
    lines = f"{', '.join(kept[:-1])} and {kept[-1]}" if len(kept) > 1 else kept[0]
    return [
        f"What is written here: {lines}.",
        "The name, wherever you wrote it in a note or a reason.",
        "What sealed the name in the record: nobody can show afterwards that it stood there.",
    ]


def _stays(prints: int) -> list[str]:
    many = f"more than {search.MOST}" if prints > search.MOST else str(prints)
    held = "The one print" if prints == 1 else f"The {many} prints"
    kept = [f"{held} held or bought, with days and amounts, under no name."] if prints else []
    return [
        *kept,
        "Every entry of the record, and its root: they never held the name in the clear.",
        "Certificates: they never named an owner.",
        "Copies outside this book: your backups, lists you saved, letters. Look after those yourself.",
    ]


@pages.post("/{person_id}/erase")
def erase(request: Request, house: Here, who: Signed, sent: Sent, person_id: Id) -> Response:
    def act(book: Book) -> str:
        name = people.get(book.session, person_id).name or ""
        typed = sent.text("typed_name")
        if not typed.strip() or folded_words(typed) != folded_words(name):
            raise Refusal(f"Type “{name}” to erase it.", field="typed_name")
        people.erase(book, person_id)
        return f"/people/{person_id}"

    try:
        done = house.record(who, act, sent.repeat)
    except Refusal as refusal:
        if refusal.field is None:
            raise
        form = sent.refused("Not erased", refusal)
        return _read_back(request, house, person_id, form, answers.status_of(refusal))
    return answers.see(done.path)


# The API


def as_json(person: Person) -> dict[str, Any]:
    """Somebody as the API says it; every line is null once the name was erased."""
    erased_on = day(person.erased_at.date()) if person.erased_at else None
    return {
        "id": person.id, "kind": person.kind, **{name: getattr(person, name) for name in LINES}, "erased_on": erased_on,
    }  # fmt: skip


def _one(house: House, person_id: int) -> dict[str, Any]:
    with reading(house.engine) as session:
        return as_json(people.get(session, person_id))


@api.post("", status_code=201)
def add(request: Request, house: Here, who: Bearer, shape: PersonShape) -> Response:
    """Write somebody down."""
    done = house.record(who, _adding(shape, "/api/people"), answers.repeat_of(request, shape))
    return answers.made(done, _one(house, int(done.path.rsplit("/", 1)[1])))


@api.get("")
def every(house: Here, who: Bearer, after: After = 0, limit: Limit = 100) -> dict[str, Any]:
    """People in the order they were written down, those whose names were erased too."""
    with reading(house.engine) as session:
        found = people.after(session, after, limit + 1)
    items = [as_json(person) for person in found[:limit]]
    return {"items": items, "next": found[limit - 1].id if len(found) > limit else None}


@api.get("/{person_id}")
def one(house: Here, who: Bearer, person_id: Id) -> dict[str, Any]:
    """Somebody in the book."""
    return _one(house, person_id)
