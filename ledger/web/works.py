"""Works: the page that puts a title, a name or a picture right, the pictures, and the works of the API."""

import re
import tempfile
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import FileResponse, JSONResponse, Response

from ledger import editions, kept_files, pictures, works
from ledger.accounts import Who
from ledger.database import Book, reading
from ledger.errors import Refusal
from ledger.pictures import StoredPicture
from ledger.tables import Picture, Work
from ledger.web import answers, plates
from ledger.web.forms import Form, Sent, blank
from ledger.web.house import Done, Here, House
from ledger.web.pages import render
from ledger.web.promise_shapes import WorkShape
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import After, Id, Shape
from ledger.web.sign_in import Bearer, Signed

pages = APIRouter(include_in_schema=False)
api = APIRouter(prefix="/api", tags=["works"])
Limit = Annotated[int, Query(ge=1, le=500)]
A_YEAR = "private, max-age=31536000, immutable"


# Pages


@pages.get("/works/{work_id}")
def page(request: Request, house: Here, who: Signed, work_id: Id) -> Response:
    return _page(request, house, work_id, blank())


def _page(
    request: Request, house: House, work_id: int, form: Form, status: int = 200, picture_form: Form | None = None
) -> Response:
    with reading(house.engine) as session:
        work = works.get(session, work_id)
        picture = works.picture_of(session, work_id)
        fixes = works.corrections(session, work_id)
        missing = kept_files.missing(session, house.data_dir, work_id)
        of_work = [each for each in editions.listing(session) if each.work_id == work_id]
    return render(
        request, "works/one.html", status,
        work=work, plate=plates.plate(picture, work.title), picture_said=_said_of(picture), fixes=fixes,
        missing=missing, fields=[{"value": name, "words": words} for name, words in works.FIELDS.items()],
        names=works.FIELDS, form=form, picture_form=picture_form or blank(),
        editions=[
            {"href": f"/editions/{each.id}", "words": f"Edition {each.ordinal}"} for each in reversed(of_work)
        ],
    )  # fmt: skip


def _said_of(picture: Picture | None) -> str:
    if picture is None:
        return "No picture yet."
    profile = f", {picture.profile}" if picture.profile else ""
    return (
        f"{picture.width_px:,} × {picture.height_px:,} pixels, {picture.format}, {picture.bits} bits{profile}. "
        f"Fingerprint {picture.sha256[:4]} {picture.sha256[4:8]} …"
    )


@pages.post("/works/{work_id}/correct")
def correct(request: Request, house: Here, who: Signed, sent: Sent, work_id: Id) -> Response:
    def act(book: Book) -> str:
        works.correct(book, work_id, sent.text("field"), sent.text("new"), sent.text("why"))
        return f"/works/{work_id}"

    try:
        done = house.record(who, act, sent.repeat)
    except Refusal as refusal:
        form = sent.refused("Not put right", refusal)
        return _page(request, house, work_id, form, answers.status_of(refusal))
    return answers.see(done.path)


@pages.post("/works/{work_id}/picture")
def change_picture(request: Request, house: Here, who: Signed, sent: Sent, work_id: Id) -> Response:
    try:
        with reading(house.engine) as session:
            works.get(session, work_id)
        if "picture" not in sent.files:
            raise Refusal("Choose a file first.", field="picture")
        stored = pictures.store(house.data_dir, sent.files["picture"].file)
        done = house.record(who, _keep(work_id, stored))
    except Refusal as refusal:
        form = sent.refused("Not kept", refusal)
        return _page(request, house, work_id, blank(), answers.status_of(refusal), picture_form=form)
    return answers.see(done.path.removeprefix("/api"))


def _keep(work_id: int, stored: StoredPicture) -> Any:
    def act(book: Book) -> str:
        works.keep_picture(book, work_id, stored)
        return f"/api/works/{work_id}"

    return act


