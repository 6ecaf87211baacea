"""The tree over the record: kept node by node as entries are written, and laid over those of an earlier version.

The cast: Ines, whose book is older than the tree. Gabel Stroud, who must not get in, has had her file in his hands.
"""

from pathlib import Path

import pytest
from alembic import command
from sqlalchemy import Engine, text
from sqlmodel import Session, col, select

from ledger import home, journal
from ledger.database import make_engine, reading, writing
from ledger.errors import Refusal
from ledger.migrations import triggers
from ledger.reckoning import merkle
from ledger.reckoning.canonical import canonical
from ledger.schema import alembic_config, migrate, schema_of
from ledger.tables import Journal, JournalNode
from tests.conftest import check_the_books
from tests.test_database import entries, note
from tests.test_plans import asked, read_through


def noted(engine: Engine, times: int) -> None:
    for _ in range(times):
        with writing(engine, "Ines") as book:
            note(book)


def leaves(session: Session) -> list[bytes]:
    return list(session.exec(select(Journal.leaf).order_by(col(Journal.seq))))


def test_the_nodes_are_those_of_the_entries_at_every_size(engine: Engine) -> None:
    for size in range(131):
        with reading(engine) as session:
            here = leaves(session)
            nodes = session.exec(select(JournalNode.level, JournalNode.idx, JournalNode.hash))
            kept = {(level, index): made for level, index, made in nodes}
            assert kept == {(level, index): made for level, index, made in merkle.subtrees(here)}
            assert journal.head(session) == journal.Head(size, merkle.root(here))
        with writing(engine, "Ines") as book:
            note(book)


def test_entries_of_one_act_stand_in_the_tree_one_by_one(engine: Engine) -> None:
    with writing(engine, "Ines") as book:
        for _ in range(21):
            note(book)
        assert journal.head(book.session).size == 21
    with reading(engine) as session:
        assert journal.head(session).root == merkle.root(leaves(session))


def test_an_act_left_early_leaves_no_node(engine: Engine) -> None:
    noted(engine, 3)
    with pytest.raises(Refusal), writing(engine, "Ines") as book:
        note(book)
        raise Refusal("No.")
    noted(engine, 1)
    with reading(engine) as session:
        assert journal.head(session).root == merkle.root(leaves(session))


def test_any_entry_can_be_proved_to_be_in_the_record_at_any_later_size(engine: Engine) -> None:
    noted(engine, 13)
    with reading(engine) as session:
        here = leaves(session)
        for size in range(1, 14):
            top = merkle.root(here[:size])
            for seq in range(size):
                assert merkle.included(here[seq], seq, size, journal.inclusion_proof(session, seq, size), top)
            for old in range(size + 1):
                proof = journal.consistency_proof(session, old, size)
                assert merkle.consistent(old, size, merkle.root(here[:old]), top, proof)
        with pytest.raises(ValueError, match="no leaf 13 among 13"):
            journal.inclusion_proof(session, 13, 13)


def test_the_head_and_a_proof_are_read_by_index_in_a_few_queries(sqlite_engine: Engine) -> None:
    noted(sqlite_engine, 100)
    for question in (
        journal.head,
        lambda session: journal.inclusion_proof(session, 41, 100),
        lambda session: journal.consistency_proof(session, 41, 100),
    ):
        assert read_through(sqlite_engine, question) == []
        with asked(sqlite_engine) as sent, reading(sqlite_engine) as session:
            question(session)
        assert len(sent) <= 2


def test_a_node_that_is_gone_is_said_and_nothing_is_written_on_top(unaudited_engine: Engine) -> None:
    noted(unaudited_engine, 3)
    on = " ON journal_node" if unaudited_engine.dialect.name == "postgresql" else ""
    with unaudited_engine.execution_options(writer=True).begin() as connection:
        connection.execute(text(f"DROP TRIGGER journal_node_no_delete{on}"))
        connection.execute(text("DELETE FROM journal_node WHERE level = 1"))
    with pytest.raises(Refusal, match="no node 0 of level 1"):
        noted(unaudited_engine, 1)
    assert entries(unaudited_engine) == 3


