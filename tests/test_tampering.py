"""Whatever is changed past the house is found, and its place is named: changes picked from a seed.

The cast: Ottoline Marrack-Voe keeps the book. Silas Grimble, who must not get in, has a database prompt.
PRINT_LEDGER_TEST_TAMPERINGS sets how many changes are tried on SQLite, a thousand where it says nothing.
"""

import os
import random
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, Engine, String, Table, func, select, text
from sqlalchemy.exc import DBAPIError
from sqlmodel import Session, SQLModel
from sqlmodel import select as rows_of

from ledger import checkpoints, costs, home, journal, people, recipes, runs, spares, studio, works
from ledger.audit import UNGUARDED, at_opening, audit
from ledger.costs import CostDraft
from ledger.database import make_engine, reading
from ledger.keys import hold
from ledger.migrations.triggers import expected_triggers, install_triggers
from ledger.mount_stock import OffcutDraft
from ledger.recipes import LineDraft
from ledger.runs import RunDraft
from ledger.sealed_rows import take_over
from ledger.spares import FateDraft
from ledger.tables import BOOK_TABLES, HOUSEKEEPING, RECORD, Channel, Person
from tests import test_mounts as mounting
from tests import test_sheets as planning
from tests.cast import BUYER, KEYS, MAY_4, acting, certified, made, person, refused, road
from tests.test_journal import one_of_everything
from tests.test_works import PICTURE
from tests.trade import lend, sell, to, told

SEED = 20260504
MANY = int(os.environ.get("PRINT_LEDGER_TEST_TAMPERINGS", "1000"))
PARTS = 8
"""Each with a seed of its own, so that processes can share them."""
FEW = 60
TABLES = (*BOOK_TABLES, *RECORD, "secret")


def everything(engine: Engine) -> None:
    """A book with rows in every table, and a buyer who was erased."""
    one_of_everything(engine)
    six, seven, eight = made(engine, 6, 7, 8, edition=2)
    with reading(engine) as session:
        by = {row.kind: row.id or 0 for row in session.exec(rows_of(Channel))}
        gallery = next(row.id or 0 for row in session.exec(rows_of(Person)) if row.kind == "business")
    sell(engine, by["fair"], six, buyer=to("Jory Pellow"), paid_by="card")
    lend(engine, gallery, told(seven), told(eight))
    with acting(engine) as book:
        studio.set_tax(book, MAY_4, registered=True, number="GB 123", rate_bp=2000)
        runs.record(book, RunDraft(edition_id=2, made_on=MAY_4, sheets=4, good=3, spoilt=1, note="damp"))
        costs.add(book, CostDraft(basis="edition", target_id=2, amount_minor=1200, spent_on=MAY_4, note="ink"))
        costs.add(book, CostDraft(basis="run", target_id=1, amount_minor=2500, spent_on=MAY_4))
        works.keep_picture(book, 1, PICTURE)
    sheets_of_the_lab(engine)
    the_bench(engine, seven)
    with reading(engine) as session:
        gone = next(row.id or 0 for row in session.exec(rows_of(Person)) if row.name == "Jory Pellow")
    with acting(engine) as book:
        people.erase(book, gone)


def sheets_of_the_lab(engine: Engine) -> None:
    """A plan left as it was, one accepted, its prints counted, one spare given away and one kept, a number of it."""
    planning.kept(engine, planning.planned(planning.mm(127, 127), planning.mm(60, 90)), 2, None, name="Both")
    plan_id = planning.kept(engine, planning.planned(planning.mm(127, 127)), 2, name="Six up")
    (run,) = planning.accepted(engine, plan_id, bought=2, delivery=450)
    planning.count(engine, run.id or 0, good=10, spoilt=2, why="a crease")
    with acting(engine) as book:
        spares.settle(
            book, runs.get(book.session, run.id or 0), FateDraft(fate="given", how_many=1, note="to the framer")
        )
        spares.settle(book, runs.get(book.session, run.id or 0), FateDraft(fate="archive", how_many=1))
    made(engine, 9, edition=2)