@pages.get("/pictures/{name}")
def picture(house: Here, who: Signed, name: str) -> Response:
    """A copy made for pages: no master, and no copy made for paper. Its name is its hash, so it never changes."""
    found = re.fullmatch(r"([0-9a-f]{64})\.jpg", name)
    if not found:
        raise Refusal("There is no picture at this address.", missing=True)
    with reading(house.engine) as session:
        shown = works.may_be_shown(session, found[1])
    path = pictures.path_of(house.data_dir, found[1])
    if not shown or not path.is_file():
        raise Refusal("There is no picture at this address.", missing=True)
    return FileResponse(path, media_type="image/jpeg", headers={"Cache-Control": A_YEAR})


# The API


def as_json(work: Work, picture: Picture | None) -> dict[str, Any]:
    """A work as the API gives it."""
    return {
        "id": work.id, "title": work.title, "artist": work.artist, "year_made": work.year_made,
        "medium": work.medium, "artist_born": work.artist_born, "artist_died": work.artist_died,
        "picture": {
            "sha256": picture.sha256, "bytes": picture.bytes, "format": picture.format,
            "width_px": picture.width_px, "height_px": picture.height_px, "bits": picture.bits,
            "profile": picture.profile,
        } if picture else None,
    }  # fmt: skip


def _one(house: House, work_id: int) -> dict[str, Any]:
    with reading(house.engine) as session:
        return as_json(works.get(session, work_id), works.picture_of(session, work_id))


@api.post("/works", status_code=201)
def add(request: Request, house: Here, who: Bearer, shape: WorkShape) -> Response:
    """Write a work down."""

    def act(book: Book) -> str:
        return f"/api/works/{works.add(book, shape.draft()).id}"

    done = house.record(who, act, answers.repeat_of(request, shape))
    return answers.made(done, _one(house, int(done.path.rsplit("/", 1)[1])))


@api.get("/works")
def every(house: Here, who: Bearer, after: After = 0, limit: Limit = 100) -> dict[str, Any]:
    """The works in the order they were written down."""
    with reading(house.engine) as session:
        found = works.after(session, after, limit + 1)
        their = works.pictures_of(session)
    items = [as_json(work, their.get(work.id or 0)) for work in found[:limit]]
    return {"items": items, "next": found[limit - 1].id if len(found) > limit else None}


@api.get("/works/{work_id}")
def one(house: Here, who: Bearer, work_id: Id) -> dict[str, Any]:
    """One work, and what is known of its picture."""
    return _one(house, work_id)


class PictureShape(Shape):
    """What a picture sent twice is known by."""

    sha256: str


@api.put("/works/{work_id}/picture", status_code=200)
async def put_picture(request: Request, house: Here, who: Bearer, work_id: Id) -> Response:
    """Keep the raw bytes of the body as the picture of a work: a JPEG, PNG or TIFF of up to 1 GB."""
    await run_in_threadpool(_one, house, work_id)
    folder = house.data_dir / "pictures"
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile(prefix=".arriving-", dir=folder) as arriving:
        async for chunk in request.stream():
            await run_in_threadpool(arriving.write, chunk)
        arriving.flush()
        return await run_in_threadpool(_kept, request, house, who, work_id, Path(arriving.name))


def _kept(request: Request, house: House, who: Who, work_id: int, path: Path) -> Response:
    try:
        stored = pictures.store(house.data_dir, path)
    except Refusal as refusal:
        raise Slips([Slip(refusal.field or "", refusal.message)]) from refusal
    try:
        done: Done = house.record(
            who, _keep(work_id, stored), answers.repeat_of(request, PictureShape(sha256=stored.sha256))
        )
    except Refusal:
        with reading(house.engine) as session:
            if works.has_picture(session, work_id, stored.sha256):  # as it should be, and nothing to write down
                return JSONResponse(_one(house, work_id))
        raise
    response = answers.made(done, _one(house, work_id))
    response.status_code = 200
    return response
