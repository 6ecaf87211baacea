"""Signed heads: one at each certificate, each continuing the one before, and nothing signed on a changed record.

The cast: Ottoline issues. Silas Grimble, who must not get in, has a database prompt, and later her keys as well.
"""

from pathlib import Path

import pytest
from sqlalchemy import Engine, text
from sqlmodel import col, select

from ledger import certificates, checkpoints, home, journal, keys
from ledger.audit import audit
from ledger.database import make_engine, reading
from ledger.errors import Refusal
from ledger.keys import hold
from ledger.reckoning import merkle
from ledger.reckoning.notes import Checkpoint, read_checkpoint, read_proof
from ledger.signing import open_note, sign_note
from ledger.tables import Journal, SignedHead
from tests.cast import KEYS, acting, certified, made, opened, person, refused, road


def heads(engine: Engine) -> list[SignedHead]:
    with reading(engine) as session:
        return checkpoints.every(session)


def issued(engine: Engine, *numbers: int) -> list[certificates.CertificateView]:
    road(engine)
    return [certified(engine, piece_id) for piece_id in made(engine, *numbers)]


def test_each_certificate_ends_in_a_head_of_the_record_as_it_is_then(engine: Engine) -> None:
    issued(engine, 7, 8)
    first, second = heads(engine)
    with reading(engine) as session:
        rows = session.exec(select(Journal).order_by(col(Journal.seq))).all()
    assert [row.seq + 1 for row in rows if row.kind == "certificate.issued"] == [first.size, second.size]
    for head in (first, second):
        said = read_checkpoint(open_note(head.note, KEYS.note_key))
        assert said == Checkpoint(KEYS.origin, head.size, merkle.root(row.leaf for row in rows[: head.size]))