def the_bench(engine: Engine, piece_id: int) -> None:
    """Frames measured and a cutter set, plans kept and struck, offcuts, a recipe in two versions, a print finished."""
    frame, cutter = mounting.measured(engine), mounting.calibrated(engine)
    mounting.measured(engine, width_a="302", height_a="402", height_b="", sold_as="", depth="12")
    mounting.kept(engine, **mounting.ROAD, size_id=2, cutter_id=cutter)
    wrong = mounting.kept(engine, image="100 x 100", frame_id=frame)
    lines = (LineDraft(name="Board", amount_minor=960, prints=12), LineDraft(name="Frame", amount_minor=725))
    with acting(engine) as book:
        mounting.mounts.strike(book, wrong, "the other frame")
        mounting.mount_stock.strike_frame(book, frame)
        mounting.mount_stock.keep_offcut(book, OffcutDraft(size="160 x 120", board="cream", mount_plan_id=1))
        mounting.mount_stock.use_offcut(book, 1)
        first = recipes.write(book, "Window mount", lines).id or 0
        now = recipes.change(book, first, (*lines, LineDraft(name="Own time", amount_minor=800, minutes=30))).id or 0
        recipes.finish(book, now, [piece_id], MAY_4)


def without_guards(connection: Connection) -> None:
    """What Silas does first."""
    on_table = dict(connection.execute(text(
        "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'" if connection.dialect.name == "sqlite"
        else "SELECT tgname, tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal"
    )).all())  # fmt: skip
    for name in expected_triggers(connection.dialect.name):
        on = f" ON {on_table[name]}" if connection.dialect.name == "postgresql" else ""
        connection.execute(text(f"DROP TRIGGER {name}{on}"))


@contextmanager
def tampered(engine: Engine) -> Iterator[Connection]:
    """A connection whose changes are looked at, and then undone."""
    with engine.execution_options(writer=True).connect() as connection:
        _checked(connection, "OFF")
        change = connection.begin()
        try:
            if connection.dialect.name == "sqlite":
                connection.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
            yield connection
        finally:
            change.rollback()
            _checked(connection, "ON")


def _checked(connection: Connection, checks: str) -> None:
    """On SQLite Silas lets the checks of single rows go as well, outside any transaction."""
    if connection.dialect.name == "sqlite":
        ignored = "OFF" if checks == "ON" else "ON"
        connection.connection.cursor().execute(f"PRAGMA ignore_check_constraints = {ignored}")


def found(connection: Connection) -> list[str]:
    with Session(connection, join_transaction_mode="create_savepoint") as session:
        return [fault.sentence for fault in audit(session)]


def other(chance: random.Random, value: Any, column: Any) -> Any:
    """The value with one thing about it changed."""
    if value is None:
        if column.name.endswith("_at"):
            return datetime(2026, 1, 1, tzinfo=UTC)
        kind = str if isinstance(getattr(column.type, "impl", None), String) else column.type.python_type
        return {int: 1, bool: True, date: date(2026, 1, 1)}.get(kind, "x")
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + chance.choice((1, 2, 16, 1000))
    if isinstance(value, (date, datetime)):
        return value + timedelta(days=chance.randint(1, 400))
    at = chance.randrange(len(value)) if value else 0
    if isinstance(value, bytes):
        return value[:at] + bytes([value[at] ^ (1 << chance.randrange(8))]) + value[at + 1 :]
    return value[:at] + chance.choice([each for each in "abxyz019" if each != value[at : at + 1]]) + value[at + 1 :]


def places(table: str, row: Any) -> tuple[str, ...]:
    """What a sentence that names this row says."""
    if table == "journal":
        return (f"entry {row.seq} ", f"entry {row.seq}:", f"entry {row.seq},")
    if table == "journal_node":
        return (f"node {row.idx} of level {row.level} ",)
    if table == "checkpoint":
        return (f"head of {row.size} entries",)
    if table == "secret":
        return (f"entry {row.entry_seq} ", f"entry {row.entry_seq},")
    return (f"row {row.id} of {table} ",)


