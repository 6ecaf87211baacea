"""Accounts, sessions, tokens and repeated requests on both databases. The pages are tested in tests/web."""

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import Engine

from ledger import accounts, clock, people, repeats, sign_ins
from ledger.database import housekeeping, reading, writing
from ledger.errors import Refusal

NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)
MAKER = "ottoline@example.org"


def make(engine: Engine, name: str = MAKER) -> accounts.Who:
    with housekeeping(engine) as session:
        return accounts.make_account(session, name, "not a hash", NOON)


def test_a_name_is_taken_once_in_any_spelling(engine: Engine) -> None:
    who = make(engine)
    with pytest.raises(Refusal, match="already"):
        make(engine, " Ottoline@Example.org ")
    with reading(engine) as session:
        found = accounts.credentials_of(session, "OTTOLINE@example.org")
        assert found and found.who == who
        assert accounts.credentials_of(session, "felix@example.org") is None


def test_a_session_is_known_until_it_is_idle_or_old(engine: Engine) -> None:
    who = make(engine)
    with housekeeping(engine) as session:
        secret = sign_ins.open_session_for(session, who, NOON)
    nearly = NOON + sign_ins.IDLE - timedelta(seconds=1)
    with reading(engine) as session:
        assert sign_ins.signed_in(session, secret, nearly) == who
        assert sign_ins.seen_long_ago(session, secret, nearly)
        assert sign_ins.signed_in(session, secret, NOON + sign_ins.IDLE) is None
        assert sign_ins.signed_in(session, secret + "x", NOON) is None
    with housekeeping(engine) as session:
        sign_ins.seen(session, secret, NOON + sign_ins.LASTS)
    with reading(engine) as session:
        assert sign_ins.signed_in(session, secret, NOON + sign_ins.LASTS) is None


def test_misses_are_counted_and_forgotten_after_a_day(engine: Engine) -> None:
    for _ in range(5):
        with housekeeping(engine) as session:
            accounts.count_try(session, MAKER, "203.0.113.7", NOON)
    with pytest.raises(accounts.TryLater, match="Wait 5 seconds"), housekeeping(engine) as session:
        accounts.count_try(session, MAKER, "203.0.113.7", NOON)
    with housekeeping(engine) as session:
        accounts.count_try(session, MAKER, "203.0.113.8", NOON)
        accounts.count_try(session, MAKER, "203.0.113.7", NOON + timedelta(days=1))


def test_a_token_opens_until_it_is_ended(engine: Engine) -> None:
    who = make(engine)
    with housekeeping(engine) as session:
        secret = sign_ins.new_token(session, who.account_id, "the web shop", NOON)
    with housekeeping(engine) as session:
        assert sign_ins.token_holder(session, secret) == who
        sign_ins.end_token(session, who.account_id, sign_ins.tokens_of(session, who.account_id)[0].id, NOON)
    with reading(engine) as session:
        assert sign_ins.token_holder(session, secret) is None


def test_a_request_is_remembered_only_if_its_act_was_kept(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "now", lambda: NOON)
    who = make(engine)
    with pytest.raises(ZeroDivisionError), writing(engine, who.name) as book:
        people.add(book, people.PersonDraft(name="Isbert Quell"))
        repeats.remember(book, who.account_id, "key", "body", "/people/1")
        raise ZeroDivisionError
    with writing(engine, who.name) as book:
        assert repeats.once(book, who.account_id, "key", "body") is None
        people.add(book, people.PersonDraft(name="Isbert Quell"))
        repeats.remember(book, who.account_id, "key", "body", "/people/1")
    with writing(engine, who.name) as book:
        assert repeats.once(book, who.account_id, "key", "body") == "/people/1"
        with pytest.raises(repeats.UsedKey):
            repeats.once(book, who.account_id, "key", "another body")
        assert repeats.once(book, who.account_id + 1, "key", "body") is None
    monkeypatch.setattr(clock, "now", lambda: NOON + repeats.REPEATS_KEPT)
    with writing(engine, who.name) as book:
        assert repeats.once(book, who.account_id, "key", "body") is None
        people.add(book, people.PersonDraft(name="Isbert Quell"))
        repeats.remember(book, who.account_id, "key", "body", "/people/2")


def test_the_last_account_cannot_be_closed_and_another_takes_its_rows_along(engine: Engine) -> None:
    who = make(engine)
    with pytest.raises(Refusal, match="only account"), housekeeping(engine) as session:
        accounts.remove_account(session, who.account_id)
    helper = make(engine, "helper@example.org")
    with housekeeping(engine) as session:
        secret = sign_ins.open_session_for(session, helper, NOON)
        token = sign_ins.new_token(session, helper.account_id, "the shop", NOON)
    with housekeeping(engine) as session:
        accounts.remove_account(session, helper.account_id)
    with reading(engine) as session:
        assert accounts.everybody(session) == [who]
        assert sign_ins.signed_in(session, secret, NOON) is None
        assert sign_ins.token_holder(session, token) is None
