"""A posted form: nothing that was typed is lost, and both doors take the same facts."""

from sqlalchemy import Engine
from starlette.testclient import TestClient

from tests.web.test_answers import count_works

TYPED = {
    "idempotency_key": "once",
    "title": "Low Water, No Witness",
    "artist": "Ottoline Marrack-Voe",
    "year_made": "2025",
    "medium": "Photograph",
    "price": "£65.00",
    "sizes.0.label": "",
    "sizes.0.width_mm": "",
    "sizes.1.label": "small",
    "sizes.1.width_mm": "127.5",
}


def test_a_form_is_read_as_the_api_reads_its_json(maker: TestClient, sqlite_engine: Engine) -> None:
    answer = maker.post("/try/works", data=TYPED)
    assert answer.status_code == 303 and answer.headers["location"] == "/try/works/1"
    assert count_works(sqlite_engine) == 1


def test_a_refused_form_comes_back_with_all_that_was_typed_and_a_sentence_a_field(maker: TestClient) -> None:
    typed = {**TYPED, "year_made": "25a", "medium": "", "sizes.1.width_mm": "wide", "price": "£6,5"}
    back = maker.post("/try/works", data=typed).json()
    assert back["values"] == {name: value for name, value in typed.items() if name != "idempotency_key"}
    assert back["key"] == "once"
    assert back["headline"] == "Not added. Three things to put right; all you typed is still here."
    assert back["messages"] == {
        "year_made": "“25a” is not a whole number. Write 25.",
        "medium": "This is needed.",
        "sizes.1.width_mm": "“wide” is not a number. Write it in figures, such as 127.5.",
    }
    assert "sizes.1.width_mm" in back["problems"]


def test_an_amount_nobody_can_read_is_told_beside_its_field(maker: TestClient) -> None:
    back = maker.post("/try/works", data={**TYPED, "price": "6,5"}).json()
    assert list(back["messages"]) == ["price"] and "“6,5”" in back["messages"]["price"]


def test_a_refusal_of_a_room_stands_beside_its_field(maker: TestClient) -> None:
    back = maker.post("/try/works", data={**TYPED, "title": "x" * 2000}).json()
    assert list(back["messages"]) == ["title"]
    assert back["headline"] == "Not added. One thing to put right; all you typed is still here."


def test_another_size_is_one_more_row_and_keeps_the_rest(maker: TestClient) -> None:
    back = maker.post("/try/works", data={**TYPED, "step": "more"}).json()
    assert back["rows"] == [0, 1, 2]
    assert back["values"]["sizes.1.width_mm"] == "127.5" and back["key"] == "once"


def test_a_form_sent_twice_is_carried_out_once(maker: TestClient, sqlite_engine: Engine) -> None:
    first = maker.post("/try/works", data=TYPED)
    second = maker.post("/try/works", data=TYPED)
    assert first.headers["location"] == second.headers["location"]
    assert count_works(sqlite_engine) == 1


def test_a_form_sent_again_with_other_words_says_so(maker: TestClient, sqlite_engine: Engine) -> None:
    maker.post("/try/works", data=TYPED)
    back = maker.post("/try/works", data={**TYPED, "title": "High Water"}).json()
    assert "sent before with other words" in back["messages"][""]
    assert count_works(sqlite_engine) == 1


def test_a_field_the_form_does_not_have_is_refused(maker: TestClient) -> None:
    back = maker.post("/try/works", data={**TYPED, "colour": "blue"}).json()
    assert back["messages"] == {"colour": "“colour” is not known here. Leave it out."}


def test_odd_field_names_break_nothing(maker: TestClient) -> None:
    for name in ("sizes.0.label.x.y", "a.b.c.d.e.f.g.h.i", "sizes.²", ".", "sizes..label", "sizes.9999"):
        assert maker.post("/try/works", data={**TYPED, name: "x"}).status_code in (200, 422), name
