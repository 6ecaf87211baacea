"""What proves a certificate: in its PDF, the same at every time, and checked here with tools that are not ours."""

import json
import shutil
import subprocess
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader
from sqlalchemy import Engine

from ledger import certificates, evidence, papers, works
from ledger.database import reading
from ledger.reckoning.credential import Evidence, read_evidence
from ledger.reckoning.identity import from_base58, public_of
from tests.cast import KEYS, acting, certified, made, refused, road
from tests.conftest import not_at_hand


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


ELSEWHERE = r"""
set -euo pipefail
key_file() { (printf '302a300506032b6570032100' | xxd -r -p; cat) | openssl pkey -pubin -inform DER -out "$1"; }
holds() { openssl pkeyutl -verify -pubin -inkey "$1" -rawin -in "$2" -sigfile "$3" >/dev/null; }

echo 'the signed text'
xxd -r -p issuer.hex | key_file issuer.pem
xxd -r -p signature.hex > signature
jq -jcS '.proof | del(.proofValue)' credential.json | openssl dgst -sha256 -binary > signed
jq -jcS 'del(.proof)' credential.json | openssl dgst -sha256 -binary >> signed
holds issuer.pem signed signature

echo 'its hash in the entry'
[ "$(sha256sum < credential.json | cut -c1-64)" = "$(jq -r .credential_sha256 entry.json)" ]

echo 'the head, signed'
sed '1,/^$/d' proof.tlog-proof > note
sed '/^$/,$d' note > text
vkey=$(jq -r .journal keys.json)
printf %s "${vkey#*+*+}" | base64 -d | tail -c 32 | key_file journal.pem
tail -n 1 note | cut -d ' ' -f 3 | base64 -d | tail -c 64 > note.signature
holds journal.pem text note.signature

echo 'the entry under the head'  # the last one under it: everything beside is to its left
[ "$(sed -n '2s/index //p' proof.tlog-proof)" = "$(($(sed -n 2p text) - 1))" ]
(printf '\0'; cat entry.json) | openssl dgst -sha256 -binary > reached
sed '1,2d;/^$/,$d' proof.tlog-proof | while read -r beside; do
  (printf '\1'; printf %s "$beside" | base64 -d; cat reached) | openssl dgst -sha256 -binary > next
  mv next reached
done
[ "$(base64 < reached)" = "$(sed -n 3p text)" ]

echo 'the fingerprint'
sha256sum < keys.json | cut -c1-40 | xxd -r -p | base32 > fingerprint
"""
TOOLS = ("bash", "jq", "sha256sum", "openssl", "xxd", "base32")


def test_a_fresh_certificate_holds_for_jq_sha256sum_and_openssl(sqlite_engine: Engine, tmp_path: Path) -> None:
    """Nothing of ours takes part but base58 undone: canonical bytes, hashes and signatures are theirs."""
    if missing := [tool for tool in TOOLS if shutil.which(tool) is None]:
        not_at_hand("tools", f"no {', '.join(missing)} on this machine")
    road(sqlite_engine)
    found = proved(sqlite_engine, certified(sqlite_engine, made(sqlite_engine, 7)[0]))
    for name, data in found.files.items():
        (tmp_path / name).write_bytes(data)
    said = json.loads(found.credential)
    (tmp_path / "issuer.hex").write_text(public_of(said["issuer"]["id"]).hex())
    (tmp_path / "signature.hex").write_text(from_base58(said["proof"]["proofValue"][1:]).hex())
    command = ["bash", "-c", ELSEWHERE]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert (tmp_path / "fingerprint").read_text().strip() == KEYS.public.fingerprint.replace(" ", "")

    changed = found.credential.replace(b'"7/25"', b'"8/25"')
    (tmp_path / "credential.json").write_bytes(changed)
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode != 0 and done.stdout.strip() == "the signed text"


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
