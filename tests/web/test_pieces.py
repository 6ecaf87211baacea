"""One print through both doors: its page, its acts, its certificate, and a batch of numbers."""

import re
from datetime import date
from io import BytesIO
from typing import Any

import pypdf
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import conditions, editions, keys, numbers, runs, spares
from ledger.conditions import ReplaceDraft
from ledger.database import reading
from ledger.promises import AnswerDraft, ClassDraft
from ledger.sale_drafts import BuyerDraft
from ledger.web.piece_acts import ACTS
from tests.cast import BUYER, MAY_4, acting, answered, certified, made, road, seen
from tests.trade import assigned, sell, to, ways

JUNE = date(2026, 6, 2)


def allocated(engine: Engine, how_many: int = 1) -> list[int]:
    with acting(engine) as book:
        return [piece.id or 0 for piece in numbers.allocate(book, 1, how_many=how_many)]


def key_of(page: str) -> str:
    found = re.search(r'name="idempotency_key" value="([^"]+)"', page)
    assert found is not None
    return found[1]


def test_numbers_are_given_and_a_refusal_names_the_next_free_ones(program: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    given = program.post("/api/editions/1/numbers", json={"how_many": 2})
    assert given.status_code == 201
    assert [piece["shown"] for piece in given.json()["pieces"]] == ["1/25", "2/25"]
    taken = program.post("/api/editions/1/numbers", json={"numbers": [2], "reason": "asked for"})
    assert taken.status_code == 409
    assert taken.json()["errors"][0]["field"] == "numbers"
    assert "Free next: 3, 4, 5." in taken.json()["detail"]
    beyond = program.post("/api/editions/1/numbers", json={"numbers": [26], "reason": "asked for"})
    assert "this edition is 25 and stays 25" in beyond.json()["detail"]
    proof = program.post("/api/editions/1/numbers", json={"class": "AP"}).json()["pieces"][0]
    assert proof["shown"] == "AP I/III"


def test_the_same_key_gives_the_same_numbers_and_no_more(program: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    headers = {"Idempotency-Key": "a-batch"}
    first = program.post("/api/editions/1/numbers", json={"how_many": 3}, headers=headers)
    again = program.post("/api/editions/1/numbers", json={"how_many": 3}, headers=headers)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.headers["idempotency-replayed"] == "true"
    assert again.json() == first.json()
    assert seen(sqlite_engine, 4).state == "free"
    other = program.post("/api/editions/1/numbers", json={"how_many": 4}, headers=headers)
    assert other.status_code == 422


def test_a_print_is_signed_certified_and_its_paper_kept(program: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    piece = allocated(sqlite_engine)[0]
    early = program.post(f"/api/pieces/{piece}/certificate", json={})
    assert early.status_code == 409
    assert "not yet inscribed" in early.json()["detail"]
    signed = program.post(f"/api/pieces/{piece}/inscribe", json={"inscription": "1/25"})
    assert (signed.status_code, signed.json()["state"], signed.json()["standing"]) == (201, "inscribed", "in hand")
    issued = program.post(f"/api/pieces/{piece}/certificate", json={})
    assert issued.status_code == 201
    code = issued.json()["code"]
    assert issued.json()["url"] == f"HTTPS://PRINTS.EXAMPLE.ORG/C/{code}"
    first, again = (program.get(f"/api/certificates/{code}.pdf").content for _ in range(2))
    assert first == again
    assert "1/25" in pypdf.PdfReader(BytesIO(first)).pages[0].extract_text()
    assert program.get(f"/api/certificates/{code}").json()["state"] == "valid"
    second = program.post(f"/api/pieces/{piece}/certificate", json={})
    assert "has a certificate already" in second.json()["detail"]


def test_an_unanswered_question_opens_the_form_at_that_item(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine, answers={item: answer for item, answer in answered().items() if item != "master"})
    piece = made(sqlite_engine, 1)[0]
    page = maker.get(f"/certificates/new?piece={piece}").text
    sent = maker.post("/certificates/new?edition=1", data={"piece": str(piece), "idempotency_key": key_of(page)})
    assert sent.status_code == 303
    where, _, item = sent.headers["location"].partition("#")
    form = maker.get(where).text
    assert f'id="{item}"' in form
    with acting(sqlite_engine) as book:
        editions.answer(book, 1, "master", AnswerDraft(answer="not_known"))
    assert maker.post("/certificates/new?edition=1", data={"piece": str(piece)}).status_code == 303
    with reading(sqlite_engine) as session:
        assert editions.answers(session, 1)["master"].answer == "not_known"


def test_a_batch_is_signed_one_tap_each_and_certified_together(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    assert maker.post("/editions/1/numbers", data={"step": "assign", "how_many": "3"}).status_code == 303
    page = maker.get("/editions/1/numbers").text
    taps = re.findall(r'name="piece" value="(\d+)"', page)
    assert len(taps) == 3
    none = maker.post("/editions/1/numbers", data={"step": "sign"})
    assert none.status_code == 409
    assert "No print is tapped" in none.text
    signed = maker.post("/editions/1/numbers", data={"step": "sign", "piece": taps[:2], "pencil": "pencil"})
    assert signed.status_code == 303
    assert [seen(sqlite_engine, n).state for n in (1, 2, 3)] == ["inscribed", "inscribed", "allocated"]
    issued = maker.post("/certificates/new?edition=1", data={"piece": taps[:2]})
    assert "2 certificates issued" in maker.get(issued.headers["location"]).text
    batch = maker.get(issued.headers["location"].replace("printed", "batch.pdf"))
    assert len(pypdf.PdfReader(BytesIO(batch.content)).pages) == 4  # two faces, two second sides


@pytest.mark.parametrize("act", [act.slug for act in ACTS])
def test_every_act_has_a_form_and_is_refused_in_a_sentence_where_it_is_not_open(
    maker: TestClient, program: TestClient, sqlite_engine: Engine, act: str
) -> None:
    """A number never signed: only signing, and never making it, are open to it."""
    road(sqlite_engine)
    piece = seen(sqlite_engine, 9).id
    assert maker.get(f"/pieces/{piece}/{act}").status_code == 200
    needed: dict[str, Any] = {
        "move": {"place": "van"}, "give": {"how": "gift"}, "pass": {"how": "sale"}, "withdraw": {"why": "spare"},
    }.get(act, {"said": "the framer"} if act in ("damage", "missing", "found", "destroy") else {})  # fmt: skip
    answer = program.post(f"/api/pieces/{piece}/{act}", json=needed)
    if act in ("inscribe", "withdraw"):
        assert answer.status_code == 201
        return
    assert answer.status_code == 409
    assert answer.json()["detail"].endswith(".")
    page = maker.post(f"/pieces/{piece}/{act}", data=needed)
    assert page.status_code == 409
    assert "all you typed is still here" in page.text
    assert answer.json()["detail"].replace("'", "&#39;") in page.text
    assert seen(sqlite_engine, 9).state == "free"


def test_a_refused_act_keeps_what_was_typed(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    piece = made(sqlite_engine, 1)[0]
    refused = maker.post(f"/pieces/{piece}/damage", data={"said": "<b>torn</b>", "on": "2199-01-01"})
    assert refused.status_code == 409
    assert "still to come" in refused.text
    assert "&lt;b&gt;torn&lt;/b&gt;" in refused.text


def test_a_second_print_waits_in_the_studio_until_it_is_handed_to_its_owner(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    road(sqlite_engine)
    first = made(sqlite_engine, 7)[0]
    sell(sqlite_engine, ways(sqlite_engine).fair, first, buyer=BuyerDraft(shown="named", name=BUYER))
    with acting(sqlite_engine) as book:
        conditions.destroy(book, first, "burnt")
        second = conditions.replace(book, first, ReplaceDraft()).id
    page = maker.get(f"/pieces/{second}").text
    assert "In the studio, since 4 May 2026, not handed to its owner yet." in page
    assert "Who owns it" in page and BUYER in page and "Nothing is written down yet." in page
    assert maker.post(f"/pieces/{second}/hand_over", data={"on": "2026-05-06"}).status_code == 303
    page = maker.get(f"/pieces/{second}").text
    assert "With its owner, since 6 May 2026." in page and "not handed" not in page


def test_the_page_of_a_print_says_where_it_is_who_owns_it_and_what_may_happen(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    road(sqlite_engine)
    selling = ways(sqlite_engine)
    piece = made(sqlite_engine, 7)[0]
    page = maker.get(f"/pieces/{piece}").text
    assert "In the studio" in page
    for act in ("move", "give", "damage", "destroy", "spoil"):
        assert f"/pieces/{piece}/{act}" in page
    sell(sqlite_engine, selling.fair, piece, buyer=BuyerDraft(shown="named", name=BUYER))
    page = maker.get(f"/pieces/{piece}").text
    assert BUYER in page
    assert "It cannot be sold again by you: it was sold on 4 May 2026." in page
    assert f"/pieces/{piece}/pass" in page
    assert f"/pieces/{piece}/spoil" not in page


def test_a_second_print_leads_to_its_own_page(program: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    piece = made(sqlite_engine, 7)[0]
    destroyed = program.post(f"/api/pieces/{piece}/destroy", json={"said": "cut up, corner kept"})
    assert destroyed.json()["condition"] == "destroyed"
    second = program.post(f"/api/pieces/{piece}/replace", json={})
    assert (second.status_code, second.json()["generation"], second.json()["shown"]) == (201, 2, "7/25")
    assert second.json()["id"] != piece


def test_where_the_keys_are_locked_the_page_says_so_and_keeps_what_was_ticked(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    road(sqlite_engine)
    (piece,) = made(sqlite_engine, 7)
    keys.hold(sqlite_engine, "The keys are locked.")
    page = maker.post("/certificates/new?edition=1", data={"piece": str(piece)})
    assert (page.status_code, "The keys are locked." in page.text) == (409, True)
    assert re.search(rf'value="{piece}"[^>]* checked', page.text)
    answer = program.post(f"/api/pieces/{piece}/certificate", json={})
    assert (answer.status_code, answer.json()["detail"]) == (409, "The keys are locked.")


def test_a_certificate_is_reissued_and_declared_void_with_reasons(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    piece = made(sqlite_engine, 7)[0]
    maker.post("/certificates/new?edition=1", data={"piece": str(piece)})
    bare = maker.post("/certificates/1/void", data={})
    assert (bare.status_code, "The reason is empty" in bare.text) == (409, True)
    anew = maker.post("/certificates/1/reissue", data={"reason": "the paper was lost"})
    assert anew.headers["location"] == "/certificates/2"
    assert "It was replaced." in maker.get("/certificates/1").text
    empty = maker.post("/certificates/2/void", data={"why": ""})
    assert empty.status_code == 409 and 'href="#f-why">Why it is void: The reason is empty. Write it.' in empty.text
    maker.post("/certificates/2/void", data={"why": "the print was sent back"})
    assert "It is void." in maker.get("/certificates/2").text


def test_labels_are_printed_alone_or_on_any_sheet_from_any_place(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    ids = made(sqlite_engine, 1, 2)
    maker.post("/certificates/new?edition=1", data={"piece": [str(each) for each in ids]})
    alone = maker.post("/certificates/labels", data={"certificate": "1", "on": "single"})
    assert alone.headers["content-type"] == "application/pdf"
    text = pypdf.PdfReader(BytesIO(alone.content)).pages[0].extract_text()
    assert "1/25" in text
    assert "65" not in text
    both = maker.post("/certificates/labels", data={"certificate": ["1", "2"], "on": "single"})
    assert [page.mediabox.width < 200 for page in pypdf.PdfReader(BytesIO(both.content)).pages] == [True, True]
    sheet = {
        "certificate": ["1", "2"],
        "on": "sheet",
        "page_w_mm": "210",
        "page_h_mm": "297",
        "label_w_mm": "70",
        "label_h_mm": "42.3",
        "start": "21",
    }
    assert len(pypdf.PdfReader(BytesIO(maker.post("/certificates/labels", data=sheet).content)).pages) == 2
    refused = maker.post("/certificates/labels", data=sheet | {"start": "99"})
    assert refused.status_code == 422
    assert 'value="42.3"' in refused.text


def test_a_second_print_is_handed_to_its_owner_by_both_doors(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    road(sqlite_engine)
    way = ways(sqlite_engine).studio
    seconds = []
    for piece_id in made(sqlite_engine, 7, 8):
        sell(sqlite_engine, way, piece_id, buyer=to(BUYER))
        with acting(sqlite_engine) as book:
            conditions.destroy(book, piece_id, "burnt, its owner saw it")
            seconds.append(conditions.replace(book, piece_id, ReplaceDraft()).id or 0)
    assert "Hand it to its owner" in maker.get(f"/pieces/{seconds[0]}").text
    assert maker.post(f"/pieces/{seconds[0]}/hand_over", data={"idempotency_key": "h"}).status_code == 303
    assert program.post(f"/api/pieces/{seconds[1]}/hand_over", json={}).status_code == 201
    for number in (7, 8):
        assert (seen(sqlite_engine, number).place, seen(sqlite_engine, number).keeper_name) == ("holder", BUYER)
    page = maker.get(f"/pieces/{seconds[0]}").text
    assert "Hand it to its owner" not in page and "Handed over." in page
    again = program.post(f"/api/pieces/{seconds[1]}/hand_over", json={})
    assert again.status_code == 409 and "8/25 is with its owner already." in again.json()["detail"]


def test_with_nothing_signed_the_next_act_is_the_pencil(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine)
    page = maker.get("/certificates/new?edition=1").text
    assert "No print of this edition is signed yet." in page and 'href="/editions/1/numbers"' in page
    certified(sqlite_engine, made(sqlite_engine, 1)[0])
    assert "Every signed print of this edition has its certificate." in maker.get("/certificates/new?edition=1").text


def test_numbers_assigned_are_signed_from_the_page_of_the_edition(maker: TestClient, sqlite_engine: Engine) -> None:
    road(sqlite_engine, count=1, outside=())
    assert "Sign numbers" not in maker.get("/editions/1").text
    assigned(sqlite_engine, 1)
    page = maker.get("/editions/1").text
    assert 'href="/editions/1/numbers#sign">Sign numbers' in page and "Assign numbers" not in page
    assert "Plan a sheet" in page
    made(sqlite_engine, 1)
    assert "Plan a sheet" not in maker.get("/editions/1").text


def test_while_a_proof_is_free_numbers_are_assigned_and_a_sheet_planned(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    road(sqlite_engine, count=1, outside=(ClassDraft(kind="AP", count=1),))
    made(sqlite_engine, 1)
    page = maker.get("/editions/1").text
    assert 'href="/editions/1/numbers#assign">Assign numbers' in page and "Plan a sheet" in page
    with acting(sqlite_engine) as book:
        numbers.allocate(book, 1, kind="AP", how_many=1)
    page = maker.get("/editions/1").text
    assert "Assign numbers" not in page and "Plan a sheet" in page


def test_the_page_of_a_complete_edition_says_what_is_left_over_of_its_good_prints(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    road(sqlite_engine, count=2, outside=())
    with acting(sqlite_engine) as book:
        runs.record(book, runs.RunDraft(edition_id=1, made_on=MAY_4, sheets=1, good=5))
    assert "3 good prints have no number. None is left for them." in maker.get("/editions/1").text
    made(sqlite_engine, 1, 2)
    page = maker.get("/editions/1").text
    assert '3 good prints have no number. None is left for them. <a href="/editions/1/runs">Printings</a>' in page
    with acting(sqlite_engine) as book:
        spares.settle(book, runs.get(book.session, 1), spares.FateDraft(fate="destroyed", how_many=3))
    assert "have no number" not in maker.get("/editions/1").text


def test_the_page_of_an_edition_says_that_more_prints_are_signed_than_came_back_good(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    road(sqlite_engine)
    made(sqlite_engine, 1)
    assert "signed than came back good" not in maker.get("/editions/1").text  # no printing is written down at all
    with acting(sqlite_engine) as book:
        runs.record(book, runs.RunDraft(edition_id=1, made_on=MAY_4, sheets=1, good=2))
    made(sqlite_engine, 2)
    assert "signed than came back good" not in maker.get("/editions/1").text
    made(sqlite_engine, 3)
    page = maker.get("/editions/1").text
    assert '1 print more is signed than came back good. <a href="/editions/1/runs">Printings</a>' in page
    made(sqlite_engine, 4)
    assert "2 prints more are signed than came back good." in maker.get("/editions/1").text
