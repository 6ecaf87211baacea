"""Declarations: every number has its place from the first moment, and none can be added."""

from datetime import date

import pytest
from sqlalchemy import Engine
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from ledger import certificates, declarations, editions, pieces, promises
from ledger.database import reading
from ledger.promises import BegunDraft, ClassDraft, RangeDraft
from ledger.tables import Piece, PrintClass, Size
from tests.cast import acting, certified, declared, drawer, opened, promise, refused, road, seen, standings

JUNE_1 = date(2026, 6, 1)


def test_declaring_gives_every_number_of_every_class_a_place(engine: Engine) -> None:
    road(engine)
    assert standings(engine) == {"free": 25}
    assert standings(engine, kind="AP") == {"free": 3}
    assert standings(engine, kind="BAT") == {"free": 1}
    with reading(engine) as session:
        run = [each.shown for each in pieces.run_of(session, 1)]
    assert run[0] == "1/25" and run[24] == "25/25"
    assert run[25:] == ["AP I/III", "AP II/III", "AP III/III", "BAT"]


def test_an_edition_is_not_begun_in_the_future(sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    with refused("still to come"), acting(sqlite_engine) as book:
        declarations.declare(book, promise(begun=BegunDraft(words="2031")))


def test_the_biggest_edition_there_can_be_is_declared(sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    declared(sqlite_engine, promise(count=9999))
    assert standings(sqlite_engine) == {"free": 9999}


@pytest.mark.parametrize("count", [25, 30])
def test_the_twenty_sixth_of_twenty_five_cannot_exist(engine: Engine, count: int) -> None:
    road(engine)
    with pytest.raises(IntegrityError), Session(engine) as session:
        session.add(Piece(class_id=1, class_count=count, number=26))
        session.commit()
    assert standings(engine) == {"free": 25}


def test_an_edition_is_never_enlarged(engine: Engine) -> None:
    road(engine)
    another = PrintClass(edition_id=1, kind="HC", label="HC", style="of_count", count=2, edition_kind="limited")
    for row in (another, Size(edition_id=1, label="large", image_w_um=400_000, image_h_um=400_000)):
        with pytest.raises(IntegrityError), Session(engine) as session:
            session.add(row)
            session.commit()


def test_the_drawer_of_forty_begun_about_2011(engine: Engine) -> None:
    opened(engine)
    declared(engine, drawer())
    assert standings(engine) == {"in hand": 15, "passed on": 23, "missing": 2}
    with reading(engine) as session:
        edition = editions.get(session, 1)
        assert edition.begun_words == "about 2011"
        assert edition.sold_peak == 23  # the next one sold here is the twenty-fourth
        assert pieces.next_free(session, 1) == []
    assert seen(engine, 12).standing == "missing"
    assert seen(engine, 30).shown == "30/40" and seen(engine, 30).origin == "entered"
    certificate = certified(engine, seen(engine, 30).id)
    assert dict(certificate.snapshot["facts"])["Years"] == "Made 2023. This print not known."
    assert "Year printed" in certificate.snapshot["not_known"]
    with refused("is missing. It cannot have a certificate"), acting(engine) as book:
        certificates.issue(book, seen(engine, 12).id)


def test_a_number_in_no_range_stays_free_and_the_read_back_names_it(engine: Engine) -> None:
    opened(engine)
    ranges = (
        RangeDraft(numbers="1-11", fate="sold"),
        RangeDraft(numbers="13", fate="destroyed"),
        RangeDraft(numbers="14", fate="withdrawn"),
        RangeDraft(kind="AP", numbers="1", fate="given"),
    )
    draft = promise(
        count=16, outside=(ClassDraft(kind="AP", count=2),), begun=BegunDraft(words="May 2011", ranges=ranges)
    )
    with reading(engine) as session:
        assert promises.left_free(promises.check(session, draft)) == {"numbered": [12, 15, 16], "AP": [2]}
    declared(engine, draft)
    assert standings(engine) == {"free": 3, "passed on": 11, "destroyed": 1, "withdrawn": 1}
    assert standings(engine, kind="AP") == {"free": 1, "passed on": 1}
    with reading(engine) as session:
        assert pieces.next_free(session, 1) == [12, 15, 16]
        assert editions.get(session, 1).sold_peak == 11  # a proof given away is no sale
