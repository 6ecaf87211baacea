"""`serve`, and what it takes to listen."""

import errno
import re
import signal
import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated, Any

import typer

from ledger.cli.shared import DataDir, settings_of
from ledger.errors import Refusal
from ledger.settings import Settings

Port = Annotated[str | None, typer.Option(help="Port to listen on.", show_default="8000")]


def serve(
    data_dir: DataDir = None,
    host: Annotated[str | None, typer.Option(help="Address to listen on.", show_default=False)] = None,
    port: Port = None,
    bring_up_to_date: Annotated[
        bool, typer.Option("--bring-up-to-date", help="Change a ledger of an earlier version to this one first.")
    ] = False,
) -> None:
    """Open the ledger's pages, making a new ledger where there is none."""
    from ledger import home
    from ledger.keys import take_up
    from ledger.sealed_rows import take_over

    settings = settings_of(data_dir=data_dir, host=host, port=typed_port(port))
    with (
        listening(settings.host, settings.port) as listener,
        home.opened(settings.data_dir, settings.database_url, bring_up_to_date=bring_up_to_date) as opened,
    ):
        typer.echo(f"{'A new ledger' if opened.fresh else 'The ledger'} in {opened.folder}")
        take_over(opened.engine)
        if closed := take_up(opened.engine, opened.folder, settings.key_passphrase.get_secret_value()):
            typer.echo(f"No certificate can be issued for now. {closed}")
        address = address_of(settings.host, listener)
        typer.echo(f"Open {address} (Ctrl+C stops)")
        if first := _first_sign_in(opened.engine):
            typer.echo(f"Make your account, within a day, at {address}/first/{first}")
        run(listener, opened, settings, demo=False)


def typed_port(typed: str | None) -> int | None:
    """The port that was typed, if any. Raises Refusal."""
    if typed is None:
        return None
    if not re.fullmatch(r"[0-9]{1,5}", typed) or int(typed) > 65535:
        raise Refusal(f"“{typed}” is not a port. Write a number from 1024 to 65535 after --port.")
    return int(typed)


@contextmanager
def listening(host: str, port: int) -> Iterator[socket.socket]:
    """A socket bound before anything else happens, so that a busy port changes nothing. Raises Refusal."""
    try:
        listener = socket.create_server(
            (host, port), family=socket.AF_INET6 if ":" in host else socket.AF_INET, backlog=128
        )
    except PermissionError as cause:
        raise Refusal(f"Port {port} is kept for the system. Choose one above 1023 with --port.") from cause
    except OSError as cause:
        raise Refusal(_why_not_listening(host, port, cause)) from cause
    with listener:
        yield listener


def _why_not_listening(host: str, port: int, cause: OSError) -> str:
    if cause.errno == errno.EADDRINUSE:
        return f"Port {port} is in use, perhaps by this ledger already. Stop that, or choose another with --port."
    return f"This machine cannot listen on {host}: {cause.strerror}."


def address_of(host: str, listener: socket.socket) -> str:
    """The address a browser on this machine opens."""
    shown = {"0.0.0.0": "127.0.0.1", "": "127.0.0.1", "::": "::1"}.get(host, host)
    return f"http://{f'[{shown}]' if ':' in shown else shown}:{listener.getsockname()[1]}"


def _first_sign_in(engine: Any) -> str | None:
    """The secret of the one-time address, while nobody has an account yet."""
    from ledger import accounts, clock, sign_ins
    from ledger.database import housekeeping

    with housekeeping(engine) as session:
        if accounts.any_account(session):
            return None
        return sign_ins.offer_first_sign_in(session, clock.now())


def run(listener: socket.socket, opened: Any, settings: Settings, *, demo: bool) -> None:
    """Answer on a listening socket until the process is told to stop."""
    import uvicorn

    from ledger.web.app import make_app

    # The folder is let go, and a demonstration removed, on the way out of a plain `kill` too.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    pages = make_app(opened.engine, settings, opened.folder, demo=demo)
    config = uvicorn.Config(pages, log_level="warning", server_header=False)
    uvicorn.Server(config).run(sockets=[listener])
