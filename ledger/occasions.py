"""Where prints are sold: channels with their usual costs, and occasions, a fair or a delivery round."""

from datetime import date
from typing import Literal

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import journal
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.reckoning.texts import tidy
from ledger.tables import Channel, Occasion


class ChannelDraft(BaseModel):
    """A way of selling and its usual costs (minor units): the card firm's or site's fee, packing, postage."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    name: str
    kind: Literal["fair", "web", "gallery", "direct"]
    fee_bp: int = 0
    fee_minor: int = 0
    packing_minor: int = 0
    postage_minor: int = 0


class OccasionDraft(BaseModel):
    """A fair or another day of selling, or a round on which prints are delivered."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    name: str
    kind: Literal["selling", "round"]
    from_on: date
    to_on: date
    channel_id: int | None = None


def add_channel(book: Book, draft: ChannelDraft) -> Channel:
    """Write down a way of selling. Raises Refusal."""
    channel = Channel(name="", kind=draft.kind)
    _write_channel(book, channel, draft)
    return channel


def change_channel(book: Book, channel_id: int, draft: ChannelDraft) -> Channel:
    """Give a way of selling other usual costs; sales recorded keep theirs. Raises Refusal."""
    channel = get_channel(book.session, channel_id)
    _write_channel(book, channel, draft)
    return channel


def _write_channel(book: Book, channel: Channel, draft: ChannelDraft) -> None:
    name = tidy(draft.name, "The name", limit=60, field="name")
    same = select(Channel.id).where(Channel.name == name, col(Channel.id).is_distinct_from(channel.id))
    if book.session.exec(same).first() is not None:
        raise Refusal(f"“{name}” is there already. Change that one, or name this one otherwise.", field="name")
    if not 0 <= draft.fee_bp <= 10_000:
        raise Refusal("A fee lies between 0 and 100 %. Write 1.75 for 1.75 %.", field="fee_bp")
    for field in ("fee", "packing", "postage"):
        if getattr(draft, f"{field}_minor") < 0:
            raise Refusal("An amount here is nought or more.", field=field)
    figures = draft.model_dump(exclude={"name", "kind"})
    channel.name, channel.kind = name, draft.kind
    for field, figure in figures.items():
        setattr(channel, field, figure)
    book.session.add(channel)
    book.session.flush()
    journal.sealed(
        book,
        "channel",
        {"channel": channel.id, "kind": channel.kind, **figures},
        Touched("channel", book.today),
        person={"name": name},
    )


def add(book: Book, draft: OccasionDraft) -> Occasion:
    """Write down a fair or a round; what it cost is entered with it as basis. Raises Refusal."""
    name = tidy(draft.name, "The name", limit=80, field="name")
    if draft.to_on < draft.from_on:
        raise Refusal("The last day comes before the first. Put one of them right.", field="to_on")
    if draft.channel_id is not None:
        get_channel(book.session, draft.channel_id)
    occasion = Occasion(**draft.model_dump(exclude={"name"}), name=name)
    book.session.add(occasion)
    book.session.flush()
    journal.sealed(
        book,
        "occasion",
        {
            "occasion": occasion.id,
            "kind": occasion.kind,
            "from_on": occasion.from_on.isoformat(),
            "to_on": occasion.to_on.isoformat(),
            "channel": occasion.channel_id or 0,
        },
        Touched("occasion", occasion.from_on),
        person={"name": name},
    )
    return occasion


def get_channel(session: Session, channel_id: int) -> Channel:
    """Raises Refusal (missing)."""
    channel = session.get(Channel, channel_id)
    if channel is None:
        raise Refusal(f"No way of selling has the number {channel_id}.", missing=True)
    return channel


def channel_named(session: Session, name: str) -> Channel:
    """Raises Refusal, naming those there are."""
    channel = session.exec(select(Channel).where(Channel.name == name)).first()
    if channel is None:
        there_are = ", ".join(each.name for each in channels(session)) or "none yet"
        raise Refusal(f"No way of selling is called “{name}”. There are: {there_are}.", field="channel")
    return channel


def channels(session: Session) -> list[Channel]:
    """Every way of selling, in the order they were written down."""
    return list(session.exec(select(Channel).order_by(col(Channel.id))))


def get(session: Session, occasion_id: int) -> Occasion:
    """Raises Refusal (missing)."""
    occasion = session.get(Occasion, occasion_id)
    if occasion is None:
        raise Refusal(f"No fair or round has the number {occasion_id}.", missing=True)
    return occasion


def listing(session: Session, limit: int = 50) -> list[Occasion]:
    """Fairs and rounds, the latest first."""
    return list(
        session.exec(select(Occasion).order_by(col(Occasion.from_on).desc(), col(Occasion.id).desc()).limit(limit))
    )


def all_in_order(session: Session) -> list[Occasion]:
    """Every fair and round, in the order they were written down."""
    return list(session.exec(select(Occasion).order_by(col(Occasion.id))))


def open_fair(session: Session, day: date) -> Occasion | None:
    """The fair that is on that day; of several the one written down last."""
    return session.exec(
        select(Occasion)
        .where(Occasion.kind == "selling", col(Occasion.from_on) <= day, col(Occasion.to_on) >= day)
        .order_by(col(Occasion.id).desc())
    ).first()
