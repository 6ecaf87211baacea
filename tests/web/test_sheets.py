"""Sheets planned, kept and accepted, and what came back counted, by both doors."""

import io
import re
from typing import Any

import pytest
from PIL import Image
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import clock, costs, runs, sheets, spares
from ledger.database import reading
from ledger.reckoning import dates
from tests import cast
from tests.paper.cast import words
from tests.test_sheets import two_editions
from tests.web.test_works import a_picture

MARGINS = {f"{edge}_mm": 5 for edge in ("left", "top", "right", "bottom")}
ELEVEN: dict[str, Any] = {
    "name": "Eleven up", "sheet": "A3", "margins": MARGINS, "gutter_mm": 4,
    "pieces": [{"width_mm": 127, "height_mm": 127, "size_id": 1}, {"width_mm": 60, "height_mm": 90, "size_id": 2}],
}  # fmt: skip


@pytest.fixture
def two(sqlite_engine: Engine) -> Engine:
    two_editions(sqlite_engine)
    return sqlite_engine


def form(step: str = "work_out", **changes: str) -> dict[str, str]:
    """One size of 100 x 150 on A3, margins 5 and gutter 4."""
    return {
        "idempotency_key": f"plan-{step}", "step": step, "unit": "mm", "sheet": "A3", "left": "5", "top": "5",
        "right": "5", "bottom": "5", "gutter": "4", "bleed": "0", "cutting": "guillotine", "least_strip": "0",
        "wanted.0.width": "100", "wanted.0.height": "150", **changes,
    }  # fmt: skip


def of_two(step: str = "work_out", **changes: str) -> dict[str, str]:
    sizes = {
        "wanted.0.width": "127", "wanted.0.height": "127", "wanted.0.size_id": "1", "wanted.1.width": "60",
        "wanted.1.height": "90", "wanted.1.size_id": "2", "name": "Eleven up",
    }  # fmt: skip
    return form(step, **{**sizes, **changes})


def on_show(page: str) -> dict[str, str]:
    return dict(re.findall(r'name="(shown)" value="([^"]+)"', page))


def keep(maker: TestClient, typed: dict[str, str]) -> Any:
    """Worked out, looked at and kept, as the page does it."""
    looked_at = maker.post("/sheets/plan", data=typed).text
    return maker.post("/sheets/plan", data=typed | on_show(looked_at) | {"step": "keep"})


def test_a_length_nobody_can_read_stands_in_its_own_row_below_an_empty_one(maker: TestClient, two: Engine) -> None:
    rows = {"wanted.0.width": "", "wanted.0.height": "", "wanted.1.width": "60", "wanted.1.height": "wide"}
    page = maker.post("/sheets/plan", data=form(**rows)).text
    assert re.findall(r'id="f-(wanted[^"]*)-message"', page) == ["wanted.1.height"]


def test_the_count_is_said_first_and_what_would_make_room_for_more(maker: TestClient, two: Engine) -> None:
    text = maker.post("/sheets/plan", data=form()).text
    assert "5 prints of 100 × 150 mm on A3. No cuts right across give more." in text
    assert "All straight 4, all turned 3." in text
    assert "Every margin 1 mm less: 1 more." in text
    assert text.count('<svg class="drawing"') == 1 and "<b>The whole sheet</b>: mark 5 mm from the left edge" in text
    assert text.count("Blades cut fingers") == 1
    with reading(two) as session:
        assert sheets.listing(session) == []


def test_with_a_knife_the_best_found_is_held_against_cuts_right_across(maker: TestClient, two: Engine) -> None:
    text = maker.post("/sheets/plan", data=form(cutting="knife")).text
    assert "6 prints of 100 × 150 mm on A3. No layout gives more." in text and "with cuts right across 5." in text
    assert re.search(r"a line [0-9]+ mm from the left edge, from the top edge down to", text)
    assert "What would make room for more" not in text


def test_several_sizes_are_laid_out_for_a_knife_and_told_what_would_make_room(maker: TestClient, two: Engine) -> None:
    across = maker.post("/sheets/plan", data=of_two(mix="4-7")).text
    assert "A3+: 5 more." in across
    sizes = {"wanted.0.width": "100", "wanted.0.height": "150", "wanted.0.size_id": ""}
    sheets = {"wanted.0.quantity": "60", "wanted.1.quantity": "10"}
    assert "12 sheets of A3: " in maker.post("/sheets/plan", data=of_two(**sizes, **sheets)).text
    knife = maker.post("/sheets/plan", data=of_two(cutting="knife", **sizes, **sheets)).text
    assert re.search("10 sheets of A3: .* No layouts take fewer sheets.", knife) and ": a line " in knife
    keep(maker, of_two(cutting="knife", **sizes, **sheets))
    assert "on 10 sheets of A3. No layouts take fewer sheets." in maker.get("/sheets/1").text


