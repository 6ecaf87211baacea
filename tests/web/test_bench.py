"""The bench: its rooms are found from any page, each with what was last kept."""

import re

from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import recipes
from ledger.recipes import LineDraft
from tests import cast
from tests.cast import acting


def test_the_bench_is_a_word_of_the_running_head_and_leads_to_its_rooms(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    cast.road(sqlite_engine)
    head, _, foot = maker.get("/").text.partition("<main")
    assert '<a href="/bench">Bench</a>' in head
    assert not re.search(r'href="/(sheets|mounts|recipes)"', foot.partition("<footer")[2])
    page = maker.get("/bench").text
    assert '<a href="/bench" aria-current="page">Bench</a>' in page
    assert ">At the bench</h2>" in page
    rooms = re.findall(r'<li><a href="([^"]+)">', page.partition("<main")[2])
    assert rooms == ["/sheets", "/mounts", "/recipes", "/bench/prices"]
    for room in rooms:
        there = maker.get(room)
        assert there.status_code == 200 and '<a href="/bench" aria-current="page">Bench</a>' in there.text


def test_each_room_says_what_was_last_kept_there(maker: TestClient, sqlite_engine: Engine) -> None:
    cast.opened(sqlite_engine)
    empty = maker.get("/bench").text
    assert empty.count("None kept yet.") == 2 and "None written yet." in empty and "No edition yet." in empty
    assert "No edition is declared yet." in maker.get("/bench/prices").text
    cast.declared(sqlite_engine, cast.promise())
    with acting(sqlite_engine) as book:
        box = recipes.write(book, "Travelling box", [LineDraft(name="Box", amount_minor=350)])
        recipes.write(book, "Window mount", [LineDraft(name="Board", amount_minor=80)])
        recipes.change(book, box.id or 0, [LineDraft(name="Box", amount_minor=400)])
    page = maker.get("/bench").text
    assert "Last written: Travelling box, 4 May 2026." in page
    assert "Last priced: Forty Minutes of Road, 4 May 2026." in page


def test_the_prices_of_every_edition_lead_to_what_they_need(maker: TestClient, sqlite_engine: Engine) -> None:
    large = cast.size(254, 254, label="large", offer=cast.offer((1, 14000)))
    cast.road(sqlite_engine, sizes=(cast.size(offer=cast.offer((1, 6500))), large))
    page = maker.get("/bench/prices").text
    assert '<a class="title" href="/editions/1/price">Forty Minutes of Road</a><p>£65.00, £140.00 today.</p>' in page


def test_the_bench_is_not_open_to_a_stranger(stranger: TestClient, sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine)
    for path in ("/bench", "/bench/prices"):
        assert stranger.get(path, follow_redirects=False).headers["location"].startswith("/sign-in")
