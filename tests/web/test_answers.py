"""How a no is phrased, for programs and for people, and that nothing is carried out twice."""

from datetime import date, timedelta
from typing import Any

import pytest
from pydantic import ValidationError, create_model
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import works
from ledger.database import reading
from ledger.reckoning.measures import millimetres
from ledger.web import sentences
from ledger.web.shapes import Mm, Percent, Shape, amount, mm, percent_said
from tests.web.conftest import Clock

WORK = {"title": "Low Water, No Witness", "artist": "Ottoline Marrack-Voe", "year_made": 2025, "medium": "Photograph"}


def count_works(engine: Engine) -> int:
    with reading(engine) as session:
        return len(works.listing(session))


def test_a_malformed_request_is_answered_with_the_fields_it_is_about(program: TestClient) -> None:
    answer = program.post("/api/try/works", json={**WORK, "year_made": "25a", "colour": "blue"})
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json() == {
        "type": "about:blank",
        "title": "Unprocessable Content",
        "status": 422,
        "detail": "Not taken. Two things to put right.",
        "errors": [
            {"field": "year_made", "message": "“25a” is not a whole number. Write 25."},
            {"field": "colour", "message": "“colour” is not known here. Leave it out."},
        ],
    }


def test_a_rule_that_refuses_and_a_thing_that_is_not_there_are_told_apart(program: TestClient) -> None:
    refused = program.post("/api/try/works", json={**WORK, "title": " "})
    assert refused.status_code == 409
    assert refused.json()["errors"] == [{"field": "title", "message": refused.json()["detail"]}]
    missing = program.get("/api/try/works/99")
    assert missing.status_code == 404 and missing.json()["status"] == 404
    assert program.get("/api/try/works/abc").status_code == 404
    assert program.put("/api/try/works/1").status_code == 405


def test_another_currency_is_refused_with_a_sentence(program: TestClient) -> None:
    answer = program.post("/api/try/works", json={**WORK, "price": {"amount": "65.00", "currency": "EUR"}})
    assert answer.status_code == 422
    assert answer.json()["errors"] == [
        {"field": "price.currency", "message": "“EUR” cannot stand in a book kept in GBP. Write what arrived in GBP."}
    ]
    bare = program.post("/api/try/works", json={**WORK, "price": "65.00"})
    assert bare.status_code == 422 and bare.json()["errors"][0]["field"] == "price"


def test_what_is_not_json_is_said_so(program: TestClient) -> None:
    answer = program.post("/api/try/works", content=b"{", headers={"content-type": "application/json"})
    assert answer.json()["errors"] == [{"field": "", "message": "The body is not JSON."}]


def test_a_page_gets_a_page(maker: TestClient) -> None:
    refused = maker.get("/try/refused")
    assert refused.status_code == 409 and "7/25 was sold on 4 May 2026." in refused.text
    assert refused.headers["content-type"].startswith("text/html")
    assert maker.get("/nowhere").headers["content-type"].startswith("text/html")


def test_the_same_key_twice_reads_the_first_result_again(program: TestClient, sqlite_engine: Engine) -> None:
    key = {"Idempotency-Key": "market-day-1"}
    first = program.post("/api/try/works", json=WORK, headers=key)
    assert first.status_code == 201 and "Idempotency-Replayed" not in first.headers
    again = program.post("/api/try/works", json=WORK, headers=key)
    assert again.status_code == 200 and again.headers["Idempotency-Replayed"] == "true"
    assert again.json() == first.json() and again.headers["location"] == first.headers["location"]
    assert count_works(sqlite_engine) == 1


def test_the_same_key_with_another_body_is_refused(program: TestClient, sqlite_engine: Engine) -> None:
    key = {"Idempotency-Key": "market-day-1"}
    program.post("/api/try/works", json=WORK, headers=key)
    other = program.post("/api/try/works", json={**WORK, "title": "High Water"}, headers=key)
    assert other.status_code == 422
    assert count_works(sqlite_engine) == 1


def test_a_refused_request_leaves_its_key_free(program: TestClient) -> None:
    key = {"Idempotency-Key": "market-day-2"}
    assert program.post("/api/try/works", json={**WORK, "title": ""}, headers=key).status_code == 409
    assert program.post("/api/try/works", json=WORK, headers=key).status_code == 201


