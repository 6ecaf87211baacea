"""Certificates as W3C credentials: the published example holds byte for byte, and ours is made the same way.

The cast: Ines signs. Gabel Stroud, who must not get in, has a key of his own.
"""

import copy
import json
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine
from sqlmodel import select

from ledger import checks, credentials
from ledger.database import reading
from ledger.errors import Refusal
from ledger.reckoning import credential
from ledger.reckoning.canonical import CREDENTIAL_KEY, canonical
from ledger.reckoning.identity import did_of, from_base58
from ledger.signing import Signer
from ledger.tables import Certificate, Journal
from ledger.web.public import in_the_record
from tests import elsewhere
from tests.cast import KEYS, certified, made, road

# github.com/w3c/vc-di-eddsa @abb673e, TestVectors: appendix B, 'Representation: eddsa-jcs-2022', of the W3C
# Recommendation 'Data Integrity EdDSA Cryptosuites v1.0' (2025-05-15)
W3C: dict[str, Any] = json.loads((Path(__file__).parent / "vectors" / "eddsa_jcs_2022.json").read_text())
SEED = from_base58(W3C["keyPair"]["privateKeyMultibase"][1:]).removeprefix(b"\x80\x26")
INES, GABEL = Signer(bytes(range(32))), Signer(bytes(range(1, 33)))
AT = "2026-05-04T12:00:00Z"


def test_the_published_example_comes_out_byte_for_byte() -> None:
    document, options = W3C["unsigned"], W3C["proofConfig"]
    assert canonical(document, CREDENTIAL_KEY).decode() == W3C["canonicalDocument"]
    assert canonical(options, CREDENTIAL_KEY).decode() == W3C["canonicalProofConfig"]
    assert credential.to_sign(document, options).hex() == W3C["combinedHash"]
    assert W3C["combinedHash"] == W3C["proofConfigHash"] + W3C["documentHash"]
    signer = Signer(SEED)
    signature = signer.sign(credential.to_sign(document, options))
    assert signature.hex() == W3C["signatureHex"]
    assert credential.joined(document, options, signature) == W3C["signed"]
    ours = credential.options_of(document, did_of(signer.public), options["created"])
    assert ours == options
    assert credentials.sign(document, signer, options["created"]) == W3C["signed"]


def test_the_published_example_holds() -> None:
    assert did_of(credentials.signer_of(W3C["signed"])) == "did:key:" + W3C["keyPair"]["publicKeyMultibase"]


def leaves(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path] if isinstance(value, str) else [found for key, part in inside for found in leaves(part, (*path, key))]


@pytest.mark.parametrize("path", leaves(W3C["signed"]), ids=lambda path: ".".join(map(str, path)))
def test_the_published_example_with_any_one_value_changed_does_not_hold(path: tuple[Any, ...]) -> None:
    changed = copy.deepcopy(W3C["signed"])
    where = changed
    for key in path[:-1]:
        where = where[key]
    text = where[path[-1]]
    where[path[-1]] = text[:-1] + ("3" if text[-1] != "3" else "4")
    with pytest.raises(Refusal):
        credentials.signer_of(changed)


def test_a_field_added_or_taken_away_spoils_the_signature() -> None:
    with pytest.raises(Refusal, match="does not hold"):
        credentials.signer_of({**W3C["signed"], "evidence": "none"})
    with pytest.raises(Refusal, match="does not hold"):
        credentials.signer_of({name: value for name, value in W3C["signed"].items() if name != "name"})
    with pytest.raises(Refusal, match="no proof"):
        credentials.signer_of(W3C["unsigned"])


def of_ines() -> dict[str, Any]:
    return {
        "@context": [credential.FIRST_CONTEXT, credential.LAST_CONTEXT],
        "issuer": {"id": did_of(INES.public)},
        "credentialSubject": {"number": "7/25"},
        "record": {"origin": "ines"},
    }


def test_a_certificate_signed_by_another_than_its_issuer_is_refused() -> None:
    assert credentials.opened(credentials.signed_bytes(of_ines(), INES, AT))["record"] == {"origin": "ines"}
    with pytest.raises(Refusal, match="another than the issuer"):
        credentials.opened(credentials.signed_bytes(of_ines(), GABEL, AT))


def test_a_certificate_written_in_any_other_way_is_refused() -> None:
    data = credentials.signed_bytes(of_ines(), INES, AT)
    spaced = json.dumps(json.loads(data)).encode()
    twice = data.replace(b'"issuer":', b'"issuer":{"id":"did:key:zGabel"},"issuer":')
    for other in (spaced, twice, data + b"\n", b"[" * 90_000, b"\xff", b"7", b""):
        with pytest.raises(Refusal, match="the one way"):
            credentials.opened(other)


# --- in the book ---


def test_the_entry_of_a_certificate_holds_the_hash_of_what_was_signed(engine: Engine) -> None:
    road(engine)
    view = certified(engine, made(engine, 7)[0])
    with reading(engine) as session:
        row = session.exec(select(Certificate).where(Certificate.code == view.code)).one()
        entry = json.loads(session.exec(select(Journal.body).where(Journal.kind == "certificate.issued")).one())
    assert row.credential is not None
    said = credentials.opened(row.credential)
    assert entry["credential_sha256"] == sha256(row.credential).hexdigest()
    assert credential.agrees(said, entry)
    assert said["record"]["number"] == 7 and said["record"]["origin"] == KEYS.origin
    assert said["validFrom"] == entry["at"] == said["proof"]["created"]
    assert said["@context"][0] == credential.FIRST_CONTEXT and said["@context"][-1] == credential.LAST_CONTEXT
    assert said["proof"]["@context"] == said["@context"]


@pytest.mark.parametrize("field", ["edition", "class", "number", "generation", "code_sha256", "snapshot_sha256"])
def test_a_credential_agrees_with_no_entry_but_its_own(sqlite_engine: Engine, field: str) -> None:
    road(sqlite_engine)
    certified(sqlite_engine, made(sqlite_engine, 7)[0])
    with reading(sqlite_engine) as session:
        said = credentials.opened(session.exec(select(Certificate.credential)).one() or b"")
        entry = json.loads(session.exec(select(Journal.body).where(Journal.kind == "certificate.issued")).one())
    assert credential.agrees(said, entry)
    assert not credential.agrees(said, entry | {field: "another"})


def test_a_credential_says_nothing_that_its_public_page_does_not_show(sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    view = certified(sqlite_engine, made(sqlite_engine, 7)[0])
    with reading(sqlite_engine) as session:
        said = credentials.opened(session.exec(select(Certificate.credential)).one() or b"")
        shown = str(in_the_record(checks.check(session, view.code) or pytest.fail("not in the record")))
    told = said["credentialSubject"]
    besides = {"type", "pictureSha256", "certificate", "issuedOn"}
    assert [text for name, text in told.items() if name not in besides and text not in shown] == []
    assert besides < set(told)
    assert said["issuer"] == {"id": KEYS.public.issuer, "name": view.snapshot["signed_name"]}
    assert set(said) == {"@context", "type", "issuer", "validFrom", "credentialSubject", "record", "proof"}


def test_a_fresh_certificate_holds_for_libraries_that_are_not_ours(sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    certified(sqlite_engine, made(sqlite_engine, 7)[0])
    with reading(sqlite_engine) as session:
        text = session.exec(select(Certificate.credential)).one() or b""
    assert elsewhere.by_libraries({"credential.json": text})
    assert not elsewhere.by_libraries({"credential.json": text.replace(b'"7/25"', b'"8/25"')})
