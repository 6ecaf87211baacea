"""What every request meets before any room is entered."""

import asyncio
import re
from concurrent.futures import ThreadPoolExecutor

import pytest
from fastapi import FastAPI
from sqlalchemy import Engine
from sqlmodel import SQLModel
from starlette.routing import Route
from starlette.testclient import TestClient
from starlette.types import Message

from ledger.web import guards
from ledger.web.app import DOORS, ROOMS
from tests import cast
from tests.web.conftest import EMAIL, HOME, PASSWORD, browser_of

SIGN_IN = {"email": EMAIL, "password": PASSWORD}


@pytest.mark.parametrize(
    "host", ["localhost", "127.0.0.1:8000", "[::1]:8000", "prints.example.org", "PRINTS.example.org", "studio.lan:8000"]
)
def test_the_ledger_answers_under_its_own_names(stranger: TestClient, host: str) -> None:
    assert stranger.get("/health/live", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "elsewhere.example",
        "prints.example.org.elsewhere.example",
        "xprints.example.org",
        "prints.example.org@x",
        "",
        "localhost:8000/x",
        "10.0.0.1",
    ],
)
def test_no_other_name_is_answered(stranger: TestClient, host: str) -> None:
    answer = stranger.get("/health/live", headers={"host": host, "x-forwarded-host": "localhost"})
    assert answer.status_code == 421


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"sec-fetch-site": "same-origin"}, 303),
        ({"sec-fetch-site": "same-site"}, 403),
        ({"sec-fetch-site": "cross-site"}, 403),
        ({"sec-fetch-site": "none"}, 403),
        ({"sec-fetch-site": "cross-site", "origin": HOME}, 403),
        ({"origin": HOME}, 303),
        ({"origin": "http://localhost:8000.elsewhere.example"}, 403),
        ({"origin": "https://localhost:8000"}, 403),
        ({"origin": "null"}, 403),
        ({}, 403),
    ],
)
def test_a_form_is_carried_out_only_from_our_own_page(
    app: FastAPI, who: object, headers: dict[str, str], status: int
) -> None:
    client = TestClient(app, base_url=HOME, headers=headers, follow_redirects=False)
    assert client.post("/sign-in", data=SIGN_IN).status_code == status


def test_a_form_on_the_public_address_is_our_own_behind_a_proxy_that_ends_https(app: FastAPI, who: object) -> None:
    client = TestClient(app, base_url="http://prints.example.org", follow_redirects=False)
    good = client.post("/sign-in", data=SIGN_IN, headers={"origin": "https://prints.example.org"})
    bad = client.post("/sign-in", data=SIGN_IN, headers={"origin": "http://prints.example.org"})
    assert (good.status_code, bad.status_code) == (303, 403)


def test_a_program_needs_no_origin_but_brings_no_cookie(program: TestClient) -> None:
    work = {"title": "Low Water", "artist": "O. Marrack-Voe", "year_made": 2025, "medium": "Photograph"}
    assert program.post("/api/try/works", json=work).status_code == 201
    assert program.post("/api/try/works", json=work, headers={"cookie": "session=x"}).status_code == 403


def test_a_body_announced_too_large_is_not_read(stranger: TestClient) -> None:
    answer = stranger.post("/sign-in", content=b"x", headers={"content-length": "1000001"})
    assert answer.status_code == 413


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/sign-in", "application/x-www-form-urlencoded"),
        ("/sign-in", "multipart/form-data; boundary=x"),
        ("/api/try/works", "application/json"),
    ],
)
def test_a_body_of_unknown_length_is_counted_while_it_is_read(
    app: FastAPI, program: TestClient, path: str, kind: str
) -> None:
    sending = _send_in_pieces(app, path, kind, program.headers["authorization"])
    with ThreadPoolExecutor(1) as apart:  # a browser driven in the same run keeps an event loop on this thread
        read, status = apart.submit(asyncio.run, sending).result()
    assert status == 413
    assert read == 11  # the eleventh piece is the first beyond a million; the other 989 are never asked for


async def _send_in_pieces(app: FastAPI, path: str, kind: str, authorization: str) -> tuple[int, int]:
    """How many of a thousand pieces of 100,000 bytes were read, and the status of the answer."""
    read, status = 0, 0

    async def receive() -> Message:
        nonlocal read
        read += 1
        body = b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\n' if read == 1 else b""
        return {"type": "http.request", "body": body.ljust(100_000, b"a"), "more_body": read < 1000}

    async def send(message: Message) -> None:
        nonlocal status
        status = message.get("status", status)

    headers = {"host": "localhost", "content-type": kind, "authorization": authorization}
    if not path.startswith("/api"):
        headers["sec-fetch-site"] = "same-origin"
    await app(
        {
            "type": "http",
            "method": "POST",
            "scheme": "http",
            "path": path,
            "query_string": b"",
            "root_path": "",
            "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
        },
        receive,
        send,
    )
    return read, status


