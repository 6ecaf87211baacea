"""Every cheat the record is there for, acted out, and what each instrument answers a stranger.

Ottoline holds the keys and may cheat; Gabel Stroud forges; Silas Grimble has the machine. Asked are the PDF alone, the
PDF with the ledger at hand, and the published record. What cannot be detected could not be checked, and never matches.
"""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from shutil import copyfile

import pytest
from sqlalchemy import Engine

from ledger import audit, certificates, checks, home, publish
from ledger.database import reading
from ledger.keys import hold
from ledger.reckoning import codes
from ledger.verifying import DIFFERS, MATCHES, OPEN, Typed, verify
from ledger.web.static_pages import StaticPages
from tests.cast import KEYS, MAY_4, acting, refused, road
from tests.conftest import quick_engine
from tests.test_auditor import ask
from tests.test_publish import written_anew
from tests.test_verifying import GABEL, Issued, carrying, forged, issue
from tests.trade import sell, ways

NOTHING_TYPED = Typed()
RESULTS = {0: MATCHES, 1: DIFFERS, 2: OPEN}


@dataclass(frozen=True)
class Face:
    """What one record shows to strangers: its ledger, a certificate issued from it, and its public folder."""

    issued: Issued
    public: Path

    def answers(self, typed: Typed, pdf: Path | None = None, code: str = "") -> tuple[str, str, str]:
        """Of the PDF alone, of the PDF with this ledger, and of this published record."""
        pdf = pdf or self.issued.pdf
        with reading(self.issued.engine) as session:
            both = verify(pdf, typed).result, verify(pdf, typed, session).result
        return *both, RESULTS[self.asked(typed, code)[0]]

    def asked(self, typed: Typed, code: str = "") -> tuple[int, list[str]]:
        """What the auditor says of this public folder."""
        words = {"--head": typed.head, "--fingerprint": typed.fingerprint, "--code": code or self.issued.view.code}
        return ask(self.public, *(part for pair in words.items() if pair[1] for part in pair))

    def publish(self) -> None:
        publish.publish(self.issued.engine, self.public.parent, self.public, StaticPages, MAY_4, lambda _: None)


def faced(engine: Engine, folder: Path, count: int = 25) -> Face:
    """The road's edition declared of so many, 7 certified, and the record published."""
    folder.mkdir()
    road(engine, count=count)
    face = Face(issue(engine, folder), folder / "public")
    face.publish()
    return face


@pytest.fixture
def honest(sqlite_ledger: Engine, tmp_path: Path) -> Face:
    return faced(sqlite_ledger, tmp_path / "honest")


@pytest.fixture
def other(empty_ledger: Path, tmp_path: Path) -> Iterator[Face]:
    """The story told anew in a second ledger, with fifty for twenty-five, all of it signed with the same keys."""
    copyfile(empty_ledger, tmp_path / "other.sqlite")
    engine = quick_engine(tmp_path / "other.sqlite")
    hold(engine, KEYS)
    yield faced(engine, tmp_path / "other", count=50)
    engine.dispose()


def test_no_cheating_matches_by_the_paper_and_nothing_matches_without(honest: Face) -> None:
    assert honest.answers(honest.issued.paper) == (MATCHES, MATCHES, MATCHES)
    assert honest.answers(NOTHING_TYPED) == (OPEN, OPEN, OPEN)


# --- one print too many ---


def test_a_second_certificate_for_a_number_written_beside_the_book_stands_in_no_record(
    honest: Face, tmp_path: Path
) -> None:
    with acting(honest.issued.engine) as book, refused("has a certificate"):
        certificates.issue(book, honest.issued.view.piece_id)
    code = codes.new_code(lambda top: 11 % top)
    pdf = carrying(tmp_path, forged(honest.issued.proof, KEYS, certificate=code).files)
    assert honest.answers(honest.issued.paper, pdf, code) == (DIFFERS, DIFFERS, DIFFERS)


def test_a_sheet_printed_beside_the_book_is_said_by_every_instrument_to_be_beyond_it(honest: Face) -> None:
    for verdict in (honest.issued.checked(honest.issued.paper), honest.issued.in_the_ledger(honest.issued.paper)):
        assert any("prints that were never recorded" in sentence for sentence in verdict.beyond)
    assert any("prints that were never recorded" in line for line in honest.asked(honest.issued.paper)[1])


def test_a_number_is_sold_once_and_who_was_promised_it_is_in_no_public_answer(honest: Face) -> None:
    engine, by = honest.issued.engine, ways(honest.issued.engine)
    sell(engine, by.fair, honest.issued.view.piece_id, paid_by="cash")
    before = honest.answers(honest.issued.paper)
    with refused("sold"):
        sell(engine, by.web, honest.issued.view.piece_id, paid_by="transfer")
    assert honest.answers(honest.issued.paper) == before == (MATCHES, MATCHES, MATCHES)


# --- another history ---


def test_an_edition_enlarged_and_signed_anew_is_found_by_an_old_paper_and_could_not_be_checked_without(
    honest: Face, other: Face
) -> None:
    old, new = honest.issued.paper, other.issued.paper
    assert other.answers(old, honest.issued.pdf) == (MATCHES, DIFFERS, DIFFERS)
    assert other.answers(old) == (DIFFERS, DIFFERS, DIFFERS)
    for typed in (NOTHING_TYPED, Typed(new.fingerprint)):
        assert other.answers(typed) == (OPEN, OPEN, OPEN)


