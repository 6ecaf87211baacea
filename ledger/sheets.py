"""Sheet plans: how prints are ganged on a lab sheet, and what each of them is for, kept."""

from dataclasses import dataclass
from datetime import date

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import editions, journal
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.paper import faces
from ledger.reckoning import dates, sheet_plan
from ledger.reckoning.measures import by_measure
from ledger.reckoning.sheet_layout import Job
from ledger.reckoning.sheet_plan import Planned
from ledger.reckoning.texts import tidy
from ledger.tables import Edition, Run, SheetPlan, SheetPlanSize, Size, Work

_LONGEST_TITLE = 40
MOST_MONEY = 10**15
"""Under this many minor units a book can hold an amount, and sums of them."""


class PlanDraft(BaseModel):
    """A plan worked out, and for each of its sizes the size of an edition it is for (None: for no edition).

    `sheet_minor` is what a sheet will cost, where that is known.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    name: str
    planned: Planned
    size_ids: tuple[int | None, ...]
    sheet_minor: int | None = None


@dataclass(frozen=True)
class For:
    """What a size on a plan is printed for."""

    size_id: int
    label: str
    edition_id: int
    work_id: int
    title: str
    ordinal: int
    image_um: tuple[int, int]
    paper_um: tuple[int, int]


@dataclass(frozen=True)
class Bought:
    """The sheets of an accepted plan: how many, what delivery cost (minor units), and the day they were printed."""

    sheets: int
    delivery_minor: int
    printed_on: date


@dataclass(frozen=True)
class PlanView:
    """A kept plan, what each of its sizes is for, and the printings it led to, without struck ones.

    `sheet_minor` is what a sheet cost, of a plan not accepted, or taken back, what was last said that it will cost;
    None where that is not known.
    """

    id: int
    name: str
    made_on: date
    accepted_on: date | None
    sheet_minor: int | None
    bought: Bought | None
    planned: Planned
    sizes: tuple[For | None, ...]
    runs: tuple[Run, ...]


def keep(book: Book, draft: PlanDraft) -> SheetPlan:
    """Keep a plan as it was worked out; for another layout another plan is kept. Raises Refusal."""
    name = tidy(draft.name, "The name", limit=80, field="name")
    faces.check_text(name, "The name", italic=True, field="name")  # it heads the cut list
    check_sizes(book.session, draft.planned.job, draft.size_ids)
    if draft.sheet_minor is not None:
        check_money(draft.sheet_minor, "sheet_minor")
    row = SheetPlan(
        name=name, made_on=book.today, plan=sheet_plan.written(draft.planned), sheet_minor=draft.sheet_minor
    )
    book.session.add(row)
    book.session.flush()
    for place, size_id in enumerate(draft.size_ids):
        book.session.add(SheetPlanSize(plan_id=row.id or 0, place=place, size_id=size_id))
    made_for = sorted({each.edition_id for each in _sizes(book.session, draft.size_ids) if each})
    journal.sealed(
        book,
        "sheet_planned",
        {"plan": row.id, "sizes": [size_id or 0 for size_id in draft.size_ids]},
        *(Touched("sheet_planned", book.today, edition_id=edition_id, text=name) for edition_id in made_for),
        person={"name": name},
    )
    return row


def proposed_name(session: Session, size_ids: tuple[int | None, ...], otherwise: str, day: date) -> str:
    """'Forty Minutes of Road and 1 more, 4 May 2026': what a plan may be called, as no plan is called yet.

    `otherwise` names one that is for no edition.
    """
    titles = list(dict.fromkeys(each.title for each in _sizes(session, size_ids) if each)) or [otherwise]
    first = titles[0] if len(titles[0]) <= _LONGEST_TITLE else f"{titles[0][: _LONGEST_TITLE - 1].rstrip()}…"
    more = f" and {len(titles) - 1} more" if len(titles) > 1 else ""
    name = f"{first}{more}, {dates.said(day)}"
    taken = set(session.exec(select(SheetPlan.name).where(col(SheetPlan.name).startswith(name, autoescape=True))))
    again = (name, *(f"{name} ({count})" for count in range(2, len(taken) + 2)))
    return next(each for each in again if each not in taken)


def check_money(minor: int, field: str) -> None:
    """Raises Refusal for what no sheet or delivery can cost."""
    if minor < 0:
        raise Refusal("A price is nought or more. Write what was paid.", field=field)
    if minor >= MOST_MONEY:
        raise Refusal("That is more money than this book can hold. Write what one sheet costs.", field=field)


def check_sizes(session: Session, job: Job, size_ids: tuple[int | None, ...]) -> None:
    """Raises Refusal where a piece of the job does not hold the image of what it is for."""
    named = [size_id for size_id in size_ids if size_id is not None]
    for place, (piece, made_for) in enumerate(zip(job.wanted, _sizes(session, size_ids), strict=True)):
        if made_for is None:
            continue
        field = f"wanted.{place}.size_id"
        editions.standing(session, made_for.edition_id)
        if named.count(made_for.size_id) > 1:
            raise Refusal("Two lines of this plan are for the same size. Write it once.", field=field)
        if is_turned(made_for, piece.width_um, piece.height_um) is None:
            raise Refusal(
                f"The image of {made_for.title} is {by_measure(*made_for.image_um)} and does not fit on a print of "
                f"{by_measure(piece.width_um, piece.height_um)}. Write the print’s own size.",
                field=field,
            )


def is_turned(made_for: For, width_um: int, height_um: int) -> bool | None:
    """Whether an image lies on its side on a piece of this size; None where it fits neither way.

    Where it fits both ways it lies as the paper of its edition does.
    """
    (image_w, image_h), (paper_w, paper_h) = made_for.image_um, made_for.paper_um
    straight = image_w <= width_um and image_h <= height_um
    on_its_side = image_h <= width_um and image_w <= height_um
    if not (straight and on_its_side):
        return on_its_side if straight or on_its_side else None
    return (paper_w - paper_h) * (width_um - height_um) < 0


def get(session: Session, plan_id: int) -> SheetPlan:
    """Raises Refusal (missing)."""
    row = session.get(SheetPlan, plan_id)
    if row is None:
        raise Refusal(f"No sheet plan has the number {plan_id}.", missing=True)
    return row


def view(session: Session, plan_id: int) -> PlanView:
    """Raises Refusal (missing)."""
    row = get(session, plan_id)
    size_ids = session.exec(
        select(SheetPlanSize.size_id).where(SheetPlanSize.plan_id == plan_id).order_by(col(SheetPlanSize.place))
    )
    led_to = select(Run).where(Run.plan_id == plan_id, col(Run.struck_at).is_(None)).order_by(col(Run.id))
    bought = None
    if row.bought is not None and row.delivery_minor is not None and row.printed_on is not None:
        bought = Bought(row.bought, row.delivery_minor, row.printed_on)
    return PlanView(
        plan_id, row.name, row.made_on, row.accepted_on, row.sheet_minor, bought, sheet_plan.read(row.plan),
        tuple(_sizes(session, tuple(size_ids))), tuple(session.exec(led_to)),
    )  # fmt: skip


def newest(session: Session, limit: int = 100) -> list[PlanView]:
    """The last plans kept, the newest first."""
    ids = select(SheetPlan.id).order_by(col(SheetPlan.id).desc()).limit(limit)
    return [view(session, plan_id or 0) for plan_id in session.exec(ids)]


def listing(session: Session, after: int = 0, limit: int = 100) -> list[PlanView]:
    """Plans by their numbers, those past `after`."""
    ids = select(SheetPlan.id).where(col(SheetPlan.id) > after).order_by(col(SheetPlan.id)).limit(limit)
    return [view(session, plan_id or 0) for plan_id in session.exec(ids)]


def _sizes(session: Session, size_ids: tuple[int | None, ...]) -> list[For | None]:
    known = {each.size_id: each for each in for_sizes(session, [size_id for size_id in size_ids if size_id])}
    for place, size_id in enumerate(size_ids):
        if size_id is not None and size_id not in known:
            raise Refusal(f"No size has the number {size_id}.", field=f"wanted.{place}.size_id")
    return [known[size_id] if size_id is not None else None for size_id in size_ids]


def for_sizes(session: Session, size_ids: list[int] | None = None) -> list[For]:
    """What prints can be planned for: these sizes, or every size of an edition that stands, by title."""
    query = (
        select(Size, Edition, Work)
        .join(Edition, col(Edition.id) == Size.edition_id)
        .join(Work, col(Work.id) == Edition.work_id)
        .order_by(col(Work.title), col(Edition.ordinal), col(Size.id))
    )
    if size_ids is None:
        query = query.where(col(Edition.withdrawn_on).is_(None), col(Edition.closed_on).is_(None))
    else:
        query = query.where(col(Size.id).in_(size_ids))
    return [_for(*row) for row in session.exec(query)]


def _for(size: Size, edition: Edition, work: Work) -> For:
    image = size.image_w_um, size.image_h_um
    paper = (size.sheet_w_um, size.sheet_h_um) if size.sheet_w_um and size.sheet_h_um else image
    return For(
        size.id or 0, size.label, edition.id or 0, work.id or 0, work.title, edition.ordinal, image, paper
    )  # fmt: skip
