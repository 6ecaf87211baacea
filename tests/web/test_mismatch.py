"""A ledger that does not match its record: every page says so, nothing is issued or published, and the rest goes on.

The cast: Ottoline Marrack-Voe sells. Silas Grimble, who must not get in, took a guard away.
"""

from pathlib import Path

from fastapi.testclient import TestClient
from sqlalchemy import Engine, text

from ledger import certificates, numbers, sale_lines, works
from ledger.publish import publish
from ledger.settings import Settings
from ledger.web.app import make_app
from ledger.web.static_pages import StaticPages
from tests.cast import MAY_4, ROAD, acting, certified, made, refused, road, seen
from tests.test_works import PICTURE
from tests.trade import sell, ways


def test_nothing_is_issued_and_selling_numbering_and_undoing_go_on(sqlite_ledger: Engine, tmp_path: Path) -> None:
    road(sqlite_ledger)
    by, (seven, eight) = ways(sqlite_ledger), made(sqlite_ledger, 7, 8)
    issued = certified(sqlite_ledger, eight)
    with sqlite_ledger.execution_options(writer=True).begin() as connection:
        connection.execute(text("DROP TRIGGER piece_frozen"))
    made_app = make_app(sqlite_ledger, Settings(data_dir=tmp_path), tmp_path)
    assert made_app.state.house.mismatch
    with refused("Run 'print-ledger check'"), acting(sqlite_ledger) as book:
        certificates.issue(book, seven)
    with refused("Run 'print-ledger check'"), acting(sqlite_ledger) as book:
        certificates.reissue(book, issued.id, certificates.IssueDraft(reason="a smudge"))
    with refused("the guard piece_frozen is missing"):
        publish(sqlite_ledger, tmp_path, tmp_path / "site", StaticPages, MAY_4, print)
    assert not (tmp_path / "site").exists()
    sold = sell(sqlite_ledger, by.studio, eight, paid_by="cash")
    assert sold.lines[0].outcome == "sold"
    (ninth,) = made(sqlite_ledger, 9)
    with acting(sqlite_ledger) as book:
        numbers.uninscribe(book, ninth)
        sale_lines.strike_line(book, sold.lines[0].id or 0, "typed twice")
        certificates.void(book, issued.id, "never handed over")
    assert seen(sqlite_ledger, 9).state == "allocated"


def test_every_page_says_so(maker: TestClient, stranger: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    code = certified(sqlite_engine, made(sqlite_engine, 7)[0]).code
    said = "does not match its record"
    of_the_book = ("/", "/record", "/sales", "/people", "/settings", "/stall", "/nowhere")
    of_strangers = ("/sign-in", "/c", f"/c/{code}", "/c/no-code")
    for page in of_the_book:
        assert said not in maker.get(page).text, page
    object.__setattr__(maker.app.state.house, "mismatch", True)
    assert "No certificate is issued and nothing is published" in maker.get("/record").text
    for page in of_the_book:
        assert said in maker.get(page).text, page
    for page in of_strangers:
        assert said in stranger.get(page).text, page
        assert "print-ledger check" not in stranger.get(page).text


def test_a_picture_that_is_gone_is_a_warning_on_its_work_alone(
    maker: TestClient, sqlite_engine: Engine, tmp_path: Path
) -> None:
    road(sqlite_engine)
    with acting(sqlite_engine) as book:
        works.keep_picture(book, 1, PICTURE)
        works.add(book, ROAD.model_copy(update={"title": "Lamp Room, Low Tide"}))
    house = make_app(sqlite_engine, Settings(data_dir=tmp_path), tmp_path).state.house
    assert not house.mismatch
    said = "Not in the ledger’s folder"
    assert said in maker.get("/works/1").text
    assert said not in maker.get("/works/2").text and said not in maker.get("/").text
