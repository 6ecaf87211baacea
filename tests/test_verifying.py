"""A certificate's PDF in the hands of somebody who trusts nobody: what matches, what does not, what cannot be known.

Gabel Stroud forges; Ottoline may cheat too, for she holds the keys.
"""

import json
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from shutil import copyfile

import pytest
from sqlalchemy import Engine

from ledger import carried, certificates, conditions, credentials, evidence, papers, verifying
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.keys import hold
from ledger.paper.certificate import CertificatePages, render
from ledger.reckoning import merkle, notes
from ledger.reckoning.canonical import canonical
from ledger.reckoning.credential import Evidence
from ledger.signing import Keys, new_keys, sign_note
from ledger.verifying import DIFFERS, MATCHES, OPEN, Typed, Verdict, as_lines, verify
from tests.cast import KEYS, MAKER, acting, certified, made, road
from tests.conftest import quick_engine
from tests.paper.cast import FACE
from tests.test_evidence import unsign

GABEL = new_keys(bytes(range(64, 96)), bytes(range(96, 128)))


@dataclass(frozen=True)
class Issued:
    """A certificate of the road, its PDF, and what stands on its paper."""

    engine: Engine
    view: certificates.CertificateView
    proof: Evidence
    pdf: Path

    @property
    def paper(self) -> Typed:
        return Typed(self.proof.keys.fingerprint, self.proof.head.root.hex())

    def checked(self, typed: Typed | None = None) -> Verdict:
        return verify(self.pdf, typed or Typed())

    def in_the_ledger(self, typed: Typed | None = None, engine: Engine | None = None) -> Verdict:
        with reading(engine or self.engine) as session:
            return verify(self.pdf, typed or Typed(), session)


def issue(engine: Engine, folder: Path, number: int = 7) -> Issued:
    view = certified(engine, made(engine, number)[0])
    with reading(engine) as session:
        proof = evidence.of(session, view.id)
    assert proof is not None
    sha = papers.keep_certificate(folder, view.snapshot, proof)
    with acting(engine) as book:
        certificates.keep_paper(book, view.id, sha)
    return Issued(engine, view, proof, papers.place_of(folder, sha))


@pytest.fixture
def issued(sqlite_engine: Engine, tmp_path: Path) -> Issued:
    road(sqlite_engine)
    return issue(sqlite_engine, tmp_path)


@pytest.fixture
def another(empty_ledger: Path, tmp_path: Path) -> Iterator[Engine]:
    """A second ledger, with the same keys."""
    copyfile(empty_ledger, tmp_path / "another.sqlite")
    engine = quick_engine(tmp_path / "another.sqlite")
    hold(engine, KEYS)
    yield engine
    engine.dispose()


def carrying(folder: Path, files: dict[str, bytes]) -> Path:
    """The PDF of a certificate with these files in it."""
    pdf = folder / "made.pdf"
    pdf.write_bytes(render([CertificatePages(FACE)], paper="a5", title="Certificate", files=files))
    return pdf


def reasons(verdict: Verdict, result: str) -> str:
    return " ".join(f"{each.about}: {each.reason}" for each in verdict.findings if each.result == result)


# --- what is right ---


def test_a_genuine_certificate_matches_by_its_paper_alone_when_every_site_is_gone(issued: Issued) -> None:
    """No ledger, no network; fingerprint and head typed as they are printed."""
    verdict = issued.checked(issued.paper)
    assert verdict.result == MATCHES
    assert verdict.says["number"] == "7/25" and verdict.says["artist"] == MAKER
    assert any("A change since" in sentence for sentence in verdict.beyond)
    short = Typed(" ".join(issued.paper.fingerprint.split()[:4]).lower(), issued.paper.head[:16].upper())
    assert issued.checked(short).result == MATCHES


def test_a_genuine_certificate_matches_its_paper_and_the_ledger_that_issued_it(issued: Issued) -> None:
    verdict = issued.in_the_ledger(issued.paper)
    assert verdict.result == MATCHES and verdict.sentence.startswith("It matches the record")
    assert "stands in its" in reasons(verdict, MATCHES)
    assert not any("byte for byte" in sentence for sentence in verdict.beyond)


def test_a_file_saved_again_matches_and_is_said_not_to_be_the_paper_kept(issued: Issued, tmp_path: Path) -> None:
    again = replace(issued, pdf=carrying(tmp_path, issued.proof.files))
    verdict = again.in_the_ledger(issued.paper)
    assert verdict.result == MATCHES
    assert any("not, byte for byte" in sentence for sentence in verdict.beyond)


# --- what was compared with nothing ---


