"""Works: put right on the page, their pictures kept and shown, and the same through the API."""

import hashlib
import io
import re
from html import unescape
from pathlib import Path

from PIL import Image
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import journal, pictures, works
from ledger.database import reading
from ledger.tables import Picture
from tests import cast

WORK = {"title": "Low Water, No Witness", "artist": cast.MAKER, "year_made": 2025, "medium": "Photograph"}


def a_picture(shade: int = 90, size: tuple[int, int] = (800, 600)) -> bytes:
    held = io.BytesIO()
    Image.new("RGB", size, (shade, shade, shade)).save(held, "JPEG")
    return held.getvalue()


def picture_of(engine: Engine, work_id: int = 1) -> Picture | None:
    with reading(engine) as session:
        return works.picture_of(session, work_id)


def test_a_title_is_put_right_with_the_old_one_kept(maker: TestClient, sqlite_engine: Engine) -> None:
    cast.opened(sqlite_engine)
    form = {"field": "title", "new": "Forty-one Minutes of Road", "why": "Counted again."}
    assert maker.post("/works/1/correct", data=form).headers["location"] == "/works/1"
    page = unescape(maker.get("/works/1").text)
    assert "The title: Forty Minutes of Road, now Forty-one Minutes of Road" in page and "Counted again." in page
    assert "Certificates that are out keep their words" in page


def test_a_refused_correction_keeps_what_was_typed(maker: TestClient, sqlite_engine: Engine) -> None:
    cast.opened(sqlite_engine)
    page = maker.post("/works/1/correct", data={"field": "year_made", "new": "last year", "why": "A slip."})
    text = unescape(page.text)
    assert page.status_code == 409 and "“last year” is not a year. Write four figures." in text
    assert 'value="last year"' in text and '<option value="year_made" selected>' in text


def test_a_picture_is_kept_from_the_page_and_shown_to_who_is_signed_in(
    maker: TestClient, stranger: TestClient, sqlite_engine: Engine
) -> None:
    cast.opened(sqlite_engine)
    assert maker.post("/works/1/picture").status_code == 409
    assert maker.post("/works/1/picture", files={"picture": ("road.jpg", a_picture())}).status_code == 303
    kept = picture_of(sqlite_engine)
    assert kept is not None and kept.sha256 == hashlib.sha256(a_picture()).hexdigest()
    page = maker.get("/works/1").text
    shown = re.search(r'src="(/pictures/[0-9a-f]{64}\.jpg)" width="800" height="600"', page)
    assert shown
    sent = maker.get(shown[1])
    assert sent.headers["cache-control"] == "private, max-age=31536000, immutable"
    assert sent.headers["content-type"] == "image/jpeg" and sent.headers["x-content-type-options"] == "nosniff"
    assert stranger.get(shown[1]).headers["location"].startswith("/sign-in")


def test_neither_the_master_nor_the_copy_for_paper_is_shown(maker: TestClient, sqlite_engine: Engine) -> None:
    cast.opened(sqlite_engine)
    maker.post("/works/1/picture", files={"picture": ("road.jpg", a_picture(size=(2400, 1800)))})
    kept = picture_of(sqlite_engine)
    assert kept is not None
    answers = {name: maker.get(f"/pictures/{getattr(kept, name)}.jpg").status_code for name in (
        "show_sha256", "thumb_sha256", "sha256", "paper_sha256",
    )}  # fmt: skip
    assert answers == {"show_sha256": 200, "thumb_sha256": 200, "sha256": 404, "paper_sha256": 404}
    for name in (f"{'0' * 64}.jpg", "../ledger.sqlite", "x.jpg", f"{kept.sha256}.png"):
        assert maker.get(f"/pictures/{name}").status_code == 404, name


