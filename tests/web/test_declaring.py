"""Declaring on the page: the form that keeps everything, the promise read back, and only then the edition."""

import io
import re
from html import unescape
from typing import Any

import pytest
from PIL import Image
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import editions, pieces, works
from ledger.database import reading
from ledger.tables import Edition
from tests import cast
from tests.cast import MAKER

TITLE = "Low Water, No Witness"
STATEMENT = "One of twenty-five. I will make no more of this picture."


@pytest.fixture(autouse=True)
def open_book(sqlite_engine: Engine) -> None:
    cast.opened(sqlite_engine)


def typed(**changes: str) -> dict[str, str]:
    """The form of twenty-five filled in by hand; a change to '' leaves a line empty."""
    form = {
        "idempotency_key": "declare-1", "work_id": "", "work.title": TITLE, "work.artist": MAKER,
        "work.year_made": "2025", "work.medium": "Photograph", "kind": "limited", "count": "25", "style": "",
        "outside.0.class": "AP", "outside.0.count": "3", "outside.0.label": "", "outside.0.style": "",
        "outside.1.class": "BAT", "outside.1.count": "1", "outside.2.class": "", "outside.2.count": "",
        "later_editions": "ruled_out", "statement": STATEMENT,
        "sizes.0.label": "", "sizes.0.image.width_mm": "127", "sizes.0.image.height_mm": "127",
        "sizes.0.sheet.width_mm": "180", "sizes.0.sheet.height_mm": "200",
        "sizes.0.offer.process": "Pigment print", "sizes.0.offer.paper": "Cotton rag, 308 gsm",
        "sizes.0.offer.prices.0.price": "65.00", "sizes.0.offer.prices.1.price": "75.00",
        "sizes.0.offer.prices.1.from_sold": "11",
        "answers.signature.answer": "value", "answers.signature.text": "Signed in pencil by the artist.",
        "answers.marks.text": "Blind stamp, lower right.", "answers.unnumbered.answer": "not_known",
    }  # fmt: skip
    named = {name.replace("__", "."): value for name, value in changes.items()}
    return form | named


def send(maker: TestClient, step: str, **changes: Any) -> Any:
    files = changes.pop("files", None)
    return maker.post("/editions/new", data=typed(**changes) | {"step": step}, files=files)


def value_of(page: str, name: str) -> str:
    """What stands in a field of a page."""
    field = re.search(rf'<(?:input|textarea)[^>]* name="{re.escape(name)}"[^>]*?(?: value="([^"]*)"[^>]*|)>', page)
    assert field, name
    return unescape(field[1] or "")


def every_edition(engine: Engine) -> list[Edition]:
    with reading(engine) as session:
        return editions.listing(session)


def a_picture(width: int = 1200, height: int = 900, artist: str = "", title: str = "") -> bytes:
    exif = Image.Exif()
    if artist:
        exif[0x013B] = artist
        exif[0x010E] = title
        exif[0x8298] = "Copyright 2025 O. Marrack-Voe"
        exif.get_ifd(0x8769)[0x9003] = "2025:03:09 07:12:00"
    held = io.BytesIO()
    Image.new("RGB", (width, height), (90, 90, 90)).save(held, "JPEG", exif=exif)
    return held.getvalue()


def test_the_promise_is_read_back_in_words_before_it_is_declared(maker: TestClient, sqlite_engine: Engine) -> None:
    page = send(maker, "read_back")
    assert page.status_code == 200
    text = unescape(re.sub(r"<[^>]+>", "", page.text))
    assert f"You promise twenty-five prints of {TITLE}, and never a twenty-sixth, in any size or process." in text
    assert "Three artist’s proofs and one bon à tirer stand outside the count: twenty-nine in all." in text
    assert STATEMENT in text and "127 × 127 mm on a sheet of 180 × 200 mm" in text
    assert "25 numbers, 1/25 to 25/25" in text and "AP I/III to AP III/III" in text
    assert "The price of prints not yet sold, 127 × 127 mm: £65.00, £75.00 from the 11th" in text
    assert "Seven questions are still open, and no certificate is issued before: Who printed it" in text
    assert every_edition(sqlite_engine) == []
    with reading(sqlite_engine) as session:
        assert [work.title for work in works.listing(session)] == [cast.TITLE]


