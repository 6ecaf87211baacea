"""Opening the book, and what can be set afterwards."""

from datetime import date
from pathlib import Path

import pytest
from fastapi import FastAPI
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import studio
from ledger.database import reading
from ledger.settings import Settings
from ledger.web.app import make_app
from tests.cast import ADDRESS, MAKER, MAY_4, acting, opened
from tests.web.conftest import EMAIL, PASSWORD, browser_of

OPENING = {
    "maker_name": MAKER, "address": "2 Quern Slip, Saltrigg", "place": "Saltrigg", "currency": "gbp", "paper": "a4",
}  # fmt: skip
LINES = {
    "maker_name": MAKER, "name_as_signed": "O. Marrack-Voe", "address": "3 Quern Slip, Saltrigg", "place": "Saltrigg",
    "paper": "a5", "tax_by": "invoice", "works_cap": "25", "fixed_sentence": "yes", "care_line": "Out of the sun",
}  # fmt: skip


def on_the(app: FastAPI) -> TestClient:
    """The maker's browser on a certain application."""
    client = browser_of(app)
    assert client.post("/sign-in", data={"email": EMAIL, "password": PASSWORD}).status_code == 303
    return client


@pytest.mark.parametrize("path", ["/", "/people", "/record", "/find?q=7", "/settings", "/settings/tax", "/editions/1"])
def test_until_the_book_is_open_every_page_leads_to_its_first_one(maker: TestClient, path: str) -> None:
    answer = maker.get(path)
    assert (answer.status_code, answer.headers["location"]) == (303, "/settings/studio")


