"""Sheet plans: how prints are ganged on a lab sheet, kept; accepted, its printings and what the sheets cost."""

from dataclasses import dataclass, replace
from datetime import date

from pydantic import BaseModel, ConfigDict
from sqlmodel import Session, col, select

from ledger import costs, editions, journal, runs
from ledger.costs import CostDraft
from ledger.database import Book
from ledger.errors import Refusal
from ledger.journal import Touched
from ledger.reckoning import dates, sheet_plan
from ledger.reckoning.measures import by_measure
from ledger.reckoning.money import shares
from ledger.reckoning.sheet_layout import Job
from ledger.reckoning.sheet_plan import Planned
from ledger.reckoning.texts import tidy
from ledger.runs import RunDraft
from ledger.tables import Edition, Run, SheetPlan, SheetPlanSize, Size, Work

MOST_SHEETS = 10_000
MOST_MONEY = 10**15


class PlanDraft(BaseModel):
    """A plan worked out, and for each of its sizes the size of an edition it is for (None: for no edition)."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    name: str
    planned: Planned
    size_ids: tuple[int | None, ...]


class AcceptDraft(BaseModel):
    """The sheets bought, what each cost and what delivery cost (minor units), and the day they were printed."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    sheets: int
    sheet_minor: int
    delivery_minor: int = 0
    made_on: date


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
class PlanView:
    """A kept plan, what each of its sizes is for, and the printings it led to."""

    id: int
    name: str
    made_on: date
    accepted_on: date | None
    planned: Planned
    sizes: tuple[For | None, ...]
    runs: tuple[Run, ...]


def keep(book: Book, draft: PlanDraft) -> SheetPlan:
    """Keep a plan as it was worked out; for another layout another plan is kept. Raises Refusal."""
    name = tidy(draft.name, "The name", limit=80, field="name")
    check_sizes(book.session, draft.planned.job, draft.size_ids)
    row = SheetPlan(name=name, made_on=book.today, plan=sheet_plan.written(draft.planned))
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


def accept(book: Book, plan_id: int, draft: AcceptDraft) -> list[Run]:
    """The sheets of a plan were bought and printed: a printing for each size of an edition, its part of the cost on it.

    The money is split by planned area with gutter; what lies on prints of no edition, or of one that has ended since,
    is the studio's. Raises Refusal.
    """
    seen = view(book.session, plan_id)
    _check_accepted(seen, draft)
    seen = replace(seen, sizes=tuple(_still_made(book.session, each) for each in seen.sizes))
    row = _row(book.session, plan_id)
    row.accepted_on = book.today
    book.session.add(row)
    prints, areas = seen.planned.prints(draft.sheets), seen.planned.areas(draft.sheets)
    total = draft.sheets * draft.sheet_minor + draft.delivery_minor
    parts = shares(total, _by_purpose(seen, areas)) if total else []
    note = f"{draft.sheets:,} {'sheet' if draft.sheets == 1 else 'sheets'}, plan “{seen.name}”"
    made: list[Run] = []
    for place, made_for in enumerate(seen.sizes):
        if made_for is None or not prints[place]:
            continue
        run = RunDraft(
            edition_id=made_for.edition_id, size_id=made_for.size_id, plan_id=plan_id, made_on=draft.made_on,
            sheets=draft.sheets, good=prints[place], note=note,
        )  # fmt: skip
        made.append(runs.record(book, run))
        _spend(book, draft, parts[place] if parts else 0, note, made[-1].id)
    _spend(book, draft, parts[-1] if parts else 0, f"{note}: prints of no edition", None)
    journal.sealed(
        book,
        "sheets_accepted",
        {
            "plan": plan_id,
            "sheets": draft.sheets,
            "sheet": draft.sheet_minor,
            "delivery": draft.delivery_minor,
            "runs": [run.id for run in made],
        },
    )
    return made


def _still_made(session: Session, made_for: For | None) -> For | None:
    return None if made_for is None or editions.ended(session, made_for.edition_id) else made_for


def _check_accepted(seen: PlanView, draft: AcceptDraft) -> None:
    if seen.accepted_on is not None:
        raise Refusal(
            f"This plan was accepted on {dates.said(seen.accepted_on)}. Keep it again, under another name, for "
            "another order."
        )
    if not 1 <= draft.sheets <= MOST_SHEETS:
        raise Refusal(f"Write how many sheets were bought, from 1 to {MOST_SHEETS:,}.", field="sheets")
    for field, amount in (("sheet_minor", draft.sheet_minor), ("delivery_minor", draft.delivery_minor)):
        if amount < 0:
            raise Refusal("A price is nought or more. Write what was paid.", field=field)
    if draft.sheets * draft.sheet_minor + draft.delivery_minor >= MOST_MONEY:
        raise Refusal("That is more money than this book can hold. Write what one sheet cost.", field="sheet_minor")
    if not any(seen.sizes):
        raise Refusal(
            "No print of this plan is of an edition, so there is no printing to write down. Write what the sheets "
            "cost under Costs, or plan again and choose what each print is for."
        )


def _by_purpose(seen: PlanView, areas: tuple[int, ...]) -> list[int]:
    """The area of each size that is for an edition, then the area of all the others together."""
    ours = [area if made_for else 0 for area, made_for in zip(areas, seen.sizes, strict=True)]
    return [*ours, sum(areas) - sum(ours)]


def _spend(book: Book, draft: AcceptDraft, amount: int, note: str, run_id: int | None) -> None:
    if amount:
        cost = CostDraft(
            basis="studio" if run_id is None else "run", target_id=run_id, amount_minor=amount,
            spent_on=draft.made_on, note=note,
        )  # fmt: skip
        costs.add(book, cost)


def _row(session: Session, plan_id: int) -> SheetPlan:
    row = session.get(SheetPlan, plan_id)
    if row is None:
        raise Refusal(f"No sheet plan has the number {plan_id}.", missing=True)
    return row


def view(session: Session, plan_id: int) -> PlanView:
    """Raises Refusal (missing)."""
    row = _row(session, plan_id)
    size_ids = session.exec(
        select(SheetPlanSize.size_id).where(SheetPlanSize.plan_id == plan_id).order_by(col(SheetPlanSize.place))
    )
    led_to = session.exec(select(Run).where(Run.plan_id == plan_id).order_by(col(Run.id)))
    return PlanView(
        plan_id, row.name, row.made_on, row.accepted_on, sheet_plan.read(row.plan),
        tuple(_sizes(session, tuple(size_ids))), tuple(led_to),
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
