"""The first page of the book, the page of one edition, what may be done with it, and the same through the API."""

import io
import re
from html import unescape
from typing import Any

import pypdf
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import conditions, costs, editions, numbers, offers, pieces, reports, snapshots
from ledger.costs import CostDraft
from ledger.database import reading
from ledger.promises import AnswerDraft
from ledger.reckoning import money
from tests import cast, trade


def plain(page: Any) -> str:
    """The words of a page, white space folded."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page.text)).split())


@pytest.fixture
def selling(sqlite_engine: Engine) -> trade.Ways:
    """Twenty-five of the road: nine signed, 1 to 3 sold, 4 and 5 at the gallery, 6 given away, 7 sold and replaced."""
    cast.road(sqlite_engine)
    ways = trade.ways(sqlite_engine)
    ids = cast.made(sqlite_engine, *range(1, 10))
    trade.sell(sqlite_engine, ways.fair, *ids[:3], ids[6], occasion_id=ways.the_fair)
    trade.lend(sqlite_engine, ways.kelpstane, trade.told(ids[3]), trade.told(ids[4]))
    with cast.acting(sqlite_engine) as book:
        conditions.give(book, ids[5], conditions.GiveDraft(how="gift", name=cast.BUYER))
        conditions.destroy(book, ids[6], "Torn in two; the signed corner was kept.")
    with cast.acting(sqlite_engine) as book:
        conditions.replace(book, ids[6], conditions.ReplaceDraft())
        costs.add(book, CostDraft(basis="edition", target_id=1, amount_minor=10000, spent_on=cast.MAY_4))
        costs.add(
            book, CostDraft(basis="edition", target_id=1, amount_minor=5000, own_labour=True, spent_on=cast.MAY_4)
        )
    return ways


def test_an_empty_book_says_what_an_edition_is(maker: TestClient, sqlite_engine: Engine) -> None:
    cast.opened(sqlite_engine)
    page = maker.get("/")
    assert "An edition is a promise: this many prints of one picture, and no more." in plain(page)
    assert 'href="/editions/new"' in page.text


def test_the_list_groups_editions_and_sums_each_run_in_a_sentence(
    maker: TestClient, sqlite_engine: Engine, selling: trade.Ways
) -> None:
    closed = cast.declared(sqlite_engine, cast.promise(count=9, outside=()))
    with cast.acting(sqlite_engine) as book:
        numbers.allocate(book, closed, how_many=2)
    for number in (1, 2):
        cast.made(sqlite_engine, number, edition=closed)
    with cast.acting(sqlite_engine) as book:
        numbers.close(book, closed, "3-9", "The paper is no longer made.")
    sold_out = cast.declared(sqlite_engine, cast.promise(count=1, outside=()))
    trade.sell(sqlite_engine, selling.studio, *cast.made(sqlite_engine, 1, edition=sold_out))
    cast.declared(sqlite_engine, cast.promise(kind="open", count=None, outside=()))
    text = plain(maker.get("/"))
    places = [text.index(words) for words in ("Selling", "Not a limited edition.", "Closed early", "Sold out")]
    assert places == sorted(places)
    assert "4 sold, 1 given away, 2 at Gallery Kelpstane, 2 in the studio, 16 free" in text
    assert "25 + 3 AP + BAT. 127 mm square" in text
    assert "2 in the studio. 3 to 9 never made" in text and "1 sold, the last on 4 May 2026" in text
    assert "took £65.00" in text and "75 from the 11th" in text


def test_the_page_of_an_edition_accounts_for_every_number_and_penny(
    maker: TestClient, sqlite_engine: Engine, selling: trade.Ways
) -> None:
    page = maker.get("/editions/1")
    text = plain(page)
    assert page.status_code == 200
    key = "sold 3 sold, second print of that number 1 given away 1 at Gallery Kelpstane 2 in the studio 2 free 16"
    assert f"{key} declared 25" in text and "The run comes to" not in text
    assert "4 of 25, at Gallery Kelpstane" in text and "AP II of III, free" in text
    with reading(sqlite_engine) as session:
        report = reports.margin(session, 1)
    # 15,000 over 25 sellable numbers is 600 each; four prints sold for 65.00.
    assert report.with_labour.takings == 26000 and report.with_labour.making_sold == 2400
    assert "Taken for 4 260.00" in text and "Making those sold −24.00" in text
    rows = re.findall(r'<td class="money">([−0-9.,]+)</td>', page.text.split('id="money"')[1].split("</table>")[0])
    pence = [int(row.replace("−", "-").replace(",", "").replace(".", "")) for row in rows]
    assert sum(pence[:-1]) == pence[-1] == report.with_labour.left
    assert "It is not profit for tax" in text and "Own time is in. Without it," in text
    assert 'href="/works/1"' in page.text and 'href="/editions/1/close"' in page.text
    assert "7/25 . Destroyed. Torn in two; the signed corner was kept." in text


def test_what_the_drawing_ends_at_is_what_is_left_less_the_prints_still_here(
    maker: TestClient, sqlite_engine: Engine, selling: trade.Ways
) -> None:
    text = plain(maker.get("/editions/1"))
    with reading(sqlite_engine) as session:
        worth = reports.margin(session, 1).with_labour
        still_here = worth.stock + worth.waiting
        left, end = (money.bare(figure, "GBP") for figure in (worth.left, worth.left - still_here))
    assert still_here and f"Left so far, £ {left}" in text
    assert f"With that taken off too, as in the drawing, £{end} is left." in text
    assert f"{end} after all costs" in text and "so far" not in text.split("£ " + left)[1]


def test_a_run_that_does_not_come_to_its_count_says_so(
    maker: TestClient, sqlite_engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    cast.road(sqlite_engine)
    whole = pieces.run_of
    monkeypatch.setattr(pieces, "run_of", lambda session, edition_id: whole(session, edition_id)[1:])
    assert "The run comes to 24 and not to 25. Something in this book is damaged: sell nothing" in plain(
        maker.get("/editions/1")
    )


def test_the_whole_story_of_an_edition_names_the_numbers(
    maker: TestClient, sqlite_engine: Engine, selling: trade.Ways
) -> None:
    text = plain(maker.get("/editions/1/story"))
    sold = text.index("1 to 3, 7. Sold for £65.00: At a fair, Saltrigg Harbour Fair.")
    assert sold < text.index("1 to 9. Numbered and signed.") < text.index("Edition declared.")
    assert "Number assigned" not in text


def test_a_certificate_waits_for_an_answer_and_the_form_has_a_place_for_each(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    cast.road(sqlite_engine, answers={item: each for item, each in cast.answered().items() if item != "marks"})
    assert 'href="/editions/1/answers#marks"' in maker.get("/editions/1").text
    page = maker.get("/editions/1/answers")
    assert 'id="marks"' in page.text and "1 still open." in plain(page)
    form = dict(re.findall(r'name="([^"]+)" value="([^"]*)"[^>]*(?:checked|aria-label)', page.text))
    sent = maker.post("/editions/1/answers", data={
        **{name: unescape(value) for name, value in form.items()}, "answers.marks.answer": "value",
        "answers.marks.text": "Blind stamp, lower right.",
    })  # fmt: skip
    assert sent.status_code == 303 and sent.headers["location"] == "/editions/1"
    with reading(sqlite_engine) as session:
        assert snapshots.unanswered(session, 1) == []
        assert {each.version for each in editions.answers(session, 1).values()} == {1}
    again = maker.post("/editions/1/answers", data={"answers.marks.text": "Blind stamp, lower right."})
    assert again.status_code == 409 and "Every answer stands as it was" in again.text
    empty = maker.post("/editions/1/answers", data={"answers.marks.answer": "value", "answers.marks.text": ""})
    assert empty.status_code == 409 and 'id="f-answers.marks.text-message"' in empty.text


def test_a_price_changes_for_what_is_to_come(maker: TestClient, sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine)
    page = maker.get("/editions/1/offer")
    assert 'value="65.00"' in page.text and 'name="offer.prices.1.from_sold" value="11"' in page.text
    form = {
        "size_id": "1", "offer.process": "Pigment print", "offer.paper": "Baryta, 315 gsm", "offer.mounting": "",
        "offer.prices.0.price": "70.00", "offer.prices.1.price": "80.00", "offer.prices.1.from_sold": "1",
    }  # fmt: skip
    refused = maker.post("/editions/1/offer", data=form | {"step": "change"})
    assert refused.status_code == 409 and "Put the steps in order" in refused.text and "Baryta, 315 gsm" in refused.text
    more = maker.post("/editions/1/offer", data=form | {"step": "another_step"})
    assert 'name="offer.prices.2.price"' in more.text
    done = maker.post("/editions/1/offer", data=form | {"offer.prices.1.from_sold": "11", "step": "change"})
    assert done.status_code == 303
    with reading(sqlite_engine) as session:
        offer = offers.in_force(session, 1, cast.date.today())
    assert offer.steps == ((1, 7000), (11, 8000)) and offer.paper == "Baryta, 315 gsm"
    other = maker.post("/editions/1/offer", data=form | {"size_id": "99", "step": "change"})
    assert other.status_code == 404


def test_a_slip_in_the_process_is_put_right_by_offering_it_again_with_nothing_else_typed(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    cast.road(sqlite_engine)
    early, slipped = cast.made(sqlite_engine, 1, 2)
    form = maker.get("/editions/1/offer").text.split('action="/editions/1/offer"')[1].split("</form>")[0]
    shown = {name: unescape(value) for name, value in re.findall(r'name="([\w.]+)"[^>]*? value="([^"]*)"', form)}
    with reading(sqlite_engine) as session:
        before = offers.in_force(session, 1, cast.date.today())
    assert shown["offer.process"] == before.process
    sent = shown | {"offer.process": "Pigment print on rag", "step": "change"}
    assert maker.post("/editions/1/offer", data=sent).status_code == 303
    with reading(sqlite_engine) as session:
        after = offers.in_force(session, 1, cast.date.today())
    assert (after.process, after.paper, after.mounting) == ("Pigment print on rag", before.paper, before.mounting)
    assert (after.steps, after.mount_plan_id) == (before.steps, before.mount_plan_id)
    for act in ("uninscribe", "inscribe"):
        assert maker.post(f"/pieces/{slipped}/{act}", data={}).status_code == 303
    for piece, process in ((early, before.process), (slipped, "Pigment print on rag")):
        view = cast.certified(sqlite_engine, piece, cast.date.today())
        assert view.snapshot["process"] == process


def test_closing_early_is_read_back_and_the_title_typed(maker: TestClient, sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine)
    cast.made(sqlite_engine, *range(1, 7))
    assert 'value="7 to 25"' in maker.get("/editions/1/close").text
    form = {"numbers": "7 to 25", "why": "The paper is no longer made."}
    back = maker.post("/editions/1/close", data=form | {"step": "read_back"})
    assert "Never to be made: 7 to 25." in plain(back) and "Prints that exist keep n/25" in plain(back)
    wrong = maker.post("/editions/1/close", data=form | {"typed_title": "Six Minutes", "step": "close"})
    assert wrong.status_code == 409 and "Not closed." in wrong.text
    with reading(sqlite_engine) as session:
        assert editions.get(session, 1).closed_on is None
    done = maker.post("/editions/1/close", data=form | {"typed_title": "forty minutes of road", "step": "close"})
    assert done.status_code == 303
    assert cast.standings(sqlite_engine) == {"in hand": 6, "withdrawn": 19}
    refused = maker.post("/editions/1/close", data=form | {"step": "read_back"})
    assert refused.status_code == 409 and "closed already" in refused.text and "no longer made" in refused.text


def test_withdrawing_needs_the_title_and_an_edition_nobody_used(maker: TestClient, sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine)
    form = {"why": "The wrong picture.", "typed_title": "Forty minutes"}
    wrong = maker.post("/editions/1/withdraw", data=form)
    assert wrong.status_code == 409 and "Type “Forty Minutes of Road”" in wrong.text
    assert "The wrong picture." in wrong.text
    assert maker.post("/editions/1/withdraw", data=form | {"typed_title": cast.TITLE}).status_code == 303
    assert "Withdrawn: declared by mistake" in plain(maker.get("/editions/1"))
    second = cast.declared(sqlite_engine)
    cast.made(sqlite_engine, 1, edition=second)
    used = maker.post(f"/editions/{second}/withdraw", data=form | {"typed_title": cast.TITLE})
    assert used.status_code == 409 and "It can be closed early, not withdrawn." in used.text
    assert "Withdraw: declared by mistake" not in maker.get(f"/editions/{second}").text


def test_a_stranger_sees_no_edition(stranger: TestClient, sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine)
    for path in ("/", "/editions/1", "/editions/new", "/editions/1/story", "/works/1"):
        assert stranger.get(path).headers["location"].startswith("/sign-in?next="), path
    assert stranger.get("/api/editions/1").status_code == 401


def test_what_is_not_there_is_said_so(maker: TestClient, program: TestClient, sqlite_engine: Engine) -> None:
    cast.opened(sqlite_engine)
    assert maker.get("/editions/7").status_code == 404
    assert maker.get("/editions/seven").status_code == 404
    assert program.get("/api/editions/7").status_code == 404
    assert program.get("/api/editions/7/margin").status_code == 404


def test_the_api_gives_classes_standings_and_the_next_price(
    program: TestClient, sqlite_engine: Engine, selling: trade.Ways
) -> None:
    said = program.get("/api/editions/1").json()
    assert said["classes"][0] == {
        "class": "numbered", "label": "the edition", "style": "of_count", "count": 25,
        "standings": {"free": 16, "in hand": 2, "out": 2, "passed on": 5}, "next_free": [10, 11, 12, 13, 14],
    }  # fmt: skip
    assert [each["class"] for each in said["classes"]] == ["numbered", "AP", "BAT"]
    assert said["sold"] == 4 and said["next_price"] == {"amount": "65.00", "currency": "GBP"}
    assert said["sizes"][0]["image"] == {"width_mm": 127, "height_mm": 127} and said["sizes"][0]["sheet"] is None


def test_the_api_margin_adds_up_with_and_without_own_labour(
    program: TestClient, sqlite_engine: Engine, selling: trade.Ways
) -> None:
    said = program.get("/api/editions/1/margin").json()
    for worth in (said, said["without_own_labour"]):

        def pence(name: str, of: dict[str, Any] = worth) -> int:
            return int(of[name]["amount"].replace(".", ""))

        assert pence("takings") - pence("tax") - pence("selling") - pence("making_sold") == pence("contribution")
        assert pence("contribution") - pence("gone") - pence("occasions") == pence("left")
        assert sum(pence("takings", row) for row in worth["channels"]) == pence("takings")
    assert said["making_sold"] == {"amount": "24.00", "currency": "GBP"}
    assert said["without_own_labour"]["making_sold"] == {"amount": "16.00", "currency": "GBP"}
    assert said["paid_back_at"] is not None or said["to_go"]["amount"] != "0.00"


def body(**changes: Any) -> dict[str, Any]:
    price = {"amount": "65.00", "currency": "GBP"}
    facts: dict[str, Any] = {
        "work_id": 1, "kind": "limited", "count": 40, "later_editions": "ruled_out", "statement": "One of forty.",
        "sizes": [{"image": {"width_mm": 150, "height_mm": 150}, "offer": {
            "process": "Pigment print", "paper": "Cotton rag", "prices": [{"from_sold": 1, "price": price}],
        }}],
    }  # fmt: skip
    return facts | changes


def test_the_api_declares_an_edition_already_under_way(program: TestClient, sqlite_engine: Engine) -> None:
    cast.opened(sqlite_engine)
    begun = {"words": "about 2011", "statement": "One of forty.", "ranges": [
        {"from": 1, "to": 11, "as": "sold"}, {"from": 12, "as": "missing"}, {"from": 26, "to": 40, "as": "in_hand"},
    ]}  # fmt: skip
    declared = program.post("/api/editions", json=body(begun=begun, statement=""), headers={"Idempotency-Key": "k1"})
    assert declared.status_code == 201
    assert declared.json()["sold"] == 11 and declared.json()["begun"] == "about 2011"
    assert declared.json()["classes"][0]["next_free"] == [13, 14, 15, 16, 17]
    again = program.post("/api/editions", json=body(begun=begun, statement=""), headers={"Idempotency-Key": "k1"})
    assert again.status_code == 200 and again.headers["Idempotency-Replayed"] == "true"


@pytest.mark.parametrize(("changes", "status", "field"), [
    ({"count": 0}, 409, "count"),
    ({"colour": "blue"}, 422, "colour"),
    ({"statement": ""}, 409, "statement"),
    ({"later_editions": "perhaps"}, 422, "later_editions"),
    ({"work_id": 99}, 404, None),
    ({"outside": [{"class": "AP", "count": 0}]}, 409, "outside.0.count"),
    ({"begun": {"words": "2011", "ranges": [{"from": 41, "as": "sold"}]}}, 409, "begun.ranges.0.from"),
    ({"begun": {"words": "2011", "ranges": [{"class": "AP", "from": 1, "as": "sold"}]}}, 409, "begun.ranges.0.class"),
    ({"begun": {"words": "2011", "statement": "Another.", "ranges": []}}, 422, "begun.statement"),
    ({"answers": {"weather": {"answer": "value", "text": "Rain."}}}, 409, "answers.weather"),
    ({"sizes": [{"image": {"width_mm": 0.5, "height_mm": 10}, "offer": body()["sizes"][0]["offer"]}]}, 409,
     "sizes.0.image.width_mm"),
])  # fmt: skip
def test_the_api_names_the_field_a_rule_is_about(
    program: TestClient, sqlite_engine: Engine, changes: dict[str, Any], status: int, field: str | None
) -> None:
    cast.opened(sqlite_engine)
    answer = program.post("/api/editions", json=body(**changes))
    assert answer.status_code == status, answer.text
    assert [each["field"] for each in answer.json()["errors"]] == ([field] if field else [])
    assert program.get("/api/editions").json() == {"items": [], "next": None}


def test_the_api_lists_page_by_page(program: TestClient, sqlite_engine: Engine) -> None:
    cast.opened(sqlite_engine)
    for _ in range(3):
        program.post("/api/editions", json=body())
    first = program.get("/api/editions?limit=2").json()
    assert [each["ordinal"] for each in first["items"]] == [1, 2] and first["next"] == 2
    rest = program.get(f"/api/editions?limit=2&after={first['next']}").json()
    assert [each["ordinal"] for each in rest["items"]] == [3] and rest["next"] is None


def test_page_and_program_close_and_withdraw_alike(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    cast.opened(sqlite_engine)
    for _ in range(4):
        cast.declared(sqlite_engine, cast.promise(outside=()))
    for number in (1, 2):
        cast.made(sqlite_engine, 1, 2, edition=number)
    form = {"numbers": "3-25", "why": "No more paper.", "typed_title": cast.TITLE, "step": "close"}
    assert maker.post("/editions/1/close", data=form).status_code == 303
    closed = program.post("/api/editions/2/close", json={"numbers": "3-25", "why": "No more paper."})
    assert closed.status_code == 201 and closed.json()["closed_on"]
    assert maker.post("/editions/3/withdraw", data={"why": "Wrong.", "typed_title": cast.TITLE}).status_code == 303
    assert program.post("/api/editions/4/withdraw", json={"why": "Wrong."}).json()["withdrawn_on"]
    said = [program.get(f"/api/editions/{number}").json() for number in (1, 2, 3, 4)]
    assert said[0]["classes"][0]["standings"] == said[1]["classes"][0]["standings"] == {"in hand": 2, "withdrawn": 23}
    assert program.post("/api/editions/2/close", json={"why": "Again."}).status_code == 409
    assert [each["id"] for each in program.get("/api/editions").json()["items"]] == [1, 2]


def test_an_answer_of_the_page_is_an_answer_of_the_record(maker: TestClient, sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine)
    form = {"answers.master.answer": "value", "answers.master.text": "Cancelled."}
    sent = maker.post("/editions/1/answers", data=form)
    assert sent.status_code == 303
    with cast.acting(sqlite_engine) as book, cast.refused("answered so already"):
        editions.answer(book, 1, "master", AnswerDraft(answer="value", text="Cancelled."))


def test_the_paper_book_says_when_a_proof_was_signed(maker: TestClient, sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine)
    proof = cast.seen(sqlite_engine, 1, kind="AP").id
    with cast.acting(sqlite_engine) as book:
        numbers.inscribe(book, proof, numbers.InscribeDraft())
    page = pypdf.PdfReader(io.BytesIO(maker.get("/editions/1/book.pdf").content)).pages[0].extract_text()
    assert "AP I/III" in page and page.count("signed 04.05.2026") == 1
