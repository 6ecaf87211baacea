"""One print: its page, its story, the acts that are open to it, and the same through the API."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import (
    certificates,
    clock,
    editions,
    evidence,
    making_costs,
    people,
    pieces,
    provenance,
    reports,
    studio,
    works,
)
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.making_costs import Making
from ledger.pieces import PieceView
from ledger.reckoning import codes, dates, money
from ledger.tables import SaleLine
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.marks import mark_of
from ledger.web.pages import render
from ledger.web.piece_acts import ACTS, BY_SLUG, PieceAct
from ledger.web.plates import plate
from ledger.web.sentences import Slips
from ledger.web.shapes import Id, Shape
from ledger.web.sign_in import Bearer, Signed
from ledger.web.story import lines

pages = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["pieces"])


def piece_json(seen: PieceView) -> dict[str, Any]:
    """A piece as the API says it."""
    certificate = {"code": seen.code, "state": seen.certificate_state} if seen.code else None
    return {
        "id": seen.id,
        "edition_id": seen.edition_id,
        "class": seen.class_kind,
        "number": seen.number,
        "of": seen.of or None,
        "shown": seen.shown,
        "inscription": seen.inscription,
        "generation": seen.generation,
        "state": seen.state,
        "condition": seen.condition,
        "standing": seen.standing,
        "size_id": seen.size_id,
        "certificate": certificate,
    }


@pages.get("/pieces/{piece_id}")
def page(request: Request, house: Here, who: Signed, piece_id: Id) -> Response:
    """One print: four answers, its story, what may happen next."""
    with reading(house.engine) as session:
        seen = pieces.view(session, piece_id)
        prints = pieces.generations(session, seen)
        told = lines(session, pieces.story(session, [each.id for each in prints]))
        current = certificates.live_of(session, piece_id)
        view = certificates.as_view(current) if current else None
        place = evidence.place_of(session, view.id).words if view else ""
        line = pieces.order_on(session, piece_id)
        left = reports.left_of_lines(session, [line]).get(line.id or 0) if line else None
        kept_in = studio.currency(session)
        made_here = seen.state == "inscribed" and seen.origin == "made"
        made = making_costs.of_pieces(session, {piece_id: seen.edition_id})[piece_id] if made_here else None
        picture = works.picture_of(session, seen.work_id)
        chain = provenance.owners(session, piece_id)
    drawn = mark_of(seen)
    piece = {
        "shown": seen.shown,
        "title": seen.title,
        "edition_href": f"/editions/{seen.edition_id}",
        "picture": plate(picture, seen.title),
        "mark": drawn.mark,
        "standing": drawn.phrase[0].upper() + drawn.phrase[1:] + ".",
        "standing_more": _more(seen, prints),
        "where": _where(seen),
        "holder": _holder(seen),
        "certificate": _certificate(view, place) if view else None,
        "certificate_note": _certificate_note(seen),
        "cost": _cost(made, kept_in) if made else "",
        "left": "" if left is None else _left(left, kept_in),
    }
    owners = [_owner(each) for each in chain]
    return render(
        request, "pieces/one.html", piece=piece, owners=owners, story=told, acts=_acts(seen, line), cannot=_cannot(seen)
    )


def _more(seen: PieceView, prints: list[PieceView]) -> str:
    if not seen.latest:
        return "A later print has its number now."
    alive = [each for each in prints if each.id != seen.id and each.condition in ("good", "damaged")]
    if alive:
        return "Two prints of this number exist: the first was found again."
    again = seen.generation > 1 and mark_of(seen).mark != "sold_second"
    return "The second print of this number." if again else ""


HOW = {
    "made": "made it", "sale": "by purchase", "gift": "a gift", "exchange": "by exchange", "donation": "donated",
    "inheritance": "inherited", "return": "came back", "replacement": "in place of the first print", "entered": "",
}  # fmt: skip


def _owner(each: provenance.Owner) -> dict[str, str]:
    since = dates.said(each.from_on) if each.from_on else each.from_words or ""
    return {"name": each.name[0].upper() + each.name[1:], "how": HOW[each.how], "since": since}


def _where(seen: PieceView) -> str:
    since = f", since {dates.said(seen.since_on)}" if seen.since_on else ""
    named = f" {seen.keeper_name}" if seen.keeper_name else ""
    here = since if seen.holder == "maker" else f"{since}, not handed to its owner yet"
    return {
        "studio": f"In the studio{here}.",
        "van": f"In the van{here}.",
        "gallery": f"At{named or ' a gallery'}{since}.",
        "framer": f"At{named or ' the framer'}{since}.",
        "loan": f"On loan{' to' if named else ''}{named}{since}.",
        "post": f"In the post{since}.",
        "holder": f"With its owner{since}.",
        "unknown": f"Not known{since}.",
    }.get(seen.place or "", "Nowhere: there is no such print now." if seen.state == "inscribed" else "Not made yet.")


def _holder(seen: PieceView) -> Any:
    how = seen.from_words or HOW.get(seen.how or "", "")
    after = f", {how}" if how else ""
    if seen.holder == "person":
        return [
            {"words": seen.holder_name or "name erased", "href": f"/people/{seen.holder_id}"},
            {"words": f"{after}. Not named in public.", "href": ""},
        ]
    return {
        "maker": "You.",
        "estate": f"The estate{after}.",
        "private": f"A private owner{after}.",
        "unknown": f"Not known{after}.",
    }.get(seen.holder or "", "Nobody.")


def _certificate(view: certificates.CertificateView, place: str) -> dict[str, str]:
    state = {"valid": "Stands.", "suspended": "On hold."}[view.state]
    return {
        "code_shown": codes.grouped(view.code),
        "words": f"{state} Issued {dates.said(view.issued_on)}. {place}",
        "pdf_href": f"/certificates/{view.id}.pdf",
        "public_href": f"/c/{view.code}",
    }


def _certificate_note(seen: PieceView) -> Any:
    if seen.state != "inscribed":
        return "None yet: the pencil comes first."
    if not seen.latest or seen.condition not in ("good", "damaged"):
        return "None that stands."
    return [{"words": "None yet. ", "href": ""}, {"words": "Issue it", "href": f"/certificates/new?piece={seen.id}"}]


def _cost(made: Making, kept_in: str) -> str:
    all_in, without = (money.half_up(each) for each in (made.with_own_labour, made.without_own_labour))
    if not all_in:
        return "Nothing is written down yet."
    own = f"; {money.shown(without, kept_in)} without own time" if without != all_in else ""
    return f"{money.shown(all_in, kept_in)} to make so far{own}."


def _left(left: int, kept_in: str) -> str:
    return f"{money.shown(left, kept_in)} so far, after what it cost to make and to sell."


def _acts(seen: PieceView, line: SaleLine | None) -> list[dict[str, str]]:
    links = [
        {"href": f"/pieces/{seen.id}/{act.slug}", "words": act.words, "help": act.help}
        for act in ACTS
        if act.open(seen)
    ]
    if seen.ours or (seen.state == "allocated" and seen.line_id is None):
        links.insert(
            0,
            {
                "href": f"/sales/new?piece={seen.id}",
                "words": "Sell it",
                "help": "At a fair, directly, or through the gallery that has it.",
            },
        )
    if line is not None:
        links.append(
            {
                "href": f"/sales/{line.sale_id}",
                "words": "Its sale",
                "help": "Hand it over, write down money, say that it came back, or was not sold after all.",
            }
        )
    if seen.code:
        links.append(
            {
                "href": f"/certificates/{seen.certificate_id}",
                "words": "Its certificate",
                "help": "Print it or its label, reissue it, or declare it void.",
            }
        )
    return links


def _cannot(seen: PieceView) -> str:
    if seen.line_id is not None:
        return f"It cannot be sold again by you: it {pieces.what_it_is(seen)}."
    return ""


@dataclass(frozen=True)
class _Choice:
    value: str
    words: str
    more: str = ""


def _act_page(
    request: Request, house: House, seen: PieceView, act: PieceAct, form: Form, status: int = 200
) -> Response:
    with reading(house.engine) as session:
        known = [_Choice("", "Nobody in the book")] + [
            _Choice(str(person.id), person.name or "") for person in people.listing(session)
        ]
        sizes = [
            _Choice(str(size.id), size.label) for size in editions.facts(session, seen.edition_id, clock.today()).sizes
        ]
    fields = [
        {
            "control": "select" if field.control == "people" else field.control,
            "name": field.name,
            "label": field.label,
            "help": field.help,
            "options": known if field.control == "people" else [_Choice(*option) for option in field.options],
        }
        for field in act.fields
    ]
    if act.slug in ("inscribe",) and seen.size_id is None and len(sizes) > 1:
        fields.insert(0, {"control": "select", "name": "size_id", "label": "Which size", "help": "", "options": sizes})
    return render(
        request,
        "pieces/act.html",
        status,
        piece={"shown": seen.shown, "title": seen.title, "href": f"/pieces/{seen.id}"},
        act={"words": act.words, "help": act.help, "button": act.button, "grave": act.grave},
        fields=fields,
        form=form,
        action=f"/pieces/{seen.id}/{act.slug}",
    )


def _known(slug: str) -> PieceAct:
    if slug not in BY_SLUG:
        raise Refusal("There is nothing at this address.", missing=True)
    return BY_SLUG[slug]


@pages.get("/pieces/{piece_id}/{slug}")
def act_form(request: Request, house: Here, who: Signed, piece_id: Id, slug: str) -> Response:
    """The form of one act."""
    act = _known(slug)
    with reading(house.engine) as session:
        seen = pieces.view(session, piece_id)
    defaults = {"restore": "true", "holder": "person"}
    return _act_page(request, house, seen, act, blank(defaults))


@pages.post("/pieces/{piece_id}/{slug}")
def act_sent(request: Request, house: Here, who: Signed, piece_id: Id, slug: str, sent: Sent) -> Response:
    """Carry out one act, and show the print as it is now."""
    act = _known(slug)
    try:
        shape = sent.read(act.shape)
        done = house.record(who, _doing(act, piece_id, shape), sent.repeat)
    except (Refusal, Slips) as no:
        with reading(house.engine) as session:
            seen = pieces.view(session, piece_id)
        status = status_of(no) if isinstance(no, Refusal) else 422
        return _act_page(request, house, seen, act, sent.refused(act.no, no), status)
    return answers.see(done.path)


def _doing(act: PieceAct, piece_id: int, shape: Shape) -> Callable[[Book], str]:
    def do(book: Book) -> str:
        made = act.act(book, piece_id, shape)
        shown = made.id if act.slug == "replace" else piece_id
        return f"/pieces/{shown}"

    return do


@api.get("/pieces/{piece_id}")
def one(house: Here, who: Bearer, piece_id: Id) -> dict[str, Any]:
    """One piece."""
    with reading(house.engine) as session:
        return piece_json(pieces.view(session, piece_id))


def _door(act: PieceAct) -> Callable[..., Response]:
    def door(request: Request, house: Here, who: Bearer, piece_id: Id, shape: Shape) -> Response:
        done = house.record(who, _doing(act, piece_id, shape), answers.repeat_of(request, shape))
        with reading(house.engine) as session:
            return answers.made(done, piece_json(pieces.view(session, int(done.path.rsplit("/", 1)[1]))))

    door.__annotations__["shape"] = act.shape
    door.__name__ = act.slug
    door.__doc__ = act.help
    return door


for _act in ACTS:
    api.add_api_route(
        f"/pieces/{{piece_id}}/{_act.slug}", _door(_act), methods=["POST"], status_code=201, response_model=None
    )