def test_only_the_doors_for_pictures_take_more_than_a_page_of_words() -> None:
    doors = guards.PICTURE_DOORS
    assert doors.fullmatch("/works/3/picture") and doors.fullmatch("/api/works/3/picture")
    assert not doors.fullmatch("/works/3/picture/x") and not doors.fullmatch("/x/works/3/picture")


def test_an_address_with_nothing_behind_it_says_so_in_its_headline(maker: TestClient) -> None:
    assert "<h1>Nothing here</h1>" in maker.get("/nothing-here").text


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/sign-in", 200),
        ("/nothing-here", 404),
        ("/static/book.css", 200),
        ("/static/bench.js", 200),
        ("/static/nothing.css", 404),
        ("/api/nothing", 404),
        ("/openapi.json", 200),
        ("/health/live", 200),
        ("/try/refused", 303),
    ],
)
def test_every_answer_carries_the_security_headers(stranger: TestClient, path: str, status: int) -> None:
    answer = stranger.get(path)
    assert answer.status_code == status
    policy = answer.headers["content-security-policy"]
    assert "unsafe" not in policy and "default-src 'none'" in policy and "frame-ancestors 'none'" in policy
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "same-origin"
    assert answer.headers["permissions-policy"]
    assert "strict-transport-security" not in answer.headers


def test_the_refusals_of_the_gate_and_an_unforeseen_fault_carry_them_too(app: FastAPI, maker: TestClient) -> None:
    careless = TestClient(app, base_url=HOME, raise_server_exceptions=False, cookies=dict(maker.cookies))
    wrong = careless.get("/health/live", headers={"host": "elsewhere.example"})
    refused = careless.post("/sign-out")
    fault = careless.get("/try/fault")
    assert [answer.status_code for answer in (wrong, refused, fault)] == [421, 403, 500]
    assert all("content-security-policy" in answer.headers for answer in (wrong, refused, fault))
    assert "secret" not in fault.text and "Traceback" not in fault.text


def test_https_is_kept_only_where_the_browser_sees_https(app: FastAPI) -> None:
    assert "strict-transport-security" in browser_of(app, "https://localhost").get("/health/live").headers
    assert "strict-transport-security" in browser_of(app, "http://prints.example.org").get("/health/live").headers
    assert "strict-transport-security" not in browser_of(app, "http://studio.lan").get("/health/live").headers


def test_pages_are_not_kept_and_a_versioned_file_is_kept_for_a_year(stranger: TestClient) -> None:
    assert stranger.get("/sign-in").headers["cache-control"] == "no-store"
    assert "31536000" in stranger.get("/static/book.css?v=1").headers["cache-control"]
    assert stranger.get("/static/book.css").headers["cache-control"] == "no-cache"


def test_a_script_is_served_as_one_and_loaded_only_where_a_plan_is_made(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    cast.road(sqlite_engine)
    assert maker.get("/static/bench.js").headers["content-type"].startswith("text/javascript")
    assert "'self'" in maker.get("/static/bench.js").headers["content-security-policy"]
    loads = [path for path in ("/", "/bench", "/mounts", "/mounts/new", "/sheets", "/sheets/plan")
             if re.search(r'<script src="/static/bench\.js\?v=[0-9a-f]{12}" defer>', maker.get(path).text)]  # fmt: skip
    assert loads == ["/mounts/new", "/sheets/plan"]


def test_the_pages_that_load_from_outside_are_off(stranger: TestClient) -> None:
    assert [stranger.get(path).status_code for path in ("/docs", "/redoc")] == [404, 404]


def test_a_link_changes_nothing(maker: TestClient, sqlite_engine: Engine) -> None:
    """Every address that can be asked for is asked for, and not a row is different afterwards."""
    before = _rows(sqlite_engine)
    asked = 0
    for route in (route for router in DOORS + ROOMS for route in router.routes if isinstance(route, Route)):
        if "GET" in (route.methods or ()):
            asked += 1
            maker.get(re.sub(r"\{[^}]*\}", "1", route.path))
    assert asked >= 5
    assert _rows(sqlite_engine) == before


def _rows(engine: Engine) -> dict[str, list[tuple[object, ...]]]:
    with engine.connect() as connection:
        return {
            name: [tuple(row) for row in connection.execute(table.select())]
            for name, table in SQLModel.metadata.tables.items()
        }


def test_health_says_whether_a_record_can_be_kept(stranger: TestClient) -> None:
    assert stranger.get("/health/ready").json() == {"ready": True}