def test_page_and_program_keep_a_picture_and_one_image_is_one_work(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    cast.opened(sqlite_engine)
    assert program.post("/api/works", json=WORK).json() == {
        "id": 2, **WORK, "artist_born": None, "artist_died": None, "picture": None,
    }  # fmt: skip
    maker.post("/works/1/picture", files={"picture": ("road.jpg", a_picture())})
    by_page = program.get("/api/works/1").json()["picture"]
    assert by_page["sha256"] == hashlib.sha256(a_picture()).hexdigest()
    same = program.put("/api/works/2/picture", content=a_picture())
    assert same.status_code == 409
    assert "This picture is in the book already, as “Forty Minutes of Road”." in same.json()["detail"]
    other = program.put("/api/works/2/picture", content=a_picture(size=(640, 480)))
    assert other.status_code == 200
    assert other.json()["picture"].keys() == by_page.keys()


def test_a_picture_sent_twice_under_one_key_is_kept_once_and_another_is_refused(
    program: TestClient, sqlite_engine: Engine
) -> None:
    cast.opened(sqlite_engine)
    key = {"Idempotency-Key": "road"}
    assert program.put("/api/works/1/picture", content=a_picture(), headers=key).status_code == 200
    again = program.put("/api/works/1/picture", content=a_picture(), headers=key)
    assert again.status_code == 200 and again.headers["Idempotency-Replayed"] == "true"
    assert program.put("/api/works/1/picture", content=a_picture(shade=10), headers=key).status_code == 422


def test_what_is_no_picture_leaves_no_file_behind(program: TestClient, sqlite_engine: Engine, tmp_path: Path) -> None:
    cast.opened(sqlite_engine)
    answer = program.put("/api/works/1/picture", content=b"%PDF-1.7 no picture")
    assert answer.status_code == 422 and answer.json()["errors"] == [{
        "field": "picture", "message": "This is a PDF. Save it as a JPEG, PNG or TIFF and choose that.",
    }]  # fmt: skip
    assert program.put("/api/works/9/picture", content=a_picture()).status_code == 404
    assert [path for path in (tmp_path / "pictures").rglob("*") if path.is_file()] == []


def test_a_work_is_refused_field_by_field(program: TestClient, sqlite_engine: Engine) -> None:
    cast.opened(sqlite_engine)
    early = program.post("/api/works", json=WORK | {"year_made": 1700})
    assert early.status_code == 409 and early.json()["errors"][0]["field"] == "year_made"
    missing = program.post("/api/works", json={"title": "Low Water"})
    assert missing.status_code == 422 and {each["field"] for each in missing.json()["errors"]} == {
        "artist", "year_made", "medium",
    }  # fmt: skip


def test_works_are_listed_page_by_page(program: TestClient, sqlite_engine: Engine) -> None:
    cast.opened(sqlite_engine)
    program.post("/api/works", json=WORK)
    first = program.get("/api/works?limit=1").json()
    assert [each["title"] for each in first["items"]] == [cast.TITLE] and first["next"] == 1
    rest = program.get("/api/works?after=1").json()
    assert [each["title"] for each in rest["items"]] == [WORK["title"]] and rest["next"] is None


def test_a_picture_that_comes_in_parts_is_kept_whole(
    program: TestClient, sqlite_engine: Engine, tmp_path: Path
) -> None:
    cast.opened(sqlite_engine)
    picture = a_picture()

    def in_parts():
        for at in range(0, len(picture), 1000):
            yield picture[at : at + 1000]

    assert program.put("/api/works/1/picture", content=in_parts()).status_code == 200
    kept = picture_of(sqlite_engine)
    assert kept is not None and pictures.path_of(tmp_path, kept.sha256).read_bytes() == picture
    assert list((tmp_path / "pictures").glob(".*")) == []


def test_the_same_picture_kept_twice_is_written_down_once(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    cast.opened(sqlite_engine)
    assert program.put("/api/works/1/picture", content=a_picture()).status_code == 200
    with reading(sqlite_engine) as session:
        written = journal.length(session)
    again = maker.post("/works/1/picture", files={"picture": ("road.jpg", a_picture())})
    assert again.status_code == 409
    assert "This is the picture of “Forty Minutes of Road” already. Nothing was changed." in again.text
    by_program = program.put("/api/works/1/picture", content=a_picture())
    assert by_program.status_code == 200 and by_program.json()["picture"]["width_px"] == 800
    with reading(sqlite_engine) as session:
        assert journal.length(session) == written
