"""What price a print needs, by both doors."""

from typing import Any

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import clock, costs, editions, occasions, recipes, runs
from ledger.costs import CostDraft
from ledger.occasions import OccasionDraft
from ledger.recipes import LineDraft
from ledger.runs import RunDraft
from tests import cast, trade
from tests.cast import MAY_4, acting
from tests.test_sheets import two_editions

PAGE = "/editions/1/price"


def pounds(amount: str) -> dict[str, str]:
    return {"amount": amount, "currency": "GBP"}


@pytest.fixture
def ways(sqlite_engine: Engine) -> trade.Ways:
    cast.road(sqlite_engine, sizes=(cast.size(offer=cast.offer((1, 6500), (11, 7500), (19, 8500), (24, 9500))),))
    cast.made(sqlite_engine, 1)
    with acting(sqlite_engine) as book:
        for amount, own in ((34090, False), (20000, True)):
            draft = CostDraft(basis="edition", target_id=1, amount_minor=amount, spent_on=MAY_4, own_labour=own)
            costs.add(book, draft)
    found = trade.ways(sqlite_engine)
    trade.lend(sqlite_engine, found.kelpstane, trade.told(1), commission_tax_bp=2000)
    return found


def way(answer: dict[str, Any], name: str) -> dict[str, Any]:
    (found,) = [each for each in answer["ways"] if each["way"] == name]
    return dict(found)


def test_both_doors_give_the_same_floor(maker: TestClient, program: TestClient, ways: trade.Ways) -> None:
    page = maker.get(f"{PAGE}?leaves=15").text
    answer = program.get(f"/api{PAGE}?leaves=15.00").json()
    gallery = way(answer, cast.GALLERY)
    # (21.636 + 1.10 + 15.00) / (1 - 1.2 x 0.45), to the penny the sale's own roundings give.
    assert gallery["needs"]["price"] == pounds("82.03") and gallery["needs"]["leaves"] == pounds("15.00")
    assert '<td class="money">82.03</td>' in page
    assert way(answer, "At a fair")["now"]["leaves"] == pounds("41.62") and '<td class="money">41.62</td>' in page
    assert (
        way(answer, "At a fair")["needs_without_own_labour"] == pounds("29.76")
        and "£29.76 is enough without own time." in page
    )


def test_margin_and_mark_up_stand_by_name_and_are_not_confused(
    maker: TestClient, program: TestClient, ways: trade.Ways
) -> None:
    now = way(program.get(f"/api{PAGE}").json(), "From the studio")["now"]
    assert (now["leaves"], now["margin"], now["mark_up"]) == (pounds("43.36"), 66.71, 200.37)
    page = maker.get(PAGE).text
    assert "margin 66.7%, mark-up 200.4%" in page
    assert "Margin is what is left of the price; mark-up is the same over all that making and selling it cost." in page


def test_the_parts_of_a_floor_price_add_up_to_it(maker: TestClient, ways: trade.Ways) -> None:
    # 37.90: 0.66 for the card, 0.60 packing, 21.64 making, 15.00.
    assert "£1.26 selling, £21.64 making, £15.00 left" in maker.get(f"{PAGE}?leaves=15").text


def test_an_absurd_margin_is_said_in_words(maker: TestClient, ways: trade.Ways) -> None:
    page = maker.get(f"{PAGE}?margin=50&commission=45").text
    assert "A 50% margin after 45% commission needs twenty times the cost." in page


@pytest.mark.parametrize(
    ("asked", "status", "field", "sentence"),
    [
        ("commission=100", 409, "commission", "all of the price or more"),
        ("margin=100", 409, "margin", "A margin is less than 100 %"),
        ("margin=40&leaves=15", 409, "margin", "Write an amount or a margin, not both."),
        ("leaves=15,00", 422, "leaves", "has a comma: write 15.00"),
        ("leaves=-3", 422, "leaves", "is below nothing"),
        ("margin=ten", 422, "margin", "“ten” is not a number."),
        ("flat=0", 409, "flat", "A price is more than nothing."),
    ],
)
def test_a_refused_wish_keeps_what_was_typed_and_a_program_is_told_the_field(
    maker: TestClient, program: TestClient, ways: trade.Ways, asked: str, status: int, field: str, sentence: str
) -> None:
    page = maker.get(f"{PAGE}?{asked}")
    assert page.status_code == status and sentence in page.text and f'id="f-{field}-message"' in page.text
    for part in asked.split("&"):
        assert f'value="{part.partition("=")[2]}"' in page.text
    answer = program.get(f"/api{PAGE}?{asked}")
    assert answer.status_code == status and answer.json()["errors"][0]["field"] == field


def test_steps_against_a_flat_price(maker: TestClient, program: TestClient, ways: trade.Ways) -> None:
    page = maker.get(PAGE).text
    assert "All 25 by their steps" in page and "1,865.00" in page and "−1,625.00" in page and "240.00" in page
    told = program.get(f"/api{PAGE}?flat=80").json()["sold_through"]
    assert told == {"count": 25, "by_steps": pounds("1865.00"), "flat": pounds("80.00"), "at_flat": pounds("2000.00")}