def test_a_key_is_forgotten_after_a_week(hand: Clock, program: TestClient, sqlite_engine: Engine) -> None:
    key = {"Idempotency-Key": "market-day-3"}
    program.post("/api/try/works", json=WORK, headers=key)
    hand.pass_by(timedelta(days=7))
    assert program.post("/api/try/works", json=WORK, headers=key).status_code == 201
    assert count_works(sqlite_engine) == 2


def test_a_key_that_cannot_be_one_is_said_so(program: TestClient) -> None:
    answer = program.post("/api/try/works", json=WORK, headers={"Idempotency-Key": "a b"})
    assert answer.status_code == 422 and answer.json()["errors"][0]["field"] == "Idempotency-Key"


class Measured(Shape):
    width_mm: Mm = 0
    rate: Percent = 0
    on: date = date(2026, 5, 4)
    sure: bool = False
    count: int = 1
    year_made: int = 2026


def said(**typed: object) -> str:
    with pytest.raises(ValidationError) as fault:
        Measured.model_validate(typed)
    return sentences.slips_of(fault.value.errors())[0].message


def test_lengths_and_rates_are_read_exactly() -> None:
    assert Measured(width_mm=127.5, rate="17.5").width_mm == 127_500
    assert Measured(rate="17.5").rate == 1750
    assert Measured(width_mm="0.001").width_mm == 1
    assert Measured(width_mm="127.5000").width_mm == 127_500
    assert (mm(127_500), mm(127_000), millimetres(127_500), millimetres(127_000)) == (127.5, 127, "127.5", "127")
    assert (percent_said(1750), percent_said(4000)) == ("17.5", "40")
    assert amount(6500, "GBP") == {"amount": "65.00", "currency": "GBP"}


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"width_mm": "0.0001"}, "“0.0001” has more decimals than are kept. Use 3 at most."),
        ({"width_mm": "wide"}, "“wide” is not a number. Write it in figures, such as 127.5."),
        ({"width_mm": "6,5"}, "“6,5” has a comma: write 6.5."),
        ({"width_mm": "1,234"}, "“1,234” has a comma: write 1.234 or 1234."),
        ({"width_mm": "-5"}, "“-5” is not a number. Write it in figures, such as 127.5."),
        ({"width_mm": "1e3"}, "“1e3” is not a number. Write it in figures, such as 127.5."),
        ({"width_mm": [1]}, "Write this as a number, such as 127.5."),
        ({"width_mm": True}, "Write this as a number, such as 127.5."),
        ({"on": "31 June"}, "“31 June” is not a day. Write year, month and day, such as 2026-05-04."),
        ({"count": "many"}, "“many” is not a whole number. Write it in figures, such as 25."),
        ({"year_made": "last year"}, "“last year” is not a whole number. Write it in figures, such as 2026."),
        ({"sure": "maybe"}, "“maybe” is neither true nor false."),
    ],
)
def test_what_was_typed_is_quoted_and_what_to_write_is_said(typed: dict[str, object], sentence: str) -> None:
    assert said(**typed) == sentence


def percentages() -> list[tuple[type[Shape], str]]:
    """Every field of every door that takes a percentage."""
    import ledger.web.app  # noqa: F401  (it brings in the shapes of every room)

    shapes, found = [Shape], []
    while shapes:
        shape = shapes.pop()
        shapes += shape.__subclasses__()
        described = shape.model_json_schema().get("properties", {}) if shape.__module__.startswith("ledger.") else {}
        found += [(shape, name) for name, said_of in described.items() if "Per cent" in str(said_of)]
    return found


@pytest.mark.parametrize("typed", ["50", "50%", "50 %", " 50 % ", 50])
def test_a_percentage_may_be_written_with_its_sign_in_every_field(typed: str | int) -> None:
    """The sign stands beside the field, so it is typed with the figure as often as not."""
    fields = percentages()
    assert len(fields) >= 9
    for shape, name in fields:
        asked = shape.model_fields[name]
        alone: Any = create_model("Alone", **{name: (asked.annotation, asked)})
        assert getattr(alone.model_validate({name: typed}), name) == 5000, (shape, name)


@pytest.mark.parametrize("typed", ["50%%", "%", "% 50", "half"])
def test_what_is_no_percentage_is_quoted(typed: str) -> None:
    assert "is not a number. Write it in figures, such as 17.5." in said(rate=typed)
