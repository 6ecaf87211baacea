"""A ledger with its doors open, and three callers: a stranger, the maker, and a program with a token."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Annotated, Any

import pytest
from fastapi import APIRouter, FastAPI, Request
from pydantic import Field
from sqlalchemy import Engine
from starlette.responses import Response
from starlette.testclient import TestClient

from ledger import accounts, clock, sign_ins, works
from ledger.accounts import Who
from ledger.database import Book, housekeeping, reading
from ledger.errors import Refusal
from ledger.settings import Settings
from ledger.web import answers
from ledger.web.app import make_app
from ledger.web.forms import Sent
from ledger.web.house import Here
from ledger.web.shapes import Amount, Mm, Shape
from ledger.web.sign_in import Bearer, Signed

EMAIL = "ottoline@example.org"
PASSWORD = "four plain words here"
HOME = "http://localhost:8000"
FROM_OUR_OWN_PAGE = {"sec-fetch-site": "same-origin"}


@dataclass
class Clock:
    """The one clock, moved by hand."""

    at: datetime

    def pass_by(self, time: timedelta) -> None:
        self.at += time


@pytest.fixture
def hand(monkeypatch: pytest.MonkeyPatch) -> Clock:
    moved = Clock(clock.now())
    monkeypatch.setattr(clock, "now", lambda: moved.at)
    return moved


class SizeShape(Shape):
    label: Annotated[str, Field(min_length=1)]
    width_mm: Mm


class WorkShape(Shape):
    title: str
    artist: str
    year_made: int
    medium: str
    price: Amount | None = None
    sizes: tuple[SizeShape, ...] = ()


try_out = APIRouter()


def _add(shape: WorkShape, prefix: str) -> Any:
    def act(book: Book) -> str:
        if shape.price:
            shape.price.minor("GBP", "price")
        facts = shape.model_dump(exclude={"price", "sizes"})
        return f"{prefix}/try/works/{works.add(book, works.WorkDraft(**facts)).id}"

    return act


@try_out.post("/api/try/works", status_code=201)
def add_by_program(request: Request, house: Here, who: Bearer, shape: WorkShape) -> Response:
    done = house.record(who, _add(shape, "/api"), answers.repeat_of(request, shape))
    with reading(house.engine) as session:
        work = works.get(session, int(done.path.rsplit("/", 1)[1]))
    return answers.made(done, {"id": work.id, "title": work.title})


@try_out.get("/api/try/works/{work_id}")
def one(house: Here, who: Bearer, work_id: int) -> dict[str, Any]:
    with reading(house.engine) as session:
        return {"id": works.get(session, work_id).id}


@try_out.post("/try/works")
def add_by_form(house: Here, who: Signed, sent: Sent) -> Any:
    if sent.step == "more":
        form = sent.again("sizes")
        return {"values": dict(form.values), "rows": list(form.rows("sizes")), "key": form.key}
    try:
        done = house.record(who, _add(sent.read(WorkShape, "GBP"), ""), sent.repeat)
    except (Refusal, answers.Slips) as fault:
        form = sent.refused("Not added", fault)
        return {
            "values": dict(form.values),
            "messages": dict(form.messages),
            "headline": form.headline,
            "key": form.key,
            "problems": [one.field for one in form.problems],
        }
    return answers.see(done.path)


@try_out.get("/try/fault")
def fault(who: Signed) -> None:
    raise ZeroDivisionError("a fault with a secret in it")


@try_out.get("/try/refused")
def refused(who: Signed) -> None:
    raise Refusal("7/25 was sold on 4 May 2026.")


@pytest.fixture
def app(sqlite_engine: Engine, tmp_path: Path) -> FastAPI:
    settings = Settings(data_dir=tmp_path, public_url="https://prints.example.org", allowed_hosts="studio.lan")
    made = make_app(sqlite_engine, settings, tmp_path)
    made.include_router(try_out)
    return made


@pytest.fixture
def who(sqlite_engine: Engine) -> Who:
    with housekeeping(sqlite_engine) as session:
        return accounts.make_account(session, EMAIL, accounts.hash_password(PASSWORD), clock.now())


def browser_of(app: FastAPI, base: str = HOME) -> TestClient:
    return TestClient(app, base_url=base, headers=FROM_OUR_OWN_PAGE, follow_redirects=False)


@pytest.fixture
def stranger(app: FastAPI) -> Iterator[TestClient]:
    with browser_of(app) as client:
        yield client


@pytest.fixture
def maker(app: FastAPI, who: Who) -> Iterator[TestClient]:
    """The maker, signed in."""
    with browser_of(app) as client:
        assert client.post("/sign-in", data={"email": EMAIL, "password": PASSWORD}).status_code == 303
        yield client


@pytest.fixture
def program(app: FastAPI, sqlite_engine: Engine, who: Who) -> Iterator[TestClient]:
    """A program with the maker's token."""
    with housekeeping(sqlite_engine) as session:
        token = sign_ins.new_token(session, who.account_id, "the web shop", clock.now())
    with TestClient(app, base_url=HOME, headers={"authorization": f"Bearer {token}"}) as client:
        yield client
