"""The find box, and the same for programs."""

from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import people
from tests.cast import BUYER, TITLE, acting, certified, declared, made, opened, person, promise, road, seen
from tests.web.test_people import given


def test_one_exact_hit_opens_at_once(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    seven = made(sqlite_engine, 7)[0]
    code = certified(sqlite_engine, seven).code
    tarn = person(sqlite_engine)
    for asked, path in [
        ("7/25", f"/pieces/{seven}"), ("7 road", f"/pieces/{seven}"), (code, f"/pieces/{seven}"),
        (code.lower(), f"/pieces/{seven}"), ("forty", "/editions/1"), ("tarn", f"/people/{tarn}"),
    ]:  # fmt: skip
        answer = maker.get("/find", params={"q": asked})
        assert (answer.status_code, answer.headers.get("location")) == (303, path), asked


def test_a_number_in_two_editions_is_a_choice_and_the_same_number_elsewhere_stands_near(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    road(sqlite_engine, later_editions="reserved")
    declared(sqlite_engine, promise(count=25, outside=(), later_editions="reserved"))
    declared(sqlite_engine, promise(count=15, outside=(), later_editions="reserved"))
    page = maker.get("/find?q=7/25").text
    assert "“7/25”</span> is in two editions" in page and 'value="7/25"' in page
    assert page.index(">Prints<") < page.index(">Near it<") < page.index(">7/15<")
    assert page.count(f'<span class="title">{TITLE}</span>') == 3
    nearly = maker.get("/find?q=7/30").text
    assert "is nowhere in the book" in nearly and nearly.count(">7/25<") == 2 and ">Near it<" in nearly


def test_a_number_past_its_count_is_said_to_be_in_no_edition(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine, later_editions="reserved")
    declared(sqlite_engine, promise(count=40, outside=(), later_editions="reserved"))
    page = maker.get("/find?q=26/25").text
    assert "No edition of 25 has a 26" in page and "nowhere" not in page
    assert page.index(">Near it<") < page.index(">25/25<") < page.index(">26/40<")
    assert "No AP of 3 has a 4" in maker.get("/find?q=AP IV/III").text
    assert "No edition of 7 has a 9" in maker.get("/find?q=9/7").text


def test_a_name_leads_to_the_person_and_to_what_they_hold(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    tarn = person(sqlite_engine)
    given(sqlite_engine, 7, tarn)
    page = maker.get("/find?q=wilhelmina").text
    assert "is in the book twice" in page and f'href="/people/{tarn}"' in page and f"Given away. {BUYER}" in page


def test_what_is_nowhere_is_said_and_what_is_understood(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    page = maker.get("/find?q=<b>nothing</b>").text
    assert "is nowhere in the book" in page and "Also understood" in page and "<b>nothing" not in page
    assert '<h1 class="quiet">Find</h1>' in maker.get("/find").text


def test_the_api_finds_prints_page_by_page(program: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    found = program.get("/api/pieces", params={"q": "7/25"}).json()
    [seven] = found["items"]
    assert (seven["id"], seven["shown"], seven["standing"]) == (seen(sqlite_engine, 7).id, "7/25", "free")
    assert found["next"] is None
    proofs = program.get("/api/pieces?q=AP&limit=2").json()
    assert [each["shown"] for each in proofs["items"]] == ["AP I/III", "AP II/III"] and proofs["next"] == 2
    rest = program.get("/api/pieces?q=AP&limit=2&after=2").json()
    assert [each["shown"] for each in rest["items"]] == ["AP III/III"] and rest["next"] is None
    assert program.get("/api/pieces?q=nowhere").json() == {"items": [], "next": None}
    assert program.get("/api/pieces").status_code == 422


def test_an_erased_name_is_found_no_more(program: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    tarn = person(sqlite_engine)
    given(sqlite_engine, 7, tarn)
    assert len(program.get("/api/pieces?q=Tarn").json()["items"]) == 1
    with acting(sqlite_engine) as book:
        people.erase(book, tarn)
    assert program.get("/api/pieces?q=Tarn").json()["items"] == []


def test_a_name_many_people_share_is_said_to_be_cut(maker: TestClient, sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    for place in range(31):
        person(sqlite_engine, f"Pellow the {place}th")
    page = maker.get("/find?q=pellow").text
    assert "is in the book more than 30 times" in page and page.count('href="/people/') == 30