def test_what_a_print_bears_of_a_sheet_is_shown_to_the_penny(maker: TestClient, two: Engine) -> None:
    page = maker.post("/sheets/plan", data=of_two(sheet_price="8.40")).text
    assert '<option value="4-7">4 of 127 × 127 mm and 7 of 60 × 90 mm</option>' in page
    text = maker.post("/sheets/plan", data=of_two(sheet_price="8.40", mix="4-7")).text
    assert "127 × 127 mm: 4 at £1.30." in text and "60 × 90 mm: 5 at £0.46, 2 at £0.45." in text


def test_a_quantity_says_how_many_sheets(maker: TestClient, two: Engine) -> None:
    one = maker.post("/sheets/plan", data=form(**{"wanted.0.quantity": "12"})).text
    assert "5 prints of 100 × 150 mm on A3. No cuts right across give more. For 12, 3 sheets are needed." in one
    assert "3 sheets are cut so: follow the whole list for each of them." in one
    both = maker.post("/sheets/plan", data=of_two(**{"wanted.0.quantity": "8", "wanted.1.quantity": "14"})).text
    assert "2 sheets of A3: 8 of 127 × 127 mm and 14 of 60 × 90 mm. No cuts right across take fewer sheets." in both


def test_inches_are_read_and_written_back(maker: TestClient, two: Engine) -> None:
    inches = dict.fromkeys(("left", "top", "right", "bottom", "gutter"), "0.25")
    sizes = {"wanted.0.width": "8", "wanted.0.height": "10"}
    text = maker.post("/sheets/plan", data=form(unit="in", sheet="16 × 20 in", **inches, **sizes)).text
    assert "2 prints of 8 × 10 in on 16 × 20 in. No cuts right across give more." in text
    assert "set 8 in." in text or "setting, 8 in." in text


@pytest.mark.parametrize(
    ("typed", "status", "sentence"),
    [
        ({"gutter": "-4"}, 422, "“-4” is below nothing. Write a length, such as 203."),
        ({"wanted.0.width": "8"}, 422, "“8” has no unit and can be read in more than one way."),
        ({"wanted.0.width": "500"}, 409, "A piece of 500 × 150 mm is "),
        ({"wanted.0.quantity": "10001"}, 409, "10,001 pieces of one size. Write between 1 and 10,000."),
        ({"wanted.0.width": "", "wanted.0.height": ""}, 422, "Write what is to be printed: a width and a height."),
        ({"sheet": "own"}, 422, "Write this length."),
        ({"sheet": "A9"}, 422, "Choose a sheet from the list, or your own size."),
        ({"bleed": "3"}, 409, "Two prints with a bleed of 3 mm need 6 mm between them, and the gutter is 4 mm."),
        ({"wanted.0.quantity": "some"}, 422, "“some” is not a whole number."),
        ({"sheet_price": "6,5"}, 422, "“6,5” has a comma: write 6.50."),
    ],
)
def test_what_cannot_be_planned_is_said_beside_its_field_and_all_that_was_typed_stays(
    maker: TestClient, two: Engine, typed: dict[str, str], status: int, sentence: str
) -> None:
    page = maker.post("/sheets/plan", data=form(name="Posters", **typed))
    assert page.status_code == status and sentence in page.text
    assert 'value="Posters"' in page.text
    assert all(f'value="{value}"' in page.text for name, value in typed.items() if value and name != "sheet")
    assert 'aria-invalid="true"' in page.text


def test_another_size_gives_one_more_block_and_no_more_than_four(maker: TestClient, two: Engine) -> None:
    typed = form("another_size")
    for blocks in (2, 3, 4):
        text = maker.post("/sheets/plan", data=typed).text
        assert text.count("<legend><b>Size ") == blocks
        typed[f"wanted.{blocks - 1}.quantity"] = ""
    assert "Another size</button>" not in text


def test_the_sizes_of_an_edition_stand_in_the_form_and_its_pages_lead_there(maker: TestClient, two: Engine) -> None:
    for page in ("/editions/1", "/editions/1/runs"):
        assert 'href="/sheets/plan?edition=1"' in maker.get(page).text
    text = maker.get("/sheets/plan?edition=2").text
    assert 'value="60"' in text
    assert '<option value="2" selected>Lamp Room, Low Tide: ' in text
    posted = form(**{"wanted.0.size_id": "2", "wanted.0.width": "", "wanted.0.height": ""})
    assert "19 prints of 60 × 90 mm on A3" in maker.post("/sheets/plan", data=posted).text