def test_the_first_page_opens_the_book_and_the_empty_editions_page_follows(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    assert "Whose book is it?" in maker.get("/settings/studio").text
    answer = maker.post("/settings/studio", data=OPENING)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    assert "No editions yet." in maker.get("/").text
    with reading(sqlite_engine) as session:
        whose = studio.the_studio(session)
    assert (whose.maker_name, whose.name_as_signed, whose.currency, whose.paper) == (MAKER, MAKER, "GBP", "a4")


def test_an_opening_that_is_refused_keeps_what_was_typed(maker: TestClient) -> None:
    answer = maker.post("/settings/studio", data=OPENING | {"currency": "XQQ"})
    assert answer.status_code == 409 and "“XQQ” is not a currency" in answer.text
    assert "2 Quern Slip, Saltrigg" in answer.text and "Not opened. One thing to put right" in answer.text
    answer = maker.post("/settings/studio", data=OPENING | {"place": "", "address": ""})
    assert answer.status_code == 422 and "Two things to put right" in answer.text


def test_a_program_is_not_sent_to_a_page(program: TestClient) -> None:
    assert program.get("/api/people").json() == {"items": [], "next": None}


def test_the_lines_change_and_the_currency_stays(maker: TestClient, sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    assert MAKER in maker.get("/settings/studio").text
    assert maker.post("/settings/studio", data=LINES).headers["location"] == "/settings"
    with reading(sqlite_engine) as session:
        now = studio.the_studio(session)
    assert (now.name_as_signed, now.tax_by, now.works_cap, now.currency) == ("O. Marrack-Voe", "invoice", 25, "GBP")
    assert (now.particulars, now.fixed_sentence) == (False, True)
    page = maker.get("/settings/studio").text
    assert 'name="fixed_sentence" value="yes" checked' in page and 'name="particulars" value="yes" checked' not in page


def test_lines_that_are_refused_come_back_as_they_were_typed(maker: TestClient, sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    answer = maker.post("/settings/studio", data=LINES | {"works_cap": "many"})
    assert answer.status_code == 422 and "“many” is not a whole number" in answer.text
    assert "O. Marrack-Voe" in answer.text and "Out of the sun" in answer.text
    assert maker.post("/settings/studio", data=LINES | {"works_cap": "-1"}).status_code == 409
    with reading(sqlite_engine) as session:
        assert studio.the_studio(session).name_as_signed == MAKER


def test_settings_say_what_holds_now(maker: TestClient, sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    page = maker.get("/settings").text
    assert f"Certificates carry {ADDRESS}." in page and "Not registered." in page
    for place in ("studio", "address", "tax", "channels", "accounts"):
        assert f'href="/settings/{place}"' in page


# The public address


def test_an_address_is_read_back_large_and_carried_only_on_the_second_step(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    opened(sqlite_engine)
    read = maker.post("/settings/address", data={"url": "https://Marrack.example/", "step": "read_back"})
    assert read.status_code == 200
    assert '<p class="sum-great">https://marrack.example</p>' in read.text.replace("<wbr>", "")
    assert "for good" in read.text and f"{ADDRESS} and every address before it must go on answering" in read.text
    with reading(sqlite_engine) as session:
        assert studio.present_address(session) == ADDRESS
    carried = maker.post("/settings/address", data={"url": "https://Marrack.example/", "step": "carry"})
    assert carried.status_code == 303
    page = maker.get("/settings/address").text
    assert '<p class="big">https://marrack.example</p>' in page and f"<span>{ADDRESS}</span>" in page


def test_a_new_address_is_answered_at_once_and_the_former_ones_go_on(
    maker: TestClient, stranger: TestClient, sqlite_engine: Engine
) -> None:
    opened(sqlite_engine)
    assert stranger.get("/health/live", headers={"host": "marrack.example"}).status_code == 421
    maker.post("/settings/address", data={"url": "https://marrack.example", "step": "carry"})
    for host in ("marrack.example", "prints.example.org"):
        assert stranger.get("/health/live", headers={"host": host}).status_code == 200


def test_going_back_from_the_read_back_keeps_the_address(maker: TestClient, sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    answer = maker.post("/settings/address", data={"url": "https://marrack.example", "step": "back"})
    assert answer.status_code == 200 and 'value="https://marrack.example"' in answer.text


@pytest.mark.parametrize(
    ("url", "said"),
    [
        ("http://prints.example", "Certificates carry an https address"),
        ("https://studio.local", "cannot be opened from outside"),
        ("https://prints.example/shop", "not an address of scheme and host alone"),
        ("https://prints.example.org", "carry https://prints.example.org already"),
        ("", "not an address"),
    ],
)
@pytest.mark.parametrize("step", ["read_back", "carry"])
def test_an_address_no_buyer_could_open_is_refused_with_what_was_typed(
    maker: TestClient, sqlite_engine: Engine, url: str, said: str, step: str
) -> None:
    opened(sqlite_engine)
    answer = maker.post("/settings/address", data={"url": url, "step": step})
    assert answer.status_code == 409 and said in answer.text and f'value="{url}"' in answer.text


def test_the_address_the_program_was_started_with_is_proposed_where_it_differs(
    sqlite_engine: Engine, tmp_path: Path, who: object, maker: TestClient
) -> None:
    opened(sqlite_engine)
    assert "This program was started with" not in maker.get("/settings/address").text
    settings = Settings(data_dir=tmp_path, public_url="https://elsewhere.example")
    other = on_the(make_app(sqlite_engine, settings, tmp_path))
    page = other.get("/settings/address").text
    assert "This program was started with the address https://elsewhere.example" in page
    assert 'value="https://elsewhere.example"' in page


# Tax


def test_a_tax_line_is_kept_with_its_day_number_and_rate(maker: TestClient, sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    assert "accountant" in maker.get("/settings/tax").text
    line = {"from_on": "2026-06-01", "registered": "yes", "number": "GB 123 4567 89", "rate": "20"}
    assert maker.post("/settings/tax", data=line).status_code == 303
    assert "Registered from 1 June 2026, 20 %, number GB 123 4567 89." in maker.get("/settings/tax").text
    with reading(sqlite_engine) as session:
        assert studio.tax_on(session, date(2026, 5, 31)) is None
        rule = studio.tax_on(session, date(2026, 6, 1))
    assert rule is not None and rule.rate_bp == 2000
    maker.post("/settings/tax", data={"from_on": "2027-01-01", "registered": "no"})
    assert "Not registered from 1 January 2027." in maker.get("/settings").text


@pytest.mark.parametrize(
    ("typed", "status", "said"),
    [
        ({"from_on": ""}, 422, "Choose the day"),
        ({"registered": ""}, 422, "This is needed."),
        ({"rate": "twenty"}, 422, "“twenty” is not a number"),
        ({"rate": "0"}, 409, "rate lies between 0.01 and 100 %"),
    ],
)
def test_a_tax_line_that_is_refused_keeps_what_was_typed(
    maker: TestClient, sqlite_engine: Engine, typed: dict[str, str], status: int, said: str
) -> None:
    opened(sqlite_engine)
    line = {"from_on": "2026-06-01", "registered": "yes", "number": "GB 123 4567 89", "rate": "20"} | typed
    answer = maker.post("/settings/tax", data=line)
    assert answer.status_code == status and said in answer.text and "GB 123 4567 89" in answer.text
    with acting(sqlite_engine, MAY_4) as book:
        assert studio.tax_standings(book.session) == []


# What is asked for unbidden


def test_crawlers_may_look_at_certificates_alone(stranger: TestClient) -> None:
    lines = stranger.get("/robots.txt").text.splitlines()
    assert lines[-1] == "Disallow: /" and "Allow: /c$" in lines and "Allow: /C/" in lines


def test_the_small_drawing_of_a_tab_is_there(stranger: TestClient) -> None:
    answer = stranger.get("/favicon.ico")
    assert answer.status_code == 200 and answer.headers["content-type"].startswith("image/svg+xml")
