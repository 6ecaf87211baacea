"""The door to the book, and what the database itself holds whatever an act believes.

The cast: Ines, who keeps the book. Gabel Stroud, who must not get in, has a database prompt.
"""

import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from alembic import command
from sqlalchemy import Connection, Engine, Integer, LargeBinary, inspect, make_url, text
from sqlalchemy.exc import IntegrityError, OperationalError
from sqlmodel import Session, SQLModel, col, func, select, update

from ledger import audit, clock, costs, database, journal, rows, schema, search
from ledger.costs import CostDraft
from ledger.database import UnrecordedChange, housekeeping, make_engine, reading, writing
from ledger.errors import Refusal
from ledger.keys import hold
from ledger.migrations.triggers import missing_triggers
from ledger.schema import check_schema, migrate, newest_schema, schema_of
from ledger.tables import BOOK_TABLES, RECORD, Channel, Journal, SignInTry, Work
from tests.cast import KEYS, MAY_4, acting, certified, made, opened, road
from tests.conftest import admin_of, postgres_ledger
from tests.test_tampering import everything


def note(book: database.Book, what: str = "noted") -> int:
    return journal.sealed(book, what, {"n": 1})


def open_a_channel(engine: Engine, name: str = "Fair stall") -> None:
    with writing(engine, "Ines") as book:
        book.session.add(Channel(name=name, kind="fair"))
        note(book)


def channels(engine: Engine) -> list[str]:
    with reading(engine) as session:
        return list(session.exec(select(Channel.name).order_by(Channel.name)))


def entries(engine: Engine) -> int:
    with reading(engine) as session:
        return journal.length(session)


# --- the door ---


def test_an_act_is_in_the_book_when_its_block_is_left_and_not_before(engine: Engine) -> None:
    with writing(engine, "Ines") as book:
        book.session.add(Channel(name="Fair stall", kind="fair"))
        note(book)
        book.session.flush()
        assert channels(engine) == []  # another connection sees nothing yet
    assert channels(engine) == ["Fair stall"]


def test_an_act_left_early_leaves_nothing(engine: Engine) -> None:
    with pytest.raises(Refusal), writing(engine, "Ines") as book:
        book.session.add(Channel(name="Fair stall", kind="fair"))
        note(book)
        raise Refusal("No.")
    assert (channels(engine), entries(engine)) == ([], 0)


def _by_row(session: Session) -> None:
    session.add(Channel(name="Web", kind="web"))


def _by_bulk_update(session: Session) -> None:
    session.exec(update(Channel).values(fee_minor=5))


def _by_raw_sql(session: Session) -> None:
    session.connection().execute(text("UPDATE channel SET fee_minor = 5"))


@pytest.mark.parametrize("change", [_by_row, _by_bulk_update, _by_raw_sql])
def test_a_change_that_no_entry_records_is_refused_and_undone(engine: Engine, change) -> None:
    open_a_channel(engine)
    with pytest.raises(UnrecordedChange), writing(engine, "Ines") as book:
        change(book.session)
    assert channels(engine) == ["Fair stall"]
    with reading(engine) as session:
        assert session.exec(select(Channel.fee_minor)).all() == [0]


def test_a_block_that_changes_nothing_needs_no_entry(engine: Engine) -> None:
    open_a_channel(engine)
    with writing(engine, "Ines") as book:
        assert book.session.exec(select(Channel)).one().name == "Fair stall"
    assert entries(engine) == 2


def test_the_second_door_needs_no_entry(engine: Engine) -> None:
    with housekeeping(engine) as session:
        session.add(SignInTry(key="k", at=clock.now()))
    with reading(engine) as session:
        assert session.exec(select(func.count()).select_from(SignInTry)).one() == 1
    assert entries(engine) == 0


def test_a_writer_inside_a_writer_is_told_instead_of_waiting_for_ever(engine: Engine) -> None:
    with pytest.raises(RuntimeError, match="writes already"), writing(engine, "Ines"), housekeeping(engine):
        pass
    open_a_channel(engine)  # and the door works again


def _count_one_more(engine: Engine, times: int) -> None:
    for _ in range(times):
        with writing(engine, "Ines") as book:
            channel = book.session.exec(select(Channel)).one()
            channel.fee_minor += 1
            book.session.add(channel)
            note(book)