def test_both_doors_keep_and_accept_the_same_plan(maker: TestClient, program: TestClient, two: Engine) -> None:
    assert keep(maker, of_two()).headers["location"] == "/sheets/1"
    answer = program.post("/api/sheet-plans", json=ELEVEN)
    assert answer.status_code == 201 and answer.headers["location"] == "/api/sheet-plans/2"
    one, other = (program.get(f"/api/sheet-plans/{each}").json() for each in (1, 2))
    assert one.pop("id") == 1 and other.pop("id") == 2 and one == other
    assert program.get("/api/sheet-plans?limit=1").json()["next"] == 1

    bought = {"sheets": "2", "sheet_price": "8.40", "delivery": "1.20", "made_on": "2026-05-04"}
    assert maker.post("/sheets/1/accept", data=bought | {"idempotency_key": "a"}).headers["location"] == "/sheets/1"
    pounds = [{"amount": amount, "currency": "GBP"} for amount in ("8.40", "1.20")]
    body = {"sheets": 2, "sheet_price": pounds[0], "delivery": pounds[1], "made_on": "2026-05-04"}
    assert program.post("/api/sheet-plans/2/accept", json=body).status_code == 201
    made = [program.get(f"/api/runs/{each}").json() for each in (1, 2, 3, 4)]
    for first, second in ((made[0], made[2]), (made[1], made[3])):
        assert first.pop("id") + 2 == second.pop("id")
        assert first.pop("plan_id") == 1 and second.pop("plan_id") == 2
        assert first == second
    with reading(two) as session:
        amounts = [cost.amount_minor for cost in costs.lately(session)][::-1]
    assert amounts[:2] == amounts[2:] and sum(amounts[:2]) == 1800
    again = program.post("/api/sheet-plans/2/accept", json=body)
    assert again.status_code == 409 and "This plan was accepted on" in again.json()["detail"]


def test_both_doors_count_what_came_back(maker: TestClient, program: TestClient, two: Engine) -> None:
    for plan in (1, 2):
        program.post("/api/sheet-plans", json=ELEVEN)
        body = {"sheets": 1, "sheet_price": {"amount": "8.40", "currency": "GBP"}, "made_on": "2026-05-04"}
        program.post(f"/api/sheet-plans/{plan}/accept", json=body)
    first, second = (program.get(f"/api/sheet-plans/{plan}").json()["runs"][1] for plan in (1, 2))
    page = maker.get("/sheets/1").text
    assert f'href="/runs/{first}"' in page and "Count what came back" in page
    done = maker.post(f"/runs/{first}/count", data={"idempotency_key": "c", "good": "", "spoilt": "3"})
    assert done.headers["location"] == f"/runs/{first}"
    assert program.post(f"/api/runs/{second}/count", json={"spoilt": 3}).status_code == 201
    one, other = (program.get(f"/api/runs/{each}").json() for each in (first, second))
    assert (one["good"], one["spoilt"], one["spares"]) == (one["planned"] - 3, 3, one["good"])
    assert {**one, "id": 0, "plan_id": 0} == {**other, "id": 0, "plan_id": 0}
    too_many = {"idempotency_key": "d", "good": str(one["planned"]), "spoilt": "1", "why": ""}
    refused = maker.post(f"/runs/{first}/count", data=too_many)
    assert refused.status_code == 409 and f'value="{one["planned"]}"' in refused.text
    assert "Count them again, or write why there are more." in refused.text
    assert program.post(f"/api/runs/{second}/count", json={"good": 99}).json()["errors"][0]["field"] == "why"


def test_what_became_of_spares_is_asked_once_they_are_counted(
    maker: TestClient, program: TestClient, two: Engine
) -> None:
    program.post("/api/sheet-plans", json=ELEVEN)
    body = {"sheets": 1, "sheet_price": {"amount": "8.40", "currency": "GBP"}, "made_on": "2026-05-04"}
    program.post("/api/sheet-plans/1/accept", json=body)
    run = program.get("/api/sheet-plans/1").json()["runs"][0]
    page = maker.get(f"/runs/{run}").text
    assert "Count what came back first." in page and 'name="fate"' not in page
    fate = {"fate": "destroyed", "how_many": 1}
    no = program.post(f"/api/runs/{run}/spares", json=fate)
    assert no.status_code == 409 and no.json()["detail"].startswith("This printing is not counted yet.")
    assert program.post(f"/api/runs/{run}/count", json={}).status_code == 201
    assert 'name="fate"' in maker.get(f"/runs/{run}").text
    assert program.post(f"/api/runs/{run}/spares", json=fate).status_code == 201


