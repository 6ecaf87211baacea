"""Fairs and rounds, the ways of selling with their usual costs, and the API of both."""

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
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.sale_form import unit_of, usual_channel
from ledger.web.sale_shapes import Id, bare_field, minor
from ledger.web.sales_api import last_number
from ledger.web.sentences import Slips
from ledger.web.shapes import Amount, Percent, Shape, amount, day, percent_said
from ledger.web.sign_in import Bearer, Signed

pages = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["fairs and channels"])
After = Annotated[int, Query(ge=0, le=2**53)]
Limit = Annotated[int, Query(ge=1, le=200)]
KINDS = (
    ("fair", "At a fair", "A stand: its cost is shared over what sells there."),
    ("web", "On the web", "A page of your own, or somebody else's."),
    ("gallery", "Through galleries", "Prints lent to be sold."),
    ("direct", "Directly", "From the studio, or to somebody you know."),
)
FAIR_LABELS = {
    "from_on": "First day", "to_on": "Last day", "channel_id": "Sold as", "cost": "What the pitch cost",
    "fee": "Card fee",
}  # fmt: skip
CHANNEL_LABELS = {"fee": "Fee", "fee_each": "Fee on each payment"}
FAIRS = "Fairs"


# Fairs and rounds


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
        currency = studio.currency(session) if studio.find_studio(session) else "GBP"
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
        form = sent.refused("Not written down", no, FAIR_LABELS)
        return _fairs_page(request, house, form, status_of(no) if isinstance(no, Refusal) else 422)
    return answers.see(done.path)


# Ways of selling


class ChannelShape(Shape):
    """A way of selling and its usual costs: a fee in per cent and on each payment, packing, postage."""

    name: str
    kind: Literal["fair", "web", "gallery", "direct"]
    fee: Percent = 0
    fee_each: Amount | None = None
    packing: Amount | None = None
    postage: Amount | None = None

    def draft(self, currency: str) -> ChannelDraft:
        """Raises Slips."""
        return ChannelDraft(
            name=self.name,
            kind=self.kind,
            fee_bp=self.fee,
            fee_minor=minor(self.fee_each, currency, "fee_each") or 0,
            packing_minor=minor(self.packing, currency, "packing") or 0,
            postage_minor=minor(self.postage, currency, "postage") or 0,
        )


NAMES = {"fee_bp": "fee", "fee": "fee_each"}


def _write_way(book: Book, shape: ChannelShape, channel_id: int | None) -> Channel:
    """Raises Refusal, its field named as both doors name it."""
    draft = shape.draft(studio.currency(book.session))
    try:
        if channel_id is None:
            return occasions.add_channel(book, draft)
        return occasions.change_channel(book, channel_id, draft)
    except Refusal as no:
        raise bare_field(no, NAMES) from no


@pages.get("/settings/channels")
def channels(request: Request, house: Here, who: Signed) -> Response:
    """The ways of selling, and the form for another."""
    return _channels_page(request, house, blank({"kind": "fair"}))


@pages.get("/settings/channels/{channel_id}")
def channel(request: Request, house: Here, who: Signed, channel_id: int) -> Response:
    """The form with which one way of selling gets other usual costs."""
    with reading(house.engine) as session:
        way, currency = occasions.get_channel(session, channel_id), studio.currency(session)
    values = {
        "name": way.name, "kind": way.kind, "fee": percent_said(way.fee_bp),
        "fee_each": money.plain(way.fee_minor, currency), "packing": money.plain(way.packing_minor, currency),
        "postage": money.plain(way.postage_minor, currency),
    }  # fmt: skip
    return _channels_page(request, house, blank(values), way=way)


def _channels_page(
    request: Request, house: House, form: Form, status: int = 200, way: Channel | None = None
) -> Response:
    with reading(house.engine) as session:
        currency = studio.currency(session) if studio.find_studio(session) else "GBP"
        rows = [_way_row(each, currency) for each in occasions.channels(session)]
    return render(
        request, "costs/channels.html", status, form=form, rows=rows, unit=unit_of(currency),
        kinds=[{"value": value, "words": words, "more": more} for value, words, more in KINDS],
        changing=way.name if way else "", action=f"/settings/channels/{way.id}" if way else "/settings/channels",
    )  # fmt: skip


