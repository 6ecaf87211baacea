"""Editions: the first page of the book, one edition's page, and its whole story."""

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from ledger import clock, editions, mounts, pieces, recipes, reports, snapshots, spares, studio, works
from ledger.database import Session, reading
from ledger.editions import EditionFacts
from ledger.pieces import PieceView
from ledger.reckoning.dates import said
from ledger.web import edition_words as words
from ledger.web import lately, margins, plates
from ledger.web.edition_words import CLOSED, SELLING, SOLD_OUT, Row
from ledger.web.finishing import OURS
from ledger.web.house import Here
from ledger.web.pages import render
from ledger.web.shapes import Id
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)
LATELY = 6
MOST_LINES = 5000
NEW = "/editions/new"


@pages.get("/")
def every(request: Request, house: Here, who: Signed) -> Response:
    """All editions, under what they are: selling, closed early, sold out."""
    grouped: dict[str, list[Row]] = {SELLING: [], CLOSED: [], SOLD_OUT: []}
    with reading(house.engine) as session:
        whose = studio.find_studio(session)
        their = works.pictures_of(session)
        totals: dict[int, int] = {}
        for edition in editions.listing(session) if whose else []:
            facts = editions.facts(session, edition.id or 0, clock.today())
            run = pieces.run_of(session, edition.id or 0)
            work_id = edition.work_id
            total = totals.setdefault(work_id, editions.total_of_work(session, work_id))
            row = words.row(
                facts,
                run,
                reports.margin(session, edition.id or 0),
                plates.plate(their.get(work_id), facts.work.title, small=True),
                past_cap=whose.works_cap if whose and 0 < whose.works_cap < total else 0,
                currency=whose.currency if whose else "",
            )
            grouped[words.group_of(facts, words.numbered_run(facts, run))].append(row)
    groups = [{"head": head, "rows": rows} for head, rows in grouped.items() if rows]
    return render(request, "editions/list.html", groups=groups, declare_href=NEW)


@pages.get("/editions/{edition_id:int}")
def one(request: Request, house: Here, who: Signed, edition_id: Id) -> Response:
    """One edition: its facts, its run, its money, and what happened lately."""
    with reading(house.engine) as session:
        facts = editions.facts(session, edition_id, clock.today())
        run = pieces.run_of(session, edition_id)
        numbered = words.numbered_run(facts, run)
        report = reports.margin(session, edition_id)
        kept_in = studio.currency(session)
        sells = words.group_of(facts, numbered) != SOLD_OUT
        price = words.price_now(facts.sizes[0].offer, facts.edition.sold_peak) if sells else None
        values: dict[str, Any] = {
            "edition": _head(session, facts),
            "acts": _acts(facts, run, numbered, _finish(session, facts, run) + _mounts(session, facts)),
            "run": words.run_of(facts, numbered),
            "spare": _spare(session, facts),
            "outside": words.proofs(facts, run),
            "money": margins.money_of(
                report, reports.chart(session, edition_id, report, clock.today()), price, kept_in
            ),
            "lately": _lately(session, edition_id, run),
        }
    return render(request, "editions/one.html", **values)


def _head(session: Session, facts: EditionFacts) -> dict[str, Any]:
    edition, work = facts.edition, facts.work
    others = [
        (each.id or 0, f"Edition {each.ordinal}, declared {said(each.declared_on)}")
        for each in editions.siblings(session, edition)
    ]
    label = words.museum(
        facts,
        others,
        snapshots.unanswered(session, edition.id or 0),
        editions.total_of_work(session, edition.work_id),
        studio.the_studio(session).works_cap,
    )
    picture = works.picture_of(session, work.id or 0)
    return {
        "title": work.title,
        "maker": work.artist,
        "year": work.year_made,
        "picture": plates.plate(picture, work.title),
        "facts": label,
    }


def _spare(session: Session, facts: EditionFacts) -> dict[str, str] | None:
    """That good prints are left over which no number will be written on, or that more are signed than are good."""
    href = f"/editions/{facts.edition.id}/runs"
    if left := spares.left_over(session, facts.edition.id or 0):
        words = f"{spares.without_number(left)} None is left for {'it' if left == 1 else 'them'}."
        return {"words": words, "href": href}
    if more := spares.signed_beyond(session, facts.edition.id or 0):
        words = "1 print more is" if more == 1 else f"{more:,} prints more are"
        return {"words": f"{words} signed than came back good.", "href": href}
    return None