def test_prints_that_a_closed_edition_has_no_number_for_are_said_where_they_can_be_settled(
    maker: TestClient, program: TestClient, two: Engine
) -> None:
    program.post("/api/runs", json={"edition_id": 2, "made_on": "2026-05-04", "sheets": 1, "good": 1})
    program.post("/api/editions/2/close", json={"why": "Worn.", "numbers": "2-7"})
    said = "1 good print has no number. None is left for it."
    assert said not in maker.get("/editions/2").text
    typed = {"idempotency_key": "a", "good": "2", "spoilt": "0"}
    assert maker.post("/runs/1/count", data=typed).headers["location"] == "/runs/1"
    for page in ("/editions/2", "/editions/2/runs"):
        assert said in maker.get(page).text
    assert 'name="fate"' in maker.get("/runs/1").text
    assert program.post("/api/runs/1/spares", json={"fate": "replacement", "how_many": 1}).status_code == 201
    assert said not in maker.get("/editions/2").text


def test_both_doors_say_what_became_of_spares(maker: TestClient, program: TestClient, two: Engine) -> None:
    run = {"edition_id": 2, "made_on": "2026-05-04", "sheets": 1, "good": 9}
    for _ in range(2):
        program.post("/api/runs", json=run)
    typed = {"idempotency_key": "s", "fate": "archive", "how_many": "2", "note": ""}
    assert maker.post("/runs/1/spares", data=typed).headers["location"] == "/runs/1"
    assert program.post("/api/runs/2/spares", json={"fate": "archive", "how_many": 2}).json()["spares"] == 7
    assert "2 kept as archive copies on " in maker.get("/runs/1").text
    none_said = maker.post("/runs/1/spares", data={"idempotency_key": "t", "fate": "", "how_many": "12"})
    assert none_said.status_code == 422 and 'value="12"' in none_said.text
    too_many = maker.post("/runs/1/spares", data={"idempotency_key": "u", "fate": "given", "how_many": "8"})
    assert too_many.status_code == 409
    assert "This printing has 7 good prints without a number. Write how many, from 1 to 7." in too_many.text


def test_closing_asks_what_became_of_the_spares_by_both_doors(
    maker: TestClient, program: TestClient, two: Engine
) -> None:
    program.post("/api/runs", json={"edition_id": 1, "made_on": "2026-05-04", "sheets": 1, "good": 6})
    program.post("/api/runs", json={"edition_id": 2, "made_on": "2026-05-04", "sheets": 1, "good": 6})
    assert "6 good prints have no number." in maker.get("/editions/1/close").text
    typed = {"numbers": "1-25", "why": "The plate is worn.", "step": "read_back", "typed_title": cast.TITLE}
    asked = maker.post("/editions/1/close", data=typed)
    assert asked.status_code == 409 and "Say what became of them before this edition ends." in asked.text
    assert program.post("/api/editions/2/close", json={"why": "Worn."}).status_code == 409
    done = maker.post("/editions/1/close", data=typed | {"spares": "destroyed", "step": "close"})
    assert done.status_code == 303
    assert program.post("/api/editions/2/close", json={"why": "Worn.", "spares": "given"}).status_code == 201
    with reading(two) as session:
        assert [each.fate for run in (1, 2) for each in spares.settled(session, run)] == ["destroyed", "given"]


def test_the_printings_of_an_edition_ask_after_prints_that_no_number_is_left_for(
    maker: TestClient, two: Engine
) -> None:
    draft = runs.RunDraft(edition_id=2, made_on=cast.MAY_4, sheets=1, good=7)
    for good, asked in ((7, False), (2, True)):
        with cast.acting(two) as book:
            runs.record(book, draft.model_copy(update={"good": good}))
        said = "2 good prints have no number. None is left for them." in maker.get("/editions/2/runs").text
        assert said is asked


def test_a_kept_plan_has_its_cut_list_as_a_pdf_and_can_be_planned_again(maker: TestClient, two: Engine) -> None:
    keep(maker, of_two())
    page = maker.get("/sheets/1").text
    assert 'href="/sheets/1/cuts-1.pdf"' in page and page.count("Blades cut fingers") == 1
    pdf = maker.get("/sheets/1/cuts-1.pdf")
    assert pdf.headers["content-type"] == "application/pdf" and pdf.content.startswith(b"%PDF")
    assert maker.get("/sheets/1/cuts-2.pdf").status_code == 404
    again = maker.get("/sheets/plan?again=1").text
    fields = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', again))
    chosen = dict(re.findall(r'<select[^>]* name="([^"]+)".*?<option value="([^"]*)" selected', again, re.DOTALL))
    typed = {**fields, **chosen, "step": "work_out", "unit": "mm", "cutting": "guillotine"}
    assert (fields["width"], fields["height"]) == ("297", "420"), "the field says mm beside it"
    for place in (0, 1):
        typed.pop(f"wanted.{place}.straight")
    text = maker.post("/sheets/plan", data=typed).text
    assert "127 × 127 mm" in text and 'role="status"' in text


