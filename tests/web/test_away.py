"""Away: lent by both doors, told another price, taken back, and reported sold."""

import re
from typing import Any

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import conditions, consignments, occasions
from ledger.database import reading
from tests import cast

POUNDS_60 = {"amount": "60.00", "currency": "GBP"}


@pytest.fixture
def road(sqlite_engine: Engine) -> list[int]:
    """Four signed prints at 65.00, and a gallery in the book."""
    cast.road(sqlite_engine)
    with cast.acting(sqlite_engine) as book:
        occasions.add_channel(book, occasions.ChannelDraft(name="Galleries", kind="gallery", packing_minor=110))
    cast.person(sqlite_engine, cast.GALLERY, kind="business")
    return cast.made(sqlite_engine, 1, 2, 3, 4)


def lending(piece_ids: list[int], **changes: Any) -> dict[str, Any]:
    return {
        "person_id": 1, "lent_on": "2026-05-04", "commission": 40,
        "pieces": [{"piece_id": each} for each in piece_ids], **changes,
    }  # fmt: skip


def form(piece_ids: list[int], **changes: str) -> dict[str, str]:
    ticks = {f"pieces.{at}.piece_id": str(each) for at, each in enumerate(piece_ids)}
    return {
        "idempotency_key": "lend", "person_id": "1", "lent_on": "2026-05-04", "commission": "40",
        "commission_on": "print", "commission_of": "with_tax", "discount_by": "shared", **ticks, **changes,
    }  # fmt: skip


def test_both_doors_lend_on_the_same_terms(maker: TestClient, program: TestClient, road: list[int]) -> None:
    answer = program.post("/api/consignments", json=lending(road[:1]))
    assert answer.status_code == 201 and answer.headers["location"] == "/api/consignments/1"
    assert maker.post("/away/lend", data=form(road[1:2])).headers["location"] == "/away/2"
    one, two = (program.get(f"/api/consignments/{each}").json() for each in (1, 2))
    for note in (one, two):
        del note["id"], note["pieces"][0]["piece"]
    assert one == two and one["pieces"][0]["told_price"] == {"amount": "65.00", "currency": "GBP"}


def test_the_list_says_where_everything_is(maker: TestClient, road: list[int], sqlite_engine: Engine) -> None:
    assert "Everything is at home." in maker.get("/away").text
    maker.post("/away/lend", data=form(road[:2]))
    hall = cast.person(sqlite_engine, "Thrumsay Hall", kind="business")
    with cast.acting(sqlite_engine) as book:
        conditions.move(book, road[2], "loan", person_id=hall)
    page = maker.get("/away").text
    assert "Gallery Kelpstane" in page and "Told £65.00." in page
    assert "On loan to Thrumsay Hall, since 4 May 2026." in page
    assert f"/sales/new?piece={road[0]}&amp;consignment=1" in page


def test_a_gallery_not_in_the_book_is_written_down_with_the_loan(
    maker: TestClient, road: list[int], sqlite_engine: Engine
) -> None:
    maker.post("/away/lend", data=form(road[:1], person_id="", name="Gull & Tallow"))
    assert "Gull &amp; Tallow" in maker.get("/away").text


def test_a_refused_loan_keeps_all_that_was_typed(maker: TestClient, road: list[int]) -> None:
    typed = form(road[:1], commission="forty", person_id="", name="Gull & Tallow")
    page = maker.post("/away/lend", data=typed)
    assert page.status_code == 422 and 'value="forty"' in page.text and 'value="Gull &amp; Tallow"' in page.text
    nothing = maker.post("/away/lend", data=form([]))
    assert nothing.status_code == 409 and "Choose at least one print to lend." in nothing.text
    unticked = maker.post("/away/lend", data=form([], **{"pieces.2.told_price": "60.00"}))
    assert unticked.status_code == 422 and "This print is not ticked." in unticked.text
    assert 'value="60.00"' in unticked.text