# --- a ledger from before there was a tree ---

BEFORE = "0001"
COUNTS = [0, 1, 2, 7, 64, 131]


def _older(engine: Engine, bodies: list[bytes]) -> None:
    """A ledger as the first version made and kept it: its tables, its guards, and these entries."""
    config = alembic_config()
    with engine.execution_options(writer=True).begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, BEFORE)
        for seq, body in enumerate(bodies):
            connection.execute(
                text("INSERT INTO journal (seq, kind, at, body, leaf) VALUES (:seq, 'noted', :at, :body, :leaf)"),
                {"seq": seq, "at": "2026-05-04 10:00:00", "body": body, "leaf": merkle.leaf_hash(body)},
            )
        for rule in triggers._rules():
            if rule.table == "journal":
                make = triggers._sqlite if engine.dialect.name == "sqlite" else triggers._postgres
                for line in make(rule):
                    connection.exec_driver_sql(line)


def _bodies(count: int) -> list[bytes]:
    return [canonical({"seq": seq, "kind": "noted", "at": "2026-05-04T10:00:00Z"}) for seq in range(count)]


@pytest.mark.parametrize("count", COUNTS)
def test_an_earlier_ledger_gets_its_tree_when_it_is_brought_up_to_date(blank: Engine, count: int) -> None:
    bodies = _bodies(count)
    _older(blank, bodies)
    migrate(blank)
    with reading(blank) as session:
        assert journal.head(session) == journal.Head(count, merkle.root(map(merkle.leaf_hash, bodies)))
        kept = session.exec(select(Journal.body).order_by(col(Journal.seq))).all()
        assert [bytes(body) for body in kept] == bodies  # the entries themselves are as they were
    noted(blank, 3)
    check_the_books(blank)


def test_an_earlier_ledger_with_a_changed_entry_stays_as_it_is(blank: Engine) -> None:
    bodies = _bodies(9)
    _older(blank, bodies)
    with blank.execution_options(writer=True).begin() as connection:
        connection.execute(
            text("DROP TRIGGER journal_no_update" + (" ON journal" if blank.dialect.name == "postgresql" else ""))
        )
        connection.execute(text("UPDATE journal SET body = :body WHERE seq = 4"), {"body": bodies[4] + b" "})
    with pytest.raises(Refusal, match="left as it was: entry 4"):
        migrate(blank)
    assert schema_of(blank) == BEFORE


def test_a_tree_with_another_root_than_the_entries_have_is_not_kept(
    blank: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The making of nodes is broken by hand: the check before the commit does not take their word for it."""
    _older(blank, _bodies(9))
    whole = merkle.completed

    def crooked(size: int, leaf: bytes, node: merkle.Node) -> list[tuple[int, int, bytes]]:
        return [(level, index, made if level != 1 else bytes(32)) for level, index, made in whole(size, leaf, node)]

    monkeypatch.setattr(merkle, "completed", crooked)
    with pytest.raises(Refusal, match="another root"):
        migrate(blank)
    assert schema_of(blank) == BEFORE


def test_an_earlier_ledger_is_opened_only_when_told_to_bring_it_up_to_date(tmp_path: Path) -> None:
    (tmp_path / "prints").mkdir()
    engine = make_engine(f"sqlite:///{tmp_path / 'prints' / home.LEDGER}")
    _older(engine, _bodies(5))
    engine.dispose()
    with pytest.raises(Refusal, match="--bring-up-to-date"), home.opened(tmp_path / "prints"):
        pass
    with home.opened(tmp_path / "prints", bring_up_to_date=True) as opened, reading(opened.engine) as session:
        assert journal.head(session).size == 5