def test_a_refused_acceptance_keeps_what_was_typed(maker: TestClient, two: Engine) -> None:
    keep(maker, of_two())
    typed = {"idempotency_key": "a", "sheets": "0", "sheet_price": "8.40", "made_on": "2026-05-04"}
    page = maker.post("/sheets/1/accept", data=typed)
    assert page.status_code == 409 and 'value="8.40"' in page.text
    assert "Write how many sheets were bought, from 1 to 10,000." in page.text
    assert maker.get("/sheets/9").status_code == 404


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"sheet": "A9"}, "sheet"),
        ({"gutter_mm": 3, "bleed_mm": 2}, "gutter_mm"),
        ({"pieces": [{"width_mm": 600, "height_mm": 90, "may_turn": False}]}, "pieces.0.width_mm"),
        ({"margins": MARGINS | {"left_mm": 300}}, "margins.left_mm"),
        ({"mix": [4, 9]}, "mix"),
        ({"pieces": [{"width_mm": 127, "height_mm": 127, "size_id": 9}]}, "pieces.0.size_id"),
    ],
)
def test_a_program_is_told_which_field_is_at_fault(
    program: TestClient, two: Engine, changes: dict[str, Any], field: str
) -> None:
    answer = program.post("/api/sheet-plans", json=ELEVEN | changes)
    assert answer.status_code in (409, 422)
    assert answer.json()["errors"][0]["field"] == field


def test_only_the_plan_that_was_shown_is_kept_and_nothing_typed_is_lost(maker: TestClient, two: Engine) -> None:
    first = on_show(maker.post("/sheets/plan", data=of_two(mix="4-7")).text)
    for edited in ({"gutter": "6"}, {"mix": "2-13"}, {"wanted.1.size_id": ""}, {"sheet_price": "9.00"}):
        page = maker.post("/sheets/plan", data=of_two("keep", **{"mix": "4-7", **edited}) | first)
        assert page.status_code == 200 and "What is asked was changed since." in page.text
        assert 'role="status"' in page.text and 'name="name" value="Eleven up"' in page.text
        assert on_show(page.text) != first
    with reading(two) as session:
        assert sheets.listing(session) == []
    again = of_two("keep", mix="4-7", gutter="6")
    looked_at = on_show(maker.post("/sheets/plan", data=again | first).text)
    named_since = again | looked_at | {"name": "Wider"}
    assert maker.post("/sheets/plan", data=named_since).headers["location"] == "/sheets/1"
    with reading(two) as session:
        (kept,) = sheets.listing(session)
    assert (kept.name, kept.planned.job.gutter_um) == ("Wider", 6_000)


def test_nothing_is_kept_before_it_was_shown(maker: TestClient, two: Engine) -> None:
    unseen = maker.post("/sheets/plan", data=of_two("keep"))
    assert unseen.status_code == 200 and on_show(unseen.text)
    with reading(two) as session:
        assert sheets.listing(session) == []
    assert maker.post("/sheets/plan", data=of_two("keep") | on_show(unseen.text)).headers["location"] == "/sheets/1"


def test_a_mix_that_is_gone_is_said_to_be_and_the_one_proposed_is_shown(maker: TestClient, two: Engine) -> None:
    gone = "The mix chosen before is none of those worth having now."
    assert gone not in maker.post("/sheets/plan", data=of_two(mix="4-7")).text
    assert gone not in maker.post("/sheets/plan", data=of_two()).text
    page = maker.post("/sheets/plan", data=of_two(mix="4-9"))
    assert page.status_code == 200 and gone in page.text and on_show(page.text)
    assert "What is asked was changed since." in maker.post("/sheets/plan", data=of_two("keep", mix="4-9")).text
    with reading(two) as session:
        assert sheets.listing(session) == []


def test_what_a_sheet_will_cost_is_written_once(maker: TestClient, program: TestClient, two: Engine) -> None:
    keep(maker, of_two(sheet_price="8.40"))
    assert 'name="sheet_price" value="8.40"' in maker.get("/sheets/1").text
    assert 'name="sheet_price" value="8.40"' in maker.get("/sheets/plan?again=1").text
    pounds = {"amount": "8.40", "currency": "GBP"}
    assert program.post("/api/sheet-plans", json=ELEVEN | {"sheet_price": pounds}).json()["sheet_price"] == pounds
    unreadable = program.post("/api/sheet-plans", json=ELEVEN | {"sheet_price": {**pounds, "amount": "8,40"}})
    assert unreadable.json()["errors"][0]["field"] == "sheet_price"
    assert program.post("/api/sheet-plans", json=ELEVEN).json()["sheet_price"] is None


