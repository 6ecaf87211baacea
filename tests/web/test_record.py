"""The record as people read it."""

from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import journal
from ledger.database import reading
from ledger.web.record import SAID
from tests.cast import BUYER, MAKER, TITLE, certified, made, opened, person, road, seen


def test_the_record_says_its_head_and_tells_entries_newest_first(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    certified(sqlite_engine, made(sqlite_engine, 7)[0])
    page = maker.get("/record").text
    with reading(sqlite_engine) as session:
        head = journal.head(session)
    assert f"{head.size} entries" in page and head.root.hex() in page.replace(" ", "")
    told = [f"Book opened: {MAKER}, in GBP.", "Signing keys made, fingerprint ",
            f"Picture written down: {TITLE}, 2023.", "Edition declared: ",
            "Numbered and signed: ", "Certificate issued: "]  # fmt: skip
    places = [page.index(words) for words in told]
    assert places == sorted(places, reverse=True)
    edition = f'<a href="/editions/1">{TITLE}</a>'
    assert f'<a href="/pieces/{seen(sqlite_engine, 7).id}">7/25</a> of {edition}.' in page
    assert f"number 7</a> of {edition}." in page


def test_a_private_line_is_sealed_on_the_page_too(maker: TestClient, sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    person(sqlite_engine)
    page = maker.get("/record").text
    assert "Sealed: a sale, a cost or another private line." in page and BUYER not in page


def test_a_hundred_entries_stand_on_a_page_and_the_first_is_reached(maker: TestClient, sqlite_engine: Engine) -> None:
    opened(sqlite_engine)
    for place in range(60):  # each an entry and the seal of its rows
        person(sqlite_engine, f"Buyer {place}")
    newest = maker.get("/record").text
    assert newest.count('class="sentence"') == 100 and 'href="/record?before=25"' in newest
    oldest = maker.get("/record?before=25").text
    assert oldest.count('class="sentence"') == 25 and "Book opened" in oldest and 'href="/record"' in oldest
    assert "Earlier ones" not in oldest
    assert maker.get("/record?before=x").status_code == 422


def test_every_kind_of_public_entry_has_its_words() -> None:
    acts = {
        "key": "added",
        "work": "added corrected",
        "edition": "declared withdrawn closed",
        "piece": "inscribed uninscribed spoilt withdrawn destroyed replaced",
        "certificate": "issued printed superseded suspended restored void",
    }
    written = {f"{thing}.{act}" for thing, said in acts.items() for act in said.split()}
    assert written | {"studio.opened", "sealed"} == set(SAID)
