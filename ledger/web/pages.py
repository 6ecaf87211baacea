"""Pages: templates filled with plain values, and the frame every page of the book stands in."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from fastapi import Request
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.responses import HTMLResponse

from ledger import journal, studio
from ledger.database import reading
from ledger.paths import folder
from ledger.reckoning import dates, money
from ledger.reckoning.measures import millimetres
from ledger.web.forms import Form
from ledger.web.house import House, house_of
from ledger.web.shapes import percent_said

UNNAMED = "Edition book"


@dataclass(frozen=True)
class Frame:
    """What stands round a page: whose book it is, and how long its record is."""

    maker_name: str
    record_line: str
    find: str
    mismatch: bool


@cache
def static_version(name: str) -> str:
    """A few figures that change when the file does, so that it may be kept for a year."""
    return hashlib.sha256((folder("templates") / "static" / name).read_bytes()).hexdigest()[:12]


def static(name: str) -> str:
    """The address of a file of the house style."""
    return f"/static/{name}?v={static_version(name)}"


def _said(day: date | None) -> str:
    return dates.said(day) if day else ""


@cache
def environment() -> Environment:
    """The templates: everything put into them is escaped, and a name they do not know is a fault."""
    made = Environment(
        loader=FileSystemLoader(Path(folder("templates"))),
        autoescape=True,
        undefined=StrictUndefined,
        auto_reload=False,
    )
    made.filters.update(
        money=money.shown, bare=money.bare, plain=money.plain, said=_said, mm=millimetres, percent=percent_said
    )
    made.globals["static"] = static
    return made


def frame(house: House, find: str = "") -> Frame:
    """The frame of a page now."""
    with reading(house.engine) as session:
        whose = studio.find_studio(session)
        entries = journal.length(session)
    line = "1 entry" if entries == 1 else f"{entries:,} entries"
    return Frame(whose.maker_name if whose else UNNAMED, line, find, house.mismatch)


def _drawn(template: str, values: Mapping[str, Any]) -> str:
    """A page. One with a refused form is drawn twice: while it is drawn its fields say what they are called."""
    page = environment().get_template(template)
    drawn = page.render(values)
    refused = any(isinstance(each, Form) and each.problems for each in values.values())
    return page.render(values) if refused else drawn


def render(request: Request, template: str, status: int = 200, **context: Any) -> HTMLResponse:
    """A page. `room` names the word of the running head it belongs to; `find` fills the box."""
    round_it = frame(house_of(request), context.get("find", ""))
    around = {"frame": round_it, "maker_name": round_it.maker_name, "mismatch": round_it.mismatch}
    values = {"room": "", **around, **context}
    return HTMLResponse(_drawn(template, values), status)


def render_public(request: Request, template: str, status: int = 200, **context: Any) -> HTMLResponse:
    """A page for strangers: no frame round it, no name on it but the maker's."""
    house = house_of(request)
    context["mismatch"] = house.mismatch
    if "maker_name" not in context:
        with reading(house.engine) as session:
            whose = studio.find_studio(session)
        context["maker_name"] = whose.maker_name if whose else UNNAMED
    return HTMLResponse(environment().get_template(template).render(context), status)