def test_typing_the_title_declares_the_edition(maker: TestClient, sqlite_engine: Engine) -> None:
    page = send(maker, "read_back")
    hidden = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page.text))
    hidden = {name: unescape(value) for name, value in hidden.items()}
    sent = maker.post("/editions/new", data=hidden | {"typed_title": "low water no witness", "step": "declare"})
    assert sent.status_code == 303 and sent.headers["location"] == "/editions/1"
    with reading(sqlite_engine) as session:
        facts = editions.facts(session, 1, cast.MAY_4)
        given = editions.answers(session, 1)
    assert (facts.work.title, facts.numbered.count, facts.total) == (TITLE, 25, 29)
    assert facts.sizes[0].offer.steps == ((1, 6500), (11, 7500))
    assert (given["signature"].text, given["marks"].answer, given["unnumbered"].answer) == (
        "Signed in pencil by the artist.", "value", "not_known",
    )  # fmt: skip
    again = maker.post("/editions/new", data=hidden | {"typed_title": "low water no witness", "step": "declare"})
    assert again.headers["location"] == "/editions/1" and len(every_edition(sqlite_engine)) == 1


def test_another_title_typed_declares_nothing_and_keeps_the_page(maker: TestClient, sqlite_engine: Engine) -> None:
    page = send(maker, "declare", typed_title="High Water")
    assert page.status_code == 409 and f"Type “{TITLE}”" in unescape(page.text)
    assert value_of(page.text, "typed_title") == "High Water" and value_of(page.text, "count") == "25"
    assert every_edition(sqlite_engine) == []


def test_a_refused_form_keeps_everything_and_names_each_thing(maker: TestClient, sqlite_engine: Engine) -> None:
    page = send(
        maker, "read_back", count="25a", later_editions="", sizes__0__image__width_mm="", statement="Kept, every word."
    )
    text = unescape(page.text)
    assert page.status_code == 422
    assert "Not declared. Three things to put right; all you typed is still here." in text
    assert "How many: “25a” is not a whole number. Write 25." in text
    assert "Choose one. It cannot be left open." in text and "#f-sizes.0.image.width_mm" in text
    assert value_of(text, "count") == "25a" and value_of(text, "work.title") == TITLE
    assert value_of(text, "outside.1.count") == "1" and "Kept, every word." in text
    assert every_edition(sqlite_engine) == []


def test_what_the_rules_refuse_stands_beside_its_field(maker: TestClient) -> None:
    for changes, field, words in (
        ({"count": "0"}, "count", "from 1 to 9,999 numbers"),
        ({"count": "-3"}, "count", "from 1 to 9,999 numbers"),
        ({"count": "1000000"}, "count", "from 1 to 9,999 numbers"),
        ({"outside__0__count": "-3"}, "outside.0.count", "Write how many artist’s proofs there will be"),
        ({"outside__1__count": "2"}, "outside.1.count", "only one bon à tirer"),
        ({"sizes__0__sheet__width_mm": "100"}, "sizes.0.sheet.width_mm", "smaller than the image"),
        ({"sizes__0__offer__prices__1__from_sold": "1"}, "sizes.0.offer.prices.1.from_sold", "Put the steps in order"),
        ({"sizes__0__offer__prices__0__price": "6,5"}, "sizes.0.offer.prices.0.price", "has a comma"),
        ({"work__year_made": "1702"}, "work.year_made", "is not a year between"),
        ({"answers__signature__text": ""}, "answers.signature.text", "The answer is empty"),
        ({"begun__words": "last spring"}, "begun.words", "is not a date"),
    ):  # fmt: skip
        page = send(maker, "read_back", **changes)
        text = unescape(page.text)
        assert page.status_code in (409, 422), changes
        assert words in text and f'id="f-{field}-message"' in text, changes


def test_another_size_and_another_step_are_buttons_that_give_one_more(maker: TestClient) -> None:
    page = send(maker, "another:sizes")
    assert 'name="sizes.1.image.width_mm"' in page.text and "Each size its own count" in page.text
    assert value_of(page.text, "sizes.0.offer.paper") == "Cotton rag, 308 gsm"
    page = send(maker, "another:sizes.0.offer.prices")
    assert 'name="sizes.0.offer.prices.2.price"' in page.text and "sizes.1" not in page.text
    assert 'name="outside.3.class"' in send(maker, "another:outside").text
    assert 'name="begun.ranges.0.from"' in send(maker, "another:begun.ranges").text


TWO_SIZES = {
    "sizes__0__label": "Small", "sizes__1__label": "Large", "sizes__1__image__width_mm": "240",
    "sizes__1__image__height_mm": "240", "sizes__1__offer__process": "Pigment print",
    "sizes__1__offer__paper": "Cotton rag, 308 gsm", "sizes__1__offer__prices__0__price": "190",
}  # fmt: skip


