"""What a stranger with a code is told, and what nobody is told."""

from datetime import date
from typing import Any

import pytest
from sqlalchemy import Engine

from ledger import certificates, checks, conditions, works
from ledger.certificates import IssueDraft
from ledger.checks import Check
from ledger.conditions import GiveDraft
from ledger.consignments import LentDraft
from ledger.database import reading
from ledger.numbers import InscribeDraft
from ledger.promises import ClassDraft
from tests.cast import BUYER, GALLERY, MAKER, TITLE, acting, certified, made, refused, road, seen
from tests.trade import lend, sell, to, ways

JUNE_1 = date(2026, 6, 1)


def told(engine: Engine, code: str) -> Check:
    with reading(engine) as session:
        said = checks.check(session, code)
    assert said is not None
    return said


def test_a_code_in_the_record_leads_to_the_print_to_compare(engine: Engine) -> None:
    road(engine)
    view = certified(engine, made(engine, 7)[0])
    said = told(engine, view.code)
    assert (said.state, said.number_words, said.since_on, said.now_given_as, said.two_exist) == (
        "valid",
        "number 7 of 25",
        None,
        (),
        False,
    )
    assert said.catalogue_line.startswith(
        f"{MAKER}, {TITLE}, 2023. Pigment print, Cotton rag, image 127 × 127 mm. 7/25. Certificate "
    )
    assert said.catalogue_line.endswith("issued 4 May 2026.")


def test_a_code_that_was_never_given_is_not_in_the_record(engine: Engine) -> None:
    road(engine)
    with reading(engine) as session:
        assert checks.check(session, "0" * 16) is None


def test_a_proof_is_called_what_it_is(engine: Engine) -> None:
    road(engine, outside=(ClassDraft(kind="AP", count=3),))
    proof = seen(engine, 2, kind="AP").id
    with acting(engine) as book:
        conditions.numbers.inscribe(book, proof, InscribeDraft(inscription="E.A. 2/3"))
    said = told(engine, certified(engine, proof).code)
    assert said.number_words == "AP II/III"
    assert said.snapshot["inscription"] == "E.A. 2/3"


@pytest.mark.parametrize("how", ["superseded", "suspended", "void"])
def test_a_certificate_that_stands_no_more_says_since_when(engine: Engine, how: str) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    view = certified(engine, piece_id)
    with acting(engine, JUNE_1) as book:
        if how == "superseded":
            certificates.reissue(book, view.id, IssueDraft(reason="coffee"))
        elif how == "suspended":
            conditions.missing(book, piece_id, "I looked")
        else:
            certificates.void(book, view.id, "wrong name")
    said = told(engine, view.code)
    assert (said.state, said.since_on) == (how, JUNE_1)


def test_a_certificate_restored_stands_as_before(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    view = certified(engine, piece_id)
    before = told(engine, view.code)
    with acting(engine, JUNE_1) as book:
        conditions.missing(book, piece_id, "I looked")
        conditions.found(book, piece_id, "there it was")
    assert told(engine, view.code) == before


def test_nobody_learns_whether_a_print_was_sold_or_where_it_is(engine: Engine) -> None:
    road(engine)
    where = ways(engine)
    (piece_id,) = made(engine, 7)
    view = certified(engine, piece_id)
    in_hand = told(engine, view.code)
    note = lend(engine, where.kelpstane, LentDraft(piece_id=piece_id, told_price_minor=6500))
    lent = told(engine, view.code)
    sell(engine, where.gallery, piece_id, consignment_id=note, buyer=to(BUYER))
    sold = told(engine, view.code)
    with acting(engine) as book:
        if seen(engine, 7).holder == "maker":
            raise AssertionError("a print sold at the gallery passes to its buyer")
        conditions.give(book, piece_id, GiveDraft(how="inheritance"))
    inherited = told(engine, view.code)
    assert in_hand == lent == sold == inherited
    for word in (BUYER, GALLERY, "65.00", "6500"):
        assert word not in str(sold)


@pytest.mark.parametrize(
    ("field", "new", "said"),
    [
        ("title", "Fifty Minutes of Road", "The title is now given as “Fifty Minutes of Road”."),
        ("artist", "O. Marrack-Voe", "The artist.s name is now given as “O. Marrack-Voe”."),
        ("year_made", "2022", "The year is now given as “2022”."),
        ("medium", "Photogravure", "The medium is now given as “Photogravure”."),
    ],
)
def test_what_was_put_right_since_is_added(engine: Engine, field: str, new: str, said: str) -> None:
    road(engine)
    view = certified(engine, made(engine, 7)[0])
    with acting(engine) as book:
        works.correct(book, 1, field, new, "it was wrong")
    (added,) = told(engine, view.code).now_given_as
    assert added.replace("’", ".").replace("'", ".") == said.replace("’", ".").replace("'", ".")


def test_a_line_that_no_paper_carries_adds_nothing(engine: Engine) -> None:
    road(engine)
    view = certified(engine, made(engine, 7)[0])
    with acting(engine) as book:
        works.correct(book, 1, "artist_born", "1980", "her passport")
    assert told(engine, view.code).now_given_as == ()


def test_an_open_edition_is_never_called_limited(engine: Engine) -> None:
    facts: dict[str, Any] = {"kind": "open", "count": None, "outside": ()}
    road(engine, **facts)
    with acting(engine) as book:
        (piece,) = conditions.numbers.allocate(book, 1)
        conditions.numbers.inscribe(book, piece.id or 0, InscribeDraft())
    said = told(engine, certified(engine, piece.id or 0).code)
    assert said.number_words == "No. 1, not a limited edition"
    with refused("numbered in order"), acting(engine) as book:
        conditions.numbers.allocate(book, 1, numbers=[7], reason="lucky")