@pytest.mark.parametrize("beside", ["alone", "with its ledger"])
def test_nothing_matches_that_was_not_held_against_the_paper(issued: Issued, beside: str) -> None:
    """A ledger vouches for neither its keys nor its history: whoever has the keys can write both anew."""
    check = issued.checked if beside == "alone" else issued.in_the_ledger
    keys, head = issued.paper.fingerprint, issued.paper.head
    for typed, but in (
        (Typed(), "neither its keys nor its head were held"),
        (Typed(head=head), "its keys were not held"),
        (Typed(keys), "its head was not held"),
        (Typed("MQ3Z", head), "its keys were not held"),
        (Typed(keys, "0"), "its head was not held"),
    ):
        verdict = check(typed)
        assert verdict.result == OPEN
        assert f"Nothing in it is at odds, but {but} against the paper. Type what" in verdict.sentence
        assert ("--fingerprint" in verdict.sentence, "--head" in verdict.sentence) == ("keys" in but, "head" in but)


def test_what_is_at_odds_is_told_before_what_is_open_and_what_matches(issued: Issued) -> None:
    said = list(as_lines(issued.in_the_ledger(Typed(GABEL.public.fingerprint))))
    headings = [line for line in said if not line.startswith("  ")]
    assert headings[0] == "It does not match. What is at odds stands first below."
    assert headings[1:4] == ["Does not match:", "Could not be checked:", "Matches the record:"]
    assert said[2].startswith("  The keys. They are not the keys of the fingerprint given.")


def test_another_fingerprint_or_another_head_does_not_match(issued: Issued) -> None:
    assert issued.checked(Typed(GABEL.public.fingerprint, issued.paper.head)).result == DIFFERS
    assert issued.checked(replace(issued.paper, head="ab" * 32)).result == DIFFERS
    assert issued.in_the_ledger(replace(issued.paper, head="ab" * 32)).result == DIFFERS


@pytest.mark.parametrize(
    "threat", ["prints that were never recorded", "the sheet in front of you", "Only the words", "an older paper"]
)
def test_what_no_record_can_know_is_said_beside_every_match(issued: Issued, threat: str) -> None:
    for verdict in (issued.checked(issued.paper), issued.in_the_ledger(issued.paper)):
        assert verdict.result == MATCHES
        assert any(threat in sentence for sentence in verdict.beyond)


# --- forgeries ---


def forged(proof: Evidence, keys: Keys, **subject: str) -> Evidence:
    """The same certificate with other words, in a record and under keys of somebody's own."""
    said = json.loads(proof.credential)
    del said["proof"]
    said["issuer"]["id"] = keys.public.issuer
    said["record"]["origin"] = keys.origin
    said["credentialSubject"] |= subject
    signed = credentials.signed_bytes(said, keys.certificate, said["validFrom"])
    entry = json.loads(proof.entry) | {"credential_sha256": sha256(signed).hexdigest(), "seq": 0}
    body = canonical(entry)
    head = notes.Checkpoint(keys.origin, 1, merkle.leaf_hash(body))
    note = sign_note(head.text, keys.origin, keys.journal)
    return Evidence(signed, body, notes.Proof(0, (), note), keys.public)


def test_a_forgery_under_the_forger_s_own_keys_is_good_by_itself_and_proves_nothing(
    issued: Issued, tmp_path: Path
) -> None:
    false = replace(issued, pdf=carrying(tmp_path, forged(issued.proof, GABEL, number="8/25").files))
    alone = false.checked()
    assert alone.result == OPEN and "A stranger can sign" in reasons(alone, OPEN)
    assert false.checked(issued.paper).result == DIFFERS
    beside = false.in_the_ledger()
    assert beside.result == OPEN
    assert any("has other keys, and was not asked" in sentence for sentence in beside.beyond)


def changed(data: bytes, old: bytes, new: bytes) -> bytes:
    assert old in data
    return data.replace(old, new, 1)


@pytest.mark.parametrize(
    ("name", "old", "new", "about"),
    [
        ("credential.json", b'"7/25"', b'"8/25"', "The signed text"),
        ("credential.json", b'"year":"2023"', b'"year":"1923"', "The signed text"),
        ("credential.json", b"{", b"{ ", "The signed text"),
        ("entry.json", b'"number":7', b'"number":8', "The entry"),
        ("entry.json", b"certificate.issued", b"certificate.printed", "The entry"),
        ("entry.json", b'"seq":', b'"seq":1', "The entry"),
        ("entry.json", b'"generation":1', b'"generation":2', "Its place in the record"),
        ("proof.tlog-proof", b"index ", b"index 1", "Its place in the record"),
        ("proof.tlog-proof", b"/journal ", b"/journel ", "Its place in the record"),
    ],
)
def test_whatever_was_changed_in_a_file_is_named(
    issued: Issued, tmp_path: Path, name: str, old: bytes, new: bytes, about: str
) -> None:
    files = issued.proof.files
    false = replace(issued, pdf=carrying(tmp_path, files | {name: changed(files[name], old, new)}))
    for verdict in (false.checked(issued.paper), false.in_the_ledger(issued.paper)):
        assert verdict.result == DIFFERS
        assert f"{about}:" in reasons(verdict, DIFFERS)