def test_several_sizes_share_one_count(maker: TestClient, sqlite_engine: Engine) -> None:
    assert send(maker, "declare", typed_title=TITLE, **TWO_SIZES).status_code == 303
    with reading(sqlite_engine) as session:
        facts = editions.facts(session, 1, cast.MAY_4)
    assert [size.label for size in facts.sizes] == ["Small", "Large"] and facts.numbered.count == 25


def test_each_size_with_its_own_count_is_an_edition_of_its_own(maker: TestClient, sqlite_engine: Engine) -> None:
    own = {**TWO_SIZES, "each_counted": "yes", "sizes__0__count": "25", "sizes__1__count": "10"}
    text = unescape(send(maker, "read_back", **own).text)
    assert "And another edition of it: ten, and never one more." in text
    done = send(maker, "declare", typed_title=TITLE, **own)
    assert done.status_code == 303 and done.headers["location"] == "/"
    with reading(sqlite_engine) as session:
        counts = [editions.facts(session, number, cast.MAY_4).numbered.count for number in (1, 2)]
    assert counts == [25, 10]
    wrong = send(maker, "read_back", **{**own, "sizes__1__sheet__width_mm": "10", "sizes__1__sheet__height_mm": "10"})
    assert 'id="f-sizes.1.sheet.width_mm-message"' in wrong.text


