"""The application: the gate, the doors behind it, and the files of the house style."""

from pathlib import Path

from fastapi import Depends, FastAPI
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Scope

from ledger.audit import at_opening
from ledger.database import Engine, reading
from ledger.keys import hold
from ledger.paths import folder
from ledger.settings import Settings
from ledger.studio import addresses as addresses_of
from ledger.web import (
    accounts,
    addresses,
    answers,
    away,
    away_api,
    bench,
    board_yields,
    certificates,
    certificates_api,
    channels,
    costs,
    costs_api,
    declaring,
    disclosing,
    edition_acts,
    edition_book,
    editions,
    editions_api,
    fairs,
    finishing,
    floor_prices,
    health,
    lab_files,
    labels,
    mount_stock,
    mount_stock_api,
    mounts,
    mounts_api,
    numbers,
    people,
    pieces,
    public,
    recipes,
    recipes_api,
    record,
    runs,
    sales,
    sales_api,
    search,
    sheets,
    sheets_api,
    sign_in,
    site_files,
    stall,
    stock_values,
    studio,
    works,
)  # fmt: skip
from ledger.web.guards import BoundedBody, Headers, KnownHost, OwnForms
from ledger.web.hosts import Hosts
from ledger.web.house import House

DOORS = (public.router, health.router, sign_in.router, accounts.router, site_files.router)
"""What answers whether or not the book is open, the door of strangers first: addresses are tried in this order."""
ROOMS = (
    declaring.pages,
    editions.pages,
    edition_acts.pages,
    edition_book.pages,
    disclosing.pages,
    editions_api.api,
    works.pages,
    works.api,
    pieces.pages,
    pieces.api,
    numbers.pages,
    numbers.api,
    labels.pages,
    certificates.pages,
    certificates_api.api,
    studio.pages,
    addresses.pages,
    people.pages,
    people.api,
    record.pages,
    search.pages,
    search.api,
    sales.pages,
    sales_api.api,
    stall.pages,
    away.pages,
    away_api.api,
    costs.pages,
    costs_api.api,
    runs.pages,
    runs.api,
    bench.pages,
    sheets.pages,
    lab_files.pages,
    lab_files.api,
    sheets_api.api,
    mounts.pages,
    mounts_api.api,
    mount_stock.pages,
    mount_stock_api.api,
    board_yields.pages,
    board_yields.api,
    fairs.pages,
    stock_values.pages,
    stock_values.api,
    fairs.api,
    channels.pages,
    channels.api,
    recipes.pages,
    finishing.pages,
    recipes_api.api,
    floor_prices.pages,
    floor_prices.api,
)

MISMATCH = (
    "The ledger does not match its record, so no certificate is issued. "
    "Run 'print-ledger check' to see where, and restore the last backup that is sound."
)
A_YEAR = "public, max-age=31536000, immutable"


class HouseStyle(StaticFiles):
    """Files kept for a year when their address names a version, and asked for again when not."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        response = await super().get_response(path, scope)
        versioned = scope["query_string"].startswith(b"v=")
        response.headers["Cache-Control"] = A_YEAR if versioned else "no-cache"
        return response


class Application(FastAPI):
    """FastAPI with the security headers round everything, the answer to an unforeseen fault too."""

    def build_middleware_stack(self) -> ASGIApp:
        house: House = self.state.house
        return Headers(super().build_middleware_stack(), house.hosts)


def make_app(engine: Engine, settings: Settings, data_dir: Path, *, demo: bool = False) -> FastAPI:
    """The ledger's pages and its API over an open, up-to-date database."""
    with reading(engine) as session:
        hosts = Hosts(settings, addresses_of(session))
        mismatch = bool(at_opening(session, data_dir))
    if mismatch:
        hold(engine, MISMATCH)
    app = Application(
        title="Print ledger", openapi_url="/openapi.json", docs_url=None, redoc_url=None, redirect_slashes=False
    )
    app.state.house = House(engine, settings, data_dir, demo, hosts, mismatch)
    # The last one added is the first one passed.
    app.add_middleware(BoundedBody, no=answers.plain_no)
    app.add_middleware(OwnForms, hosts=hosts, no=answers.plain_no)
    app.add_middleware(KnownHost, hosts=hosts, no=answers.plain_no)
    answers.install(app)
    for router in DOORS:
        app.include_router(router)
    for router in ROOMS:
        app.include_router(router, dependencies=[Depends(studio.open_book)])
    app.mount("/static", HouseStyle(directory=folder("templates") / "static"), name="static")
    return app
