"""Recipes by both doors: written, changed, prints finished by them, and struck."""

import re
from typing import Any

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import editions, making_costs, recipes
from ledger.database import reading
from ledger.recipes import LineDraft
from tests import cast
from tests.cast import acting

TYPED = {
    "idempotency_key": "recipe", "step": "write", "name": "Window mount",
    "lines.0.name": "Window board", "lines.0.amount": "9.60", "lines.0.prints": "12", "lines.0.spoilage": "4",
    "lines.1.name": "Frame with glass", "lines.1.amount": "7.25", "lines.1.prints": "", "lines.1.spoilage": "",
    "lines.2.name": "", "lines.2.amount": "", "lines.2.prints": "", "lines.2.spoilage": "",
    "time.0.name": "Cutting and framing", "time.0.minutes": "45", "time.0.prints": "2", "time.0.an_hour": "16",
}  # fmt: skip


def pounds(amount: str) -> dict[str, str]:
    return {"amount": amount, "currency": "GBP"}


BODY: dict[str, Any] = {
    "name": "Window mount",
    "lines": [
        {"name": "Window board", "amount": pounds("9.60"), "prints": 12, "spoilage": 4},
        {"name": "Frame with glass", "amount": pounds("7.25")},
    ],
    "time": [{"name": "Cutting and framing", "minutes": 45, "prints": 2, "an_hour": pounds("16.00")}],
}


@pytest.fixture
def road(sqlite_engine: Engine) -> list[int]:
    cast.road(sqlite_engine)
    return cast.made(sqlite_engine, 1, 2, 3)


def made_for(engine: Engine, piece_id: int) -> int:
    with reading(engine) as session:
        return round(making_costs.of_pieces(session, {piece_id: 1})[piece_id].with_own_labour)


def test_both_doors_write_down_the_same_recipe(maker: TestClient, program: TestClient, road: list[int]) -> None:
    assert maker.post("/recipes", data=TYPED).headers["location"] == "/recipes/1"
    answer = program.post("/api/recipes", json={**BODY, "name": "Another mount"})
    assert answer.status_code == 201 and answer.headers["location"] == "/api/recipes/2"
    one, two = program.get("/api/recipes").json()["items"][::-1]
    assert one.pop("name") == "Window mount" and two.pop("name") == "Another mount"
    assert one.pop("id") == 1 and two.pop("id") == 2 and one == two
    assert one["a_print"] == pounds("14.08") and one["a_print_without_own_labour"] == pounds("8.08")


def test_the_page_of_a_recipe_adds_up_with_own_time_and_says_it_without(maker: TestClient, road: list[int]) -> None:
    maker.post("/recipes", data=TYPED)
    page = maker.get("/recipes/1").text
    assert (
        "Window board: £9.60 for 12, 4% spoilt" in page
        and "Cutting and framing: 45 min at £16.00 an hour for 2" in page
    )
    assert all(f'<td class="money">{each}</td>' in page for each in ("0.83", "7.25", "6.00", "14.08"))
    assert "Without own time £8.08." in page
    assert "£14.08 a print, £8.08 without own time." in maker.get("/recipes").text


def test_the_form_says_where_packing_is(maker: TestClient, road: list[int]) -> None:
    assert "Packing is no part of it: each way of selling has its own." in maker.get("/recipes").text


def test_another_line_is_shown_and_nothing_typed_is_lost(maker: TestClient, road: list[int]) -> None:
    page = maker.post("/recipes", data={**TYPED, "step": "lines"})
    assert page.status_code == 200 and 'name="lines.3.amount"' in page.text and 'value="Frame with glass"' in page.text
    page = maker.post("/recipes", data={**TYPED, "step": "time"})
    assert 'name="time.1.minutes"' in page.text


@pytest.mark.parametrize(
    ("typed", "status", "field", "sentence"),
    [
        ({"lines.0.spoilage": "100"}, 409, "lines.0.spoilage", "Where all of it is spoilt, no print is ever finished."),
        ({"time.0.an_hour": "0"}, 409, "time.0.an_hour", "An hour of your own time costs more than nothing."),
        ({"time.0.minutes": "0"}, 409, "time.0.minutes", "Own time is a minute or more."),
        ({"lines.1.amount": "7,25"}, 422, "lines.1.amount", "“7,25” has a comma: write 7.25."),
        ({"lines.1.amount": ""}, 422, "lines.1.amount", "This is needed."),
        ({"name": ""}, 422, "name", "This is needed."),
    ],
)
def test_a_refused_recipe_keeps_all_that_was_typed(
    maker: TestClient, road: list[int], sqlite_engine: Engine, typed: dict[str, str], status: int, field: str,
    sentence: str,
) -> None:  # fmt: skip
    page = maker.post("/recipes", data=TYPED | typed)
    assert page.status_code == status and sentence in page.text and 'value="Window board"' in page.text
    assert f'id="f-{field}-message"' in page.text and f'href="#f-{field}"' in page.text
    with reading(sqlite_engine) as session:
        assert recipes.listing(session) == []


