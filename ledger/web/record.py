"""The record as people read it: what was written down, entry by entry, and what that can and cannot prove."""

from collections.abc import Callable, Mapping
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from ledger import editions, journal, search, works
from ledger.database import reading
from ledger.journal import Entry
from ledger.pieces import PieceView
from ledger.reckoning import dates, numbering
from ledger.web.house import Here
from ledger.web.lately import Line, Part
from ledger.web.pages import render
from ledger.web.shapes import MOST_ID
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)
MOST = 100
SEALED = "Sealed: a sale, a cost or another private line"
Before = Annotated[int | None, Query(ge=0, le=MOST_ID)]


@pages.get("/record")
def page(request: Request, house: Here, who: Signed, before: Before = None) -> Response:
    """The record, newest first, a hundred entries a page."""
    with reading(house.engine) as session:
        found = journal.entries(session, MOST, before)
        head = journal.head(session)
        about = journal.pieces_of(session, (one.seq for one in found if one.kind != "sealed"))
        seen = search.pieces_by_id(session, about.values())
        by_work = {work.id: work.title for work in works.listing(session)}
        titles = {edition.id or 0: by_work[edition.work_id] for edition in editions.listing(session)}
    root = head.root.hex()
    last = found[-1].seq if found else 0
    return render(
        request, "record/record.html",
        size=head.size, root=" ".join(root[at : at + 4] for at in range(0, len(root), 4)),
        lines=[
            Line(dates.said(one.at.date()), sentence(one, titles, seen.get(about.get(one.seq, 0))), str(one.seq))
            for one in found
        ],
        later="/record" if before is not None and before < head.size else "",
        earlier=f"/record?before={last}" if last else "",
    )  # fmt: skip


def sentence(entry: Entry, titles: Mapping[int, str], seen: PieceView | None = None) -> list[Part]:
    """What an entry says in the clear, in words, the print and the edition it is about linked."""
    said = SAID.get(entry.kind)
    words = said(entry) if said else entry.kind.replace(".", " ")
    of = seen.edition_id if seen else entry.fields.get("edition")
    if not isinstance(of, int):
        return [Part(f"{words}.")]
    title = titles.get(of)
    edition = Part(title, f"/editions/{of}") if title else Part(f"edition {of}, withdrawn since")
    number = _number(entry, seen)
    named = [Part(number, f"/pieces/{seen.id}" if seen else ""), Part(" of ")] if number else []
    return [Part(f"{words}: "), *named, edition, Part(_after(entry))]


def _number(entry: Entry, seen: PieceView | None) -> str:
    """'7/25' as the pencil wrote it, else 'number 7' or 'AP 2': the entry's own words, where it has any."""
    if entry.fields.get("inscription"):
        return str(entry.fields["inscription"])
    if "number" not in entry.fields:
        return seen.shown if seen else ""
    kind = entry.fields["class"]
    return f"{'number' if kind == 'numbered' else kind} {entry.fields['number']}"


def _after(entry: Entry) -> str:
    if never := entry.fields.get("never_made"):
        return f". Never to be made: {numbering.said(never)}."
    return ", its second print." if entry.fields.get("generation", 1) > 1 else "."


def _fixed(said: str) -> Callable[[Entry], str]:
    return lambda _: said


def _opened(entry: Entry) -> str:
    return f"Book opened: {entry.fields['maker']}, in {entry.fields['currency']}"


def _keys_made(entry: Entry) -> str:
    return f"Signing keys made, fingerprint {entry.fields['fingerprint']}"


def _added(entry: Entry) -> str:
    return f"Picture written down: {entry.fields['title']}, {entry.fields['year_made']}"


def _corrected(entry: Entry) -> str:
    if entry.fields["field"] == "picture":
        return f"Picture file kept for picture {entry.fields['work']}"
    name = works.FIELDS.get(entry.fields["field"], entry.fields["field"])
    return f"Put right: {name}, “{entry.fields['old']}”, now “{entry.fields['new']}”"


def _inscribed(entry: Entry) -> str:
    return "Made before this record" if entry.fields.get("origin") == "entered" else "Numbered and signed"


SAID: Mapping[str, Callable[[Entry], str]] = {
    "sealed": _fixed(SEALED),
    "studio.opened": _opened,
    "key.added": _keys_made,
    "work.added": _added,
    "work.corrected": _corrected,
    "edition.declared": _fixed("Edition declared"),
    "edition.withdrawn": _fixed("Edition withdrawn, declared by mistake"),
    "edition.closed": _fixed("Edition closed early"),
    "piece.inscribed": _inscribed,
    "piece.uninscribed": _fixed("Not signed after all"),
    "piece.spoilt": _fixed("Spoilt at the bench"),
    "piece.withdrawn": _fixed("Never to be made"),
    "piece.destroyed": _fixed("Destroyed"),
    "piece.replaced": _fixed("Printed a second time"),
    "certificate.issued": _fixed("Certificate issued"),
    "certificate.printed": _fixed("Certificate printed"),
    "certificate.superseded": _fixed("Certificate replaced"),
    "certificate.suspended": _fixed("Certificate put on hold"),
    "certificate.restored": _fixed("Certificate stands again"),
    "certificate.void": _fixed("Certificate void"),
}