def test_two_faces_shown_to_two_buyers_fit_each_their_own_and_not_one_another(honest: Face, other: Face) -> None:
    for mine, theirs in ((honest, other), (other, honest)):
        assert mine.answers(mine.issued.paper) == (MATCHES, MATCHES, MATCHES)
        assert mine.answers(theirs.issued.paper, theirs.issued.pdf) == (MATCHES, DIFFERS, DIFFERS)
    assert honest.issued.paper.fingerprint == other.issued.paper.fingerprint


def test_a_certificate_made_void_later_still_fits_its_paper_and_is_told_by_the_record(honest: Face) -> None:
    with acting(honest.issued.engine) as book:
        certificates.void(book, honest.issued.view.id, "a second paper was made")
    assert honest.answers(honest.issued.paper) == (MATCHES, DIFFERS, MATCHES)  # published before that
    assert any("A change since" in sentence for sentence in honest.issued.checked(honest.issued.paper).beyond)
    page = (honest.public / "C" / honest.issued.view.code / "index.html").read_text()
    assert "Later changes are not on this page" in page
    honest.publish()
    assert honest.answers(honest.issued.paper) == (MATCHES, DIFFERS, DIFFERS)


def test_a_record_whose_end_is_hidden_is_found_by_a_newer_paper(honest: Face, tmp_path: Path) -> None:
    shutil.copytree(honest.public, tmp_path / "before")
    newer = issue(honest.issued.engine, tmp_path, 8)
    hidden = Face(newer, tmp_path / "before")
    status, said = hidden.asked(newer.paper)
    assert status == 1
    assert any("history was changed, or its end cut off" in line for line in said)
    assert RESULTS[hidden.asked(Typed(newer.paper.fingerprint), honest.issued.view.code)[0]] == OPEN


# --- false papers ---


def test_an_invented_code_stands_in_no_record(honest: Face) -> None:
    code = codes.new_code(lambda top: 7 % top)
    with reading(honest.issued.engine) as session:
        assert checks.check(session, code) is None
    status, said = honest.asked(honest.issued.paper, code)
    assert status == 1 and any("treat the certificate as not genuine" in line for line in said)
    assert "Not in the record" in (honest.public / "404.html").read_text()


def test_a_forgery_under_other_keys_could_not_be_checked_by_itself_and_does_not_match_the_printed_ones(
    honest: Face, tmp_path: Path
) -> None:
    false = forged(honest.issued.proof, GABEL, number="8/25")
    pdf = carrying(tmp_path, false.files)
    assert honest.answers(NOTHING_TYPED, pdf)[:2] == (OPEN, OPEN)
    assert honest.answers(honest.issued.paper, pdf)[:2] == (DIFFERS, DIFFERS)
    on_his_paper = Typed(false.keys.fingerprint, false.head.root.hex())
    assert RESULTS[honest.asked(on_his_paper)[0]] == DIFFERS


def test_a_genuine_certificate_copied_for_a_false_print_matches_and_every_answer_says_to_compare_the_sheet(
    honest: Face, tmp_path: Path
) -> None:
    copy = replace(honest.issued, pdf=Path(shutil.copy(honest.issued.pdf, tmp_path / "copy.pdf")))
    assert honest.answers(copy.paper, copy.pdf) == (MATCHES, MATCHES, MATCHES)
    assert any("cannot see the sheet in front of you" in sentence for sentence in copy.checked(copy.paper).beyond)
    assert any("does not prove that the sheet in front" in line for line in honest.asked(copy.paper)[1])
    page = (honest.public / "C" / copy.view.code / "index.html").read_text()
    assert "A copied certificate shows this page too" in page


# --- the machine in other hands ---


@pytest.mark.parametrize(("table", "change"), [
    ("journal", "body = CAST(replace(body, '\"number\":7', '\"number\":8') AS BLOB)"),
    ("certificate", "state = 'void'"),
])  # fmt: skip
def test_a_database_changed_by_hand_is_found_and_nothing_more_is_published_of_it(
    honest: Face, table: str, change: str
) -> None:
    written_anew(honest.issued.engine, table, change)
    with reading(honest.issued.engine) as session:
        assert audit.audit(session) != []
    with refused("The record does not match"):
        honest.publish()
    assert honest.answers(honest.issued.paper) == (MATCHES, DIFFERS, MATCHES)  # what was published before stands


def test_another_ledger_put_in_its_place_is_found_by_the_head_kept_beside_it(honest: Face, other: Face) -> None:
    beside = honest.public.parent / home.NEWEST_HEAD
    beside.write_text(other.issued.proof.proof.note)  # signed, and of another history
    with reading(honest.issued.engine) as session:
        assert audit.at_opening(session, honest.public.parent) != []
    with refused("The record does not match"):
        honest.publish()


def test_when_the_site_and_the_ledger_are_gone_a_paper_its_file_and_a_copy_of_the_record_are_enough(
    honest: Face, tmp_path: Path
) -> None:
    shutil.copytree(honest.public, tmp_path / "stick")
    kept = replace(honest.issued, pdf=Path(shutil.copy(honest.issued.pdf, tmp_path / "kept.pdf")))
    shutil.rmtree(honest.public.parent)
    assert kept.checked(kept.paper).result == MATCHES
    assert RESULTS[replace(honest, public=tmp_path / "stick").asked(kept.paper)[0]] == MATCHES