def _mounts(session: Session, facts: EditionFacts) -> list[dict[str, str]]:
    """Links to the mount plans of an edition: those kept for its sizes and those on offer, then to a new one."""
    sizes, on_offer = {size.id for size in facts.sizes}, {size.offer.mount_plan_id for size in facts.sizes}
    plans = [row for row in mounts.listing(session) if row.size_id in sizes or row.id in on_offer]
    links = [
        {
            "href": f"/mounts/{row.id}",
            "words": f"Mount plan{' on offer' if row.id in on_offer else ''}: {row.title}",
            "kind": "plain",
        }
        for row in sorted(plans, key=lambda row: row.id not in on_offer)
    ]
    return [*links, {"href": f"/mounts/new?edition={facts.edition.id}", "words": "Plan a mount", "kind": "plain"}]


def _finish(session: Session, facts: EditionFacts, run: list[PieceView]) -> list[dict[str, str]]:
    """A link to finish prints by each recipe that the edition is offered with."""
    if not any(seen.standing in OURS for seen in run):
        return []
    found = {recipe.id: recipe for size in facts.sizes if (recipe := recipes.of_offer(session, size.offer))}
    here = f"finish?edition={facts.edition.id}"
    return [
        {"href": f"/recipes/{each.id}/{here}", "words": f"Finish prints: {each.name}", "kind": "plain"}
        for each in found.values()
    ]


def _acts(
    facts: EditionFacts, run: list[PieceView], numbered: list[PieceView], bench: list[dict[str, str]]
) -> list[dict[str, str]]:
    edition = facts.edition
    here = f"/editions/{edition.id}"
    correct = {"href": f"/works/{edition.work_id}", "words": "Correct a title or name", "kind": "plain"}
    if edition.withdrawn_on is not None:
        return [correct]
    acts = [{"href": f"/certificates/new?edition={edition.id}", "words": "Certificates", "kind": "second"}]
    if words.sellable(numbered) or edition.kind == "open":
        acts.insert(0, {"href": f"/sales/new?edition={edition.id}", "words": "Record a sale", "kind": "first"})
    if any(seen.state == "allocated" for seen in run):
        acts.append({"href": f"{here}/numbers#sign", "words": "Sign numbers", "kind": "second"})
    free = edition.closed_on is None and (edition.kind == "open" or any(seen.standing == "free" for seen in run))
    if free:
        acts.append({"href": f"{here}/numbers#assign", "words": "Assign numbers", "kind": "second"})
    if edition.closed_on is None and (free or any(seen.state == "allocated" for seen in run)):
        acts.append({"href": f"/sheets/plan?edition={edition.id}", "words": "Plan a sheet", "kind": "plain"})
    acts.append({"href": f"{here}/runs", "words": "Printings", "kind": "plain"})
    acts.extend(bench)
    acts.append({"href": f"{here}/price", "words": "What price does it need?", "kind": "plain"})
    acts.append({"href": f"{here}/offer", "words": "Change price, paper or words", "kind": "plain"})
    if edition.closed_on is None:
        acts.append({"href": f"{here}/close", "words": "Close early", "kind": "plain"})
    if all(seen.standing in ("free", "assigned", "withdrawn") for seen in numbered):
        acts.append({"href": f"{here}/withdraw", "words": "Withdraw: declared by mistake", "kind": "plain"})
    book = {"href": f"{here}/book.pdf", "words": "Page of the paper book", "kind": "plain"}
    return [*acts, correct, book]


def _lately(session: Session, edition_id: int, run: list[PieceView]) -> dict[str, Any]:
    told = _lines(session, edition_id, run, 200)
    more = len(told) > LATELY
    return {
        "lines": told[:LATELY],
        "all_words": "All lines of this edition" if more else "",
        "all_href": f"/editions/{edition_id}/story" if more else "",
    }


def _lines(session: Session, edition_id: int, run: list[PieceView], most: int) -> list[lately.Line]:
    seen = {each.id: each for each in run}
    told = pieces.lately(session, edition_id, most)
    return lately.lines(session, told, lambda piece_id: seen.get(piece_id) or pieces.view(session, piece_id))


@pages.get("/editions/{edition_id:int}/story")
def story(request: Request, house: Here, who: Signed, edition_id: Id) -> Response:
    """Everything that was written down of an edition, the latest first."""
    with reading(house.engine) as session:
        edition = editions.get(session, edition_id)
        title = works.get(session, edition.work_id).title
        told = _lines(session, edition_id, pieces.run_of(session, edition_id), MOST_LINES)
    return render(request, "editions/story.html", title=title, lines=told, edition_href=f"/editions/{edition_id}")
