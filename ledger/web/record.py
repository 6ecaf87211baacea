"""The record as people read it: what was written down, entry by entry, and what that can and cannot prove."""

from collections.abc import Callable, Mapping
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from ledger import editions, journal, works
from ledger.database import reading
from ledger.journal import Entry
from ledger.reckoning import dates, numbering
from ledger.web.house import Here
from ledger.web.lately import Line, Part
from ledger.web.pages import render
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)
MOST = 100
SEALED = "sealed: a sale, a cost or another private line"
Before = Annotated[int | None, Query(ge=0, le=2**53)]


@pages.get("/record")
def page(request: Request, house: Here, who: Signed, before: Before = None) -> Response:
    """The record, newest first, a hundred entries a page."""
    with reading(house.engine) as session:
        found = journal.entries(session, MOST, before)
        head = journal.head(session)
        by_work = {work.id: work.title for work in works.listing(session)}
        titles = {edition.id or 0: by_work[edition.work_id] for edition in editions.listing(session)}
    root = head.root.hex()
    last = found[-1].seq if found else 0
    return render(
        request, "record/record.html",
        size=head.size, root=" ".join(root[at : at + 4] for at in range(0, len(root), 4)),
        lines=[Line(dates.said(one.at.date()), sentence(one, titles), one.seq) for one in found],
        later="/record" if before is not None and before < head.size else "",
        earlier=f"/record?before={last}" if last else "",
    )  # fmt: skip


def sentence(entry: Entry, titles: Mapping[int, str]) -> list[Part]:
    """What an entry says in the clear, in words, its edition a link."""
    said = SAID.get(entry.kind)
    words = said(entry) if said else entry.kind.replace(".", " ")
    edition = entry.fields.get("edition")
    if not isinstance(edition, int):
        return [Part(f"{words}.")]
    title = titles.get(edition)
    link = Part(title, f"/editions/{edition}") if title else Part(f"edition {edition}, withdrawn since")
    return [Part(f"{words}: "), link, Part(_count(entry))]


def _count(entry: Entry) -> str:
    never = entry.fields.get("never_made")
    return f". Never to be made: {numbering.said(never)}." if never else "."


def _number(entry: Entry) -> str:
    """'7/25' as the pencil wrote it, or 'number 7', 'AP 2'; where it is a second print, that too."""
    written = entry.fields.get("inscription")
    kind = entry.fields["class"]
    plain = f"{'number' if kind == 'numbered' else kind} {entry.fields['number']}"
    again = ", printed again" if entry.fields.get("generation", 1) > 1 else ""
    return f"{written or plain}{again}"


def _of_a_number(said: str) -> Callable[[Entry], str]:
    return lambda entry: f"{said}, {_number(entry)}"


def _fixed(said: str) -> Callable[[Entry], str]:
    return lambda _: said


def _opened(entry: Entry) -> str:
    return f"Book opened: {entry.fields['maker']}, in {entry.fields['currency']}"


def _added(entry: Entry) -> str:
    return f"Picture written down: {entry.fields['title']}, {entry.fields['year_made']}"


def _corrected(entry: Entry) -> str:
    if entry.fields["field"] == "picture":
        return f"Picture file kept for picture {entry.fields['work']}"
    name = works.FIELDS.get(entry.fields["field"], entry.fields["field"])
    return f"Put right: {name}, “{entry.fields['old']}”, now “{entry.fields['new']}”"


def _inscribed(entry: Entry) -> str:
    before = entry.fields.get("origin") == "entered"
    return f"{'Made before this record' if before else 'Numbered and signed'}, {_number(entry)}"


SAID: Mapping[str, Callable[[Entry], str]] = {
    "sealed": _fixed(SEALED),
    "studio.opened": _opened,
    "work.added": _added,
    "work.corrected": _corrected,
    "edition.declared": _fixed("Edition declared"),
    "edition.withdrawn": _fixed("Edition withdrawn, declared by mistake"),
    "edition.closed": _fixed("Edition closed early"),
    "piece.inscribed": _inscribed,
    "piece.uninscribed": _of_a_number("Not signed after all"),
    "piece.spoilt": _of_a_number("Spoilt at the bench"),
    "piece.withdrawn": _of_a_number("Never to be made"),
    "piece.destroyed": _of_a_number("Destroyed"),
    "piece.replaced": _of_a_number("Printed a second time"),
    "certificate.issued": _of_a_number("Certificate issued"),
    "certificate.printed": _fixed("Certificate made into a paper"),
    "certificate.superseded": _fixed("Certificate replaced"),
    "certificate.suspended": _fixed("Certificate suspended"),
    "certificate.restored": _fixed("Certificate stands again"),
    "certificate.void": _fixed("Certificate void"),
}
