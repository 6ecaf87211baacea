"""Who gets in, and who does not."""

import re
from datetime import timedelta
from pathlib import Path

import pytest
from fastapi import FastAPI
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import accounts, clock, sign_ins
from ledger.accounts import Who
from ledger.database import housekeeping, reading
from ledger.web.sign_in import own_path
from tests.web.conftest import EMAIL, PASSWORD, Clock, browser_of

IN = {"email": EMAIL, "password": PASSWORD}
WRONG = {"email": EMAIL, "password": "not my password"}


def test_a_new_ledger_has_no_account_and_no_default_password(stranger: TestClient, sqlite_engine: Engine) -> None:
    with reading(sqlite_engine) as session:
        assert not accounts.any_account(session)
    for name in ("admin", "owner", EMAIL, ""):
        for password in ("admin", "password", "", name):
            answer = stranger.post("/sign-in", data={"email": name, "password": password})
            assert answer.status_code in (401, 429)


def test_the_one_time_address_makes_one_account_and_is_spent(
    app: FastAPI, stranger: TestClient, sqlite_engine: Engine
) -> None:
    with housekeeping(sqlite_engine) as session:
        secret = sign_ins.offer_first_sign_in(session, clock.now())
    assert stranger.get(f"/first/{secret}").status_code == 200
    made = stranger.post(f"/first/{secret}", data={**IN, "again": PASSWORD})
    assert made.status_code == 303
    assert stranger.get("/settings/accounts").status_code == 200
    other = {**IN, "email": "other@example.org", "again": PASSWORD}
    second = browser_of(app).post(f"/first/{secret}", data=other)
    assert second.status_code == 404
    assert browser_of(app).get(f"/first/{secret}").status_code == 404


def test_a_guessed_or_old_one_time_address_makes_nothing(
    stranger: TestClient, sqlite_engine: Engine, hand: Clock
) -> None:
    with housekeeping(sqlite_engine) as session:
        secret = sign_ins.offer_first_sign_in(session, clock.now())
    assert stranger.post("/first/guessed", data={**IN, "again": PASSWORD}).status_code == 404
    hand.pass_by(timedelta(days=1))
    assert stranger.post(f"/first/{secret}", data={**IN, "again": PASSWORD}).status_code == 404


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"password": "short", "again": "short"}, "12 characters or more"),
        ({"password": "aaaaaaaaaaaaaa", "again": "aaaaaaaaaaaaaa"}, "more than four different"),
        ({"password": "ottoline-ottoline", "again": "ottoline-ottoline"}, "your own name"),
        ({"again": "something else again"}, "not the same"),
        ({"email": "Ottoline"}, "is not an e-mail address"),
    ],
)
def test_a_first_account_that_would_be_guessed_is_refused_and_the_address_stays_good(
    stranger: TestClient, sqlite_engine: Engine, typed: dict[str, str], said: str
) -> None:
    with housekeeping(sqlite_engine) as session:
        secret = sign_ins.offer_first_sign_in(session, clock.now())
    answer = stranger.post(f"/first/{secret}", data={**IN, "again": PASSWORD, **typed})
    assert answer.status_code == 409 and said in answer.text
    assert "still here" not in answer.text
    assert PASSWORD not in answer.text
    assert stranger.post(f"/first/{secret}", data={**IN, "again": PASSWORD}).status_code == 303


def test_a_name_too_short_to_be_guessed_by_may_stand_in_the_password(
    stranger: TestClient, sqlite_engine: Engine
) -> None:
    with housekeeping(sqlite_engine) as session:
        secret = sign_ins.offer_first_sign_in(session, clock.now())
    named = {"email": "a@example.org", "password": "four plain words", "again": "four plain words"}
    assert stranger.post(f"/first/{secret}", data=named).status_code == 303


def test_an_unknown_name_and_a_wrong_password_are_told_the_same(stranger: TestClient, who: Who) -> None:
    wrong = stranger.post("/sign-in", data=WRONG)
    unknown = stranger.post("/sign-in", data={**WRONG, "email": "nobody@example.org"})
    assert wrong.status_code == unknown.status_code == 401
    assert wrong.text.replace(EMAIL, "") == unknown.text.replace("nobody@example.org", "").replace(EMAIL, "")


def test_the_hash_nobody_has_costs_what_a_real_one_costs() -> None:
    assert accounts.NOBODY.startswith("$argon2id$")
    assert not accounts.hasher.check_needs_rehash(accounts.NOBODY)
    assert accounts.hasher.memory_cost >= 19_456 and accounts.hasher.time_cost >= 2  # OWASP, from memory