def test_how_many_pay_for_a_fair_to_come(
    maker: TestClient, program: TestClient, ways: trade.Ways, sqlite_engine: Engine
) -> None:
    today = clock.today()
    with acting(sqlite_engine, today) as book:
        draft = OccasionDraft(name="Quern Fair", kind="selling", from_on=today, to_on=today, channel_id=ways.fair)
        fair = occasions.add(book, draft).id
        costs.add(book, CostDraft(basis="occasion", target_id=fair, amount_minor=17400, spent_on=today))
    assert "At £65.00 a print leaves £41.62 there: 5 prints pay the £174.00 it costs." in maker.get(PAGE).text
    assert program.get(f"/api{PAGE}").json()["fairs"] == [
        {"occasion_id": fair, "cost": pounds("174.00"), "a_print_leaves": pounds("41.62"), "prints": 5}
    ]


def test_a_recipe_of_the_mounting_on_offer_is_reckoned_with_until_prints_are_finished(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    framed = cast.offer((1, 6500)).model_copy(update={"mounting": "Window mount"})
    cast.road(sqlite_engine, sizes=(cast.size(offer=framed),))
    trade.ways(sqlite_engine)
    with acting(sqlite_engine) as book:
        recipes.write(book, "window mount", [LineDraft(name="Frame", amount_minor=725)])
    assert "Making one costs £7.25 by the recipe “window mount”." in maker.get(PAGE).text
    assert "No cost of making it is written down yet" in maker.get(f"{PAGE}?recipe=").text
    assert program.get(f"/api{PAGE}?recipe=1").json()["making"] == pounds("7.25")


def test_a_recipe_is_not_added_unasked_to_costs_of_the_edition(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    """540.90 over 25 prints is 21.636; the recipe, whole, would come on top of frames that are in it."""
    framed = cast.offer((1, 6500)).model_copy(update={"mounting": "window mount in a square frame"})
    cast.road(sqlite_engine, sizes=(cast.size(offer=framed),))
    with acting(sqlite_engine) as book:
        recipes.write(book, "Window mount", [LineDraft(name="Frame", amount_minor=966)])
        costs.add(book, CostDraft(basis="edition", target_id=1, amount_minor=54090, spent_on=MAY_4))
    page = maker.get(PAGE).text
    assert "Making one costs £21.64. The recipe “Window mount” is left out, for costs of this edition" in page
    asked = maker.get(f"{PAGE}?recipe=1").text
    assert "Making one costs £31.30. Of that £21.64 by the book, £9.66 still to come by the recipe “Window" in asked
    answer = program.get(f"/api{PAGE}?recipe=1").json()
    assert (answer["making"], answer["still_to_come"]) == (pounds("31.30"), pounds("9.66"))


def test_prints_whose_printing_has_no_cost_are_not_passed_over_in_silence(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    cast.road(sqlite_engine)
    with acting(sqlite_engine) as book:
        first = runs.record(book, RunDraft(edition_id=1, made_on=MAY_4, sheets=1, good=2)).id or 0
        runs.record(book, RunDraft(edition_id=1, made_on=MAY_4, sheets=1, good=2))
    cast.made(sqlite_engine, 1, 2, 3, 4)
    assert "no printing" not in maker.get(PAGE).text
    with acting(sqlite_engine) as book:
        costs.add(book, CostDraft(basis="run", target_id=first, amount_minor=2400, spent_on=MAY_4))
    said = "Making one costs £6.00. 2 prints of it have no printing, or none with a cost, so making is more than this."
    assert said in maker.get(PAGE).text
    assert program.get(f"/api{PAGE}").json()["uncosted"] == 2


def test_a_recipe_of_the_offer_that_finished_prints_of_another_edition_is_proposed(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    two_editions(sqlite_engine)
    other = cast.made(sqlite_engine, 1, edition=2)
    with acting(sqlite_engine) as book:
        recipe = recipes.write(book, "Window mount", [LineDraft(name="Frame", amount_minor=725)]).id or 0
        recipes.finish(book, recipe, other, MAY_4)
        editions.new_offer(book, 1, cast.offer((1, 6500)).model_copy(update={"recipe_id": recipe}))
    assert "Making one costs £7.25 by the recipe “Window mount”." in maker.get(PAGE).text


def test_a_book_without_a_way_of_selling_says_where_to_write_one(maker: TestClient, sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine)
    assert "No way of selling is written down yet." in maker.get(PAGE).text
    assert "What price does it need?" in maker.get("/editions/1").text


def test_an_edition_or_a_recipe_there_is_not_is_not_found(
    maker: TestClient, program: TestClient, ways: trade.Ways
) -> None:
    assert maker.get("/editions/9/price").status_code == maker.get(f"{PAGE}?recipe=9").status_code == 404
    assert program.get("/api/editions/9/price").status_code == 404


def test_another_size_keeps_what_was_asked_and_proposes_the_recipe_of_its_own_mounting(
    sqlite_engine: Engine, maker: TestClient
) -> None:
    bare = cast.size(label="small")
    mounted = cast.offer((1, 14000)).model_copy(update={"mounting": "window mount 300 × 250 mm, bevelled"})
    cast.road(sqlite_engine, sizes=(bare, cast.size(254, 254, label="large", offer=mounted)))
    with acting(sqlite_engine) as book:
        recipes.write(book, "Window mount", [LineDraft(name="Board", amount_minor=700)])
    asked = maker.get("/editions/1/price?leaves=15&flat=70").text
    assert "?leaves=15&amp;flat=70&amp;size=2" in asked
    assert "by the recipe “Window mount”" in maker.get("/editions/1/price?size=2").text
    assert "by the recipe" not in maker.get("/editions/1/price").text
