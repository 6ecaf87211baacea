"""What unsold prints are worth at the year's end, by both doors. Figures are invented."""

import re

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import consignments, costs
from ledger.costs import CostDraft
from ledger.database import reading
from tests import cast, trade
from tests.cast import MAY_4, acting

PAGE = "/costs/stock"


def pounds(amount: str) -> dict[str, str]:
    return {"amount": amount, "currency": "GBP"}


@pytest.fixture
def slow(sqlite_engine: Engine) -> trade.Ways:
    """Seven prints at 65.00 that cost 21.64 each, of it 8.00 own labour, all at a gallery that keeps 45 %."""
    cast.road(sqlite_engine, sizes=(cast.size(offer=cast.offer((1, 6500))),))
    found = trade.ways(sqlite_engine)
    slow = cast.made(sqlite_engine, *range(1, 8))
    with acting(sqlite_engine) as book:
        for piece_id in slow:
            for amount, own in ((1364, False), (800, True)):
                draft = CostDraft(
                    basis="piece", target_id=piece_id, amount_minor=amount, spent_on=MAY_4, own_labour=own
                )
                costs.add(book, draft)
    trade.lend(sqlite_engine, found.kelpstane, *(trade.told(piece_id) for piece_id in slow))
    return found


def test_seven_slow_prints_are_worth_what_a_clearance_brings_or_without_own_time_what_they_cost(
    maker: TestClient, program: TestClient, slow: trade.Ways
) -> None:
    """Clearance at 30.00 less 13.50 commission and 1.10 packing brings 15.40 a print."""
    (found,) = program.get(f"/api/stock?way={cast.GALLERY}&fetch.e1=30").json()["items"]
    assert found["edition_id"] == 1 and len(found["pieces"]) == 7 and found["would_bring"] == pounds("15.40")
    assert found["with_own_labour"] == {"cost": pounds("151.48"), "worth": pounds("107.80")}
    assert found["without_own_labour"] == {"cost": pounds("95.48"), "worth": pounds("95.48")}
    page = maker.get(f"{PAGE}?fetch.e1=30.00").text
    with_it, _, without = page.partition("Without own time</h2>")
    assert "Forty Minutes of Road 1 to 7: each would bring £15.40" in with_it
    assert "£43.68 is written down." in with_it and '<td class="money">107.80</td>' in with_it
    assert "No print is worth less than it cost." in without and '<td class="money">95.48</td>' in without
    assert "the rules where you live decide" in without
    assert maker.get("/costs").text.count('href="/costs/stock"') == 1