def test_after_five_misses_the_wait_doubles_and_the_right_password_waits_too(
    stranger: TestClient, who: Who, hand: Clock
) -> None:
    for _ in range(5):
        assert stranger.post("/sign-in", data=WRONG).status_code == 401
    waiting = stranger.post("/sign-in", data=IN)
    assert waiting.status_code == 429 and "Wait 5 seconds" in waiting.text
    hand.pass_by(timedelta(seconds=5))
    assert stranger.post("/sign-in", data=WRONG).status_code == 401
    hand.pass_by(timedelta(seconds=9))
    assert "Wait 10 seconds" in stranger.post("/sign-in", data=IN).text
    hand.pass_by(timedelta(seconds=1))
    assert stranger.post("/sign-in", data=IN).status_code == 303
    assert stranger.post("/sign-in", data=WRONG).status_code == 401


def test_tries_from_elsewhere_hardly_keep_the_maker_out(sqlite_engine: Engine, who: Who, hand: Clock) -> None:
    for place in range(60):
        hand.pass_by(timedelta(seconds=31))
        with housekeeping(sqlite_engine) as session:
            accounts.count_try(session, EMAIL, f"10.0.0.{place}", hand.at)
    with housekeeping(sqlite_engine) as session, pytest.raises(accounts.TryLater) as refusal:
        accounts.count_try(session, EMAIL, "the studio", hand.at)
    assert refusal.value.seconds == 30


def test_on_the_studios_own_network_the_cookie_is_plain(stranger: TestClient, who: Who) -> None:
    cookie = stranger.post("/sign-in", data=IN).headers["set-cookie"]
    assert cookie.startswith("session=") and "Secure" not in cookie
    assert "HttpOnly" in cookie and "SameSite=lax" in cookie and "Path=/" in cookie and "Domain" not in cookie


@pytest.mark.parametrize("base", ["https://localhost", "http://prints.example.org"])
def test_where_the_browser_sees_https_the_cookie_is_bound_to_the_host(app: FastAPI, who: Who, base: str) -> None:
    cookie = browser_of(app, base).post("/sign-in", data=IN).headers["set-cookie"]
    assert cookie.startswith("__Host-session=") and "Secure" in cookie
    assert "HttpOnly" in cookie and "SameSite=lax" in cookie and "Path=/" in cookie and "Domain" not in cookie


def test_a_plain_cookie_opens_nothing_over_https(app: FastAPI, maker: TestClient) -> None:
    elsewhere = browser_of(app, "https://localhost:8000")
    secret = maker.cookies["session"]
    answer = elsewhere.get("/settings/accounts", headers={"cookie": f"session={secret}"})
    assert answer.status_code == 303


def test_the_book_keeps_no_secret_that_opens_it(maker: TestClient, sqlite_engine: Engine) -> None:
    token = _token(maker)
    path = sqlite_engine.url.database
    assert path
    with sqlite_engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    kept = Path(path).read_bytes()
    for secret in (maker.cookies["session"], token, PASSWORD):
        assert secret.encode() not in kept
    assert b"$argon2id$" in kept


def test_a_page_asked_for_signed_out_is_opened_after_signing_in(stranger: TestClient, who: Who) -> None:
    sent_off = stranger.get("/settings/accounts?a=1")
    assert sent_off.status_code == 303
    title_page = stranger.get(sent_off.headers["location"])
    assert 'value="/settings/accounts?a=1"' in title_page.text
    back = stranger.post("/sign-in", data={**IN, "next": "/settings/accounts?a=1"})
    assert back.headers["location"] == "/settings/accounts?a=1"


@pytest.mark.parametrize(
    "path", ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example", "javascript:1", "", "/\n/x"]
)
def test_signing_in_leads_nowhere_else(path: str) -> None:
    assert own_path(path) == "/"


def test_a_form_sent_signed_out_says_that_nothing_was_recorded(stranger: TestClient) -> None:
    answer = stranger.post("/try/works", data={"title": "Low Water"})
    assert answer.status_code == 401 and "nothing was recorded" in answer.text


def test_signing_out_ends_the_session_whatever_the_cookie_says(app: FastAPI, maker: TestClient) -> None:
    secret = maker.cookies["session"]
    assert maker.post("/sign-out").status_code == 303
    again = browser_of(app).get("/settings/accounts", headers={"cookie": f"session={secret}"})
    assert again.status_code == 303


def test_signing_in_anew_ends_the_earlier_session(app: FastAPI, maker: TestClient) -> None:
    secret = maker.cookies["session"]
    maker.post("/sign-in", data=IN)
    assert maker.cookies["session"] != secret
    old = browser_of(app).get("/settings/accounts", headers={"cookie": f"session={secret}"})
    assert old.status_code == 303


