"""Costs, printings, fairs and ways of selling, by both doors."""

import re

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import costs, occasions, runs, sale_lines
from ledger.database import reading
from tests import cast, trade

POUNDS_42 = {"amount": "42.50", "currency": "GBP"}


@pytest.fixture
def road(sqlite_engine: Engine) -> list[int]:
    cast.road(sqlite_engine)
    return cast.made(sqlite_engine, 1)


def form(**changes: str) -> dict[str, str]:
    return {
        "idempotency_key": "cost", "what": "edition 1", "amount": "42.50", "spent_on": "2026-05-04",
        "note": "test strips", **changes,
    }  # fmt: skip


def test_both_doors_write_down_the_same_cost(maker: TestClient, program: TestClient, road: list[int]) -> None:
    body = {
        "basis": "edition", "target_id": 1, "amount": POUNDS_42, "spent_on": "2026-05-04", "note": "test strips",
    }  # fmt: skip
    answer = program.post("/api/costs", json=body)
    assert answer.status_code == 201 and answer.headers["location"] == "/api/costs/1"
    assert maker.post("/costs", data=form()).status_code == 303
    one, two = (program.get(f"/api/costs/{each}").json() for each in (1, 2))
    assert one.pop("id") == 1 and two.pop("id") == 2 and one == two
    page = maker.get("/costs").text
    assert "Edition: Forty Minutes of Road" in page and "test strips" in page


@pytest.mark.parametrize(
    ("typed", "status", "sentence"),
    [
        ({"what": ""}, 422, "This is needed."),
        ({"what": "moon 4"}, 422, "Choose what it was spent on."),
        ({"what": "edition 9"}, 409, "No edition has the number 9."),
        ({"amount": "6,5"}, 422, "“6,5” has a comma: write 6.50."),
        ({"amount": "0"}, 409, "A cost is more than nothing. Write what was spent."),
        ({"spent_on": "2126-05-04"}, 409, "That day is still to come."),
    ],
)
def test_a_refused_cost_keeps_all_that_was_typed(
    maker: TestClient, road: list[int], sqlite_engine: Engine, typed: dict[str, str], status: int, sentence: str
) -> None:
    page = maker.post("/costs", data=form(**typed))
    assert page.status_code == status and sentence in page.text and 'value="test strips"' in page.text
    with reading(sqlite_engine) as session:
        assert costs.lately(session) == []


def test_own_time_is_marked_and_a_slip_is_struck(maker: TestClient, road: list[int], sqlite_engine: Engine) -> None:
    maker.post("/costs", data=form(own_labour="yes"))
    assert "Own time" in maker.get("/costs").text
    assert maker.post("/costs/1/strike", data={"idempotency_key": "a", "why": ""}).status_code == 409
    assert maker.post("/costs/1/strike", data={"idempotency_key": "b", "why": "typed twice"}).status_code == 303
    assert "<s>42.50</s>" in maker.get("/costs").text
    with reading(sqlite_engine) as session:
        assert costs.get(session, 1).struck_at is not None


def test_a_cost_of_one_print_is_chosen_by_coming_from_it(maker: TestClient, road: list[int]) -> None:
    page = maker.get(f"/costs?on=piece+{road[0]}").text
    assert f'<option value="piece {road[0]}" selected>Print: Forty Minutes of Road 1/25' in page
    maker.post("/costs", data=form(what=f"piece {road[0]}"))
    assert "Print: Forty Minutes of Road 1/25" in maker.get("/costs").text


def test_costs_of_some_days_are_a_table_without_formulas(maker: TestClient, road: list[int]) -> None:
    maker.post("/costs", data=form(note="=2+2"))
    table = maker.get("/costs/costs.csv?from=2026-05-01&to=2026-05-31").text
    assert "'=2+2" in table and "42.50" in table
    assert "42.50" not in maker.get("/costs/costs.csv?from=2026-06-01&to=2026-06-30").text


def test_both_doors_write_down_a_printing(
    maker: TestClient, program: TestClient, road: list[int], sqlite_engine: Engine
) -> None:
    typed = {"idempotency_key": "run", "made_on": "2026-05-04", "sheets": "6", "good": "29", "spoilt": "7"}
    assert maker.post("/editions/1/runs", data=typed).headers["location"] == "/editions/1/runs"
    body = {"edition_id": 1, "made_on": "2026-05-04", "sheets": 6, "good": 29, "spoilt": 7}
    assert program.post("/api/runs", json=body).status_code == 201
    one, two = (program.get(f"/api/runs/{each}").json() for each in (1, 2))
    assert one.pop("id") == 1 and two.pop("id") == 2 and one == two
    page = maker.post("/editions/1/runs", data={**typed, "sheets": "6a", "idempotency_key": "other"})
    assert page.status_code == 422 and "“6a” is not a whole number. Write 6." in page.text
    assert 'value="29"' in page.text
    with reading(sqlite_engine) as session:
        assert len(runs.of_edition(session, 1)) == 2
    assert "Printing of 4 May 2026" in maker.get("/costs").text