def test_eight_writers_at_once_lose_nothing(engine: Engine) -> None:
    open_a_channel(engine)
    faults: list[BaseException] = []

    def count() -> None:
        try:
            _count_one_more(engine, 10)
        except BaseException as fault:
            faults.append(fault)

    threads = [threading.Thread(target=count) for _ in range(8)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert faults == []
    with reading(engine) as session:
        assert session.exec(select(Channel.fee_minor)).one() == 80
    assert entries(engine) == 162


def test_two_processes_at_once_lose_nothing(engine: Engine) -> None:
    open_a_channel(engine)
    address = engine.url.render_as_string(hide_password=False)
    job = (
        "import sys\nfrom ledger.database import make_engine\nfrom tests.test_database import "
        "_count_one_more\n"
        "_count_one_more(make_engine(sys.argv[1]), 20)\n"
    )
    both = [subprocess.Popen([sys.executable, "-c", job, address]) for _ in range(2)]
    assert [each.wait(timeout=60) for each in both] == [0, 0]
    with reading(engine) as session:
        assert session.exec(select(Channel.fee_minor)).one() == 40


def test_a_reader_sees_one_moment_and_keeps_no_writer_waiting(engine: Engine) -> None:
    open_a_channel(engine)
    with reading(engine) as session:
        before = session.exec(select(func.count()).select_from(Channel)).one()
        open_a_channel(engine, "Web")
        assert session.exec(select(func.count()).select_from(Channel)).one() == before
    assert channels(engine) == ["Fair stall", "Web"]


def test_nothing_written_while_reading_is_kept(engine: Engine) -> None:
    with reading(engine) as session:
        session.add(Channel(name="Web", kind="web"))
        session.flush()
    assert channels(engine) == []


def test_no_entry_is_older_than_the_one_before_it(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    """The machine's clock was set back an hour."""
    open_a_channel(engine)
    with reading(engine) as session:
        first = session.exec(select(Journal.at)).first()
    monkeypatch.setattr(clock, "now", lambda: datetime.now(UTC).replace(microsecond=0) - timedelta(hours=1))
    open_a_channel(engine, "Web")
    with reading(engine) as session:
        assert session.exec(select(Journal.at).order_by(col(Journal.seq))).all() == [first] * 4


# --- faults, in pairs ---


def test_a_server_with_a_time_zone_of_its_own_keeps_the_same_record(postgres: str) -> None:
    with postgres_ledger(postgres, name="zoned") as address:
        with admin_of(postgres).connect() as connection:
            connection.execute(text("ALTER DATABASE zoned SET timezone TO 'Europe/London'"))
        told = make_url(address).update_query_dict({"options": "-c lock_timeout=7s"})
        engine = make_engine(told.render_as_string(hide_password=False))
        hold(engine, KEYS)
        road(engine)
        certified(engine, made(engine, 1)[0])
        with acting(engine) as book:
            costs.add(book, CostDraft(basis="edition", target_id=1, amount_minor=900, spent_on=MAY_4))
            costs.strike(book, 1, "typed twice")
        with reading(engine) as session:
            assert audit.audit(session) == []
            assert session.connection().scalar(text("SHOW lock_timeout")) == "7s"
        engine.dispose()


def test_a_moment_is_said_in_utc_whatever_zone_it_is_written_in() -> None:
    assert rows.said(datetime(2026, 7, 1, 13, tzinfo=timezone(timedelta(hours=1)))) == "2026-07-01T12:00:00Z"


def test_when_the_commit_fails_nothing_has_landed(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_connection: object) -> None:
        raise engine.dialect.loaded_dbapi.OperationalError("disk I/O error")

    monkeypatch.setattr(engine.dialect, "do_commit", fail)
    with pytest.raises(OperationalError, match="disk I/O error"):
        open_a_channel(engine)
    monkeypatch.undo()
    assert (channels(engine), entries(engine)) == ([], 0)
    open_a_channel(engine)
    assert (channels(engine), entries(engine)) == (["Fair stall"], 2)


def test_when_the_answer_is_lost_after_the_commit_all_of_it_has_landed(
    engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    commit = Session.commit

    def lost(session: Session) -> None:
        commit(session)
        raise ConnectionError("the line is dead")

    monkeypatch.setattr(Session, "commit", lost)
    with pytest.raises(ConnectionError):
        open_a_channel(engine)
    monkeypatch.undo()
    assert (channels(engine), entries(engine)) == (["Fair stall"], 2)
    open_a_channel(engine, "Web")
    assert entries(engine) == 4


def _everything_kept(engine: Engine) -> dict[str, list[tuple[object, ...]]]:
    with engine.connect() as connection:
        return {name: [tuple(row) for row in connection.execute(select(table))] for name, table in KEPT}


KEPT = sorted(SQLModel.metadata.tables.items())


def test_when_the_disk_is_full_at_any_point_of_an_act_it_is_refused_and_nothing_is_half_written(
    sqlite_engine: Engine,
) -> None:
    """SQLite's own SQLITE_FULL, by the number of pages it may have: one more each time, until the act has room."""
    opened(sqlite_engine)

    def allow(pages: int) -> None:
        with sqlite_engine.connect() as connection:
            connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")

    def act(on: Engine) -> None:
        with writing(on, "Ines") as book:
            for n in range(40):
                book.session.add(Channel(name=f"Stall {n} {'x' * 500}", kind="fair"))
                book.session.flush()
            note(book)

    with sqlite_engine.connect() as connection:
        full = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
    before, points = _everything_kept(sqlite_engine), 0
    while True:
        allow(full + points)
        try:
            act(sqlite_engine)
        except Refusal as refusal:
            assert refusal.message == "The disk is full, so nothing was recorded. Make room and send this again."
            assert _everything_kept(sqlite_engine) == before
            points += 1
        else:
            break
    assert points > 10
    assert len(channels(sqlite_engine)) == 40
    allow(2**31)


def test_when_the_disk_is_full_the_second_door_says_so_too(sqlite_engine: Engine) -> None:
    with sqlite_engine.connect() as connection:
        full = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {full}")
    with pytest.raises(Refusal, match="The disk is full"), housekeeping(sqlite_engine) as session:
        session.add(SignInTry(key="k" * 20_000, at=clock.now()))
    with sqlite_engine.connect() as connection:
        connection.exec_driver_sql(f"PRAGMA max_page_count = {2**31}")


# --- the schema ---


def _everything(engine: Engine) -> dict[str, object]:
    seen = inspect(engine)
    return {
        table: {
            "columns": [(c["name"], str(c["type"]), c["nullable"]) for c in seen.get_columns(table)],
            "key": seen.get_pk_constraint(table),
            "unique": sorted(map(repr, seen.get_unique_constraints(table))),
            "checks": sorted((c["name"], c["sqltext"]) for c in seen.get_check_constraints(table)),
            "links": sorted(map(repr, seen.get_foreign_keys(table))),
            "indexes": sorted(
                (i["name"], i["unique"], str(i["column_names"]), *map(str, i["dialect_options"].values()))
                for i in seen.get_indexes(table)
            ),
        }
        for table in seen.get_table_names()
        if table != "alembic_version"
    }


def test_a_migrated_ledger_is_the_one_the_tables_describe(
    engine: Engine, request: pytest.FixtureRequest, tmp_path
) -> None:
    if engine.dialect.name == "sqlite":
        place = nullcontext(f"sqlite:///{tmp_path / 'created.sqlite'}")
    else:
        place = postgres_ledger(request.getfixturevalue("postgres"), "template0")
    with place as address:
        created = make_engine(address)
        with created.execution_options(writer=True).begin() as connection:
            SQLModel.metadata.create_all(connection)
        migrated, wanted = _everything(engine), _everything(created)
        created.dispose()
    for table in SQLModel.metadata.tables:
        assert migrated[table] == wanted[table]
    assert set(migrated) == set(SQLModel.metadata.tables)
    checks = sum(len(each["checks"]) for each in migrated.values())
    assert checks > 50  # none was lost on the way


def test_bringing_a_ledger_up_to_date_twice_changes_nothing(engine: Engine) -> None:
    open_a_channel(engine)
    before = _everything(engine)
    migrate(engine)
    assert _everything(engine) == before
    assert channels(engine) == ["Fair stall"]
    check_schema(engine)


AT_0007 = (
    "INSERT INTO work (id, title, artist, year_made, medium) VALUES (1, 'Weir', 'Ines Okafor', 2024, 'photograph')",
    "INSERT INTO edition (id, work_id, ordinal, kind, statement, later_editions, declared_on, sold_peak) "
    "VALUES (1, 1, 1, 'limited', 'Only 25.', 'ruled_out', '2026-05-04', 0)",
    "INSERT INTO size (id, edition_id, label, image_w_um, image_h_um) VALUES (1, 1, 'small', 127000, 127000)",
    "INSERT INTO print_class (id, edition_id, kind, label, style, count, edition_kind) "
    "VALUES (1, 1, 'numbered', 'Numbered', 'of_count', 25, 'limited')",
    "INSERT INTO piece (id, class_id, class_count, number, generation, latest, size_id, state, condition, origin) "
    "VALUES (1, 1, 25, 1, 1, TRUE, 1, 'inscribed', 'good', 'made')",
    "INSERT INTO certificate (id, code, piece_id, state, issued_on, place, address_printed, snapshot) "
    "VALUES (1, '7K3QWXZP', 1, 'valid', '2026-05-04', 'Hallow', '', :bytes)",
)


def test_a_ledger_brought_up_to_date_finds_its_earlier_certificates_by_part_of_their_codes(blank: Engine) -> None:
    with blank.execution_options(writer=True).begin() as connection:
        config = schema.alembic_config()
        config.attributes["connection"] = connection
        command.upgrade(config, "0007")
        for statement in AT_0007:
            say(connection, statement)
    migrate(blank)
    with reading(blank) as session:
        for typed in ("7k3q", "3q-wx", "wx zp"):
            assert [seen.shown for seen in search.find(session, typed).pieces] == ["1/25"]
        assert search.find(session, "KQ3W").pieces == ()


AT_0008 = (
    *AT_0007,
    "UPDATE edition SET closed_on = '2026-05-05', closed_reason = 'enough'",
    "INSERT INTO journal (seq, kind, at, body, leaf) VALUES (0, 'sealed', '2026-05-04 12:00:00+00', :bytes, :bytes)",
    "INSERT INTO offer (id, size_id, from_on, process, paper, mounting) "
    "VALUES (1, 1, '2026-05-04', 'Pigment', 'Rag', '')",
    "INSERT INTO sheet_plan (id, name, made_on, plan, accepted_on) VALUES "
    "(1, 'Eleven up', '2026-05-04', :bytes, '2026-05-04')",
    "INSERT INTO run (id, edition_id, made_on, sheets, good, spoilt, note, size_id, plan_id, planned) "
    "VALUES (1, 1, '2026-05-04', 1, 11, 0, 'damp', 1, 1, 11)",
    "INSERT INTO spare_fate (id, run_id, fate, how_many, settled_on, note) VALUES (1, 1, 'given', 2, '2026-05-05', '')",
    "INSERT INTO cost (id, basis, run_id, own_labour, amount_minor, spent_on, note) "
    "VALUES (1, 'run', 1, FALSE, 840, '2026-05-04', 'lab')",
    "INSERT INTO cost (id, basis, piece_id, own_labour, amount_minor, spent_on, note) "
    "VALUES (2, 'piece', 1, TRUE, 160, '2026-05-04', 'mount')",
    "INSERT INTO recipe (id, name, version, written_on) VALUES (1, 'Window mount', 1, '2026-05-04')",
    "INSERT INTO finished (id, entry_seq, recipe_id, cost_id) VALUES (1, 0, 1, 2)",
)


def test_a_ledger_brought_up_to_date_keeps_its_costs_finishings_and_accepted_plans(blank: Engine) -> None:
    tables = ("edition", "offer", "sheet_plan", "run", "spare_fate", "cost", "recipe", "finished")
    with blank.execution_options(writer=True).begin() as connection:
        config = schema.alembic_config()
        config.attributes["connection"] = connection
        command.upgrade(config, "0008")
        for statement in AT_0008:
            say(connection, statement)
        before = {table: _by_name(connection, table) for table in tables}
    migrate(blank)
    with blank.connect() as connection:
        for table in tables:
            for then, now in zip(before[table], _by_name(connection, table), strict=True):
                assert now == {**dict.fromkeys(now), **then}  # what is new says nothing yet
        assert database.damage(connection) == []
        assert missing_triggers(connection) == frozenset()


def _by_name(connection: Connection, table: str) -> list[dict[str, object]]:
    return [dict(row) for row in connection.execute(text(f"SELECT * FROM {table} ORDER BY id")).mappings()]


def test_a_migration_that_fails_leaves_the_ledger_as_it_was(blank: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_connection: Connection) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr(schema, "install_triggers", fail)
    with pytest.raises(OSError):
        migrate(blank)
    assert inspect(blank).get_table_names() == []
    monkeypatch.undo()
    migrate(blank)
    assert schema_of(blank) == newest_schema()
    with reading(blank) as session:
        if blank.dialect.name == "sqlite":
            assert session.connection().execute(text("PRAGMA foreign_keys")).scalar_one() == 1


NEXT = """
import sqlalchemy as sa
from alembic import op
revision, down_revision = "9000", {last!r}
def upgrade():
    for table in {tables!r}:
        with op.batch_alter_table(table) as batch:
            batch.add_column(sa.Column("later", sa.Integer(), nullable=True))
            batch.create_check_constraint("ck_" + table + "_later", "later > 0")
"""


def test_a_later_program_can_alter_every_table_of_a_book_with_rows_in_it(
    engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    everything(engine)
    scripts = tmp_path / "migrations"
    shutil.copytree(schema.PACKAGE / "migrations", scripts)
    tables = (*BOOK_TABLES, "journal_node", "checkpoint", "secret")
    (scripts / "versions" / "9000_next.py").write_text(NEXT.format(last=newest_schema(), tables=tables))
    monkeypatch.setattr(schema, "PACKAGE", tmp_path)
    migrate(engine)
    assert schema_of(engine) == "9000"
    with engine.connect() as connection:
        assert missing_triggers(connection) == frozenset()
        for table in tables:
            assert connection.scalar(text(f"SELECT count(*) FROM {table} WHERE later IS NULL")) > 0


def test_a_ledger_of_a_newer_program_is_refused(unaudited_engine: Engine) -> None:
    with unaudited_engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(Refusal, match="newer print-ledger"):
        check_schema(unaudited_engine)


def test_a_guard_that_was_taken_away_is_named_when_the_ledger_is_opened(
    unaudited_engine: Engine, tmp_path: Path
) -> None:
    on = " ON journal" if unaudited_engine.dialect.name == "postgresql" else ""
    with unaudited_engine.begin() as connection:
        connection.execute(text(f"DROP TRIGGER journal_no_update{on}"))
    with reading(unaudited_engine) as session:
        found = [fault.sentence for fault in audit.at_opening(session, tmp_path)]
    assert any("journal_no_update" in sentence for sentence in found)


# --- what the database holds by itself ---

LAID = (
    "INSERT INTO journal (seq, kind, at, body, leaf) VALUES (0, 'noted', '2026-05-04 10:00:00', :bytes, :bytes)",
    "INSERT INTO journal_node (level, idx, hash) VALUES (0, 0, :bytes)",
    "INSERT INTO checkpoint (size, note, at) VALUES (1, 'signed', '2026-05-04 10:00:00')",
    "INSERT INTO signing_keys (id, entry_seq, issuer, journal) VALUES (1, 0, 'did:key:z6Mk', 'ines+00000000+AAAA')",
    "INSERT INTO secret (id, entry_seq, field, salt, value) VALUES (1, 0, 'facts', :bytes, :bytes), "
    "(2, 0, 'person', :bytes, :bytes)",
    "INSERT INTO studio (id, maker_name, name_as_signed, address, contact_line, place, currency, paper, "
    "tax_by, "
    "works_cap, particulars, fixed_sentence, care_line) VALUES (1, 'Ines Okafor', 'I. Okafor', '3 Weir "
    "Lane', "
    "'ines@example.org', 'Hallow', 'GBP', 'a5', 'line', 30, TRUE, FALSE, '')",
    "INSERT INTO address (id, url, from_on, entry_seq) VALUES (1, 'https://okafor.example', '2026-05-04', 0)",
    "INSERT INTO tax_standing (id, from_on, registered, rate_bp) VALUES (1, '2026-05-04', FALSE, 0)",
    "INSERT INTO person (id, kind, name) VALUES (1, 'business', 'Gallery Kelpstane')",
    "INSERT INTO picture (id, sha256, bytes, format, width_px, height_px, bits, show_sha256, paper_sha256, "
    "thumb_sha256) VALUES (1, 'aa', 9, 'JPEG', 10, 10, 8, 'b', 'c', 'd')",
    "INSERT INTO work (id, title, artist, year_made, medium) VALUES (1, 'Salt Road', 'Ines Okafor', 2024, "
    "'photograph'), (2, 'Weir', 'Ines Okafor', 2025, 'photograph')",
    "INSERT INTO edition (id, work_id, ordinal, kind, statement, later_editions, declared_on, sold_peak) "
    "VALUES "
    "(1, 1, 1, 'limited', 'Only 25.', 'ruled_out', '2026-05-04', 0), "
    "(2, 2, 1, 'open', 'As long as wished.', 'not_stated', '2026-05-04', 0), "
    "(3, 2, 2, 'limited', 'Only 3.', 'reserved', '2026-05-04', 0)",
    "INSERT INTO edition_answer (id, edition_id, item, version, answer, text) VALUES "
    "(1, 1, 'signature', 1, 'value', 'in pencil')",
    "INSERT INTO size (id, edition_id, label, image_w_um, image_h_um) VALUES (1, 1, 'small', 127000, "
    "127000), "
    "(2, 2, 'small', 127000, 127000)",
    "INSERT INTO mount_cutter (id, name, scale, offset_um, calibrated_on) VALUES "
    "(1, 'Long cutter', 'back', 500, '2026-05-04')",
    "INSERT INTO frame (id, sold_as, unit, width_a_um, width_b_um, height_a_um, measured_on) VALUES "
    "(1, '300 x 250', 'mm', 302000, 303000, 252000, '2026-05-04')",
    "INSERT INTO mount_plan (id, title, kind, unit, size_id, cutter_id, asked, made_on) VALUES "
    "(1, 'Salt Road, signed', 'window', 'mm', 1, 1, :bytes, '2026-05-04')",
    "INSERT INTO offcut (id, board, unit, width_um, height_um, mount_plan_id, kept_on) VALUES "
    "(1, 'cream', 'mm', 160000, 120000, 1, '2026-05-04')",
    "INSERT INTO offer (id, size_id, from_on, process, paper, mounting, mount_plan_id) VALUES "
    "(1, 1, '2026-05-04', 'pigment print', 'cotton rag', '', 1)",
    "INSERT INTO price_step (id, offer_id, from_sold, price_minor) VALUES (1, 1, 1, 6500)",
    "INSERT INTO print_class (id, edition_id, kind, label, style, count, edition_kind) VALUES "
    "(1, 1, 'numbered', 'Numbered', 'of_count', 25, 'limited'), (2, 1, 'AP', 'AP', 'roman_of_count', 2, "
    "'limited'), "
    "(3, 2, 'numbered', 'Numbered', 'serial', 0, 'open')",
    "INSERT INTO run (id, edition_id, made_on, sheets, good, spoilt, note) VALUES (1, 1, '2026-05-04', 2, 7, 1, '')",
    "INSERT INTO sheet_plan (id, name, made_on, plan) VALUES (1, 'Six up', '2026-05-04', :bytes)",
    "INSERT INTO sheet_plan_size (id, plan_id, place, size_id) VALUES (1, 1, 0, 1)",
    "INSERT INTO spare_fate (id, run_id, fate, how_many, settled_on, note) VALUES "
    "(1, 1, 'archive', 1, '2026-05-04', '')",
    "INSERT INTO piece (id, class_id, class_count, number, generation, latest, size_id, state, condition, "
    "origin) "
    "VALUES (1, 1, 25, 1, 1, TRUE, 1, 'inscribed', 'good', 'made'), "
    "(2, 1, 25, 2, 1, TRUE, NULL, 'free', 'good', 'made'), "
    "(3, 1, 25, 3, 1, FALSE, 1, 'inscribed', 'destroyed', 'made'), "
    "(4, 1, 25, 4, 1, TRUE, 1, 'inscribed', 'destroyed', 'made')",
    "INSERT INTO certificate (id, code, piece_id, state, issued_on, place, address_printed, snapshot) VALUES "
    "(1, 'CODE1', 1, 'valid', '2026-05-04', 'Hallow', '3 Weir Lane', :bytes)",
    "INSERT INTO holding (id, piece_id, holder, how, struck) VALUES (1, 1, 'maker', 'made', FALSE)",
    "INSERT INTO custody (id, piece_id, place, note) VALUES (1, 1, 'studio', '')",
    "INSERT INTO channel (id, name, kind, fee_bp, fee_minor, packing_minor, postage_minor) VALUES "
    "(1, 'Fair stall', 'fair', 175, 0, 60, 0)",
    "INSERT INTO occasion (id, name, kind, from_on, to_on) VALUES "
    "(1, 'Harbour fair', 'selling', '2026-05-04', '2026-05-05')",
    "INSERT INTO consignment (id, person_id, lent_on, commission_bp, commission_on, commission_of, "
    "commission_tax_bp, discount_by) VALUES (1, 1, '2026-05-04', 4000, 'print', 'with_tax', 0, 'shared')",
    "INSERT INTO consigned (id, consignment_id, piece_id, told_price_minor, told_frame_minor, outcome) "
    "VALUES "
    "(1, 1, 1, 6500, 0, 'out')",
    "INSERT INTO sale (id, sold_on, told_on, channel_id, buyer_shown, postage_charged_minor, "
    "postage_paid_minor) "
    "VALUES (1, '2026-05-04', '2026-05-04', 1, 'private', 0, 0)",
    "INSERT INTO sale_line (id, sale_id, piece_id, position, list_minor, price_minor, frame_minor, "
    "charged_minor, "
    "tax_minor, commission_minor, commission_tax_minor, fee_minor, packing_minor, postage_minor, outcome) "
    "VALUES "
    "(1, 1, 1, 1, 6500, 6500, 0, 0, 0, 0, 0, 114, 60, 0, 'sold')",
    "INSERT INTO receipt (id, sale_id, received_on, amount_minor, how, fee_minor, struck) VALUES "
    "(1, 1, '2026-05-04', 6500, 'card', 114, FALSE)",
    "INSERT INTO cost (id, basis, edition_id, own_labour, amount_minor, spent_on, note) VALUES "
    "(1, 'edition', 1, FALSE, 17309, '2026-05-04', 'proofing')",
    "INSERT INTO recipe (id, name, version, written_on) VALUES (1, 'window mount', 1, '2026-05-04')",
    "INSERT INTO recipe_line (id, recipe_id, name, amount_minor, prints, spoilage_bp) VALUES "
    "(1, 1, 'board', 960, 12, 400)",
    "INSERT INTO finished (id, entry_seq, recipe_id, cost_id) VALUES (1, 0, 1, 1)",
    "INSERT INTO event (id, entry_seq, happened_on, kind, edition_id) VALUES (1, 0, '2026-05-04', 'declared', 1)",
    "INSERT INTO correction (id, entry_seq, work_id, field, old, new, why) VALUES "
    "(1, 0, 1, 'title', 'Salt Rode', 'Salt Road', 'a slip')",
)


def say(connection: Connection, statement: str) -> None:
    for one in statement.split("; "):
        connection.execute(text(one), {"bytes": b"\x01"} if ":bytes" in one else {})


@contextmanager
def laid(engine: Engine) -> Iterator[Connection]:
    """One row at least in every table of the book, undone at the end."""
    with engine.execution_options(writer=True).connect() as connection:
        for statement in LAID:
            say(connection, statement)
        yield connection
        connection.rollback()


def refused(connection: Connection, statement: str) -> str:
    """What the database says when it refuses; the connection can go on."""
    with pytest.raises(IntegrityError) as said, connection.begin_nested():
        say(connection, statement)
    return str(said.value.orig)


PIECE = "INSERT INTO piece (id, class_id, class_count, number, generation, latest, size_id, state, condition, origin"
LINE = (
    "INSERT INTO sale_line (id, sale_id, piece_id, list_minor, price_minor, frame_minor, charged_minor, "
    "tax_minor, "
    "commission_minor, commission_tax_minor, fee_minor, packing_minor, postage_minor, outcome, outcome_on) "
    "VALUES "
)
ENTRY = "INSERT INTO journal (seq, kind, at, body, leaf) VALUES (1, 'n', '2026-05-04 10:00:00', :bytes, :bytes)"
HEAD = "INSERT INTO checkpoint (size, note, at) VALUES"
CERTIFICATE = "INSERT INTO certificate (id, code, piece_id, state, issued_on, place, address_printed, snapshot) VALUES "
CLASS = "INSERT INTO print_class (id, edition_id, kind, label, style, count, edition_kind) VALUES "
RECIPE_LINE = "INSERT INTO recipe_line (id, recipe_id, name, amount_minor, prints, minutes, spoilage_bp) VALUES"
EDITION = (
    "INSERT INTO edition (id, work_id, ordinal, kind, statement, later_editions, declared_on, sold_peak, "
    "withdrawn_on) VALUES "
)

# (what holds, a statement that passes, the nearest one that does not)
HELD = [
    (
        "a number is given once",
        f"{PIECE}) VALUES (9, 1, 25, 5, 1, TRUE, NULL, 'free', 'good', 'made')",
        f"{PIECE}) VALUES (9, 1, 25, 2, 1, FALSE, NULL, 'free', 'good', 'made')",
    ),
    (
        "no number is past the count",
        f"{PIECE}) VALUES (9, 1, 25, 25, 1, TRUE, NULL, 'free', 'good', 'made')",
        f"{PIECE}) VALUES (9, 1, 25, 26, 1, TRUE, NULL, 'free', 'good', 'made')",
    ),
    (
        "no number is below one",
        f"{PIECE}) VALUES (9, 3, 0, 1, 1, TRUE, NULL, 'free', 'good', 'made')",
        f"{PIECE}) VALUES (9, 3, 0, 0, 1, TRUE, NULL, 'free', 'good', 'made')",
    ),
    (
        "a piece cannot claim another count than its class has",
        f"{PIECE}) VALUES (9, 2, 2, 2, 1, TRUE, NULL, 'free', 'good', 'made')",
        f"{PIECE}) VALUES (9, 2, 3, 3, 1, TRUE, NULL, 'free', 'good', 'made')",
    ),
    (
        "an open edition has no last number",
        f"{PIECE}) VALUES (9, 3, 0, 40000, 1, TRUE, NULL, 'free', 'good', 'made')",
        f"{PIECE}) VALUES (9, 3, 25, 4, 1, TRUE, NULL, 'free', 'good', 'made')",
    ),
    (
        "a number has one present print",
        "UPDATE piece SET latest = FALSE WHERE id = 4",
        f"{PIECE}, replaces) VALUES (9, 1, 25, 4, 2, TRUE, 1, 'inscribed', 'good', 'made', 4)",
    ),
    (
        "a second print replaces the one before it",
        f"{PIECE}, replaces) VALUES (9, 1, 25, 3, 2, TRUE, 1, 'inscribed', 'good', 'made', 3)",
        f"{PIECE}, replaces) VALUES (9, 1, 25, 3, 3, TRUE, 1, 'inscribed', 'good', 'made', 3)",
    ),
    (
        "a second print has the number it replaces",
        f"{PIECE}, replaces) VALUES (9, 1, 25, 3, 2, FALSE, 1, 'inscribed', 'good', 'made', 3)",
        f"{PIECE}, replaces) VALUES (9, 1, 25, 7, 2, FALSE, 1, 'inscribed', 'good', 'made', 3)",
    ),
    (
        "a print that is there is not replaced",
        "UPDATE piece SET latest = FALSE WHERE id = 1",
        f"{PIECE}, replaces) VALUES (9, 1, 25, 1, 2, FALSE, 1, 'inscribed', 'good', 'made', 1)",
    ),
    (
        "a first print replaces nothing",
        f"{PIECE}) VALUES (9, 1, 25, 8, 1, TRUE, NULL, 'free', 'good', 'made')",
        f"{PIECE}, replaces) VALUES (9, 1, 25, 8, 1, TRUE, NULL, 'free', 'good', 'made', 3)",
    ),
    (
        "only what is inscribed can be damaged",
        "UPDATE piece SET condition = 'damaged' WHERE id = 1",
        "UPDATE piece SET condition = 'damaged' WHERE id = 2",
    ),
    (
        "what is inscribed has a size",
        "UPDATE piece SET state = 'inscribed', size_id = 1 WHERE id = 2",
        "UPDATE piece SET state = 'inscribed' WHERE id = 2",
    ),
    (
        "what was entered from before may lack a size",
        "UPDATE piece SET state = 'inscribed', origin = 'entered' WHERE id = 2",
        "UPDATE piece SET origin = 'entered' WHERE id = 1",
    ),
    (
        "a state is one of four",
        "UPDATE piece SET state = 'withdrawn' WHERE id = 2",
        "UPDATE piece SET state = 'promised' WHERE id = 2",
    ),
    (
        "an edition has one class of a kind",
        f"{CLASS} (9, 3, 'PP', 'PP', 'roman', 2, 'limited')",
        f"{CLASS} (9, 1, 'AP', 'AP', 'roman', 2, 'limited')",
    ),
    (
        "a class is not added once there are numbers",
        f"{CLASS} (9, 3, 'PP', 'PP', 'roman', 2, 'limited')",
        f"{CLASS} (9, 1, 'PP', 'PP', 'roman', 2, 'limited')",
    ),
    (
        "a size is not added once there are numbers",
        "INSERT INTO size (id, edition_id, label, image_w_um, image_h_um) VALUES (9, 3, 'large', 2, 2)",
        "INSERT INTO size (id, edition_id, label, image_w_um, image_h_um) VALUES (9, 1, 'large', 2, 2)",
    ),
    (
        "only the run of an open edition has no ceiling",
        f"{CLASS} (9, 3, 'numbered', 'Numbered', 'of_count', 3, 'limited')",
        f"{CLASS} (9, 3, 'numbered', 'Numbered', 'of_count', 0, 'limited')",
    ),
    (
        "a class cannot claim another kind than its edition has",
        f"{CLASS} (9, 3, 'numbered', 'Numbered', 'of_count', 3, 'limited')",
        f"{CLASS} (9, 3, 'numbered', 'Numbered', 'serial', 0, 'open')",
    ),
    (
        "a count is 9999 at most",
        f"{CLASS} (9, 3, 'numbered', 'Numbered', 'of_count', 9999, 'limited')",
        f"{CLASS} (9, 3, 'numbered', 'Numbered', 'of_count', 10000, 'limited')",
    ),
    (
        "a bon à tirer is one",
        f"{CLASS} (9, 3, 'BAT', 'BAT', 'unnumbered', 1, 'limited')",
        f"{CLASS} (9, 3, 'BAT', 'BAT', 'unnumbered', 2, 'limited')",
    ),
    (
        "a work has one first edition",
        f"{EDITION} (9, 1, 2, 'limited', 'x', 'reserved', '2026-05-04', 0, NULL)",
        f"{EDITION} (9, 1, 1, 'limited', 'x', 'reserved', '2026-05-04', 0, NULL)",
    ),
    (
        "a withdrawn edition gives its place up",
        f"{EDITION} (9, 1, 1, 'limited', 'x', 'reserved', '2026-05-04', 0, '2026-05-05')",
        "UPDATE edition SET ordinal = 1 WHERE id = 3",
    ),
    (
        "a closed edition says why",
        "UPDATE edition SET closed_on = '2026-06-01', closed_reason = 'plate worn' WHERE id = 1",
        "UPDATE edition SET closed_on = '2026-06-01' WHERE id = 1",
    ),
    (
        "sizes are above nothing",
        "INSERT INTO size (id, edition_id, label, image_w_um, image_h_um) VALUES (9, 3, 'large', 1, 1)",
        "INSERT INTO size (id, edition_id, label, image_w_um, image_h_um) VALUES (9, 3, 'large', 1, 0)",
    ),
    (
        "an answer is given once a version",
        "INSERT INTO edition_answer (id, edition_id, item, version, answer, text) "
        "VALUES (9, 1, 'signature', 2, 'not_known', '')",
        "INSERT INTO edition_answer (id, edition_id, item, version, answer, text) "
        "VALUES (9, 1, 'signature', 1, 'not_known', '')",
    ),
    (
        "a piece has one live certificate",
        f"{CERTIFICATE} (9, 'CODE9', 1, 'superseded', '2026-05-04', '', '', :bytes)",
        f"{CERTIFICATE} (9, 'CODE9', 1, 'suspended', '2026-05-04', '', '', :bytes)",
    ),
    (
        "a code is given once",
        f"{CERTIFICATE} (9, 'CODE9', 4, 'void', '2026-05-04', '', '', :bytes)",
        f"{CERTIFICATE} (9, 'CODE1', 4, 'void', '2026-05-04', '', '', :bytes)",
    ),
    (
        "a piece has one owner",
        "INSERT INTO holding (id, piece_id, holder, how, struck) VALUES (9, 1, 'private', 'sale', TRUE)",
        "INSERT INTO holding (id, piece_id, holder, how, struck) VALUES (9, 1, 'private', 'sale', FALSE)",
    ),
    (
        "an owner who is a person is a person of the book",
        "INSERT INTO holding (id, piece_id, holder, person_id, how, struck) VALUES (9, 4, 'person', 1, 'sale', FALSE)",
        "INSERT INTO holding (id, piece_id, holder, how, struck) VALUES (9, 4, 'person', 'sale', FALSE)",
    ),
    (
        "a piece is in one place",
        "INSERT INTO custody (id, piece_id, place, ended_on, note) VALUES (9, 1, 'van', '2026-05-05', '')",
        "INSERT INTO custody (id, piece_id, place, note) VALUES (9, 1, 'van', '')",
    ),
    (
        "a piece is lent once at a time",
        "INSERT INTO consigned (id, consignment_id, piece_id, told_price_minor, told_frame_minor, outcome) "
        "VALUES (9, 1, 1, 1, 0, 'back')",
        "INSERT INTO consigned (id, consignment_id, piece_id, told_price_minor, told_frame_minor, outcome) "
        "VALUES (9, 1, 1, 1, 0, 'out')",
    ),
    (
        "a piece stands sold once",
        f"{LINE} (9, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 'returned', '2026-05-09')",
        f"{LINE} (9, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 'sold', NULL)",
    ),
    (
        "a price is not below nothing",
        f"{LINE} (9, 1, 4, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 'sold', NULL)",
        f"{LINE} (9, 1, 4, 0, -1, 0, 0, 0, 0, 0, 0, 0, 0, 'sold', NULL)",
    ),
    (
        "a receipt is an amount",
        "UPDATE receipt SET amount_minor = -6500 WHERE id = 1",
        "UPDATE receipt SET amount_minor = 0 WHERE id = 1",
    ),
    (
        "a cost is above nothing",
        "UPDATE cost SET amount_minor = 1 WHERE id = 1",
        "UPDATE cost SET amount_minor = 0 WHERE id = 1",
    ),
    (
        "a cost has the one target its basis names",
        "INSERT INTO cost (id, basis, run_id, own_labour, amount_minor, spent_on, note) "
        "VALUES (9, 'run', 1, FALSE, 5, '2026-05-04', '')",
        "INSERT INTO cost (id, basis, run_id, edition_id, own_labour, amount_minor, spent_on, note) "
        "VALUES (9, 'run', 1, 1, FALSE, 5, '2026-05-04', '')",
    ),
    (
        "a kept plan stays as it was",
        "UPDATE sheet_plan SET accepted_on = '2026-05-09' WHERE id = 1",
        "UPDATE sheet_plan SET name = 'Seven up' WHERE id = 1",
    ),
    (
        "a plan stays accepted until its printings are struck",
        "UPDATE sheet_plan SET accepted_on = '2026-05-09' WHERE id = 1; "
        "INSERT INTO run (id, edition_id, plan_id, planned, made_on, sheets, good, spoilt, note, struck_at) "
        "VALUES (9, 1, 1, 4, '2026-05-04', 1, 0, 0, '', '2026-05-09 12:00:00'); "
        "UPDATE sheet_plan SET accepted_on = NULL WHERE id = 1",
        "UPDATE sheet_plan SET accepted_on = '2026-05-09' WHERE id = 1; "
        "INSERT INTO run (id, edition_id, plan_id, planned, made_on, sheets, good, spoilt, note) "
        "VALUES (9, 1, 1, 4, '2026-05-04', 1, 4, 0, ''); "
        "UPDATE sheet_plan SET accepted_on = NULL WHERE id = 1",
    ),
    (
        "a struck printing has no prints",
        "INSERT INTO run (id, edition_id, made_on, sheets, good, spoilt, note, struck_at) "
        "VALUES (9, 1, '2026-05-04', 1, 0, 0, '', '2026-05-09 12:00:00')",
        "INSERT INTO run (id, edition_id, made_on, sheets, good, spoilt, note, struck_at) "
        "VALUES (9, 1, '2026-05-04', 1, 4, 0, '', '2026-05-09 12:00:00')",
    ),
    (
        "only the sheets of an accepted plan are bought",
        "UPDATE sheet_plan SET accepted_on = '2026-05-09', sheet_minor = 840, bought = 2, delivery_minor = 0, "
        "printed_on = '2026-05-09' WHERE id = 1",
        "UPDATE sheet_plan SET sheet_minor = 840, bought = 2, delivery_minor = 0, printed_on = '2026-05-09' "
        "WHERE id = 1",
    ),
    (
        "sheets bought have a price, a delivery and a day",
        "UPDATE sheet_plan SET accepted_on = '2026-05-09', sheet_minor = 840, bought = 2, delivery_minor = 0, "
        "printed_on = '2026-05-09' WHERE id = 1",
        "UPDATE sheet_plan SET accepted_on = '2026-05-09', sheet_minor = 840, bought = 2, delivery_minor = 0 "
        "WHERE id = 1",
    ),
    (
        "no sheet costs less than nothing",
        "UPDATE sheet_plan SET sheet_minor = 0 WHERE id = 1",
        "UPDATE sheet_plan SET sheet_minor = -1 WHERE id = 1",
    ),
    (
        "what accepted sheets cost stays as it was",
        "UPDATE sheet_plan SET sheet_minor = 840 WHERE id = 1; UPDATE sheet_plan SET sheet_minor = 900 WHERE id = 1",
        "UPDATE sheet_plan SET accepted_on = '2026-05-09', sheet_minor = 840 WHERE id = 1; "
        "UPDATE sheet_plan SET sheet_minor = 900 WHERE id = 1",
    ),
    (
        "a plan is accepted on one day",
        "UPDATE sheet_plan SET accepted_on = '2026-05-09' WHERE id = 1; "
        "UPDATE sheet_plan SET accepted_on = '2026-05-09' WHERE id = 1",
        "UPDATE sheet_plan SET accepted_on = '2026-05-09' WHERE id = 1; "
        "UPDATE sheet_plan SET accepted_on = '2026-05-10' WHERE id = 1",
    ),
    (
        "a ledger has its signing keys once",
        "UPDATE signing_keys SET id = id",
        "INSERT INTO signing_keys (id, entry_seq, issuer, journal) VALUES (2, 0, 'did:key:z6Ml', 'ines+00000000+BBBB')",
    ),
    (
        "a size stands once in its place on a plan",
        "INSERT INTO sheet_plan_size (id, plan_id, place) VALUES (9, 1, 1)",
        "INSERT INTO sheet_plan_size (id, plan_id, place) VALUES (9, 1, 0)",
    ),
    (
        "a printing is counted again, and its sheets stay those bought",
        "UPDATE run SET good = 6, spoilt = 2, counted_on = '2026-05-09' WHERE id = 1",
        "UPDATE run SET sheets = 3 WHERE id = 1",
    ),
    (
        "only a printing of a plan has prints planned",
        "INSERT INTO run (id, edition_id, made_on, sheets, good, spoilt, note, plan_id, planned) "
        "VALUES (9, 1, '2026-05-04', 1, 6, 0, '', 1, 6)",
        "INSERT INTO run (id, edition_id, made_on, sheets, good, spoilt, note, planned) "
        "VALUES (9, 1, '2026-05-04', 1, 6, 0, '', 6)",
    ),
    (
        "what became of spares is one of four things",
        "INSERT INTO spare_fate (id, run_id, fate, how_many, settled_on, note) "
        "VALUES (9, 1, 'given', 1, '2026-05-04', '')",
        "INSERT INTO spare_fate (id, run_id, fate, how_many, settled_on, note) "
        "VALUES (9, 1, 'sold', 1, '2026-05-04', '')",
    ),
    (
        "a studio cost has no target",
        "INSERT INTO cost (id, basis, own_labour, amount_minor, spent_on, note) "
        "VALUES (9, 'studio', FALSE, 5, '2026-05-04', '')",
        "INSERT INTO cost (id, basis, sale_id, own_labour, amount_minor, spent_on, note) "
        "VALUES (9, 'studio', 1, FALSE, 5, '2026-05-04', '')",
    ),
    (
        "who was erased has left nothing",
        "UPDATE person SET name = NULL, erased_at = '2026-05-09 10:00:00' WHERE id = 1",
        "UPDATE person SET name = NULL, phone = '0', erased_at = '2026-05-09 10:00:00' WHERE id = 1",
    ),
    (
        "who was not erased has a name",
        "UPDATE person SET name = 'Kelpstane' WHERE id = 1",
        "UPDATE person SET name = NULL WHERE id = 1",
    ),
    (
        "there is one studio",
        "UPDATE studio SET works_cap = 0",
        "INSERT INTO studio SELECT 2, maker_name, name_as_signed, address, contact_line, place, currency, "
        "paper, "
        "tax_by, works_cap, particulars, fixed_sentence, care_line FROM studio",
    ),
    (
        "an entry takes the next place",
        "INSERT INTO journal (seq, kind, at, body, leaf) VALUES (1, 'n', '2026-05-04 10:00:00', :bytes, :bytes)",
        "INSERT INTO journal (seq, kind, at, body, leaf) VALUES (2, 'n', '2026-05-04 10:00:00', :bytes, :bytes)",
    ),
    (
        "an entry is never written over",
        "INSERT INTO journal (seq, kind, at, body, leaf) VALUES (1, 'n', '2026-05-04 10:00:00', :bytes, :bytes)",
        "INSERT INTO journal (seq, kind, at, body, leaf) VALUES (0, 'n', '2026-05-04 10:00:00', :bytes, :bytes)",
    ),
    (
        "a node of the tree takes the next place of its level",
        "INSERT INTO journal_node (level, idx, hash) VALUES (0, 1, :bytes), (1, 0, :bytes)",
        "INSERT INTO journal_node (level, idx, hash) VALUES (0, 2, :bytes)",
    ),
    (
        "a node of the tree is never written over",
        "INSERT INTO journal_node (level, idx, hash) VALUES (0, 1, :bytes)",
        "INSERT INTO journal_node (level, idx, hash) VALUES (0, 0, :bytes)",
    ),
    (
        "a head is signed of the whole record",
        f"{ENTRY}; {HEAD} (2, 'signed', '2026-05-04 10:00:00')",
        f"{HEAD} (2, 'signed', '2026-05-04 10:00:00')",
    ),
    (
        "a head is signed once",
        f"{ENTRY}; {HEAD} (2, 'signed', '2026-05-04 10:00:00')",
        f"{HEAD} (1, 'signed again', '2026-05-04 10:00:00')",
    ),
    (
        "what a person said can be erased, what was done cannot",
        "DELETE FROM secret WHERE field = 'person'",
        "DELETE FROM secret WHERE field = 'facts'",
    ),
    (
        "a row points at a row that is there",
        "UPDATE piece SET run_id = 1 WHERE id = 1",
        "UPDATE piece SET run_id = 7 WHERE id = 1",
    ),
    (
        "a mount plan is the mounting of its own size",
        "INSERT INTO offer (id, size_id, from_on, process, paper, mounting, mount_plan_id) VALUES "
        "(9, 1, '2026-05-09', 'pigment print', 'cotton rag', '', 1)",
        "INSERT INTO offer (id, size_id, from_on, process, paper, mounting, mount_plan_id) VALUES "
        "(9, 2, '2026-05-09', 'pigment print', 'cotton rag', '', 1)",
    ),
    (
        "a frame is measured in both directions",
        "INSERT INTO frame (id, sold_as, unit, width_a_um, height_a_um, measured_on) VALUES "
        "(9, '', 'in', 204000, 255000, '2026-05-09')",
        "INSERT INTO frame (id, sold_as, unit, width_a_um, height_a_um, measured_on) VALUES "
        "(9, '8 x 10', 'in', 204000, 0, '2026-05-09')",
    ),
    (
        "the other end of a frame is measured or left out",
        "INSERT INTO frame (id, sold_as, unit, width_a_um, height_a_um, height_b_um, depth_um, measured_on) VALUES "
        "(9, '', 'in', 204000, 255000, 255500, 12000, '2026-05-09')",
        "INSERT INTO frame (id, sold_as, unit, width_a_um, height_a_um, height_b_um, depth_um, measured_on) VALUES "
        "(9, '', 'in', 204000, 255000, 0, 12000, '2026-05-09')",
    ),
    (
        "board that is left over has two sides",
        "INSERT INTO offcut (id, board, unit, width_um, height_um, kept_on) VALUES (9, '', 'mm', 9, 1, '2026-05-09')",
        "INSERT INTO offcut (id, board, unit, width_um, height_um, kept_on) VALUES (9, '', 'mm', 9, 0, '2026-05-09')",
    ),
    (
        "a cutter’s scale measures the back or the face",
        "INSERT INTO mount_cutter (id, name, scale, offset_um, calibrated_on) VALUES (9, 'C', 'face', -100, "
        "'2026-05-09')",
        "INSERT INTO mount_cutter (id, name, scale, offset_um, calibrated_on) VALUES (9, 'C', 'left', -100, "
        "'2026-05-09')",
    ),
    (
        "a returned line says when",
        "UPDATE sale_line SET outcome = 'returned', outcome_on = '2026-05-09' WHERE id = 1",
        "UPDATE sale_line SET outcome = 'returned' WHERE id = 1",
    ),
    (
        "a recipe has each version once",
        "INSERT INTO recipe (id, name, version, written_on) VALUES (9, 'window mount', 2, '2026-05-09')",
        "INSERT INTO recipe (id, name, version, written_on) VALUES (9, 'window mount', 1, '2026-05-09')",
    ),
    (
        "a finished print is found by its cost, or by itself where it has none",
        "INSERT INTO finished (id, entry_seq, recipe_id, piece_id) VALUES (9, 0, 1, 1)",
        "INSERT INTO finished (id, entry_seq, recipe_id) VALUES (9, 0, 1)",
    ),
    (
        "an act finishes a print that bears nothing once",
        "INSERT INTO finished (id, entry_seq, recipe_id, piece_id) VALUES (9, 0, 1, 1)",
        "INSERT INTO finished (id, entry_seq, recipe_id, piece_id) VALUES (9, 0, 1, 1), (10, 0, 1, 1)",
    ),
    (
        "of what a recipe takes something comes out good",
        f"{RECIPE_LINE} (9, 1, 'board', 960, 12, NULL, 9999)",
        f"{RECIPE_LINE} (9, 1, 'board', 960, 12, NULL, 10000)",
    ),
    (
        "an hour of own time is worth something",
        f"{RECIPE_LINE} (9, 1, 'own time', 1, 1, 30, 0)",
        f"{RECIPE_LINE} (9, 1, 'own time', 0, 1, 30, 0)",
    ),
    (
        "own time takes a minute or more",
        f"{RECIPE_LINE} (9, 1, 'own time', 1600, 1, 1, 0)",
        f"{RECIPE_LINE} (9, 1, 'own time', 1600, 1, 0, 0)",
    ),
    (
        "a line serves a print or more",
        f"{RECIPE_LINE} (9, 1, 'board', 960, 1, NULL, 0)",
        f"{RECIPE_LINE} (9, 1, 'board', 960, 0, NULL, 0)",
    ),
]


def test_the_database_holds_the_rules_by_itself(engine: Engine) -> None:
    """Each in both ways: what may be passes, the nearest thing that may not is refused."""
    for what, passes, does_not in HELD:
        with laid(engine) as connection:
            with connection.begin_nested() as undo:
                say(connection, passes)
                undo.rollback()
            assert refused(connection, does_not), what


def test_no_row_of_the_book_is_ever_deleted(engine: Engine) -> None:
    with laid(engine) as connection:
        for table in (*BOOK_TABLES, *RECORD):
            assert "never deleted" in refused(connection, f"DELETE FROM {table}"), table


def test_an_entry_is_never_changed(engine: Engine) -> None:
    with laid(engine) as connection:
        assert "never changed" in refused(connection, "UPDATE journal SET kind = 'forged'")
        assert "never changed" in refused(connection, "UPDATE checkpoint SET note = 'forged'")
        assert "never changed" in refused(connection, "UPDATE journal_node SET hash = :bytes")
        assert "never changed" in refused(connection, "UPDATE secret SET value = :bytes")


def test_no_row_is_written_over_by_a_side_door(engine: Engine) -> None:
    """INSERT OR REPLACE deletes what it meets; TRUNCATE asks no row. Each engine has its own."""
    with laid(engine) as connection:
        for table in (*BOOK_TABLES, *RECORD, "secret"):
            if engine.dialect.name == "sqlite":
                refused(connection, f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}")
            else:
                assert "never emptied" in refused(connection, f"TRUNCATE {table} CASCADE"), table


def test_a_replacing_insert_under_a_fresh_id_deletes_nothing(sqlite_engine: Engine) -> None:
    with laid(sqlite_engine) as connection:
        replacing = f"{PIECE}) VALUES (99, 1, 25, 2, 1, TRUE, NULL, 'free', 'good', 'made')"
        said = refused(connection, replacing.replace("INSERT", "INSERT OR REPLACE", 1))
        assert "never deleted" in said


DECLARED = {
    "edition": ("work_id", "ordinal", "kind", "statement", "later_editions", "declared_on", "begun_words"),
    "edition_answer": ("edition_id", "item", "version", "answer", "text"),
    "size": ("edition_id", "label", "image_w_um", "image_h_um", "sheet_w_um", "sheet_h_um"),
    "mount_cutter": ("name", "scale", "offset_um", "calibrated_on"),
    "frame": ("sold_as", "unit", "width_a_um", "width_b_um", "height_a_um", "height_b_um", "depth_um"),
    "mount_plan": ("title", "kind", "unit", "size_id", "cutter_id", "asked", "made_on"),
    "offcut": ("board", "unit", "width_um", "height_um", "mount_plan_id"),
    "offer": ("size_id", "from_on", "process", "paper", "mounting", "mount_plan_id", "recipe_id"),
    "price_step": ("offer_id", "from_sold", "price_minor"),
    "print_class": ("edition_id", "kind", "label", "style", "count", "edition_kind"),
    "certificate": ("code", "piece_id", "snapshot", "issued_on"),
    "piece": ("class_id", "class_count", "number", "generation", "replaces"),
    "sale_line": ("sale_id", "position", "list_minor"),
    "recipe": ("name", "version", "written_on"),
    "recipe_line": ("recipe_id", "name", "amount_minor", "prints", "minutes", "spoilage_bp"),
    "finished": ("entry_seq", "recipe_id", "cost_id", "piece_id"),
    "event": ("entry_seq", "kind", "piece_id", "edition_id"),
    "signing_keys": ("entry_seq", "issuer", "journal"),
}


def test_what_was_declared_can_never_be_changed(engine: Engine) -> None:
    with laid(engine) as connection:
        for table, columns in DECLARED.items():
            for column in columns:
                kind = SQLModel.metadata.tables[table].c[column].type
                other = (
                    f"coalesce({column}, 0) + 1"
                    if isinstance(kind, Integer)
                    else ":other"
                    if isinstance(kind, LargeBinary)
                    else "'2001-01-01'"
                )
                with pytest.raises(IntegrityError, match="fixed for good"), connection.begin_nested():
                    connection.execute(
                        text(f"UPDATE {table} SET {column} = {other}"), {"other": b"2"} if other[0] == ":" else {}
                    )


def test_what_may_still_happen_to_declared_things_can(engine: Engine) -> None:
    with laid(engine) as connection:
        for statement in (
            "UPDATE edition SET sold_peak = 1",
            "UPDATE certificate SET state = 'void', reason = 'plate stolen', paper_sha256 = 'ab'",
            "UPDATE piece SET state = 'allocated', allocated_on = '2026-05-09' WHERE id = 2",
            "UPDATE sale_line SET piece_id = 4",
            "UPDATE frame SET struck_at = '2026-05-09 10:00:00'",
            "UPDATE mount_plan SET struck_at = '2026-05-09 10:00:00'",
            "UPDATE offcut SET used_at = '2026-05-09 10:00:00'",
            "UPDATE event SET text = NULL",
            "UPDATE correction SET old = '', new = '', why = ''",
        ):
            say(connection, statement)


def test_works_are_read_back_as_they_were_written(unaudited_engine: Engine) -> None:
    """Through the tables, not past them: dates, moments and bytes survive both engines."""
    engine = unaudited_engine  # a work is written past its act, so no entry adds it
    at = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
    with writing(engine, "Ines") as book:
        book.session.add(Work(title="Salt Road — Ø", artist="Ines Okafor", year_made=2024, medium="photograph"))
        note(book)
        written = book.at
    with reading(engine) as session:
        assert session.exec(select(Work.title)).one() == "Salt Road — Ø"
        found = session.exec(select(Journal.at)).all()[0]
        assert (found, found.tzinfo is not None) == (written, True)
        assert found > at