def test_a_session_ends_when_idle_for_half_a_day(hand: Clock, maker: TestClient) -> None:
    hand.pass_by(timedelta(hours=11))
    assert maker.get("/settings/accounts").status_code == 200
    hand.pass_by(timedelta(hours=11))
    assert maker.get("/settings/accounts").status_code == 200
    hand.pass_by(timedelta(hours=12))
    assert maker.get("/settings/accounts").status_code == 303


def test_a_session_ends_after_two_weeks_however_busy(hand: Clock, maker: TestClient) -> None:
    for _ in range(2 * 14):
        hand.pass_by(timedelta(hours=11, minutes=59))
        assert maker.get("/settings/accounts").status_code == 200
    hand.pass_by(timedelta(hours=11))
    assert maker.get("/settings/accounts").status_code == 303


def test_a_changed_password_signs_everybody_out_and_the_old_one_opens_nothing(app: FastAPI, maker: TestClient) -> None:
    new = "another four words"
    typed = {"present": "a guess of mine", "password": new, "again": new}
    refused = maker.post("/settings/accounts/password", data=typed)
    assert refused.status_code == 409 and "not your present password" in refused.text
    assert maker.post("/settings/accounts/password", data={**typed, "present": PASSWORD}).status_code == 303
    assert maker.get("/settings/accounts").status_code == 303
    assert browser_of(app).post("/sign-in", data=IN).status_code == 401
    assert browser_of(app).post("/sign-in", data={"email": EMAIL, "password": new}).status_code == 303


def _token(maker: TestClient) -> str:
    page = maker.post("/settings/accounts/tokens", data={"label": "the web shop"})
    assert page.status_code == 201
    found = re.search(r"ledger-[\w-]{43}", page.text)
    assert found
    return found[0]


def test_a_token_is_shown_once_works_and_can_be_ended(app: FastAPI, maker: TestClient) -> None:
    token = _token(maker)
    assert token not in maker.get("/settings/accounts").text
    program = TestClient(app, base_url="http://localhost:8000", headers={"authorization": f"Bearer {token}"})
    assert program.get("/api/try/works/1").status_code == 404
    assert maker.post("/settings/accounts/tokens/1/end").status_code == 303
    assert program.get("/api/try/works/1").status_code == 401


@pytest.mark.parametrize("shown", ["", "Bearer", "Bearer ledger-guessed", "Basic b3R0b2xpbmU6eA=="])
def test_without_a_token_that_stands_a_program_gets_nothing(stranger: TestClient, shown: str) -> None:
    answer = stranger.get("/api/try/works/1", headers={"authorization": shown} if shown else {})
    assert answer.status_code == 401 and answer.headers["www-authenticate"] == "Bearer"
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_cookie_opens_no_door_of_the_api(maker: TestClient) -> None:
    assert maker.get("/api/try/works/1").status_code == 401


def test_one_account_cannot_end_anothers_token(maker: TestClient, sqlite_engine: Engine) -> None:
    with housekeeping(sqlite_engine) as session:
        other = accounts.make_account(session, "other@example.org", "x", clock.now())
        sign_ins.new_token(session, other.account_id, "theirs", clock.now())
    assert maker.post("/settings/accounts/tokens/1/end").status_code == 404


def test_a_closed_account_loses_its_sessions_and_tokens_at_once(
    app: FastAPI, maker: TestClient, program: TestClient, who: Who, sqlite_engine: Engine
) -> None:
    assert maker.post(f"/settings/accounts/{who.account_id}/close").status_code == 409
    with housekeeping(sqlite_engine) as session:
        other = accounts.make_account(session, "other@example.org", "x", clock.now())
        secret = sign_ins.open_session_for(session, other, clock.now())
    answer = browser_of(app).post(f"/settings/accounts/{who.account_id}/close", headers={"cookie": f"session={secret}"})
    assert answer.status_code == 303
    assert maker.get("/settings/accounts").status_code == 303
    assert program.get("/api/try/works/1").status_code == 401


def test_the_invitation_shown_under_settings_makes_an_account(app: FastAPI, maker: TestClient) -> None:
    page = maker.post("/settings/accounts/invite")
    path = page.text.split("http://localhost:8000")[1].split("<")[0]
    typed = {"email": "helper@example.org", "password": PASSWORD, "again": PASSWORD}
    assert browser_of(app).post(path, data=typed).status_code == 303
    assert "helper@example.org" in maker.get("/settings/accounts").text