def test_what_is_refused_stands_in_its_own_row_below_an_empty_one(maker: TestClient, road: list[int]) -> None:
    empty = {f"lines.0.{name}": "" for name in ("name", "amount", "prints", "spoilage")}
    for typed, field in (
        ({"lines.1.amount": "7,2"}, "lines.1.amount"),  # an amount, read by the act
        ({"lines.1.prints": "two"}, "lines.1.prints"),  # a figure, read by the shape
        ({"lines.1.spoilage": "100"}, "lines.1.spoilage"),  # a rule of the room
    ):
        page = maker.post("/recipes", data=TYPED | empty | typed).text
        assert f'id="f-{field}-message"' in page
        assert re.findall(r'id="f-(lines[^"]*)-message"', page) == [field]


def test_a_program_is_told_which_line_of_own_time_is_at_fault(program: TestClient, road: list[int]) -> None:
    bad = {**BODY, "time": [*BODY["time"], {"name": "Glueing", "minutes": 5, "an_hour": pounds("0.00")}]}
    answer = program.post("/api/recipes", json=bad)
    assert answer.status_code == 409 and answer.json()["errors"][0]["field"] == "time.1.an_hour"
    foreign = {**BODY, "lines": [{"name": "Board", "amount": {"amount": "9.60", "currency": "EUR"}}]}
    answer = program.post("/api/recipes", json=foreign)
    assert answer.status_code == 422 and answer.json()["errors"][0]["field"] == "lines.0.amount.currency"


def test_a_change_writes_the_next_version_and_the_earlier_one_is_still_read(
    maker: TestClient, program: TestClient, road: list[int]
) -> None:
    maker.post("/recipes", data=TYPED)
    form = maker.get("/recipes/1/change").text
    assert 'value="9.60"' in form and 'value="45"' in form and 'value="16.00"' in form
    changed = {**TYPED, "idempotency_key": "change", "step": "change", "lines.1.amount": "9"}
    del changed["name"]
    assert maker.post("/recipes/1/change", data=changed).headers["location"] == "/recipes/2"
    assert "It was changed since" in maker.get("/recipes/1").text and "7.25" in maker.get("/recipes/1").text
    answer = program.post("/api/recipes/2/change", json={"lines": BODY["lines"]})
    assert answer.status_code == 201 and answer.json()["version"] == 3 and answer.json()["time"] == []
    late = maker.post("/recipes/1/change", data={**changed, "idempotency_key": "late"})
    assert late.status_code == 409 and "Go by it as it is now." in late.text and 'value="9"' in late.text


def finish(maker: TestClient, *pieces: int, key: str = "finish", **more: str) -> Any:
    typed = {"idempotency_key": key, "edition": "1", "pieces": list(map(str, pieces)), "on": "2026-05-04", **more}
    return maker.post("/recipes/1/finish", data=typed)


def test_both_doors_finish_prints_the_same_way(
    maker: TestClient, program: TestClient, road: list[int], sqlite_engine: Engine
) -> None:
    maker.post("/recipes", data=TYPED)
    assert "3 signed prints are yours." in maker.get("/recipes/1/finish").text
    assert "2/25" in maker.get("/recipes/1/finish?edition=1").text
    assert finish(maker, road[0]).headers["location"] == "/recipes/1"
    answer = program.post("/api/recipes/1/finish", json={"pieces": [road[1]], "on": "2026-05-04"})
    assert answer.status_code == 201
    done = answer.json()
    assert (done["materials"], done["own_labour"], done["pieces"]) == (pounds("8.08"), pounds("6.00"), [road[1]])
    assert program.get(answer.headers["location"]).json() == done
    assert made_for(sqlite_engine, road[0]) == made_for(sqlite_engine, road[1]) == 1408


def test_finished_prints_are_told_on_the_recipe_the_costs_and_the_print(maker: TestClient, road: list[int]) -> None:
    maker.post("/recipes", data=TYPED)
    finish(maker, *road)
    recipe, costs, edition = (maker.get(path).text for path in ("/recipes/1", "/costs", "/editions/1"))
    for page in (recipe, costs):
        assert "Forty Minutes of Road 1 to 3" in page and "£18.00 of it own time" in page and "42.25" in page
    assert "Finished. Window mount." in edition
    assert "finished so on 4 May 2026" in maker.get("/recipes/1/finish?edition=1").text


def test_a_print_is_finished_twice_only_when_that_is_ticked(
    maker: TestClient, road: list[int], sqlite_engine: Engine
) -> None:
    maker.post("/recipes", data=TYPED)
    finish(maker, road[0])
    page = finish(maker, road[0], road[1], key="twice")
    assert page.status_code == 409 and "1/25 was finished so on 4 May 2026." in page.text
    assert page.text.count(" checked") == 2
    assert finish(maker, road[0], road[1], key="again", again="yes").status_code == 303
    assert made_for(sqlite_engine, road[0]) == 1408 + 1409  # 14.0833 each, the penny over to the first


