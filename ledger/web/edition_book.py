"""The studio's paper book: an edition on A4, every number in its row, to be looked over, signed and filed."""

from datetime import date

from fastapi import APIRouter
from starlette.responses import Response

from ledger import clock, editions, pictures, pieces, sales, studio, works
from ledger.database import reading
from ledger.editions import EditionFacts
from ledger.paper.book_page import BookRow, EditionPage, render_edition
from ledger.paper.marks import Mark
from ledger.pieces import PieceView
from ledger.reckoning import codes, dates, numbering
from ledger.web import marks
from ledger.web.house import Here
from ledger.web.shapes import Id
from ledger.web.sign_in import Signed

pages = APIRouter(include_in_schema=False)
DRAWN: dict[str, Mark] = {
    "free": "free", "assigned": "assigned", "studio": "studio", "van": "studio", "gallery": "gallery",
    "loan": "loan", "framer": "loan", "post": "loan", "sold": "sold", "sold_second": "sold_again",
    "given": "gone", "missing": "missing", "destroyed": "destroyed", "withdrawn": "withdrawn",
}  # fmt: skip


@pages.get("/editions/{edition_id}/book.pdf")
def book(house: Here, who: Signed, edition_id: Id) -> Response:
    """The edition's pages of the paper book, as of today."""
    today = clock.today()
    with reading(house.engine) as session:
        facts = editions.facts(session, edition_id, today)
        run = pieces.run_of(session, edition_id)
        sold = sales.sold_of_edition(session, edition_id)
        owner = studio.the_studio(session)
        picture = works.picture_of(session, facts.work.id or 0)
    numbered = [seen for seen in run if seen.class_kind == "numbered"]
    beside = [seen for seen in run if seen.class_kind != "numbered"]
    page = EditionPage(
        maker=owner.maker_name,
        as_of=dates.said(today),
        title=facts.work.title,
        facts=_facts(facts),
        declaration=_declaration(facts),
        currency=owner.currency,
        rows=tuple(_row(seen, sold) for seen in numbered),
        counts=" + ".join(f"{row.count} {row.words}" for row in marks.key(numbered)) + f" = {len(numbered)}",
        beside_heading=f"Beside the {numbering.words(len(numbered))}" if beside and numbered else "Proofs",
        beside=tuple(_row(seen, sold, proof=True) for seen in beside),
        closing=_closing(facts),
        picture_path=pictures.path_of(house.data_dir, picture.paper_sha256) if picture else None,
        picture_px=(picture.width_px, picture.height_px) if picture else None,
    )
    return Response(
        render_edition(page),
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="edition-{edition_id}.pdf"'},
    )


def _facts(facts: EditionFacts) -> str:
    offer = facts.sizes[0].offer
    sizes = ", ".join(size.label for size in facts.sizes)
    return f"{facts.work.year_made}. {offer.process}, {offer.paper}. Image {sizes}."


def _declaration(facts: EditionFacts) -> str:
    declared = f"Declared {dates.said(facts.edition.declared_on)}"
    if facts.edition.kind == "open":
        return f"{declared}: not a limited edition; numbered in order."
    proofs = editions.outside_in_words(facts.classes)
    return f"{declared}: {numbering.words(facts.numbered.count)}, and beside them {proofs}. In all {facts.total}."


def _closing(facts: EditionFacts) -> tuple[str, ...]:
    edition = facts.edition
    if edition.closed_on is None:
        return ()
    return (f"Closed early on {dates.said(edition.closed_on)}: {edition.closed_reason}.",)


def _row(seen: PieceView, sold: dict[tuple[int, int], tuple[date, int]], *, proof: bool = False) -> BookRow:
    drawn = marks.mark_of(seen)
    out, price = sold.get((seen.class_id, seen.number), (None, None))
    signed = f"{seen.inscribed_on:%d.%m.%Y}" if seen.inscribed_on else ""
    return BookRow(
        mark=DRAWN[drawn.mark],
        figure=seen.figure,
        inscribed=seen.shown if proof else signed,
        out=f"{out:%d.%m.%Y}" if out else "",
        where=seen.holder_name or drawn.phrase,
        price_minor=price,
        certificate=f"{codes.grouped(seen.code)[:9]} …" if seen.code else "",
        note=", ".join(
            filter(
                None, ("second print" if seen.generation > 1 else "", f"signed {signed}" if proof and signed else "")
            )
        ),
    )
