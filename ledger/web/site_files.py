"""The files every site is asked for: the small drawing of a tab, and where crawlers may look."""

from fastapi import APIRouter
from starlette.responses import FileResponse, PlainTextResponse, Response

from ledger.paths import folder

router = APIRouter(include_in_schema=False)
A_DAY = {"Cache-Control": "public, max-age=86400"}
# '$' ends the path (RFC 9309, section 2.2.3): without it '/c' would open '/costs' too.
MAY_LOOK = "User-agent: *\nAllow: /c$\nAllow: /c/\nAllow: /C$\nAllow: /C/\nDisallow: /\n"


@router.get("/robots.txt")
def robots() -> Response:
    """Certificates may be found by their addresses; nothing else is for crawlers."""
    return PlainTextResponse(MAY_LOOK, headers=A_DAY)


@router.get("/favicon.ico")
def mark() -> Response:
    """A print in its margin, numbered and signed, drawn small."""
    return FileResponse(folder("templates") / "static" / "tab.svg", media_type="image/svg+xml", headers=A_DAY)