def tamper_often(engine: Engine, seed: int, times: int) -> None:
    everything(engine)
    chance = random.Random(seed)
    missed, tried = [], 0
    with engine.execution_options(writer=True).begin() as connection:
        without_guards(connection)
        rows = {name: list(connection.execute(select(SQLModel.metadata.tables[name]))) for name in TABLES}
    while tried < times:
        name = chance.choice(TABLES)
        table: Table = SQLModel.metadata.tables[name]
        row, column = chance.choice(rows[name]), chance.choice(list(table.columns))
        changed = other(chance, getattr(row, column.name), column)
        here = [key == getattr(row, key.name) for key in table.primary_key.columns]
        with tampered(engine) as connection:
            try:
                connection.execute(table.update().where(*here).values({column.name: changed}))
            except DBAPIError:  # what the database itself refuses was not changed
                continue
            sentences = found(connection)
        tried += 1
        wanted = places(name, row)
        if (name, column.name) == ("checkpoint", "size"):  # a head that is filed under another size is named by that
            wanted = (f"head of {changed} entries",)
        named = any(place in f"{sentence} " for sentence in sentences for place in wanted)
        if not named and (name, column.name) not in UNGUARDED:
            missed.append((name, column.name, tuple(row)[:3], changed, [s for s in sentences if "guard" not in s][:3]))
    assert not missed, f"{len(missed)} of {tried}, seed {seed}: {missed[:5]}"