def test_a_printing_of_an_edition_there_is_not_is_nowhere(maker: TestClient, road: list[int]) -> None:
    assert maker.get("/editions/9/runs").status_code == 404


def test_both_doors_write_down_a_way_of_selling(
    maker: TestClient, program: TestClient, road: list[int], sqlite_engine: Engine
) -> None:
    typed = {
        "idempotency_key": "way", "name": "Own web page", "kind": "web", "fee": "2", "fee_each": "0.20",
        "packing": "2.90", "postage": "6.35",
    }  # fmt: skip
    assert maker.post("/settings/channels", data=typed).status_code == 303
    pounds = {name: {"amount": typed[name], "currency": "GBP"} for name in ("fee_each", "packing", "postage")}
    body = {"name": "Another page", "kind": "web", "fee": 2, **pounds}
    assert program.post("/api/channels", json=body).status_code == 201
    one, two = program.get("/api/channels").json()["items"]
    assert one.pop("name") == "Own web page" and two.pop("name") == "Another page"
    assert one.pop("id") == 1 and two.pop("id") == 2 and one == two
    again = maker.post("/settings/channels", data={**typed, "idempotency_key": "twice"})
    assert again.status_code == 409 and "“Own web page” is there already." in again.text
    too_much = program.post("/api/channels", json={**body, "name": "Third", "fee": 101})
    assert too_much.status_code == 409 and too_much.json()["errors"][0]["field"] == "fee"


def test_usual_costs_change_for_sales_to_come(maker: TestClient, road: list[int], sqlite_engine: Engine) -> None:
    maker.post("/settings/channels", data={"idempotency_key": "a", "name": "Fairs", "kind": "fair", "fee": "1.75"})
    assert 'value="1.75"' in maker.get("/settings/channels/1").text
    changed = {"idempotency_key": "b", "name": "Fairs", "kind": "fair", "fee": "2.5"}
    assert maker.post("/settings/channels/1", data=changed).status_code == 303
    with reading(sqlite_engine) as session:
        assert occasions.get_channel(session, 1).fee_bp == 250


def test_both_doors_write_down_a_fair(maker: TestClient, program: TestClient, road: list[int]) -> None:
    maker.post("/settings/channels", data={"idempotency_key": "a", "name": "Fairs", "kind": "fair"})
    typed = {
        "idempotency_key": "fair", "name": "Saltrigg Harbour Fair", "kind": "selling", "from_on": "2026-06-13",
        "to_on": "2026-06-14", "channel_id": "1",
    }  # fmt: skip
    assert maker.post("/costs/fairs", data=typed).headers["location"] == "/costs/fairs"
    body = {name: value for name, value in typed.items() if name != "idempotency_key"} | {"channel_id": 1}
    assert program.post("/api/occasions", json=body).status_code == 201
    one, two = program.get("/api/occasions").json()["items"]
    assert one.pop("id") == 1 and two.pop("id") == 2 and one == two
    assert "13 to 14 June 2026. None sold" in maker.get("/costs/fairs").text
    back = maker.post("/costs/fairs", data={**typed, "idempotency_key": "b", "to_on": "2026-06-12"})
    assert back.status_code == 409 and "The last day comes before the first." in back.text


def test_lists_of_the_api_go_on_where_they_ended(program: TestClient, road: list[int]) -> None:
    for name in ("One", "Two", "Three"):
        program.post("/api/channels", json={"name": name, "kind": "direct"})
    page = program.get("/api/channels?limit=2").json()
    assert [each["name"] for each in page["items"]] == ["One", "Two"] and page["next"] == 2
    rest = program.get("/api/channels?limit=2&after=2").json()
    assert [each["name"] for each in rest["items"]] == ["Three"] and rest["next"] is None


def test_a_cost_of_selling_is_laid_on_a_sale_that_stands_and_is_named(
    maker: TestClient, road: list[int], sqlite_engine: Engine
) -> None:
    way = trade.ways(sqlite_engine)
    one, two, three = cast.made(sqlite_engine, 11, 12, 13)
    trade.sell(sqlite_engine, way.studio, one, buyer=trade.to(cast.BUYER))
    trade.sell(sqlite_engine, way.fair, two)
    slip = trade.sell(sqlite_engine, way.fair, three)
    with cast.acting(sqlite_engine) as book:
        sale_lines.strike_line(book, trade.only_line(slip).id or 0, "a slip")
    offered = re.findall(r'<option value="sale [0-9]+">([^<]*)', maker.get("/costs").text)
    assert offered == [
        "Sale of 4 May 2026: Forty Minutes of Road 12/25, At a fair",
        f"Sale of 4 May 2026: Forty Minutes of Road 11/25, to {cast.BUYER}",
    ]
