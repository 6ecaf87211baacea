"""The public check: what a stranger with a certificate in hand is told, and what never."""

import json
import re
from datetime import date, timedelta
from pathlib import Path

import pytest
import rdflib
from PIL import Image
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import certificates, checks, conditions, evidence, pictures, works
from ledger.conditions import ReplaceDraft
from ledger.database import reading
from ledger.reckoning import codes
from ledger.sale_drafts import BuyerDraft
from ledger.web.public import linked_data
from tests.cast import BUYER, TITLE, acting, certified, made, road, seen
from tests.test_evidence import sign_again, unsign
from tests.trade import sell, ways
from tests.web.conftest import Clock

JUNE = date(2026, 6, 2)
UNKNOWN = codes.new_code(lambda top: 7 % top)


@pytest.fixture
def code(sqlite_engine: Engine) -> str:
    """The code of the certificate of 7/25."""
    road(sqlite_engine)
    piece = made(sqlite_engine, 7)[0]
    with acting(sqlite_engine) as book:
        return certificates.issue(book, piece).code


def told(client: TestClient, path: str, status: int = 200) -> str:
    answer = client.get(path)
    assert answer.status_code == status
    return re.sub(r"\s+", " ", answer.text)


def test_a_certificate_in_the_record_says_what_to_compare(stranger: TestClient, code: str) -> None:
    page = told(stranger, f"/c/{code}")
    assert "In the record" in page
    assert "Certificate for number 7 of 25. Compare the print in front of you." in page
    for words in (TITLE, "7/25", "127 × 127 mm", "Cotton rag", "Blind stamp, lower right"):
        assert words in page
    assert "A copied certificate shows this page too" in page


@pytest.mark.parametrize("signed", [True, False])
def test_every_page_of_a_certificate_says_whether_it_was_signed(
    stranger: TestClient, maker: TestClient, sqlite_ledger: Engine, signed: bool
) -> None:
    road(sqlite_ledger)
    view = certified(sqlite_ledger, made(sqlite_ledger, 7)[0])
    kept = [] if signed else unsign(sqlite_ledger)
    with reading(sqlite_ledger) as session:
        entry = evidence.place_of(session, view.id).entry
    words = (
        f"Signed, entry {entry} of the record."
        if signed
        else (f"Issued before signing began, entry {entry} of the record; a reissue signs it.")
    )
    assert words in told(stranger, f"/c/{view.code}")
    assert words in told(maker, f"/pieces/{view.piece_id}")
    assert words in told(maker, f"/certificates/{view.id}")
    if kept:
        sign_again(sqlite_ledger, kept)


def test_a_code_is_read_in_any_case_and_with_either_of_the_letters_that_look_alike(
    stranger: TestClient, code: str
) -> None:
    # RFC 3986 6.2.2.1: the scheme and host are case-insensitive, the path is not, so both are answered.
    for path in (
        f"/C/{code}",
        f"/c/{code.lower()}",
        f"/C/{codes.grouped(code).replace(' ', '-')}",
        f"/c/{code.replace('0', 'O').replace('1', 'l')}",
    ):
        assert "In the record" in told(stranger, path)
    assert stranger.get("/c", params={"code": codes.grouped(code).lower()}).headers["location"] == f"/c/{code}"


def test_the_page_never_names_a_buyer_a_price_a_place_or_that_it_was_sold(
    stranger: TestClient, sqlite_engine: Engine, code: str
) -> None:
    before = told(stranger, f"/c/{code}")
    selling = ways(sqlite_engine)
    sell(sqlite_engine, selling.fair, seen(sqlite_engine, 7).id, buyer=BuyerDraft(shown="named", name=BUYER))
    after = told(stranger, f"/c/{code}")
    assert after == before
    assert BUYER not in after


def test_an_unknown_code_is_not_in_the_record_and_a_slip_of_the_pen_costs_nothing(
    stranger: TestClient, code: str
) -> None:
    slip = code[:4] + ("2" if code[4] != "2" else "3") + code[5:]
    for _ in range(30):
        assert "Compare it with the paper" in told(stranger, f"/c/{slip}", 404)
    assert "The studio never issued this code" in told(stranger, f"/c/{UNKNOWN}", 404)
    assert "In the record" in told(stranger, f"/c/{code}")


def test_after_twenty_unknown_codes_nothing_is_looked_up_for_an_hour(stranger: TestClient, code: str) -> None:
    for _ in range(20):
        told(stranger, f"/c/{UNKNOWN}", 404)
    assert stranger.get(f"/c/{code}/picture.jpg").status_code == 404
    page = told(stranger, f"/c/{code}", 429)
    assert "Could not be checked" in page
    assert "Too many unknown codes" in page
    assert TITLE not in page