@pytest.mark.parametrize(
    ("change", "status", "sentence"),
    [
        ({"pieces": []}, 409, "No print is chosen."),
        ({"on": "2126-05-04"}, 409, "That day is still to come."),
        ({"on": "soon"}, 422, "“soon” is not a day."),
    ],
)
def test_a_refused_finishing_keeps_what_was_typed(
    maker: TestClient, road: list[int], change: dict[str, Any], status: int, sentence: str
) -> None:
    maker.post("/recipes", data=TYPED)
    typed = {"idempotency_key": "x", "edition": "1", "pieces": str(road[0]), "on": "2026-05-04", **change}
    page = maker.post("/recipes/1/finish", data=typed)
    assert page.status_code == status and sentence in page.text
    assert (" checked" in page.text) == (change.get("pieces") != [])


def test_an_offer_is_bound_to_the_recipe_of_its_mounting(
    maker: TestClient, program: TestClient, road: list[int], sqlite_engine: Engine
) -> None:
    maker.post("/recipes", data=TYPED)
    with acting(sqlite_engine) as book:
        recipes.write(book, "Travelling box", [LineDraft(name="Box", amount_minor=350)])
    page = maker.get("/editions/1/offer").text
    assert '<option value="2">Travelling box</option>' in page
    typed = dict(re.findall(r'<input[^>]*name="(offer[^"]+)" value="([^"]*)"', page))
    offer = {"idempotency_key": "o", "size_id": "1", **typed, "offer.recipe_id": "2"}
    assert "No recipe has the number 9." in maker.post("/editions/1/offer", data={**offer, "offer.recipe_id": "9"}).text
    assert maker.post("/editions/1/offer", data=offer).status_code == 303
    assert program.get("/api/editions/1").json()["sizes"][0]["offer"]["recipe_id"] == 2
    assert '<option value="2" selected>Travelling box</option>' in maker.get("/editions/1/offer").text
    assert '<a class="plain" href="/recipes/2/finish?edition=1">Finish prints: Travelling box</a>' in (
        maker.get("/editions/1").text
    )
    assert "by the recipe “Travelling box”" in maker.get("/editions/1/price").text
    assert "Travelling box, as it is offered" in maker.get("/editions/1/price").text


def test_a_print_offered_with_another_recipe_is_said_and_stands_below(
    maker: TestClient, road: list[int], sqlite_engine: Engine
) -> None:
    """Numbers signed before keep the offer they were made under."""
    maker.post("/recipes", data=TYPED)
    with acting(sqlite_engine) as book:
        box = recipes.write(book, "Travelling box", [LineDraft(name="Box", amount_minor=350)]).id
        changed = recipes.change(book, box or 0, [LineDraft(name="Box", amount_minor=400)]).id or 0
        editions.new_offer(book, 1, cast.offer((1, 6500)).model_copy(update={"recipe_id": box}))
    cast.made(sqlite_engine, 9)
    page = maker.get("/recipes/1/finish?edition=1").text
    assert page.index("1/25") < page.index("9/25<") and page.count("offered with “Travelling box”") == 1
    assert "offered with" not in maker.get(f"/recipes/{changed}/finish?edition=1").text


def test_a_slip_is_struck_by_both_doors(
    maker: TestClient, program: TestClient, road: list[int], sqlite_engine: Engine
) -> None:
    maker.post("/recipes", data=TYPED)
    finish(maker, road[0], road[1])
    seq = program.post("/api/recipes/1/finish", json={"pieces": [road[2]], "on": "2026-05-04"}).json()["id"]
    assert program.post(f"/api/recipes/finished/{seq}/strike", json={"why": "a slip"}).json()["struck"] is True
    path = f"/recipes/finished/{seq - 2}/strike"
    assert "Forty Minutes of Road 1, 2" in maker.get(path).text
    assert maker.post(path, data={"idempotency_key": "s", "why": ""}).status_code == 409
    assert maker.post(path, data={"idempotency_key": "t", "why": "wrong drawer"}).headers["location"] == "/recipes/1"
    assert [made_for(sqlite_engine, piece_id) for piece_id in road] == [0, 0, 0]
    assert maker.get("/recipes/1").text.count("Struck") == 2


def test_what_is_not_there_is_not_found(maker: TestClient, program: TestClient, road: list[int]) -> None:
    for path in ("/recipes/9", "/recipes/9/change", "/recipes/9/finish", "/recipes/finished/9/strike"):
        assert maker.get(path).status_code == 404, path
    assert program.get("/api/recipes/9").status_code == program.get("/api/recipes/finished/9").status_code == 404
    assert program.post("/api/recipes/9/finish", json={"pieces": [road[0]], "on": "2026-05-04"}).status_code == 404


def test_nothing_of_it_is_open_to_a_stranger(stranger: TestClient, road: list[int]) -> None:
    for path in ("/recipes", "/recipes/1", "/editions/1/price"):
        assert stranger.get(path).headers["location"].startswith("/sign-in")
    assert stranger.get("/api/recipes").status_code == stranger.get("/api/editions/1/price").status_code == 401


def test_fields_nobody_offered_are_refused_and_no_fault(maker: TestClient, road: list[int]) -> None:
    for field in ("lines", "lines.x", "linesmen", "time.0.colour", "lines.0.name.more"):
        assert maker.post("/recipes", data={**TYPED, field: "5"}).status_code == 422, field