def test_an_accepted_plan_says_what_was_bought_and_what_each_part_came_to(
    maker: TestClient, program: TestClient, two: Engine
) -> None:
    keep(maker, of_two(mix="4-7", **{"wanted.1.size_id": ""}))
    bought = {"sheets": "2", "sheet_price": "8.40", "delivery": "1.20", "made_on": "2026-05-04"}
    maker.post("/sheets/1/accept", data=bought | {"idempotency_key": "a"})
    page = maker.get("/sheets/1").text
    assert "2 sheets at £8.40 and £1.20 for delivery, printed on 4 May 2026." in page
    rows = [re.sub(r"<[^>]+>|\s+", " ", row) for row in re.findall(r"<tr>.*?</tr>", page, re.DOTALL)]
    (road,), (others,), (every,) = (
        [row for row in rows if words in row]
        for words in (cast.TITLE, "No edition: 14 of 60 × 90 mm", "All the sheets")
    )
    # 18.00 by area with gutter: 68,644 of 110,756 square mm are the road's
    assert road.split()[-3:] == ["8", "0", "11.16"]
    assert others.split()[-2:] == ["14", "6.84"] and every.split()[-1] == "18.00"
    assert 'href="/costs?plan=1#written"' in page
    of_the_plan = maker.get("/costs?plan=1").text
    assert of_the_plan.count("/strike") == 2 and 'href="/sheets/1">Eleven up</a>' in of_the_plan
    assert maker.get("/costs?plan=9").status_code == 404
    told = program.get("/api/sheet-plans/1").json()
    pounds = [{"amount": amount, "currency": "GBP"} for amount in ("1.20", "11.16", "6.84")]
    assert told["bought"] == {"sheets": 2, "delivery": pounds[0], "made_on": "2026-05-04"}
    assert [(cost["basis"], cost["target_id"], cost["amount"]) for cost in told["costs"]] == [
        ("run", told["runs"][0], pounds[1]),
        ("studio", None, pounds[2]),
    ]


def test_both_doors_take_back_a_plan_accepted_by_mistake(maker: TestClient, program: TestClient, two: Engine) -> None:
    body = {"sheets": 10, "sheet_price": {"amount": "8.40", "currency": "GBP"}, "made_on": "2026-05-04"}
    for plan in (1, 2):
        program.post("/api/sheet-plans", json=ELEVEN)
        program.post(f"/api/sheet-plans/{plan}/accept", json=body)
    unsaid = maker.post("/sheets/1/take-back", data={"idempotency_key": "t", "why": ""})
    assert unsaid.status_code == 409 and "The reason is empty. Write it." in unsaid.text
    done = maker.post("/sheets/1/take-back", data={"idempotency_key": "t", "why": "one sheet, not ten"})
    assert done.headers["location"] == "/sheets/1"
    assert program.post("/api/sheet-plans/2/take-back", json={"why": "one sheet, not ten"}).status_code == 201
    one, other = (program.get(f"/api/sheet-plans/{each}").json() for each in (1, 2))
    assert (one["accepted_on"], one["bought"], one["costs"], one["runs"]) == (None, None, [], [])
    assert {**one, "id": 0} == {**other, "id": 0}
    page = maker.get("/sheets/1").text
    assert "Accept this plan" in page and 'name="sheet_price" value="8.40"' in page
    struck = maker.get("/runs/1").text
    assert "This printing was struck as written down by mistake." in struck
    assert "Write down the count" not in struck and "Write down what became" not in struck
    assert program.get("/api/runs/1").json()["struck"] and "/runs/1" not in maker.get("/editions/1/runs").text
    assert "run 1" not in maker.get("/costs").text
    assert "Not printed after all. One sheet, not ten." in maker.get("/editions/1/story").text
    assert maker.post("/sheets/1/accept", data={
        "idempotency_key": "b", "sheets": "1", "sheet_price": "8.40", "delivery": "", "made_on": "2026-05-04"
    }).status_code == 303  # fmt: skip
    (run, _) = program.get("/api/sheet-plans/1").json()["runs"]
    program.post(f"/api/runs/{run}/count", json={"spoilt": 1})
    late = maker.post("/sheets/1/take-back", data={"idempotency_key": "u", "why": "after all"})
    assert late.status_code == 409 and "was counted on " in late.text and 'value="after all"' in late.text
    assert "was counted on " in program.post("/api/sheet-plans/1/take-back", json={"why": "x"}).json()["detail"]