@pytest.mark.parametrize("name", ["credential.json", "entry.json", "proof.tlog-proof"])
def test_no_byte_of_what_proves_a_certificate_can_change(issued: Issued, tmp_path: Path, name: str) -> None:
    from ledger import verifying

    data = issued.proof.files[name]
    for at in range(0, len(data), max(1, len(data) // 60)):
        other = bytearray(data)
        other[at] ^= 1
        try:
            read = verifying.credential.read_evidence(issued.proof.files | {name: bytes(other)})
        except Refusal:
            continue
        assert DIFFERS in {finding.result for finding in verifying._of_itself(read)}, at


def test_the_evidence_of_one_print_does_not_serve_another(issued: Issued, tmp_path: Path) -> None:
    """A second paper for a number, put together from two genuine ones."""
    other = issue(issued.engine, tmp_path, 8)
    mixed = other.proof.files | {"credential.json": issued.proof.credential}
    verdict = replace(issued, pdf=carrying(tmp_path, mixed)).checked(other.paper)
    assert verdict.result == DIFFERS and "another text than the signed one" in reasons(verdict, DIFFERS)


def test_a_number_said_otherwise_in_the_entry_than_in_the_text_is_found_under_the_maker_s_own_keys(
    issued: Issued, tmp_path: Path
) -> None:
    """No. 26 of 25, the entry saying 7."""
    said = forged(issued.proof, KEYS, certificate="0" * 16, number="26/25")
    verdict = replace(issued, pdf=carrying(tmp_path, said.files)).checked(Typed(KEYS.public.fingerprint))
    assert verdict.result == DIFFERS and "say different things" in reasons(verdict, DIFFERS)


# --- a maker who cheats ---


def _missing(book: Book, issued: Issued) -> None:
    conditions.missing(book, issued.view.piece_id, "not in the drawer")


def _reissued(book: Book, issued: Issued) -> None:
    certificates.reissue(book, issued.view.id, certificates.IssueDraft(reason="coffee on it"))


@pytest.mark.parametrize(("act", "words"), [(_missing, "is on hold"), (_reissued, "was replaced")])
def test_a_certificate_that_does_not_stand_now_does_not_match(issued: Issued, act, words: str) -> None:
    with acting(issued.engine) as book:
        act(book, issued)
    verdict = issued.in_the_ledger()
    assert verdict.result == DIFFERS and words in reasons(verdict, DIFFERS)


def test_a_record_with_its_tail_cut_off_does_not_match(issued: Issued, another: Engine) -> None:
    """An old copy of the ledger put back."""
    road(another)
    verdict = issued.in_the_ledger(engine=another)
    assert verdict.result == DIFFERS and "an older copy was put back" in reasons(verdict, DIFFERS)


@contextmanager
def behind_the_guards(engine: Engine, table: str) -> Iterator[object]:
    with engine.execution_options(writer=True).begin() as connection:
        names = connection.exec_driver_sql(
            f"SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = '{table}'"
        ).scalars()
        for name in names.all():
            connection.exec_driver_sql(f"DROP TRIGGER {name}")
        yield connection


@pytest.mark.parametrize(
    ("table", "change", "words"),
    [
        ("journal", "body = replace(CAST(body AS TEXT), '\"number\":7', '\"number\":8')", "says something else"),
        ("journal_node", "hash = zeroblob(32)", "history was changed"),
    ],
)
def test_a_database_changed_by_hand_does_not_match(
    sqlite_ledger: Engine, tmp_path: Path, table: str, change: str, words: str
) -> None:
    road(sqlite_ledger)
    issued = issue(sqlite_ledger, tmp_path)
    with behind_the_guards(sqlite_ledger, table) as connection:
        connection.exec_driver_sql(f"UPDATE {table} SET {change}")
    verdict = issued.in_the_ledger()
    assert verdict.result == DIFFERS and words in reasons(verdict, DIFFERS)


# --- papers without proof ---


def test_a_paper_from_before_signing_could_not_be_checked_and_is_known_to_the_ledger(
    sqlite_ledger: Engine, tmp_path: Path
) -> None:
    road(sqlite_ledger)
    view = certified(sqlite_ledger, made(sqlite_ledger, 7)[0])
    unsign(sqlite_ledger)
    sha = papers.keep_certificate(tmp_path, view.snapshot, None)
    with acting(sqlite_ledger) as book:
        certificates.keep_paper(book, view.id, sha)
    old = papers.place_of(tmp_path, sha)
    assert "It carries no signed certificate" in reasons(verify(old, Typed()), OPEN)
    with reading(sqlite_ledger) as session:
        verdict = verify(old, Typed(), session)
    assert verdict.result == OPEN
    assert "Issued before signing began, entry" in reasons(verdict, OPEN)


# --- files made to do harm ---


def listing(count: int, more: bytes = b"") -> bytes:
    names = b" ".join(b"(%d) << /Type /Filespec >>" % at for at in range(count))
    return pdf_of(b"<< /Type /Catalog /Pages 2 0 R /Names << /EmbeddedFiles << /Names [%s] >> >> %s >>" % (names, more))


def pdf_of(catalog: bytes, *more: bytes) -> bytes:
    parts = [catalog, b"<< /Type /Pages /Kids [] /Count 0 >>", *more]
    data, places = b"%PDF-1.7\n", []
    for number, part in enumerate(parts, start=1):
        places.append(len(data))
        data += b"%d 0 obj\n%s\nendobj\n" % (number, part)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    start = len(data)
    count = len(parts) + 1
    data += b"xref\n0 %d\n0000000000 65535 f \n%s" % (count, table)
    return data + b"trailer << /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (count, start)


def stream(data: bytes, filters: bytes) -> bytes:
    return b"<< /Filter %s /Length %d >>\nstream\n%s\nendstream" % (filters, len(data), data)


def with_credential(held: bytes) -> bytes:
    names = b"<< /EmbeddedFiles << /Names [(credential.json) << /Type /Filespec /EF << /F 3 0 R >> >>] >> >>"
    return pdf_of(b"<< /Type /Catalog /Pages 2 0 R /Names %s >>" % names, held)


BOMB = zlib.compress(zlib.compress(bytes(1 << 30), 9), 9)
ROUND = b"<< /EmbeddedFiles << /Kids [3 0 R] >> >>"
HOSTILE = {
    "a file that unfolds to a gigabyte": with_credential(stream(BOMB, b"[/FlateDecode /FlateDecode]")),
    "a large file": with_credential(stream(zlib.compress(bytes(300_000)), b"/FlateDecode")),
    "thousands of files": listing(5_000),
    "names in a circle": pdf_of(b"<< /Type /Catalog /Pages 2 0 R /Names %s >>" % ROUND, b"<< /Kids [3 0 R] >>"),
    "a script at its opening": listing(0, b"/OpenAction << /S /JavaScript /JS (app.alert\\(1\\)) >>"),
    "brackets without end": pdf_of(b"[" * 200_000),
    "no end": listing(1)[:200],
    "nothing but its name": b"%PDF-1.7\n",
    "text": b"Certificate of authenticity",
    "nothing": b"",
}


@pytest.mark.parametrize("what", HOSTILE)
def test_a_file_made_to_do_harm_ends_in_a_sentence(tmp_path: Path, what: str) -> None:
    pdf = tmp_path / "strange.pdf"
    pdf.write_bytes(HOSTILE[what])
    verdict = verify(pdf, Typed())
    assert verdict.result == OPEN
    assert len(verdict.findings) == 1 and verdict.findings[0].about == "The file"
    assert verdict.findings[0].reason.endswith(".") and not verdict.says


def test_a_file_of_two_hundred_megabytes_is_not_even_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pdf = tmp_path / "large.pdf"
    with pdf.open("wb") as large:
        large.truncate(200_000_000)
    monkeypatch.setattr(carried.child, "ask", lambda *_, **__: pytest.fail("it was opened"))
    assert "larger than 50 MB" in verify(pdf, Typed()).findings[0].reason
    assert "There is no file" in verify(tmp_path, Typed()).findings[0].reason
    assert "There is no file" in verify(Path("/dev/zero"), Typed()).findings[0].reason


def test_nothing_of_a_stranger_s_file_reaches_the_terminal_as_a_command(issued: Issued, tmp_path: Path) -> None:
    files = issued.proof.files | {"proof.tlog-proof": b"c2sp.org/tlog-proof@v1\nindex \x1b[2J\n\nnote\n"}
    verdict = replace(issued, pdf=carrying(tmp_path, files)).checked()
    assert "\x1b" not in str(verdict)
    assert verdict.result == OPEN


@pytest.mark.parametrize("sign", "\u00ad\u0378\u200b\u2028\u2029\ue000\U000e0041")
def test_what_a_stranger_signed_is_told_without_signs_that_hide_or_turn_it(
    issued: Issued, tmp_path: Path, sign: str
) -> None:
    theirs = forged(issued.proof, GABEL, number=f"8/{sign}25")
    verdict = replace(issued, pdf=carrying(tmp_path, theirs.files)).checked()
    lines = list(as_lines(verdict))
    assert "  number: 8/?25" in lines
    assert all(line.isprintable() for line in lines)
    assert sign not in json.dumps(verifying.as_json(verdict), ensure_ascii=False)
