"""A table of some days to keep and open in a spreadsheet."""

from collections.abc import Callable
from datetime import date

from fastapi import Request
from starlette.responses import Response

from ledger import clock
from ledger.database import Session, reading
from ledger.web.forms import Posted
from ledger.web.house import House
from ledger.web.shapes import Shape


def csv_answer(house: House, request: Request, table: Callable[[Session, date, date], str], name: str) -> Response:
    """A table of some days to keep. Raises Slips for days that cannot be read."""
    span = Span.of(request)
    with reading(house.engine) as session:
        written = table(session, span.from_on, span.to_on)
    kept_as = f"{name}-{span.from_on}-to-{span.to_on}.csv"
    return Response(
        written, media_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{kept_as}"', "Cache-Control": "no-store"},
    )  # fmt: skip


class Span(Shape):
    """The first and the last day of a table."""

    from_on: date
    to_on: date

    @classmethod
    def of(cls, request: Request) -> "Span":
        """Raises Slips."""
        today = clock.today()
        asked = {
            "from_on": request.query_params.get("from") or date(today.year, 1, 1).isoformat(),
            "to_on": request.query_params.get("to") or today.isoformat(),
        }
        return Posted(asked, {}, "", "", "").read(cls)