@pytest.mark.parametrize("part", range(PARTS))
def test_changes_are_found_each_in_its_place(sqlite_ledger: Engine, part: int) -> None:
    tamper_often(sqlite_ledger, SEED + part, MANY // PARTS + (part < MANY % PARTS))


def test_changes_on_postgresql_are_found_each_in_its_place(postgres_book: Engine) -> None:
    tamper_often(postgres_book, SEED, FEW)


def test_every_table_that_is_kept_for_good_has_rows_to_tamper_with(sqlite_ledger: Engine) -> None:
    everything(sqlite_ledger)
    with sqlite_ledger.connect() as connection:
        empty = {
            name
            for name, table in SQLModel.metadata.tables.items()
            if connection.scalar(select(func.count()).select_from(table)) == 0
        }
    assert empty <= set(HOUSEKEEPING)
    assert set(TABLES) == set(SQLModel.metadata.tables) - set(HOUSEKEEPING)


def test_no_column_is_unguarded_that_is_not_there() -> None:
    for table, column in UNGUARDED:
        assert column in SQLModel.metadata.tables[table].columns


def test_a_row_that_is_dropped_is_missed_by_name(sqlite_ledger: Engine) -> None:
    everything(sqlite_ledger)
    with sqlite_ledger.execution_options(writer=True).begin() as connection:
        without_guards(connection)
    chance = random.Random(SEED)
    for name in BOOK_TABLES:
        table = SQLModel.metadata.tables[name]
        with tampered(sqlite_ledger) as connection:
            ids = list(connection.scalars(select(table.c.id)))
            if not ids:
                continue
            gone = chance.choice(ids)
            connection.execute(table.delete().where(table.c.id == gone))
            assert any(f"row {gone} of {name} is gone" in said for said in found(connection)), name


def test_rows_that_are_swapped_are_both_named(sqlite_ledger: Engine) -> None:
    everything(sqlite_ledger)
    with sqlite_ledger.execution_options(writer=True).begin() as connection:
        without_guards(connection)
    with tampered(sqlite_ledger) as connection:
        first, second = connection.scalars(text("SELECT id FROM sale ORDER BY id LIMIT 2")).all()
        for now, then in ((first, 999), (second, first), (999, second)):
            connection.execute(text(f"UPDATE sale SET id = {then} WHERE id = {now}"))
        said = found(connection)
    for row in (first, second):
        assert any(f"row {row} of sale is not what entry" in sentence for sentence in said)


def test_insert_or_replace_does_not_pass_for_the_row(sqlite_ledger: Engine) -> None:
    everything(sqlite_ledger)
    over = "INSERT OR REPLACE INTO channel SELECT id, 'Other', kind, fee_bp, 0, 0, 0 FROM channel WHERE id = 1"
    with pytest.raises(DBAPIError, match="is never written over"), tampered(sqlite_ledger) as connection:
        connection.execute(text(over))
    with tampered(sqlite_ledger) as connection:
        connection.execute(text("DROP TRIGGER channel_new_id"))
        connection.execute(text("DROP TRIGGER channel_no_delete"))
        connection.execute(text(over))
        said = found(connection)
    assert any("name of row 1 of channel is not what entry" in sentence for sentence in said)


def test_a_row_of_silass_own_is_told_from_the_houses(sqlite_ledger: Engine) -> None:
    everything(sqlite_ledger)
    with tampered(sqlite_ledger) as connection:
        last = connection.scalar(select(func.max(SQLModel.metadata.tables["receipt"].c.id)))
        copied = "sale_id, received_on, amount_minor, how, fee_minor, struck"
        connection.execute(text(f"INSERT INTO receipt (id, {copied}) SELECT {last} + 1, {copied} FROM receipt LIMIT 1"))
        assert f"row {last + 1} of receipt was written by no entry" in found(connection)


def test_words_that_went_without_an_erasure_are_missed(sqlite_ledger: Engine) -> None:
    everything(sqlite_ledger)
    with tampered(sqlite_ledger) as connection:
        kept = connection.scalars(text("SELECT entry_seq FROM secret WHERE field = 'person' ORDER BY entry_seq")).all()
        for seq in (kept[0], kept[-1]):  # whether or not somebody else was erased since
            connection.execute(text(f"DELETE FROM secret WHERE entry_seq = {seq} AND field = 'person'"))
        said = found(connection)
    for seq in (kept[0], kept[-1]):
        assert f"the words behind entry {seq} are gone, and no erasure took them" in said


def test_an_erasure_that_does_not_say_what_it_took_excuses_what_came_before_it(sqlite_ledger: Engine) -> None:
    """As erasures were recorded at first."""
    road(sqlite_ledger)
    with acting(sqlite_ledger) as book:
        journal.sealed(book, "person_erased", {"person": 1})
    with tampered(sqlite_ledger) as connection:
        first, last = connection.execute(text("SELECT min(entry_seq), max(entry_seq) FROM secret")).one()
        connection.execute(text("DROP TRIGGER secret_keeps_facts"))
        for seq in (first, last):
            connection.execute(text(f"DELETE FROM secret WHERE entry_seq = {seq} AND field = 'person'"))
        said = found(connection)
    assert [each for each in said if "words behind" in each] == [
        f"the words behind entry {last} are gone, and no erasure took them"
    ]


@pytest.mark.parametrize(
    ("did", "says"),
    [
        ("UPDATE journal SET at = 'some day in May' WHERE seq = 3", "entry 3 says something else than its row"),
        ("UPDATE journal SET body = 'no bytes' WHERE seq = 3", "entry 3 does not match its hash"),
        ("UPDATE journal SET leaf = 'no bytes' WHERE seq = 3", "entry 3 does not match its hash"),
        ("UPDATE journal_node SET hash = 'none' WHERE level = 0 AND idx = 3", "node 3 of level 0 does not match"),
        (
            "UPDATE secret SET value = 'none' WHERE entry_seq = 4 AND field = 'person'",
            "person of entry 4 is not what was sealed",
        ),
        (
            "UPDATE secret SET salt = 'none' WHERE entry_seq = 4 AND field = 'person'",
            "person of entry 4 is not what was sealed",
        ),
        (
            'UPDATE secret SET value = CAST(\'{"act":"rows"}\' AS BLOB) WHERE entry_seq = 4',
            "entry 4 cannot be read: it has no 'rows'",
        ),
        (
            'UPDATE secret SET value = CAST(\'{"act":"rows"}\' AS BLOB) WHERE entry_seq = 4',
            "facts of entry 4 is not what",
        ),
        ("UPDATE work SET year_made = 'long ago' WHERE id = 1", "year_made of row 1 of work is not what entry"),
        ("UPDATE edition SET declared_on = 'never' WHERE id = 1", "declared_on of row 1 of edition is not what entry"),
    ],
)
def test_a_value_of_another_kind_stops_nothing_and_is_named(sqlite_ledger: Engine, did: str, says: str) -> None:
    road(sqlite_ledger)
    with sqlite_ledger.execution_options(writer=True).begin() as connection:
        without_guards(connection)
    with tampered(sqlite_ledger) as connection:
        connection.execute(text(did))
        said = found(connection)
    assert any(says in sentence for sentence in said), [each for each in said if "guard" not in each]


def test_a_guard_that_is_gone_is_named_on_opening(unaudited_engine: Engine, tmp_path: Path) -> None:
    road(unaudited_engine)
    on = " ON piece" if unaudited_engine.dialect.name == "postgresql" else ""
    with unaudited_engine.execution_options(writer=True).begin() as connection:
        connection.execute(text(f"DROP TRIGGER piece_frozen{on}"))
    with reading(unaudited_engine) as session:
        assert [fault.sentence for fault in at_opening(session, tmp_path)] == ["the guard piece_frozen is missing"]
    with unaudited_engine.execution_options(writer=True).begin() as connection:
        install_triggers(connection)
    with reading(unaudited_engine) as session:
        assert at_opening(session, tmp_path) == []


def test_an_old_ledger_put_back_is_seen_on_opening(empty_ledger: Path, tmp_path: Path) -> None:
    place = tmp_path / home.LEDGER
    shutil.copyfile(empty_ledger, place)
    engine = make_engine(f"sqlite:///{place}")
    hold(engine, KEYS)
    checkpoints.keep_newest_in(engine, tmp_path)
    road(engine)
    seventh, eighth = made(engine, 7, 8)
    certified(engine, seventh)
    with engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    shutil.copyfile(place, tmp_path / "old")
    certified(engine, eighth)
    with reading(engine) as session:
        assert at_opening(session, tmp_path) == []
    engine.dispose()
    for beside in ("-wal", "-shm"):
        place.with_name(place.name + beside).unlink(missing_ok=True)
    shutil.copyfile(tmp_path / "old", place)
    with reading(engine) as session:
        (fault,) = at_opening(session, tmp_path)
        assert "an older ledger was put back" in fault.sentence
        assert audit(session) == []  # by itself it is sound
    engine.dispose()


def test_an_erased_buyer_is_in_no_sentence(sqlite_ledger: Engine) -> None:
    everything(sqlite_ledger)
    with tampered(sqlite_ledger) as connection:
        connection.execute(text("UPDATE person SET name = 'Silas Grimble' WHERE id = 1"))
        said = "\n".join(found(connection))
    assert "name of row 1 of person" in said and "Grimble" not in said and BUYER not in said


@pytest.fixture
def driven(unaudited_engine: Engine) -> tuple[Engine, int]:
    """A cost of fifty pounds with the name of somebody in its note, and whose."""
    road(unaudited_engine)
    who = person(unaudited_engine)
    with acting(unaudited_engine) as book:
        draft = CostDraft(basis="edition", target_id=1, amount_minor=5000, spent_on=MAY_4, note=f"driven by {BUYER}")
        costs.add(book, draft)
    return unaudited_engine, who


@pytest.mark.parametrize(
    ("did", "says"),
    [
        ("UPDATE cost SET amount_minor = 9", "amount_minor of row 1 of cost is not what entry"),
        (f"UPDATE cost SET note = 'flown by {BUYER}'", "note of row 1 of cost is not what entry"),
        ("UPDATE person SET kind = 'business'", "kind of row 1 of person is not what entry"),
        ("UPDATE secret SET salt = value WHERE field = 'person' AND entry_seq > 9", "is not what was sealed"),
    ],
)
def test_no_erasure_washes_clean_what_was_changed_by_hand(driven: tuple[Engine, int], did: str, says: str) -> None:
    engine, who = driven
    with engine.execution_options(writer=True).begin() as connection:
        without_guards(connection)
        connection.execute(text(did))
        install_triggers(connection)
    before = faults(engine)
    assert any(says in fault for fault in before)
    with refused(f"Nothing was erased, .*{says}.*Run 'print-ledger check'"), acting(engine) as book:
        people.erase(book, who)
    assert faults(engine) == before
    with reading(engine) as session:
        assert people.shown(session, who) == BUYER


def test_words_an_erasure_took_are_seen_when_they_are_there_again(driven: tuple[Engine, int]) -> None:
    engine, who = driven
    secret = SQLModel.metadata.tables["secret"]
    columns = [column for column in secret.columns if column.name != "id"]  # SQLite gives the highest id again
    with engine.connect() as connection:
        before = [row._asdict() for row in connection.execute(select(*columns))]
    with acting(engine) as book:
        people.erase(book, who)
    with engine.execution_options(writer=True).begin() as connection:
        kept = set(connection.execute(select(secret.c.entry_seq, secret.c.field)))
        back = [row for row in before if (row["entry_seq"], row["field"]) not in kept]
        connection.execute(secret.insert(), back)
    assert faults(engine) == [
        f"the words behind entry {seq} are there again, though an erasure took them"
        for seq in sorted(row["entry_seq"] for row in back)
    ]
    assert len(back) == 4


def test_what_was_changed_elsewhere_keeps_nobody_from_being_erased(driven: tuple[Engine, int]) -> None:
    engine, who = driven
    with engine.execution_options(writer=True).begin() as connection:
        connection.execute(text("UPDATE studio SET works_cap = 31"))
    with acting(engine) as book:
        people.erase(book, who)
    (fault,) = faults(engine)
    assert "works_cap of row 1 of studio" in fault


# --- a ledger from before acts sealed their rows ---


@pytest.fixture
def unsealed(unaudited_engine: Engine) -> Engine:
    """Kept before acts sealed their rows."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(journal, "seal_rows", lambda _book: None)
        road(unaudited_engine)
        certified(unaudited_engine, made(unaudited_engine, 7)[0])
    return unaudited_engine


def faults(engine: Engine) -> list[str]:
    with reading(engine) as session:
        return [fault.sentence for fault in audit(session)]


def test_the_rows_of_an_earlier_ledger_are_sealed_once_as_they_stand(unsealed: Engine) -> None:
    assert "row 1 of work was written by no entry" in faults(unsealed)
    take_over(unsealed)
    assert faults(unsealed) == []
    with reading(unsealed) as session:
        taken = journal.length(session)
    take_over(unsealed)
    with reading(unsealed) as session:
        assert journal.length(session) == taken
    with unsealed.execution_options(writer=True).begin() as connection:
        connection.execute(text("UPDATE studio SET works_cap = 31"))
    (fault,) = faults(unsealed)
    assert fault.startswith(f"works_cap of row 1 of studio is not what entry {taken - 1} left there: it is 31")


def test_rows_changed_in_a_sealed_ledger_are_not_taken_over(unaudited_engine: Engine) -> None:
    road(unaudited_engine)
    with reading(unaudited_engine) as session:
        before = journal.length(session)
    with unaudited_engine.execution_options(writer=True).begin() as connection:
        connection.execute(text("UPDATE studio SET works_cap = 31"))
    take_over(unaudited_engine)
    with reading(unaudited_engine) as session:
        assert journal.length(session) == before
    assert any(said.startswith("works_cap of row 1 of studio is not what entry") for said in faults(unaudited_engine))


def test_an_empty_ledger_has_nothing_to_take_over(engine: Engine) -> None:
    take_over(engine)
    with reading(engine) as session:
        assert journal.length(session) == 0


@pytest.mark.parametrize("column", ["credential", "snapshot", "paper_sha256"])
def test_a_certificate_that_says_something_else_than_was_issued_is_named_by_what(
    unaudited_engine: Engine, column: str
) -> None:
    road(unaudited_engine)
    certified(unaudited_engine, made(unaudited_engine, 7)[0])
    with unaudited_engine.execution_options(writer=True).begin() as connection:
        without_guards(connection)
        made_of_text = f"'{'ab' * 32}'"
        as_bytes = f"CAST({made_of_text} AS BLOB)" if connection.dialect.name == "sqlite" else f"{made_of_text}::bytea"
        value = made_of_text if column == "paper_sha256" else as_bytes
        connection.execute(text(f"UPDATE certificate SET {column} = {value}"))
    says = {
        "credential": "certificate 1 is signed as something else than was issued",
        "snapshot": "certificate 1 does not say what was issued",
        "paper_sha256": "certificate 1 has another paper than the record",
    }
    assert says[column] in faults(unaudited_engine)
