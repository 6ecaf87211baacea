"""The ways of selling, with their usual costs: the page under Settings, and the API."""

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from ledger import occasions, studio
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.occasions import ChannelDraft
from ledger.reckoning import money
from ledger.tables import Channel
from ledger.web import answers
from ledger.web.answers import status_of
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Here, House
from ledger.web.pages import render
from ledger.web.sale_shapes import bare_field, minor
from ledger.web.sale_sum import unit_of
from ledger.web.sales_api import last_number
from ledger.web.sentences import Slips
from ledger.web.shapes import After, Amount, Id, Percent, Shape, amount, percent_said
from ledger.web.sign_in import Bearer, Signed

pages = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["ways of selling"])
Limit = Annotated[int, Query(ge=1, le=200)]
KINDS = (
    ("fair", "At a fair", "A stand: its cost is shared over what sells there."),
    ("web", "On the web", "A page of your own, or somebody else’s."),
    ("gallery", "Through galleries", "Prints lent to be sold."),
    ("direct", "Directly", "From the studio, or to somebody you know."),
)


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
def channel(request: Request, house: Here, who: Signed, channel_id: Id) -> Response:
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
        currency = studio.currency(session)
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
def change_channel(request: Request, house: Here, who: Signed, channel_id: Id, sent: Sent) -> Response:
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
        form = sent.refused("Not written down", no)
        return _channels_page(request, house, form, status_of(no) if isinstance(no, Refusal) else 422, way)
    return answers.see(done.path)


def channel_json(way: Channel, currency: str) -> dict[str, Any]:
    """A way of selling as the API gives it."""
    return {
        "id": way.id, "name": way.name, "kind": way.kind, "fee": way.fee_bp / 100,
        "fee_each": amount(way.fee_minor, currency), "packing": amount(way.packing_minor, currency),
        "postage": amount(way.postage_minor, currency),
    }  # fmt: skip


def paged(items: list[Any], after: int, limit: int) -> tuple[list[Any], int | None]:
    """The rows after an id, as many as asked for, and where the next page begins."""
    rest = [each for each in items if (each.id or 0) > after]
    return rest[:limit], rest[limit - 1].id if len(rest) > limit else None


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
        found, next_ = paged(occasions.channels(session), after, limit)
        currency = studio.currency(session)
    return {"items": [channel_json(each, currency) for each in found], "next": next_}


@api.get("/channels/{channel_id}")
def one_channel(house: Here, who: Bearer, channel_id: Id) -> dict[str, Any]:
    """One way of selling."""
    with reading(house.engine) as session:
        return channel_json(occasions.get_channel(session, channel_id), studio.currency(session))
