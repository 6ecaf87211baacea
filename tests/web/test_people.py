"""People on pages and for programs."""

from fastapi import FastAPI
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import conditions, people
from ledger.conditions import GiveDraft
from ledger.database import reading
from tests.cast import BUYER, GALLERY, MAY_4, SECOND_BUYER, acting, made, opened, person, road

TARN = {"kind": "person", "name": BUYER, "town": "Pellcombe", "email": "w.tarn@example.org", "note": "Likes 7s."}


def given(engine: Engine, number: int, person_id: int) -> None:
    """A signed number of the road, given to somebody."""
    piece_id = made(engine, number)[0]
    with acting(engine) as book:
        conditions.give(book, piece_id, GiveDraft(how="gift", person_id=person_id, on=MAY_4))


def test_page_and_program_write_the_same_person_down(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    opened(sqlite_engine)
    by_form = maker.post("/people", data=TARN)
    assert by_form.status_code == 303
    by_program = program.post("/api/people", json=TARN)
    assert by_program.status_code == 201 and by_program.headers["location"] == "/api/people/2"
    first = program.get(f"/api{by_form.headers['location']}").json()
    second = by_program.json()
    assert first == TARN | {"id": 1, "address": None, "phone": None, "erased_on": None}
    assert first | {"id": 2} == second == program.get("/api/people/2").json()


def test_somebody_without_a_name_is_refused_by_both_doors(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    opened(sqlite_engine)
    answer = maker.post("/people", data=TARN | {"name": ""})
    assert answer.status_code == 422 and "Name: This is needed." in answer.text and "Likes 7s." in answer.text
    told = program.post("/api/people", json=TARN | {"name": ""})
    assert told.status_code == 409 and told.json()["errors"] == [
        {"field": "name", "message": "The name is empty. Write it."}
    ]
    assert program.post("/api/people", json=TARN | {"shoe_size": 38}).status_code == 422
    assert program.get("/api/people").json() == {"items": [], "next": None}


def test_the_api_lists_people_page_by_page_those_erased_too(program: TestClient, sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    tarn = person(sqlite_engine)
    person(sqlite_engine, SECOND_BUYER)
    person(sqlite_engine, GALLERY, kind="business")
    with acting(sqlite_engine) as book:
        people.erase(book, tarn)
    first = program.get("/api/people?limit=2").json()
    assert [one["name"] for one in first["items"]] == [None, SECOND_BUYER] and first["next"] == 2
    assert first["items"][0]["erased_on"] == "2026-05-04"
    rest = program.get("/api/people?after=2&limit=2").json()
    assert [one["kind"] for one in rest["items"]] == ["business"] and rest["next"] is None
    assert program.get("/api/people/99").status_code == 404


def test_a_request_sent_twice_under_one_key_writes_one_person(program: TestClient, sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    key = {"Idempotency-Key": "tarn-1"}
    first = program.post("/api/people", json=TARN, headers=key)
    again = program.post("/api/people", json=TARN, headers=key)
    assert (first.status_code, again.status_code) == (201, 200) and first.json() == again.json()
    assert again.headers["idempotency-replayed"] == "true"


def test_the_list_is_by_name_and_empty_at_first(maker: TestClient, sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    assert "Nobody yet." in maker.get("/people").text
    person(sqlite_engine)
    person(sqlite_engine, GALLERY, kind="business", town="Saltrigg")
    page = maker.get("/people").text
    assert page.index(GALLERY) < page.index(BUYER) and "Saltrigg, a business" in page


def test_a_page_shows_lines_prints_and_story(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    tarn = person(sqlite_engine, town="Pellcombe")
    given(sqlite_engine, 7, tarn)
    page = maker.get(f"/people/{tarn}").text
    assert BUYER in page and "Pellcombe" in page
    assert "Holds it, a gift" in page and ">7/25</span>" in page
    assert "Written down." in page and "Passed on." in page
    assert maker.get("/people/99").status_code == 404


def test_a_line_put_right_keeps_the_old_words_and_the_reason(maker: TestClient, sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    tarn = person(sqlite_engine, town="Pellcombe")
    fix = {"field": "town", "new": "Saltrigg", "why": "Moved house"}
    assert maker.post(f"/people/{tarn}/correct", data=fix).status_code == 303
    assert "Pellcombe, now Saltrigg. Moved house" in maker.get(f"/people/{tarn}").text
    refused = maker.post(f"/people/{tarn}/correct", data={"field": "name", "new": "", "why": "A whim"})
    assert refused.status_code == 409 and "The name is empty." in refused.text and "A whim" in refused.text
    assert 'id="f-new-message"' in refused.text


def test_erasing_is_read_back_and_needs_the_name_typed(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    tarn = person(sqlite_engine, town="Pellcombe", email="w.tarn@example.org")
    given(sqlite_engine, 7, tarn)
    read = maker.get(f"/people/{tarn}/erase").text
    assert "name, town and e-mail" in read and "The one print held or bought" in read and "your backups" in read
    slip = maker.post(f"/people/{tarn}/erase", data={"typed_name": SECOND_BUYER})
    assert slip.status_code == 409 and f"Type “{BUYER}” to erase it." in slip.text and SECOND_BUYER in slip.text
    assert maker.post(f"/people/{tarn}/erase", data={"typed_name": ""}).status_code == 409
    with reading(sqlite_engine) as session:
        assert people.get(session, tarn).name == BUYER
    assert maker.post(f"/people/{tarn}/erase", data={"typed_name": "wilhelmina, tarn"}).status_code == 303
    page = maker.get(f"/people/{tarn}").text
    assert "Name erased" in page and BUYER not in page and "Pellcombe" not in page
    assert "7/25" in page  # what was given stays in the story
    assert maker.get(f"/people/{tarn}/erase").status_code == 409
    assert BUYER not in maker.get("/people").text and "nowhere in the book" in maker.get("/find?q=Tarn").text


def test_people_are_for_those_who_signed_in(app: FastAPI, stranger: TestClient, sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    tarn = person(sqlite_engine)
    for path in ("/people", f"/people/{tarn}", f"/people/{tarn}/erase", "/record", "/find?q=Tarn", "/settings"):
        answer = stranger.get(path)
        assert answer.status_code == 303 and answer.headers["location"].startswith("/sign-in")
    assert stranger.get("/api/people").status_code == 401
    assert stranger.get("/api/pieces?q=7").status_code == 401
