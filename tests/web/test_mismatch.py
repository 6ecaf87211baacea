"""A ledger that does not match its record: every page says so, nothing is issued, and selling goes on.

The cast: Ottoline Marrack-Voe sells. Silas Grimble, who must not get in, took a guard away.
"""

from pathlib import Path

from fastapi.testclient import TestClient
from sqlalchemy import Engine, text

from ledger import certificates
from ledger.settings import Settings
from ledger.web.app import make_app
from tests.cast import acting, made, refused, road
from tests.trade import sell, ways


def test_nothing_is_issued_and_selling_goes_on(sqlite_ledger: Engine, tmp_path: Path) -> None:
    road(sqlite_ledger)
    by, (seven, eight) = ways(sqlite_ledger), made(sqlite_ledger, 7, 8)
    with sqlite_ledger.execution_options(writer=True).begin() as connection:
        connection.execute(text("DROP TRIGGER piece_frozen"))
    made_app = make_app(sqlite_ledger, Settings(data_dir=tmp_path), tmp_path)
    assert made_app.state.house.mismatch
    with refused("Run 'print-ledger check'"), acting(sqlite_ledger) as book:
        certificates.issue(book, seven)
    assert sell(sqlite_ledger, by.studio, eight, paid_by="cash").lines[0].outcome == "sold"


def test_every_page_says_so(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    said = "This ledger does not match its record"
    assert said not in maker.get("/record").text
    object.__setattr__(maker.app.state.house, "mismatch", True)
    for page in ("/", "/record", "/sales", "/people", "/settings", "/stall"):
        assert said in maker.get(page).text, page
