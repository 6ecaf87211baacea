"""What proves a certificate: in its PDF, the same at every time, and checked here with tools that are not ours."""

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader
from sqlalchemy import Engine

from ledger import certificates, evidence, papers, works
from ledger.database import reading
from ledger.reckoning.credential import Evidence, read_evidence
from tests import elsewhere
from tests.cast import KEYS, acting, certified, made, refused, road


def proved(engine: Engine, view: certificates.CertificateView) -> Evidence:
    with reading(engine) as session:
        found = evidence.of(session, view.id)
    assert found is not None
    return found


def test_what_proves_a_certificate_stays_the_same_while_the_record_grows(engine: Engine) -> None:
    road(engine)
    first, second = made(engine, 1, 2)
    view = certified(engine, first)
    before = proved(engine, view)
    certified(engine, second)
    with acting(engine) as book:
        works.correct(book, 1, "year_made", "2022", "seen on the negative")
    assert proved(engine, view) == before
    assert before.head.size == before.proof.index + 1
    assert before.keys == KEYS.public


def test_a_certificate_carries_what_proves_it_and_a_batch_only_prints(sqlite_engine: Engine, tmp_path: Path) -> None:
    road(sqlite_engine)
    views = [certified(sqlite_engine, piece_id) for piece_id in made(sqlite_engine, 1, 2)]
    proofs = [proved(sqlite_engine, view) for view in views]
    pairs = [(view.snapshot, proof) for view, proof in zip(views, proofs, strict=True)]
    carried = PdfReader(BytesIO(papers.certificate_pdf(tmp_path, pairs[:1]))).attachments
    files = {name: data[0] for name, data in carried.items()}
    assert files == proofs[0].files
    assert read_evidence(files) == proofs[0]
    batch = PdfReader(BytesIO(papers.certificate_pdf(tmp_path, pairs)))
    assert not batch.attachments
    for page, proof in zip((1, 3), proofs, strict=True):
        assert f"Entry {proof.proof.index} of the record" in batch.pages[page].extract_text()


def test_a_fresh_certificate_holds_for_jq_sha256sum_and_openssl(sqlite_engine: Engine, tmp_path: Path) -> None:
    """Canonical bytes, hashes and signatures are theirs."""
    road(sqlite_engine)
    found = proved(sqlite_engine, certified(sqlite_engine, made(sqlite_engine, 7)[0]))
    told = elsewhere.by_commands(found.files, tmp_path)
    assert told.holds, told
    assert told.fingerprint == KEYS.public.fingerprint.replace(" ", "")

    changed = found.files | {"credential.json": found.credential.replace(b'"7/25"', b'"8/25"')}
    told = elsewhere.by_commands(changed, tmp_path)
    assert not told.holds and told.reached == "the signed text"


@pytest.mark.parametrize("name", ["credential.json", "entry.json", "proof.tlog-proof", "keys.json"])
def test_evidence_with_a_file_missing_is_none(sqlite_engine: Engine, name: str) -> None:
    road(sqlite_engine)
    files = proved(sqlite_engine, certified(sqlite_engine, made(sqlite_engine, 7)[0])).files
    del files[name]
    with refused(f"does not carry {name}"):
        read_evidence(files)


def test_a_certificate_from_before_says_so_and_a_reissue_signs_it(sqlite_ledger: Engine) -> None:
    """As a ledger brought up to date has them: no credential beside the snapshot."""
    road(sqlite_ledger)
    view = certified(sqlite_ledger, made(sqlite_ledger, 7)[0])
    unsign(sqlite_ledger)
    with reading(sqlite_ledger) as session:
        assert evidence.of(session, view.id) is None
        place = evidence.place_of(session, view.id)
    assert place.words == f"Issued before signing began, entry {place.entry} of the record; a reissue signs it."
    with acting(sqlite_ledger) as book:
        again = certificates.reissue(book, view.id, certificates.IssueDraft(reason="to sign it")).id or 0
    with reading(sqlite_ledger) as session:
        found = evidence.of(session, again)
        assert found is not None
        assert evidence.place_of(session, again).words == f"Signed, entry {found.proof.index} of the record."
        assert found.proof.index > place.entry


def unsign(engine: Engine) -> list[tuple[str, int]]:
    """Make every certificate one from before signing began; what each carried is returned, for `sign_again`."""
    with engine.connect() as connection:
        kept = [tuple(row) for row in connection.exec_driver_sql("SELECT credential, id FROM certificate")]
    _carry(engine, [(None, each) for _, each in kept])
    return kept


def sign_again(engine: Engine, kept: list[tuple[str, int]]) -> None:
    _carry(engine, kept)


def _carry(engine: Engine, what: Sequence[tuple[str | None, int]]) -> None:
    with engine.execution_options(writer=True).begin() as connection:
        guard = "SELECT sql FROM sqlite_master WHERE name = 'certificate_frozen'"
        put_back = connection.exec_driver_sql(guard).scalar_one()
        connection.exec_driver_sql("DROP TRIGGER certificate_frozen")
        connection.exec_driver_sql("UPDATE certificate SET credential = ? WHERE id = ?", list(what))
        connection.exec_driver_sql(put_back)
