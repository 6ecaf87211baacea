"""Numbers no book can have: what is asked for under one is not there, and what names one in a body is told so."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from sqlalchemy import Engine
from starlette.routing import Route
from starlette.testclient import TestClient

from ledger import accounts, clock, sign_ins
from ledger.database import housekeeping
from ledger.settings import Settings
from ledger.web.app import DOORS, ROOMS, make_app
from ledger.web.shapes import MOST_ID
from tests.cast import made, road
from tests.web.conftest import EMAIL, HOME, PASSWORD, browser_of

TOO_HIGH = (MOST_ID + 1, 2**53, 10**20)


@pytest.fixture
def house(engine: Engine, tmp_path: Path) -> FastAPI:
    """The doors of a book on either database, with an edition in it and its first number signed."""
    road(engine)
    made(engine, 1)
    return make_app(engine, Settings(data_dir=tmp_path, public_url="https://prints.example.org"), tmp_path)


@pytest.fixture
def callers(house: FastAPI, engine: Engine) -> Iterator[dict[bool, TestClient]]:
    """The maker's browser, and under True a program with a token."""
    with housekeeping(engine) as session:
        who = accounts.make_account(session, EMAIL, accounts.hash_password(PASSWORD), clock.now())
        token = sign_ins.new_token(session, who.account_id, "the web shop", clock.now())
    with browser_of(house) as browser:
        assert browser.post("/sign-in", data={"email": EMAIL, "password": PASSWORD}).status_code == 303
        program = TestClient(house, base_url=HOME, headers={"authorization": f"Bearer {token}"})
        yield {False: browser, True: program}


def test_nothing_is_at_the_address_of_a_number_too_high(callers: dict[bool, TestClient]) -> None:
    """Every address with a number in it is asked for, by both doors."""
    asked = 0
    for route in (route for router in (*DOORS, *ROOMS) for route in router.routes if isinstance(route, Route)):
        if not re.search(r"\{\w+_id(:int)?\}", route.path):
            continue
        for number in TOO_HIGH:
            path = re.sub(r"\{\w+_id(:int)?\}", str(number), route.path)
            path = re.sub(r"\{[^}]*\}", "1", path)
            for method in (route.methods or set()) - {"HEAD"}:
                answer = callers[path.startswith("/api")].request(method, path)
                assert answer.status_code == 404, (method, path)
                assert "There is nothing at this address." in answer.text, (method, path)
                asked += 1
    assert asked > 100


@pytest.mark.parametrize(
    ("path", "body", "field"),
    [
        ("/api/editions/1/numbers", {"size_id": None}, "size_id"),
        ("/api/editions/1/numbers", {"numbers": [None]}, "numbers.0"),
        ("/api/pieces/1/move", {"place": "loan", "person_id": None}, "person_id"),
        ("/api/pieces/1/give", {"how": "gift", "person_id": None}, "person_id"),
        ("/api/pieces/2/inscribe", {"run_id": None}, "run_id"),
        ("/api/pieces/2/inscribe", {"printed_year": None}, "printed_year"),
        ("/api/costs", {"basis": "run", "target_id": None, "amount": {"amount": "1.00", "currency": "GBP"},
                        "spent_on": "2026-05-04"}, "target_id"),
        ("/api/recipes/1/finish", {"pieces": [None], "on": "2026-05-04"}, "pieces.0"),
        ("/api/runs", {"edition_id": None, "made_on": "2026-05-04", "sheets": 1, "good": 1}, "edition_id"),
    ],
)  # fmt: skip
def test_a_number_too_high_in_a_body_is_named_beside_its_field(
    callers: dict[bool, TestClient], path: str, body: dict[str, Any], field: str
) -> None:
    for number in TOO_HIGH:
        answer = callers[True].post(path, json=json.loads(json.dumps(body).replace("null", str(number))))
        assert answer.status_code == 422, answer.text
        assert [error["field"] for error in answer.json()["errors"]] == [field]
        assert f"“{number}” is too high." in answer.json()["errors"][0]["message"]


@pytest.mark.parametrize(
    "path",
    [
        "/sales/new?piece={}", "/sales/new?consignment={}", "/sales?before={}", "/certificates/new?piece={}",
        "/certificates/new?edition={}", "/editions/new?work_id={}", "/editions/1/offer?size={}", "/record?before={}",
        "/api/editions?after={}", "/api/works?after={}", "/api/sales?after={}", "/editions/1/price?recipe={}",
        "/recipes/1/finish?edition={}", "/api/editions/1/price?size={}", "/away/lend?like={}",
    ],
)  # fmt: skip
def test_a_number_too_high_after_an_address_is_not_taken(callers: dict[bool, TestClient], path: str) -> None:
    for number in TOO_HIGH:
        assert callers[path.startswith("/api")].get(path.format(number)).status_code == 422


def test_certificates_and_choices_that_can_be_none_are_left_out(callers: dict[bool, TestClient]) -> None:
    browser = callers[False]
    for typed in (*TOO_HIGH, "²"):
        assert browser.get(f"/certificates/printed?id={typed}").status_code == 200
        assert browser.get(f"/find?q={typed}").status_code in (200, 303)
        assert browser.get(f"/find?q={typed}/25").status_code in (200, 303)
        sent = browser.post("/costs", data={"what": f"piece {typed}", "amount": "1.00", "spent_on": "2026-05-04"})
        assert sent.status_code == 422 and "Choose what it was spent on." in sent.text
        again = browser.post("/editions/new", data={"work_id": str(typed)})
        assert again.status_code == 422