def test_what_is_lent_already_cannot_be_lent_again(program: TestClient, road: list[int]) -> None:
    program.post("/api/consignments", json=lending(road[:1]))
    again = program.post("/api/consignments", json=lending(road[:1]))
    assert again.status_code == 409 and again.json()["errors"][0]["field"] == "pieces.0.piece_id"
    assert "1/25 is at Gallery Kelpstane." in again.json()["detail"]


def test_prints_come_back_one_or_several(maker: TestClient, road: list[int], sqlite_engine: Engine) -> None:
    maker.post("/away/lend", data=form(road))
    back = {"idempotency_key": "a", "step": "back", "on": "2026-05-04"}
    assert maker.post("/away/1", data=back).status_code == 409
    maker.post("/away/1", data={**back, "idempotency_key": "b", "piece_ids": str(road[0])})
    maker.post("/away/1", data={**back, "idempotency_key": "c", "piece_ids": [str(each) for each in road[1:3]]})
    assert cast.standings(sqlite_engine) == {"free": 21, "in hand": 3, "out": 1}
    twice = maker.post("/away/1", data={**back, "idempotency_key": "d", "piece_ids": str(road[0])})
    assert twice.status_code == 409 and "1/25 is not out on this note; it is in hand." in twice.text


def test_a_gallery_is_told_another_price_and_only_what_changed_is_recorded(
    maker: TestClient, road: list[int], sqlite_engine: Engine
) -> None:
    maker.post("/away/lend", data=form(road[:2]))
    told = {
        "idempotency_key": "t", "step": "tell",
        "pieces.0.piece_id": str(road[0]), "pieces.0.told_price": "65.00", "pieces.0.told_frame": "0.00",
        "pieces.1.piece_id": str(road[1]), "pieces.1.told_price": "70.00", "pieces.1.told_frame": "20.00",
    }  # fmt: skip
    assert maker.post("/away/1", data=told).status_code == 303
    with reading(sqlite_engine) as session:
        now = [(each.told_price, each.told_frame) for each in consignments.lent_on(session, 1)]
    assert now == [(6500, 0), (7000, 2000)]
    same = maker.post("/away/1", data={**told, "idempotency_key": "again"})
    assert same.status_code == 409 and "Every price is as it was told." in same.text


def test_a_program_tells_and_takes_back(program: TestClient, road: list[int]) -> None:
    program.post("/api/consignments", json=lending(road[:2]))
    tell = program.post("/api/consignments/1/tell", json={"pieces": [{"piece_id": road[0], "told_price": POUNDS_60}]})
    assert tell.json()["pieces"][0]["told_price"] == POUNDS_60
    back = program.post("/api/consignments/1/take_back", json={"piece_ids": [road[0]], "on": "2026-05-04"})
    assert back.status_code == 201
    assert [each["outcome"] for each in back.json()["pieces"]] == ["back", "out"]
    assert program.get("/api/consignments/9").status_code == 404


def test_more_is_lent_to_a_gallery_with_only_the_prints_to_tick(
    maker: TestClient, program: TestClient, road: list[int]
) -> None:
    terms = {"commission": "37.5", "commission_tax": "20", "commission_on": "print_and_frame", "discount_by": "half"}
    maker.post("/away/lend", data=form(road[:1], **terms))
    link = "/away/lend?like=1"
    assert f'href="{link}"' in maker.get("/away").text
    page = maker.get(link).text
    typed = dict(re.findall(r'name="(\w+)"[^>]*? value="([^"]+)"(?: checked)?', page))
    assert (typed["commission"], typed["commission_tax"]) == ("37.5", "20")
    for chosen in ('value="1" selected', 'value="print_and_frame" checked', 'value="half" selected'):
        assert chosen in page
    assert maker.get("/away/lend?like=9").status_code == 404


def test_a_price_typed_while_lending_is_not_folded_away(maker: TestClient, road: list[int]) -> None:
    folded = maker.get("/away/lend").text
    assert "<details>" in folded and "<details open>" not in folded
    back = maker.post("/away/lend", data=form(road[:1], **{"pieces.0.told_price": "6,5"})).text
    assert back.count("<details open>") == 1 and 'value="6,5"' in back and "“6,5” has a comma: write 6.50." in back