def test_a_program_works_a_job_out_without_keeping_it(maker: TestClient, program: TestClient, two: Engine) -> None:
    job = {name: value for name, value in ELEVEN.items() if name != "name"}
    price = {"sheet_price": {"amount": "8.40", "currency": "GBP"}}
    answer = program.post("/api/sheet-layouts", json=job | price | {"mix": [4, 7]})
    assert answer.status_code == 200
    told = answer.json()
    page = maker.post("/sheets/plan", data=of_two(sheet_price="8.40", mix="4-7")).text
    assert all(sentence in page for sentence in (told["said"], *told["print_costs"], *told["pictures"]))
    assert told["choices"][0]["mix"] == [4, 7] and len(told["choices"]) > 1
    assert told["choices"][0]["layouts"][0]["cuts"][0].startswith("The whole sheet: line the blade up on")
    assert program.get("/api/sheet-plans").json()["items"] == []
    kept = program.post("/api/sheet-plans", json=ELEVEN | {"mix": [4, 7]}).json()
    assert kept["layouts"] == told["choices"][0]["layouts"]
    one_size = program.post("/api/sheet-layouts", json=job | {"pieces": [{"width_mm": 100, "height_mm": 150}]}).json()
    assert one_size["choices"][0]["layouts"][0]["cuts"][0].startswith("The whole sheet: mark 5 mm from")  # no file
    assert one_size["beside"] == "All straight 4, all turned 3." and one_size["unlocks"]
    wrong = program.post("/api/sheet-layouts", json=job | {"mix": [4, 9]})
    assert wrong.json()["errors"][0]["field"] == "mix"


def test_once_a_result_is_there_what_was_asked_is_folded_away_and_never_what_is_to_be_put_right(
    maker: TestClient, two: Engine
) -> None:
    def folded(page: str) -> bool:
        inside = re.search(r'<details class="asked">(.*)</details>', page, re.DOTALL)
        return inside is not None and 'name="gutter"' in inside[1] and 'aria-invalid="true"' not in inside[1]

    result = maker.post("/sheets/plan", data=form()).text
    assert folded(result) and "margins left 5, top 5, right 5, bottom 5; gutter 4 mm" in result
    assert "<details" not in maker.get("/sheets/plan").text
    assert "<details" not in maker.post("/sheets/plan", data=form("another_size")).text
    assert "<details" not in maker.post("/sheets/plan", data=form(gutter="-4")).text
    unnamed = keep(maker, form(name="")).text
    assert folded(unnamed) and 'id="f-name-message"' in unnamed


def test_a_name_is_proposed_that_follows_the_titles_until_another_is_written(maker: TestClient, two: Engine) -> None:
    def name(page: str) -> str:
        return dict(re.findall(r'name="(name|proposed)" value="([^"]*)"', page))["name"]

    day = dates.said(clock.today())
    one = maker.post("/sheets/plan", data=of_two(name="", **{"wanted.1.size_id": ""})).text
    assert name(one) == f"{cast.TITLE}, {day}"
    proposed = {"name": name(one), "proposed": name(one)}
    both = name(maker.post("/sheets/plan", data=of_two(**proposed)).text)
    assert both == f"{cast.TITLE} and 1 more, {day}"
    assert name(maker.post("/sheets/plan", data=of_two(**proposed | {"name": "Mine"})).text) == "Mine"
    assert name(maker.post("/sheets/plan", data=form()).text) == f"5 of 100 × 150 mm, {day}"
    for again in (f"{both} (2)", f"{both} (3)"):
        keep(maker, of_two(name=both, idempotency_key=again))
        both_again = name(maker.post("/sheets/plan", data=of_two(name="")).text)
        assert both_again == again
        both = again


def test_a_plan_without_a_name_is_not_kept_and_its_result_stays_in_sight(maker: TestClient, two: Engine) -> None:
    page = keep(maker, of_two(name=""))
    assert page.status_code == 409 and "The name is empty. Write it." in page.text
    assert 'id="f-name"' in page.text and 'role="status"' in page.text


@pytest.mark.parametrize("name", ["道", "Road \U0001f304"])
def test_a_name_the_papers_cannot_print_is_refused_when_the_plan_is_kept(
    maker: TestClient, program: TestClient, two: Engine, name: str
) -> None:
    page = keep(maker, of_two(name=name))
    assert page.status_code == 409 and f'value="{name}"' in page.text
    assert 'id="f-name-message"' in page.text and "which the typeface of the printed papers does not have" in page.text
    answer = program.post("/api/sheet-plans", json=ELEVEN | {"name": name})
    assert answer.status_code == 409 and answer.json()["errors"][0]["field"] == "name"