def _way_row(way: Channel, currency: str) -> dict[str, str]:
    parts = [f"{percent_said(way.fee_bp)}% of each payment"] if way.fee_bp else []
    for minor_units, words in (
        (way.fee_minor, "on each payment"),
        (way.packing_minor, "to pack a print"),
        (way.postage_minor, "to post a sale"),
    ):
        if minor_units:
            parts.append(f"{money.shown(minor_units, currency)} {words}")
    kind = next(words for value, words, _ in KINDS if value == way.kind)
    return {
        "name": way.name, "href": f"/settings/channels/{way.id}",
        "words": f"{kind}. {', '.join(parts) or 'No usual costs'}.",
    }  # fmt: skip


@pages.post("/settings/channels")
def add_channel(request: Request, house: Here, who: Signed, sent: Sent) -> Response:
    return _write_channel(request, house, who, sent, None)


@pages.post("/settings/channels/{channel_id}")
def change_channel(request: Request, house: Here, who: Signed, channel_id: int, sent: Sent) -> Response:
    """Other usual costs from now on; sales recorded keep theirs."""
    with reading(house.engine) as session:
        way = occasions.get_channel(session, channel_id)
    return _write_channel(request, house, who, sent, way)


def _write_channel(request: Request, house: House, who: Signed, sent: Sent, way: Channel | None) -> Response:
    def act(book: Book) -> str:
        shape = sent.read(ChannelShape, studio.currency(book.session))
        _write_way(book, shape, way.id if way else None)
        return "/settings/channels"

    try:
        done = house.record(who, act, sent.repeat)
    except (Refusal, Slips) as no:
        form = sent.refused("Not written down", no, CHANNEL_LABELS)
        return _channels_page(request, house, form, status_of(no) if isinstance(no, Refusal) else 422, way)
    return answers.see(done.path)


# The API


def occasion_json(fair: Occasion) -> dict[str, Any]:
    """A fair or a round as the API gives it."""
    return {
        "id": fair.id, "name": fair.name, "kind": fair.kind, "from_on": day(fair.from_on), "to_on": day(fair.to_on),
        "channel_id": fair.channel_id,
    }  # fmt: skip


def channel_json(way: Channel, currency: str) -> dict[str, Any]:
    """A way of selling as the API gives it."""
    return {
        "id": way.id, "name": way.name, "kind": way.kind, "fee": way.fee_bp / 100,
        "fee_each": amount(way.fee_minor, currency), "packing": amount(way.packing_minor, currency),
        "postage": amount(way.postage_minor, currency),
    }  # fmt: skip


def _paged(items: list[Any], after: int, limit: int) -> tuple[list[Any], int | None]:
    rest = [each for each in items if (each.id or 0) > after]
    return rest[:limit], rest[limit - 1].id if len(rest) > limit else None


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
        found, next_ = _paged(occasions.all_in_order(session), after, limit)
    return {"items": [occasion_json(each) for each in found], "next": next_}


@api.get("/occasions/{occasion_id}")
def one_occasion(house: Here, who: Bearer, occasion_id: int) -> dict[str, Any]:
    """One fair or round."""
    with reading(house.engine) as session:
        return occasion_json(occasions.get(session, occasion_id))


@api.post("/channels", status_code=201)
def add_way(request: Request, house: Here, who: Bearer, shape: ChannelShape) -> Response:
    """Write down a way of selling and its usual costs."""

    def act(book: Book) -> str:
        return f"/api/channels/{_write_way(book, shape, None).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, one_channel(house, who, last_number(done.path)))


@api.get("/channels")
def all_channels(house: Here, who: Bearer, after: After = 0, limit: Limit = 50) -> dict[str, Any]:
    """The ways of selling in the order they were written down."""
    with reading(house.engine) as session:
        found, next_ = _paged(occasions.channels(session), after, limit)
        currency = studio.currency(session)
    return {"items": [channel_json(each, currency) for each in found], "next": next_}


@api.get("/channels/{channel_id}")
def one_channel(house: Here, who: Bearer, channel_id: int) -> dict[str, Any]:
    """One way of selling."""
    with reading(house.engine) as session:
        return channel_json(occasions.get_channel(session, channel_id), studio.currency(session))