def test_a_record_that_cannot_be_reached_says_so_and_nothing_about_the_print(
    stranger: TestClient, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unreachable(*_: object) -> None:
        raise OSError("the disk is gone")

    monkeypatch.setattr(checks, "quick_check", unreachable)
    page = told(stranger, f"/c/{code}", 503)
    assert "Could not be checked" in page
    assert "That says nothing about the print, good or bad" in page


@pytest.mark.parametrize(("what", "first_words"), [
    ("missing", "On hold: does not stand for now"),
    ("void", "Void: no longer stands"),
    ("reissue", "Replaced: no longer stands"),
])  # fmt: skip
def test_a_certificate_that_does_not_stand_says_so_first(
    stranger: TestClient, sqlite_engine: Engine, code: str, what: str, first_words: str
) -> None:
    with acting(sqlite_engine, JUNE) as book:
        found = certificates.by_code(book.session, code)
        assert found is not None
        if what == "missing":
            conditions.missing(book, found.piece_id, "its owner")
        elif what == "void":
            certificates.void(book, found.id, "issued by mistake")
        else:
            certificates.reissue(book, found.id, certificates.IssueDraft(reason="the paper was lost"))
    page = told(stranger, f"/c/{code}")
    assert page.index(first_words) < page.index(TITLE, page.index("<main"))
    assert "on 2 June 2026" in page
    assert "Compare the print in front of you" not in page


def test_a_title_put_right_after_issue_is_told_beside_what_the_paper_says(
    stranger: TestClient, sqlite_engine: Engine, code: str
) -> None:
    with acting(sqlite_engine, JUNE) as book:
        works.correct(book, 1, "title", "Forty Minutes of the Road", "misspelt")
    page = told(stranger, f"/c/{code}")
    assert "The title is now given as “Forty Minutes of the Road”." in page
    assert f">{TITLE}<" in page


def test_a_print_found_after_its_number_was_made_again_is_told_on_both_pages(
    stranger: TestClient, sqlite_engine: Engine, code: str
) -> None:
    first = seen(sqlite_engine, 7).id
    with acting(sqlite_engine, JUNE) as book:
        conditions.missing(book, first, "its owner")
        second = conditions.replace(book, first, ReplaceDraft(sworn="sworn on 1 June, kept in the file"))
        new = certificates.issue(book, second.id or 0).code
        conditions.found(book, first, "its owner, behind a cupboard")
    with reading(sqlite_engine) as session:
        old_check, new_check = checks.check(session, code), checks.check(session, new)
        assert old_check is not None and new_check is not None
        assert old_check.two_exist and new_check.two_exist
        assert old_check.state == "void"
    for each in (code, new):
        assert "Two prints of this number exist." in told(stranger, f"/c/{each}")


def test_the_linked_data_uses_words_of_schema_org_and_counts_the_edition(sqlite_engine: Engine, code: str) -> None:
    """schema.org VisualArtwork: `artEdition` is the number of copies, so the impression goes into `identifier`."""
    with reading(sqlite_engine) as session:
        found = checks.check(session, code)
    assert found is not None
    data = linked_data(found)
    assert data["artEdition"] == 25
    assert data["identifier"]["value"] == "7/25"
    for term in [*data, data["@type"], data["artist"]["@type"], data["identifier"]["@type"]]:
        assert term.startswith("@") or term in rdflib.SDO, term
    assert not {"price", "offers", "owns", "buyer"} & set(data)


def test_the_linked_data_stands_in_the_page(stranger: TestClient, code: str) -> None:
    page = stranger.get(f"/c/{code}").text
    found = re.search(r'<script type="application/ld\+json">(.*?)</script>', page)
    assert found is not None
    assert json.loads(found[1])["name"] == TITLE


def test_the_picture_is_shown_only_for_a_certificate_in_the_record(
    stranger: TestClient, sqlite_engine: Engine, tmp_path: Path
) -> None:
    road(sqlite_engine)
    image = tmp_path / "image.png"
    Image.new("RGB", (300, 200), "grey").save(image)
    stored = pictures.store(tmp_path, image)
    piece = made(sqlite_engine, 7)[0]
    with acting(sqlite_engine) as book:
        works.keep_picture(book, 1, stored)
        code = certificates.issue(book, piece).code
    shown = stranger.get(f"/c/{code}/picture.jpg")
    assert (shown.status_code, shown.headers["content-type"]) == (200, "image/jpeg")
    assert f"/c/{code}/picture.jpg" in stranger.get(f"/c/{code}").text
    assert stranger.get(f"/c/{UNKNOWN}/picture.jpg").status_code == 404


def test_the_maker_goes_from_a_scanned_label_to_the_stall_or_to_the_prints_page(
    maker: TestClient, stranger: TestClient, sqlite_engine: Engine, code: str
) -> None:
    assert f"/c/{code}/print" not in stranger.get(f"/c/{code}").text
    assert stranger.get(f"/c/{code}/print").headers["location"].startswith("/sign-in")
    assert f"/c/{code}/print" in maker.get(f"/c/{code}").text
    piece = seen(sqlite_engine, 7).id
    assert maker.get(f"/c/{code}/print").headers["location"] == f"/stall/prints/{piece}"
    sell(sqlite_engine, ways(sqlite_engine).fair, piece)
    assert maker.get(f"/c/{code}/print").headers["location"] == f"/pieces/{piece}"


def test_the_limit_is_forgotten_after_an_hour(stranger: TestClient, code: str, hand: Clock) -> None:
    for _ in range(20):
        told(stranger, f"/c/{UNKNOWN}", 404)
    told(stranger, f"/c/{code}", 429)
    hand.pass_by(timedelta(minutes=61))
    assert "In the record" in told(stranger, f"/c/{code}")


def test_a_second_print_says_so_without_saying_why(stranger: TestClient, sqlite_engine: Engine, code: str) -> None:
    first = seen(sqlite_engine, 7).id
    with acting(sqlite_engine) as book:
        conditions.destroy(book, first, "burnt before Wilhelmina Tarn")
        second = conditions.replace(book, first, ReplaceDraft())
        new = certificates.issue(book, second.id or 0).code
    said = "This is the 2nd print of this number: it takes the place of an earlier one."
    page = told(stranger, f"/c/{new}")
    assert said in page and "burnt" not in page and BUYER not in page
    assert said not in told(stranger, f"/c/{code}")