def test_an_act_that_fails_leaves_no_head(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    with refused("No"), acting(engine) as book:
        certificates.issue(book, piece_id)
        raise Refusal("No.")
    assert heads(engine) == []


def test_a_head_that_was_signed_is_not_signed_again(engine: Engine) -> None:
    opened(engine)
    with acting(engine) as book:
        journal.sealed(book, "noted", {"n": 1})
        once = checkpoints.sign(book, KEYS)
        assert checkpoints.sign(book, KEYS) is once
    assert len(heads(engine)) == 1


def test_where_no_head_can_be_kept_beside_the_ledger_the_certificate_stands(
    sqlite_engine: Engine, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """The act is durable before the head is laid beside it: a no would be untrue, and the next act keeps a newer."""
    engine = make_engine(str(sqlite_engine.url))
    hold(engine, KEYS)
    road(engine)
    seventh, eighth = made(engine, 7, 8)
    checkpoints.keep_newest_in(engine, tmp_path)
    (tmp_path / home.NEWEST_HEAD).mkdir()
    assert certified(engine, seventh).state == "valid"
    assert "the newest head was not kept" in caplog.text
    (tmp_path / home.NEWEST_HEAD).rmdir()
    certified(engine, eighth)
    kept = checkpoints.newest_beside(tmp_path, KEYS.note_key)
    assert kept is not None and kept.size == heads(engine)[-1].size
    engine.dispose()


def test_an_entry_is_proved_under_the_first_head_after_it_with_nothing_else_at_hand(engine: Engine) -> None:
    issued(engine, 7, 8)
    person(engine)
    first, second = heads(engine)
    with reading(engine) as session:
        bodies = session.exec(select(Journal.body).order_by(col(Journal.seq))).all()
        texts = [found.text if (found := checkpoints.proof(session, seq)) else "" for seq in range(len(bodies))]
    for seq, (body, told) in enumerate(zip(bodies, texts, strict=True)):
        if seq >= second.size:
            assert told == ""  # what came after the last signed head cannot be proved yet
            continue
        proof = read_proof(told)
        head = read_checkpoint(open_note(proof.note, KEYS.note_key))
        assert head.size == (first.size if seq < first.size else second.size)
        assert proof.index == seq
        assert merkle.included(merkle.leaf_hash(body), seq, head.size, proof.hashes, head.root)
        assert not merkle.included(merkle.leaf_hash(body + b" "), seq, head.size, proof.hashes, head.root)


def unguarded(engine: Engine, guard: str, table: str, *statements: str) -> None:
    on = f" ON {table}" if engine.dialect.name == "postgresql" else ""
    with engine.execution_options(writer=True).begin() as connection:
        connection.execute(text(f"DROP TRIGGER {guard}{on}"))
        for statement in statements:
            connection.execute(text(statement), {"blank": bytes(32)} if ":blank" in statement else {})


def test_nothing_is_signed_on_a_record_whose_past_was_changed(unaudited_engine: Engine) -> None:
    engine = unaudited_engine
    issued(engine, 7)
    eighth = made(engine, 8)[0]
    changed = "UPDATE journal_node SET hash = :blank WHERE level = 1 AND idx = 0"
    higher = "UPDATE journal_node SET hash = :blank WHERE level > 1"
    unguarded(engine, "journal_node_no_update", "journal_node", changed, higher)
    with refused("does not continue what was signed"):
        certified(engine, eighth)
    assert len(heads(engine)) == 1


@pytest.mark.parametrize(
    ("size", "says"), [(99, "does not continue what was signed when it held 99"), (98, "says something else")]
)
def test_nothing_is_signed_on_a_record_that_is_behind_its_head(unaudited_engine: Engine, size: int, says: str) -> None:
    """Older rows were put back under a newer head; or that head was filed under another size."""
    engine = unaudited_engine
    opened(engine)
    ahead = sign_note(Checkpoint(KEYS.origin, 99, bytes(32)).text, KEYS.origin, KEYS.journal)
    row = f"INSERT INTO checkpoint (size, note, at) VALUES ({size}, '{ahead}', '2026-05-04 10:00:00')"
    unguarded(engine, "checkpoint_next", "checkpoint", row)
    with refused(says), acting(engine) as book:
        checkpoints.sign(book, KEYS)


def test_nothing_is_signed_after_a_head_that_was_exchanged(unaudited_engine: Engine) -> None:
    engine = unaudited_engine
    issued(engine, 7)
    eighth = made(engine, 8)[0]
    (head,) = heads(engine)
    forged = head.note.replace(f"\n{head.size}\n", f"\n{head.size - 1}\n")
    unguarded(engine, "checkpoint_no_update", "checkpoint", f"UPDATE checkpoint SET note = '{forged}'")
    with refused("does not hold"):
        certified(engine, eighth)


def faults(engine: Engine) -> list[str]:
    with reading(engine) as session:
        return [fault.sentence for fault in audit(session)]


def test_the_audit_finds_a_head_of_another_record(unaudited_engine: Engine) -> None:
    engine = unaudited_engine
    issued(engine, 7)
    (head,) = heads(engine)
    other = sign_note(Checkpoint(KEYS.origin, head.size, bytes(32)).text, KEYS.origin, KEYS.journal)
    unguarded(engine, "checkpoint_no_update", "checkpoint", f"UPDATE checkpoint SET note = '{other}'")
    assert f"the head of {head.size} entries is not that of this record" in faults(engine)


def test_the_audit_finds_a_head_with_a_signature_that_does_not_hold(unaudited_engine: Engine) -> None:
    engine = unaudited_engine
    issued(engine, 7)
    unguarded(engine, "checkpoint_no_update", "checkpoint", "UPDATE checkpoint SET note = replace(note, '=', 'A')")
    assert any("cannot be opened" in fault for fault in faults(engine))


def test_the_audit_finds_keys_that_the_record_does_not_name(unaudited_engine: Engine) -> None:
    engine = unaudited_engine
    issued(engine, 7)
    his = "did:key:z6MkhaXgBZDvotDkL5257faiztiGiC2QtKLGpbnnEGta2doK"
    unguarded(engine, "signing_keys_frozen", "signing_keys", f"UPDATE signing_keys SET issuer = '{his}'")
    assert any("are not those that entry 1 names" in fault for fault in faults(engine))


def test_the_audit_finds_a_head_signed_before_the_record_named_any_keys(unaudited_engine: Engine) -> None:
    engine = unaudited_engine
    with acting(engine) as book:
        journal.sealed(book, "noted", {"n": 1})
        checkpoints.sign(book, KEYS)
    assert "the head of 1 entries is signed by nobody the record names" in faults(engine)
    with acting(engine) as book:
        keys.add(book, KEYS.public)
    assert "the head of 1 entries is signed by nobody the record names" in faults(engine)