def test_past_thirty_prints_the_page_names_the_tax_rule_and_refuses_nothing(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    # The cap and its counting: Directive 2006/112/EC, Annex IX, Part A, point 7.
    assert "2006/112/EC" not in send(maker, "read_back", count="26").text  # 26 + 3 + 1 = 30
    text = unescape(send(maker, "read_back", count="27").text)
    assert "31 prints of this picture may exist, over all editions and sizes, proofs included" in text
    assert "Directive 2006/112/EC, Annex IX Part A point 7" in text and "limited to 30 copies" in text
    assert "ask an accountant" in text
    assert send(maker, "declare", count="27", typed_title=TITLE).status_code == 303


BEGUN = {
    "count": "40", "outside__0__count": "", "outside__0__class": "", "outside__1__count": "", "outside__1__class": "",
    "begun__words": "about 2011", "work__year_made": "2010", "statement": "", "begun__statement": "One of forty.",
    "begun__ranges__0__from": "1", "begun__ranges__0__to": "11", "begun__ranges__0__as": "sold",
    "begun__ranges__1__from": "12", "begun__ranges__1__to": "", "begun__ranges__1__as": "missing",
    "begun__ranges__2__from": "26", "begun__ranges__2__to": "40", "begun__ranges__2__as": "in_hand",
}  # fmt: skip


def test_numbers_in_no_range_are_named_before_declaring(maker: TestClient, sqlite_engine: Engine) -> None:
    text = unescape(send(maker, "read_back", **BEGUN).text)
    assert "In no line, and so free to be made: 13 to 25." in text and "about 2011" in text
    assert "Entered as in hand before this book: 26 to 40" in text
    assert send(maker, "declare", typed_title=TITLE, **BEGUN).status_code == 303
    with reading(sqlite_engine) as session:
        main = pieces.find_class(session, 1, "numbered")
        assert pieces.standings(session, main.id or 0) == {"free": 13, "in hand": 15, "passed on": 11, "missing": 1}
        assert editions.get(session, 1).statement == "One of forty."


def test_a_range_named_twice_is_refused_on_its_own_line(maker: TestClient) -> None:
    page = send(maker, "read_back", **{**BEGUN, "begun__ranges__1__from": "11"})
    assert 'id="f-begun.ranges.1.from-message"' in page.text and "11 stands in two lines" in page.text


def test_a_picture_sent_first_fills_in_what_it_says_of_itself(maker: TestClient) -> None:
    blank = {"work__title": "", "work__year_made": "", "sizes__0__image__width_mm": "127"}
    picture = a_picture(artist="O. Marrack-Voe", title="Low Water")
    page = send(maker, "read_picture", files={"picture": ("low.jpg", picture)}, **blank)
    text = unescape(page.text)
    assert value_of(text, "work.title") == "Low Water" and value_of(text, "work.year_made") == "2025"
    assert value_of(text, "work.artist") == "O. Marrack-Voe"
    assert "1,200 × 900 pixels. The file says: Copyright 2025 O. Marrack-Voe" in text
    # 900 pixels over 127 mm: 900 x 25.4 / 127 = 180 to the inch.
    assert "180 pixels an inch at this size: soft when seen close. 300 is usual." in text
    shown = re.search(r'src="(/pictures/[0-9a-f]{64}\.jpg)"', text)
    assert shown and maker.get(shown[1]).headers["content-type"] == "image/jpeg"


def test_the_picture_travels_with_the_form_and_is_kept_when_it_is_declared(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    refused = send(maker, "read_back", count="x", files={"picture": ("low.jpg", a_picture())})
    ref = value_of(refused.text, "picture_ref")
    assert ref
    back = send(maker, "read_back", picture_ref=ref)
    assert value_of(back.text, "picture_ref") == ref
    assert send(maker, "declare", picture_ref=ref, typed_title=TITLE).status_code == 303
    with reading(sqlite_engine) as session:
        kept = works.picture_of(session, 2)
    assert kept is not None and kept.sha256 == ref[:64] and (kept.width_px, kept.height_px) == (1200, 900)


@pytest.mark.parametrize("ref", ["nonsense", f"{'a' * 64}.jpg {'b' * 64} 10x10"])
def test_a_picture_the_form_only_claims_is_asked_for_again(maker: TestClient, sqlite_engine: Engine, ref: str) -> None:
    page = send(maker, "declare", picture_ref=ref, typed_title=TITLE)
    assert page.status_code == 409 and "The picture is not here any more. Choose it again." in page.text
    assert every_edition(sqlite_engine) == []


def test_what_is_no_picture_is_refused_with_everything_kept(maker: TestClient) -> None:
    page = send(maker, "read_picture", files={"picture": ("notes.txt", b"Low water at six.")})
    assert page.status_code == 409 and "This is a text file" in page.text
    assert value_of(page.text, "work.title") == TITLE


def test_a_work_in_the_book_is_chosen_for_a_second_edition(maker: TestClient, sqlite_engine: Engine) -> None:
    page = maker.get("/editions/new?work_id=1")
    assert f'<option value="1" selected>{cast.TITLE}' in page.text
    text = unescape(send(maker, "read_back", work_id="1", work__title="").text)
    assert f"You promise twenty-five prints of {cast.TITLE}" in re.sub(r"<[^>]+>", "", text)
    assert send(maker, "declare", work_id="1", work__title="", typed_title=cast.TITLE).status_code == 303
    assert [each.work_id for each in every_edition(sqlite_engine)] == [1]


def test_a_second_edition_of_the_day_is_told_what_the_first_promised(maker: TestClient, sqlite_engine: Engine) -> None:
    words = "Edition 1 of this picture was declared today too, and promises that no other follows"
    assert words not in unescape(send(maker, "read_back", work_id="1", work__title="").text)
    assert send(maker, "declare", work_id="1", work__title="", typed_title=cast.TITLE).status_code == 303
    again = {"work_id": "1", "work__title": "", "idempotency_key": "declare-2"}
    page = send(maker, "read_back", **again)
    assert page.status_code == 200 and words in unescape(page.text)
    assert send(maker, "declare", typed_title=cast.TITLE, **again).status_code == 303
    assert len(every_edition(sqlite_engine)) == 2


def test_editions_declared_together_do_not_warn_of_each_other(maker: TestClient) -> None:
    page = send(
        maker, "read_back", each_counted="yes", sizes__1__image__width_mm="200", sizes__1__image__height_mm="200",
        sizes__1__offer__process="Pigment print", sizes__1__offer__paper="Cotton rag",
        sizes__1__offer__prices__0__price="95.00", sizes__1__count="12",
    )  # fmt: skip
    assert page.status_code == 200 and "And another edition of it" in page.text
    assert "was declared today too" not in page.text


def test_going_back_loses_nothing(maker: TestClient) -> None:
    page = send(maker, "back", typed_title="Low")
    assert page.status_code == 200 and value_of(page.text, "sizes.0.offer.prices.1.from_sold") == "11"
    assert 'name="later_editions" value="ruled_out" checked' in page.text


def test_the_form_proposes_what_is_known(maker: TestClient) -> None:
    page = maker.get("/editions/new").text
    assert value_of(page, "work.artist") == MAKER
    assert value_of(page, "answers.signature.text") == "Signed by the artist’s own hand, in pencil."
    assert value_of(page, "answers.marks.text") == ""


def test_an_open_edition_says_that_it_is_not_limited(maker: TestClient, sqlite_engine: Engine) -> None:
    changes = {"kind": "open", "count": "", "outside__0__class": "", "outside__0__count": "",
               "outside__1__class": "", "outside__1__count": ""}  # fmt: skip
    assert "Not a limited edition" in send(maker, "read_back", **changes).text
    assert send(maker, "declare", typed_title=TITLE, **changes).status_code == 303
    assert [each.kind for each in every_edition(sqlite_engine)] == ["open"]


@pytest.mark.parametrize("name", ["statement", "work.title", "work.artist", "sizes.0.offer.paper"])
def test_words_no_certificate_could_print_are_told_before_the_promise_is_read_back(
    maker: TestClient, sqlite_engine: Engine, name: str
) -> None:
    page = send(maker, "read_back", **{name.replace(".", "__"): "One of twelve. 十二枚"})
    slope = " in italic" if name in ("statement", "work.title") else ""
    assert page.status_code == 409 and f"#f-{name}" in page.text
    assert f"has “十” (U+5341), which the typeface of the printed papers does not have{slope}. Write" in page.text
    assert value_of(page.text, name) == "One of twelve. 十二枚" or "One of twelve. 十二枚</textarea>" in page.text
    assert every_edition(sqlite_engine) == []


def test_a_program_is_told_of_words_no_certificate_could_print(program: TestClient, sqlite_engine: Engine) -> None:
    work = program.post("/api/works", json={
        "title": "道の四十分", "artist": MAKER, "year_made": 2025, "medium": "Photograph",
    })  # fmt: skip
    edition = {
        "kind": "limited", "count": 25, "later_editions": "ruled_out",
        "sizes": [{"image": {"width_mm": 127, "height_mm": 127}, "offer": {
            "process": "Pigment print", "paper": "Rag",
            "prices": [{"from_sold": 1, "price": {"amount": "65.00", "currency": "GBP"}}],
        }}],
    }  # fmt: skip
    for changes, field in (
        ({"work_id": 1, "statement": "十二枚"}, "statement"),
        ({"work_id": work.json()["id"], "statement": STATEMENT}, "work_id"),
    ):
        told = program.post("/api/editions", json=edition | changes)
        assert told.status_code == 409 and [each["field"] for each in told.json()["errors"]] == [field]
    assert every_edition(sqlite_engine) == []


def test_page_and_program_declare_the_same_edition(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    assert send(maker, "declare", typed_title=TITLE).status_code == 303
    work = program.post("/api/works", json={
        "title": TITLE, "artist": MAKER, "year_made": 2025, "medium": "Photograph",
    })  # fmt: skip
    assert work.status_code == 201
    pounds = {"currency": "GBP"}
    declared = program.post("/api/editions", json={
        "work_id": work.json()["id"], "kind": "limited", "count": 25,
        "outside": [{"class": "AP", "count": 3}, {"class": "BAT", "count": 1}],
        "sizes": [{
            "label": "", "image": {"width_mm": 127, "height_mm": 127}, "sheet": {"width_mm": 180, "height_mm": 200},
            "offer": {"process": "Pigment print", "paper": "Cotton rag, 308 gsm", "prices": [
                {"from_sold": 1, "price": {"amount": "65.00", **pounds}},
                {"from_sold": 11, "price": {"amount": "75.00", **pounds}},
            ]},
        }],
        "statement": STATEMENT, "later_editions": "ruled_out",
        "answers": {"signature": {"answer": "value", "text": "Signed in pencil by the artist."},
                    "marks": {"answer": "value", "text": "Blind stamp, lower right."},
                    "unnumbered": {"answer": "not_known"}},
    })  # fmt: skip
    assert declared.status_code == 201 and declared.headers["location"] == "/api/editions/2"
    one, other = (program.get(f"/api/editions/{number}").json() for number in (1, 2))
    for each in (one, other):
        for name in ("id", "work_id"):
            each.pop(name)
        for size in each["sizes"]:
            size.pop("id")
    assert one == other


def test_an_empty_form_names_every_line_it_needs_in_the_order_of_the_page(maker: TestClient) -> None:
    empty = {"idempotency_key": "empty", "step": "read_back", "kind": "limited"}
    page = maker.post("/editions/new", data=empty).text
    assert re.findall(r'<li><a href="#f-([^"]+)">', page) == [
        "work.title", "work.artist", "work.year_made", "work.medium", "count", "later_editions", "statement",
        "sizes.0.image.width_mm", "sizes.0.image.height_mm", "sizes.0.offer.process", "sizes.0.offer.paper",
        "sizes.0.offer.prices.0.price",
    ]  # fmt: skip
    assert "Twelve things to put right" in page
    one = send(maker, "read_back", count="", statement="").text
    assert re.findall(r'<li><a href="#f-([^"]+)">', one) == ["count", "statement"]
    assert 'href="#f-count"' not in maker.post("/editions/new", data=empty | {"kind": "open"}).text
