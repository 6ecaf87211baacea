"""The public check: what a stranger with a certificate in hand sees, and nothing more."""

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import FileResponse, Response

from ledger import certificates, checks, clock, pictures, pieces
from ledger.checks import Check
from ledger.database import reading
from ledger.errors import Refusal
from ledger.reckoning import codes, dates, numbering
from ledger.web import answers
from ledger.web.house import Here, House, house_of, network
from ledger.web.pages import render_public
from ledger.web.sign_in import Signed, session_of

router = APIRouter(include_in_schema=False)
STATES = {"valid": "valid", "superseded": "replaced", "suspended": "suspended", "void": "void"}
NOTHING: dict[str, Any] = {
    "verdict": "",
    "state": "",
    "why": "",
    "print": None,
    "compare": (),
    "catalogue": "",
    "code_shown": "",
    "slip": "",
    "action": "/c",
    "ways": (),
    "proof": (),
    "record_line": "",
    "linked_data": None,
}


@router.get("/c")
@router.get("/C")
def ask(request: Request, code: str = "") -> Response:
    """The box for a code typed by hand."""
    if not code.strip():
        return render_public(request, "public/check.html", **NOTHING)
    try:
        return answers.see(f"/c/{codes.read(code)}")
    except Refusal as slip:
        return _not_read(request, code, slip)


@router.get("/c/{code}")
@router.get("/C/{code}")
async def check(request: Request, code: str) -> Response:
    """The verdict on a certificate's code, in any case. One indexed look, so it stays on the event loop."""
    try:
        read = codes.read(code)
    except Refusal as slip:
        return _not_read(request, code, slip)
    house, caller, now = house_of(request), network(request), clock.now()
    if house.unknown_codes.spent(caller, now):
        why = "Too many unknown codes came from your connection. Try again in an hour."
        return _could_not(request, read, why, 429)
    try:
        found = checks.quick_check(house.engine, read)
    except Exception:
        return _could_not(request, read, "The record cannot be reached just now. Try again later.", 503)
    if found is None:
        house.unknown_codes.count(caller, now)
        shown = NOTHING | {"verdict": "not in the record", "code_shown": codes.grouped(read)}
        return render_public(request, "public/check.html", 404, **shown)
    shown = in_the_record(found)
    if session_of(request, house):
        shown["ways"] = ({"href": f"/c/{read}/print", "words": "Sell it, or see it in the book"},)
    return render_public(request, "public/check.html", **shown)


@router.get("/c/{code}/print")
def in_the_book(house: Here, who: Signed, code: str) -> Response:
    """From a scanned label to the print: ready to sell at the stall if it can be, else its page."""
    with reading(house.engine) as session:
        found = certificates.by_code(session, codes.read(code))
        if found is None:
            raise Refusal("No certificate in this book has that code.", missing=True)
        seen = pieces.view(session, found.piece_id)
    here = seen.ours and seen.line_id is None and seen.place in ("studio", "van")
    return answers.see(f"/stall/prints/{seen.id}" if here else f"/pieces/{seen.id}")


@router.get("/c/{code}/picture.jpg")
def picture(request: Request, house: Here, code: str) -> Response:
    """The picture of a certificate in the record, without metadata. It tells no more than the page: same limit."""
    read, caller, now = codes.read(code), network(request), clock.now()
    if house.unknown_codes.spent(caller, now):
        raise Refusal("There is no picture at this address.", missing=True)
    with reading(house.engine) as session:
        found = checks.check(session, read)
    if found is None:
        house.unknown_codes.count(caller, now)
    if found is None or not found.snapshot["show"]:
        raise Refusal("There is no picture at this address.", missing=True)
    return _file(house, found.snapshot["show"])


def _file(house: House, sha256: str) -> Response:
    path = pictures.path_of(house.data_dir, sha256)
    if not path.is_file():
        raise Refusal("There is no picture at this address.", missing=True)
    return FileResponse(path, media_type="image/jpeg", headers={"Cache-Control": "public, max-age=86400"})


def _not_read(request: Request, typed: str, slip: Refusal) -> Response:
    shown = NOTHING | {
        "verdict": "not in the record",
        "code_shown": typed[:40],
        "slip": slip.message,
        "why": "That is not a code of ours as it stands.",
    }
    return render_public(request, "public/check.html", 404, **shown)


def _could_not(request: Request, code: str, why: str, status: int) -> Response:
    shown = NOTHING | {"verdict": "could not be checked", "why": why, "code_shown": codes.grouped(code)}
    return render_public(request, "public/check.html", status, **shown)


def in_the_record(found: Check) -> dict[str, Any]:
    """What `public/check.html` shows of a certificate that is in the record."""
    said = found.snapshot
    edition = dict(map(tuple, said["facts"])).get("Edition", "")
    return NOTHING | {
        "verdict": "in the record",
        "state": STATES[found.state],
        "why": _why(found),
        "print": {
            "number": found.number_words,
            "shown": said["inscription"],
            "title": said["title"],
            "maker": said["artist"],
            "year": said["year"],
            "edition": edition,
            "now_given_as": " ".join(found.now_given_as),
            "again": _again(said["generation"]),
            "picture": {
                "src": f"/c/{found.code}/picture.jpg",
                "alt": f"The picture: {said['title']}",
                "width": said["picture_px"][0],
                "height": said["picture_px"][1],
            }
            if said["show"]
            else None,
        },
        "compare": compare(said),
        "catalogue": found.catalogue_line,
        "record_line": found.place.words,
        "code_shown": codes.grouped(found.code),
        "linked_data": linked_data(found),
        "maker_name": said["signed_name"],
    }


def _again(generation: int) -> str:
    if generation == 1:
        return ""
    return f"This is the {numbering.ordinal(generation)} print of this number: it takes the place of an earlier one."


def _why(found: Check) -> str:
    since = f" on {dates.said(found.since_on)}" if found.since_on else ""
    why = {
        "valid": "",
        "superseded": f"This certificate was replaced{since}.",
        "suspended": f"This certificate was put on hold{since}: the print, or its paper, was missing.",
        "void": f"This certificate was made void{since}.",
    }[found.state]
    return f"{why} Two prints of this number exist." if found.two_exist else why


def compare(said: dict[str, Any]) -> list[dict[str, str]]:
    """What to hold the print against, in order."""
    facts = dict(map(tuple, said["facts"]))
    return [
        {"bold": "The picture", "words": ", as here, not cropped."},
        {"bold": said["inscription"], "words": " as written by hand on the print."},
        {"bold": "", "words": facts.get("Marked", "")},
        {"bold": "", "words": facts.get("Sizes", "")},
        {"bold": "", "words": f"Paper: {facts.get('Paper', '')}"},
    ]


def linked_data(found: Check) -> dict[str, Any]:
    """The print in the words of schema.org; `artEdition` is the size of the edition, never the number."""
    said = found.snapshot
    data: dict[str, Any] = {
        "@context": "https://schema.org",
        "@type": "VisualArtwork",
        "name": said["title"],
        "artist": {"@type": "Person", "name": said["artist"]},
        "dateCreated": said["year"],
        "artform": "Print",
        "artMedium": said["process"],
        "artworkSurface": said["paper"],
        "identifier": {"@type": "PropertyValue", "name": "inscription", "value": said["inscription"]},
    }
    return data | ({"artEdition": said["of"]} if said["limited"] and said["of"] else {})