def test_a_plan_in_inches_has_its_cut_list_in_inches(maker: TestClient, two: Engine) -> None:
    inches = dict.fromkeys(("left", "top", "right", "bottom", "gutter"), "0.25")
    asked = form(unit="in", sheet="16 × 20 in", name="Inches", **inches) | {
        "wanted.0.width": "8", "wanted.0.height": "9 1/2"
    }  # fmt: skip
    assert keep(maker, asked).status_code == 303
    pdf = maker.get("/sheets/1/cuts-1.pdf").content
    assert "8 × 9 1/2" in words(pdf, 0) and "Set, in" in words(pdf, 1)


def test_a_print_too_small_for_its_image_is_said_as_soon_as_it_is_worked_out(maker: TestClient, two: Engine) -> None:
    page = maker.post("/sheets/plan", data=form(**{"wanted.0.size_id": "1"}))
    assert page.status_code == 409
    assert "is 127 × 127 mm and does not fit on a print of 100 × 150 mm." in page.text


def test_the_files_for_the_lab_have_the_sheets_exact_pixels(
    maker: TestClient, program: TestClient, two: Engine
) -> None:
    program.put("/api/works/1/picture", content=a_picture(size=(600, 600)))
    keep(maker, of_two(mix="4-7"))
    page = maker.get("/sheets/1/lab").text
    assert "120 pixels an inch at this size is too few" in page
    assert "Lamp Room, Low Tide: no picture is kept of it, so its place stays white." in page
    asked = {"kind": "jpeg", "ppi": "100", "profile": "sRGB", "place": "1"}
    jpeg = maker.post("/sheets/1/lab", data=asked)
    assert jpeg.headers["content-disposition"] == 'attachment; filename="sheet-1-1.jpg"'
    assert Image.open(io.BytesIO(jpeg.content)).size == (1169, 1654)  # 297 x 420 mm
    assert maker.post("/sheets/1/lab", data=asked | {"kind": "tiff"}).content[:2] == b"II"
    assert maker.post("/sheets/1/lab", data=asked | {"kind": "pdf"}).content.startswith(b"%PDF")
    wrong = maker.post("/sheets/1/lab", data=asked | {"ppi": "9"})
    assert wrong.status_code == 422 and 'value="9"' in wrong.text
    assert maker.post("/sheets/1/lab", data=asked | {"place": "2"}).status_code == 404


def test_what_to_write_to_the_lab_is_told_before_a_file_is_made(
    maker: TestClient, program: TestClient, two: Engine
) -> None:
    program.put("/api/works/1/picture", content=a_picture(size=(600, 600)))
    keep(maker, of_two(mix="4-7"))
    page = maker.get("/sheets/1/lab").text
    assert "Print it at its own size: no resizing, no fit to sheet." in page
    assert "Sheet 297 × 420 mm: 3508 × 4961 px at 300 pixels an inch." in page
    assert "8 bits a channel, not 16: “Forty Minutes of Road” itself has 8." in page
    asked = {"kind": "pdf", "ppi": "300", "profile": "sRGB", "place": "1", "step": "order_note"}
    page = maker.post("/sheets/1/lab", data=asked).text
    assert "Sheet 297 × 420 mm: a PDF at its true size" in page and "3508" not in page
    assert "8 bits a channel" not in page and "as a new JPEG" not in page  # it passes through


def test_a_program_asks_for_the_order_note_and_for_the_file(
    maker: TestClient, program: TestClient, two: Engine
) -> None:
    program.put("/api/works/1/picture", content=a_picture(size=(600, 600)))
    keep(maker, of_two(mix="4-7"))
    told = program.get("/api/sheet-plans/1/order-note?ppi=100&kind=jpeg").json()
    assert told["order_note"].splitlines()[1] == "Sheet 297 × 420 mm: 1169 × 1654 px at 100 pixels an inch."
    assert (told["bits"], told["profile"]) == (8, "sRGB")
    assert "Lamp Room, Low Tide: no picture is kept of it, so its place stays white." in told["amiss"]
    jpeg = program.get("/api/sheet-plans/1/lab-file?ppi=100&kind=jpeg")
    assert Image.open(io.BytesIO(jpeg.content)).size == (1169, 1654)
    assert program.get("/api/sheet-plans/1/lab-file?ppi=9").status_code == 422
    assert program.get("/api/sheet-plans/1/lab-file?place=2").status_code == 404
    assert program.get("/api/sheet-plans/2/order-note").status_code == 404