def test_each_print_at_a_gallery_goes_by_the_note_it_was_lent_on(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    cast.road(sqlite_engine, sizes=(cast.size(offer=cast.offer((1, 6500))),))
    found = trade.ways(sqlite_engine)
    first, second, third = cast.made(sqlite_engine, 1, 2, 3)
    trade.lend(sqlite_engine, found.kelpstane, trade.told(first), commission_bp=2000)
    trade.lend(sqlite_engine, found.kelpstane, trade.told(second), commission_bp=6000)
    trade.lend(sqlite_engine, found.kelpstane, trade.told(third), commission_bp=2000)
    low, high = program.get("/api/stock").json()["items"]
    assert (low["pieces"], low["would_bring"]) == ([first, third], pounds("50.90"))  # 65.00 - 13.00 - 1.10
    assert (high["pieces"], high["would_bring"]) == ([second], pounds("24.90"))  # 65.00 - 39.00 - 1.10
    page = maker.get(PAGE).text
    assert "Forty Minutes of Road 1, 3: each would bring £50.90" in page
    assert "Forty Minutes of Road 2: each would bring £24.90" in page


@pytest.mark.parametrize(
    ("terms", "brings"),
    [
        ({}, "56.90"),  # 80.00 + 10.00 - 40 % of 80.00 - 1.10
        ({"commission_on": "print_and_frame"}, "52.90"),  # 90.00 - 40 % of 90.00 - 1.10
        ({"commission_tax_bp": 2000}, "50.50"),  # 56.90 - 20 % of 32.00
    ],
)
def test_a_print_at_a_gallery_brings_what_the_gallery_was_told_to_ask_with_its_frame(
    program: TestClient, sqlite_engine: Engine, terms: dict[str, str | int], brings: str
) -> None:
    cast.road(sqlite_engine, sizes=(cast.size(offer=cast.offer((1, 6500))),))
    found = trade.ways(sqlite_engine)
    (lent,) = cast.made(sqlite_engine, 1)
    note = trade.lend(sqlite_engine, found.kelpstane, trade.told(lent, 8000, 1000), commission_bp=4000, **terms)
    (item,) = program.get("/api/stock").json()["items"]
    assert item["would_bring"] == pounds(brings)
    with reading(sqlite_engine) as session:
        sale = trade.draft(found.gallery, lent, consignment_id=note)
        (line,) = trade.pricing.work_out(session, sale).lines
    assert item["would_bring"] == pounds(f"{(line.gross - line.tax - line.selling) / 100:.2f}")


def test_a_print_that_came_back_and_was_lent_again_goes_by_the_note_it_is_out_on(
    program: TestClient, sqlite_engine: Engine
) -> None:
    cast.road(sqlite_engine, sizes=(cast.size(offer=cast.offer((1, 6500))),))
    found = trade.ways(sqlite_engine)
    first, second = cast.made(sqlite_engine, 1, 2)
    trade.lend(sqlite_engine, found.kelpstane, trade.told(first), commission_bp=2000)
    old = trade.lend(sqlite_engine, found.kelpstane, trade.told(second), commission_bp=6000)
    with acting(sqlite_engine) as book:
        consignments.take_back(book, old, [second], MAY_4)
    assert [each["would_bring"] for each in program.get("/api/stock?way=From the studio").json()["items"]] == [
        pounds("50.90"),
        pounds("65.00"),
    ]
    trade.lend(sqlite_engine, found.kelpstane, trade.told(second), commission_bp=4000)
    assert program.get("/api/stock").json()["items"][1]["would_bring"] == pounds("37.90")


def test_the_total_is_that_of_the_rows_as_they_are_shown(maker: TestClient, sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine, sizes=(cast.size(offer=cast.offer((1, 6500))),))
    found = trade.ways(sqlite_engine)
    pieces = cast.made(sqlite_engine, 1, 2, 3)
    with acting(sqlite_engine) as book:
        costs.add(book, CostDraft(basis="edition", target_id=1, amount_minor=54090, spent_on=MAY_4))
    for piece_id, price in zip(pieces, (6500, 7000, 1100), strict=True):
        trade.lend(sqlite_engine, found.kelpstane, trade.told(piece_id, price))
    with_it, _, _ = maker.get(PAGE).text.partition("Without own time</h2>")
    figures = re.findall('<td class="money">([0-9.]+)</td>', with_it)
    # 540.90 over 25 is 21.636 each; the last would bring 11.00 - 4.95 - 1.10.
    assert figures == ["21.64", "21.64", "21.64", "21.64", "21.64", "4.95", "64.92", "48.23"]
    assert "£16.69 is written down." in with_it


def test_without_another_price_they_are_reckoned_at_todays_and_at_a_gallery_by_its_terms(
    maker: TestClient, program: TestClient, slow: trade.Ways, sqlite_engine: Engine
) -> None:
    cast.made(sqlite_engine, 8)
    at_gallery, at_home = program.get("/api/stock?way=Own web page").json()["items"]
    assert at_gallery["would_bring"] == pounds("34.65")  # 65.00 - 29.25 - 1.10
    assert at_home["would_bring"] == pounds("54.25")  # 65.00 - 1.50 - 2.90 - 6.35
    assert at_gallery["with_own_labour"]["worth"] == pounds("151.48")
    sold = trade.sell(sqlite_engine, slow.studio, at_home["pieces"][0])
    assert sold and len(program.get("/api/stock").json()["items"]) == 1


def test_what_cannot_be_is_refused_and_what_was_typed_stays(
    maker: TestClient, program: TestClient, slow: trade.Ways
) -> None:
    page = maker.get(f"{PAGE}?way=Market&fetch.e1=30")
    assert page.status_code == 409 and "That is no way of selling of this book." in page.text
    assert 'value="30"' in page.text and "Worth, £" not in page.text
    page = maker.get(f"{PAGE}?fetch.e1=much")
    assert page.status_code == 422 and 'value="much"' in page.text and "Forty Minutes of Road: " in page.text
    assert program.get("/api/stock?way=Market").json()["errors"][0]["field"] == "way"


def test_a_book_with_nothing_unsold_or_no_way_of_selling_says_so(
    maker: TestClient, stranger: TestClient, sqlite_engine: Engine
) -> None:
    cast.road(sqlite_engine)
    assert "No way of selling is written down yet." in maker.get(PAGE).text
    trade.ways(sqlite_engine)
    assert "No signed print is unsold and still yours." in maker.get(PAGE).text
    assert stranger.get(PAGE, follow_redirects=False).headers["location"].startswith("/sign-in")
