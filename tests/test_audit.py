"""The audit finds what no act would do, in rows that somebody changed past the house.

The cast: Ines, who keeps the book. Gabel Stroud, who must not get in, did, with a database prompt.
"""

import shutil
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import Engine, text

from ledger import declarations, numbers, works
from ledger.audit import audit
from ledger.database import make_engine, reading, writing
from ledger.numbers import InscribeDraft
from ledger.promises import ClassDraft, EditionDraft, OfferDraft, SizeDraft, StepDraft
from ledger.works import WorkDraft


def found(engine: Engine) -> list[str]:
    with reading(engine) as session:
        return [fault.sentence for fault in audit(session)]


def declared(engine: Engine) -> None:
    """An edition of five, one proof; number 1 is signed."""
    offer = OfferDraft(process="pigment print", paper="cotton rag", prices=[StepDraft(from_sold=1, price_minor=6500)])
    size = SizeDraft(label="small", image_w_um=127_000, image_h_um=127_000, offer=offer)
    with writing(engine, "Ines") as book:
        work = works.add(book, WorkDraft(title="Salt Road", artist="Ines Okafor", year_made=2024, medium="photograph"))
        assert work.id is not None
        edition = declarations.declare(
            book,
            EditionDraft(
                work_id=work.id,
                kind="limited",
                count=5,
                outside=[ClassDraft(kind="AP", count=1)],
                sizes=[size],
                statement="Only five.",
                later_editions="ruled_out",
            ),
        )
        assert edition.id is not None
        (piece,) = numbers.allocate(book, edition.id)
        assert piece.id is not None
        numbers.inscribe(book, piece.id, InscribeDraft(on=date(2026, 1, 9)))


def test_a_book_kept_by_the_house_has_no_fault(engine: Engine) -> None:
    assert found(engine) == []
    declared(engine)
    assert found(engine) == []


# (what Gabel Stroud did once the guard was gone, the guard, what is found)
DONE = [
    ("UPDATE journal SET leaf = body WHERE seq = 1", "journal_no_update", "entry 1 does not match its hash"),
    (
        "UPDATE secret SET value = (SELECT value FROM secret WHERE id = 2) WHERE id = 1",
        "secret_no_update",
        "facts of entry",
    ),
    ("DELETE FROM secret WHERE field = 'facts'", "secret_keeps_facts", "are gone"),
    ("UPDATE piece SET state = 'free' WHERE number = 1", "", "has an owner"),
    ("UPDATE piece SET state = 'inscribed', size_id = 1 WHERE number = 2", "", "has no owner"),
    ("UPDATE custody SET ended_on = '2026-01-10'", "", "has no place"),
    ("UPDATE piece SET latest = FALSE WHERE number = 5", "", "it was declared as 5"),
    ("UPDATE edition SET withdrawn_on = '2026-01-10'", "", "was withdrawn and has prints"),
]


@pytest.mark.parametrize(("did", "guard", "finds"), DONE, ids=[each[2] for each in DONE])
def test_what_was_changed_past_the_house_is_found(unaudited_engine: Engine, did: str, guard: str, finds: str) -> None:
    engine = unaudited_engine
    declared(engine)
    with engine.execution_options(writer=True).begin() as connection:
        if guard:
            table = guard.split("_")[0]
            connection.execute(
                text(f"DROP TRIGGER {guard}" + (f" ON {table}" if engine.dialect.name == "postgresql" else ""))
            )
        connection.execute(text(did))
    said = found(engine)
    assert any(finds in sentence for sentence in said), said
    assert not guard or f"the guard {guard} is missing" in said


def test_a_row_taken_out_from_the_middle_is_missed(empty_ledger: Path, tmp_path: Path) -> None:
    """On SQLite: PostgreSQL leaves gaps in its ids wherever an act failed, and there the guards hold alone."""
    shutil.copyfile(empty_ledger, tmp_path / "ledger.sqlite")
    engine = make_engine(f"sqlite:///{tmp_path / 'ledger.sqlite'}")
    declared(engine)
    with engine.execution_options(writer=True).begin() as connection:
        connection.execute(text("DROP TRIGGER event_no_delete"))
        connection.execute(text("DELETE FROM event WHERE id = 1"))
    assert any(sentence.startswith("event has") for sentence in found(engine))
    engine.dispose()
