"""Fairs and rounds: the page with the form for the next, and the API."""

from datetime import date
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from ledger import clock, costs, occasions, reports, studio
from ledger.costs import CostDraft
from ledger.database import Book, Session, reading
from ledger.errors import Refusal
from ledger.occasions import ChannelDraft, OccasionDraft
from ledger.reckoning import dates, money
from ledger.tables import Channel, Occasion
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.channels import paged
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.sale_form import usual_channel
from ledger.web.sale_shapes import minor
from ledger.web.sale_sum import unit_of
from ledger.web.sales_api import last_number
from ledger.web.sentences import Slips
from ledger.web.shapes import After, Amount, Id, Percent, Shape, day
from ledger.web.sign_in import Bearer, Signed

pages = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["fairs"])
Limit = Annotated[int, Query(ge=1, le=200)]
FAIRS = "Fairs"


class OccasionShape(Shape):
    """A fair or another day of selling, or a round on which prints are delivered."""

    name: str
    kind: Literal["selling", "round"]
    from_on: date
    to_on: date
    channel_id: Id | None = None

    def draft(self) -> OccasionDraft:
        return OccasionDraft(**self.model_dump())


class FairForm(Shape):
    """The form of a fair or a round, with what its pitch or its journey cost where that is known already.

    `fee` and `packing` are asked only while no way of selling at fairs is written down.
    """

    name: str
    kind: Literal["selling", "round"] = "selling"
    from_on: date
    to_on: date | None = None
    channel_id: Id | None = None
    cost: Amount | None = None
    fee: Percent = 0
    packing: Amount | None = None
    stall: str = ""

    def record(self, book: Book) -> Occasion:
        """The fair, its way of selling where there is none yet, and its cost, in one act."""
        currency = studio.currency(book.session)
        channel_id = self.channel_id
        if channel_id is None and self.kind == "selling" and not _fair_ways(book.session):
            way = ChannelDraft(
                name=FAIRS, kind="fair", fee_bp=self.fee, packing_minor=minor(self.packing, currency, "packing") or 0
            )
            channel_id = occasions.add_channel(book, way).id
        draft = OccasionDraft(
            name=self.name,
            kind=self.kind,
            from_on=self.from_on,
            to_on=self.to_on or self.from_on,
            channel_id=channel_id,
        )
        fair = occasions.add(book, draft)
        cost = minor(self.cost, currency, "cost")
        if cost:
            spent_on = min(self.from_on, book.today)
            costs.add(book, CostDraft(basis="occasion", target_id=fair.id, amount_minor=cost, spent_on=spent_on))
        return fair


def _fair_ways(session: Session) -> list[Channel]:
    return [each for each in occasions.channels(session) if each.kind == "fair"]


@pages.get("/costs/fairs")
def fairs(request: Request, house: Here, who: Signed, stall: str = "") -> Response:
    """The fairs and rounds, and the form for the next."""
    today = clock.today().isoformat()
    with reading(house.engine) as session:
        way = usual_channel(session, "fair") if _fair_ways(session) else None
    values = {"kind": "selling", "from_on": today, "to_on": today, "stall": stall}
    values["channel_id"] = str(way.id) if way else ""
    return _fairs_page(request, house, blank(values))


def _fairs_page(request: Request, house: House, form: Form, status: int = 200) -> Response:
    with reading(house.engine) as session:
        currency = studio.currency(session)
        ways = [{"value": each.id, "words": each.name} for each in occasions.channels(session)]
        rows = [_fair_row(session, each, currency) for each in occasions.listing(session)]
        no_way = not _fair_ways(session)
    return render(
        request, "costs/fairs.html", status, form=form, action="/costs/fairs", rows=rows, unit=unit_of(currency),
        ways=[] if no_way else [{"value": "", "words": "Not said"}, *ways],
    )  # fmt: skip


def _fair_row(session: Session, fair: Occasion, currency: str) -> dict[str, str]:
    so_far = reports.pitch(session, fair.id or 0)
    sold = "1 sold" if so_far.sold == 1 else f"{so_far.sold} sold" if so_far.sold else "none sold"
    if fair.kind == "round":
        words = f"A round. It cost {money.shown(so_far.cost, currency)}."
    else:
        brought = money.shown(so_far.brought, currency)
        words = f"{sold}, bringing {brought}; it cost {money.shown(so_far.cost, currency)}."
    return {
        "name": fair.name, "on": dates.span(fair.from_on, fair.to_on), "words": words[0].upper() + words[1:],
        "cost_href": f"/costs?on=occasion+{fair.id}",
    }  # fmt: skip


@pages.post("/costs/fairs")
def add_fair(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    def act(book: Book) -> str:
        shape = sent.read(FairForm, studio.currency(book.session))
        shape.record(book)
        return "/stall" if shape.stall else "/costs/fairs"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        form = sent.refused("Not written down", no)
        return _fairs_page(request, house, form, status_of(no) if isinstance(no, Refusal) else 422)
    return answers.see(done.path)


def occasion_json(fair: Occasion) -> dict[str, Any]:
    """A fair or a round as the API gives it."""
    return {
        "id": fair.id, "name": fair.name, "kind": fair.kind, "from_on": day(fair.from_on), "to_on": day(fair.to_on),
        "channel_id": fair.channel_id,
    }  # fmt: skip


@api.post("/occasions", status_code=201)
def add_occasion(request: Request, house: Here, who: Bearer, shape: OccasionShape) -> Response:
    """Write down a fair or a round."""

    def act(book: Book) -> str:
        return f"/api/occasions/{occasions.add(book, shape.draft()).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, one_occasion(house, who, last_number(done.path)))


@api.get("/occasions")
def all_occasions(house: Here, who: Bearer, after: After = 0, limit: Limit = 50) -> dict[str, Any]:
    """The fairs and rounds in the order they were written down."""
    with reading(house.engine) as session:
        found, next_ = paged(occasions.all_in_order(session), after, limit)
    return {"items": [occasion_json(each) for each in found], "next": next_}


@api.get("/occasions/{occasion_id}")
def one_occasion(house: Here, who: Bearer, occasion_id: Id) -> dict[str, Any]:
    """One fair or round."""
    with reading(house.engine) as session:
        return occasion_json(occasions.get(session, occasion_id))
