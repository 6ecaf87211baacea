"""The cast of the tests: an invented maker with her studio, her people, and one edition of twenty-five.

Everything happens through the same acts as on the pages. Silas Grimble is the one who must not get in.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, time
from typing import Any

import pytest
from sqlalchemy import Engine
from sqlmodel import col

from ledger import certificates, declarations, keys, numbers, people, pieces, studio, works
from ledger.database import Book, reading, writing
from ledger.errors import Refusal
from ledger.people import PersonDraft
from ledger.pieces import PieceView
from ledger.promises import (
    AnswerDraft,
    BegunDraft,
    ClassDraft,
    EditionDraft,
    OfferDraft,
    RangeDraft,
    SizeDraft,
    StepDraft,
)
from ledger.reckoning.answers import KnownFacts, proposals
from ledger.signing import new_keys
from ledger.studio import StudioDraft
from ledger.tables import PrintClass
from ledger.works import WorkDraft

MAKER = "Ottoline Marrack-Voe"
BUYER = "Wilhelmina Tarn"
SECOND_BUYER = "Jory Pellow"
GALLERY = "Gallery Kelpstane"
STRANGER = "Silas Grimble"
ADDRESS = "https://prints.example.org"
TITLE = "Forty Minutes of Road"
KEYS = new_keys(bytes(range(32)), bytes(range(32, 64)))
MAY_4 = date(2026, 5, 4)

STUDIO = StudioDraft(maker_name=MAKER, address="2 Quern Slip, Saltrigg", place="Saltrigg")
ROAD = WorkDraft(title=TITLE, artist=MAKER, year_made=2023, medium="Photograph", artist_born=1979)


@contextmanager
def acting(engine: Engine, on: date = MAY_4) -> Iterator[Book]:
    """One act of the maker's, at noon of a day."""
    with writing(engine, MAKER, at=datetime.combine(on, time(12), tzinfo=UTC)) as book:
        yield book


def refused(sentence: str) -> Any:
    """The block is refused with this sentence, or these words of it, at least."""
    return pytest.raises(Refusal, match=f"(?s).*{sentence}")


def opened(engine: Engine, on: date = MAY_4) -> None:
    """The studio opened, its keys named, its address chosen, the picture of the road written down as work 1."""
    with acting(engine, on) as book:
        studio.open_studio(book, STUDIO)
        keys.add(book, KEYS.public)
        studio.change_address(book, ADDRESS)
        works.add(book, ROAD)


def person(engine: Engine, name: str = BUYER, on: date = MAY_4, **lines: Any) -> int:
    with acting(engine, on) as book:
        return people.add(book, PersonDraft(name=name, **lines)).id or 0


def offer(*prices: tuple[int, int], process: str = "Pigment print", paper: str = "Cotton rag") -> OfferDraft:
    steps = tuple(StepDraft(from_sold=start, price_minor=price) for start, price in prices or ((1, 6500), (11, 7500)))
    return OfferDraft(process=process, paper=paper, prices=steps)


def size(width_mm: int = 127, height_mm: int = 127, label: str = "", **changes: Any) -> SizeDraft:
    return SizeDraft(
        label=label, image_w_um=width_mm * 1000, image_h_um=height_mm * 1000, **{"offer": offer(), **changes}
    )


def answered(**changes: AnswerDraft) -> dict[str, AnswerDraft]:
    """Every item of disclosure answered."""
    given = {
        item: AnswerDraft(answer=said.answer, text=said.text)
        for item, said in proposals(KnownFacts(None, 2023, 2026)).items()
    }
    return given | {"marks": AnswerDraft(answer="value", text="Blind stamp, lower right")} | changes


def promise(**changes: Any) -> EditionDraft:
    """Twenty-five of the road, one size, three artist's proofs and a bon à tirer beside them."""
    facts: dict[str, Any] = {
        "work_id": 1,
        "kind": "limited",
        "count": 25,
        "outside": (ClassDraft(kind="AP", count=3), ClassDraft(kind="BAT", count=1)),
        "sizes": (size(),),
        "statement": "One of twenty-five, numbered and signed.",
        "later_editions": "ruled_out",
        "answers": answered(),
    }
    return EditionDraft(**(facts | changes))


def drawer() -> EditionDraft:
    """The drawer of forty, begun about 2011: sold 1-11 and 14-25, missing 12 and 13, the rest in hand."""
    ranges = (
        RangeDraft(numbers="1-11, 14-25", fate="sold"),
        RangeDraft(numbers="12, 13", fate="missing"),
        RangeDraft(numbers="26-40", fate="in_hand"),
    )
    return promise(count=40, outside=(), begun=BegunDraft(words="about 2011", ranges=ranges))


def declared(engine: Engine, draft: EditionDraft | None = None, on: date = MAY_4) -> int:
    with acting(engine, on) as book:
        return declarations.declare(book, draft or promise()).id or 0


def road(engine: Engine, **changes: Any) -> int:
    """The studio opened and the edition of twenty-five declared in it."""
    opened(engine)
    return declared(engine, promise(**changes))


def seen(engine: Engine, number: int, *, kind: str = "numbered", edition: int = 1) -> PieceView:
    """How a number of an edition stands now."""
    with reading(engine) as session:
        return pieces.views(
            session,
            col(PrintClass.edition_id) == edition,
            col(PrintClass.kind) == kind,
            col(pieces.Piece.number) == number,
            col(pieces.Piece.latest),
        )[0]


def made(engine: Engine, *numbered: int, edition: int = 1, on: date = MAY_4) -> list[int]:
    """These numbers written on their prints and signed; the ids of the pieces."""
    found = [seen(engine, number, edition=edition).id for number in numbered]
    with acting(engine, on) as book:
        for piece_id in found:
            numbers.inscribe(book, piece_id, numbers.InscribeDraft())
    return found


def certified(engine: Engine, piece_id: int, on: date = MAY_4) -> certificates.CertificateView:
    with acting(engine, on) as book:
        return certificates.as_view(certificates.issue(book, piece_id))


def standings(engine: Engine, edition: int = 1, kind: str = "numbered") -> dict[str, int]:
    with reading(engine) as session:
        return pieces.standings(session, pieces.find_class(session, edition, kind).id or 0)
