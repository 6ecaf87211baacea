"""`demo`: an invented maker's ledger."""

import shlex
import sys
import tempfile
from contextlib import nullcontext
from pathlib import Path
from typing import Annotated, Any

import typer

from ledger.cli.serving import Port, address_of, listening, run, typed_port
from ledger.errors import Refusal
from ledger.settings import Settings

DEMO_MARK = "this-is-a-demonstration"
DEMO_NAME = "demo@example.org"


def demo(
    folder: Annotated[
        Path | None,
        typer.Option(
            help="Keep the demonstration in this new folder, or show again the one in it.", show_default=False
        ),
    ] = None,
    port: Port = None,
    once: Annotated[bool, typer.Option("--once", help="Make it, audit it, and leave without serving it.")] = False,
) -> None:
    """Show an invented maker's ledger: on this machine only, and gone afterwards unless a folder is named."""
    from ledger import home
    from ledger.demo import PASSPHRASE
    from ledger.keys import take_up
    from ledger.sealed_rows import take_over

    chosen_port = typed_port(port) or 8000
    if folder is not None:
        _refuse_all_but_a_demo(folder)
    place = nullcontext(folder) if folder else tempfile.TemporaryDirectory(prefix="print-ledger-demo-")
    doors = nullcontext(None) if once else listening("127.0.0.1", chosen_port)
    with doors as listener, place as chosen, home.opened(Path(chosen)) as opened:
        address = address_of("127.0.0.1", listener) if listener else f"http://127.0.0.1:{chosen_port}"
        if not (opened.folder / DEMO_MARK).exists():
            _replay(opened, address)
        else:
            take_over(opened.engine)
            take_up(opened.engine, opened.folder, PASSPHRASE)
        _sum_up(opened)
        typer.echo(f"The demonstration is in {opened.folder}{'' if folder else ', and will be removed'}")
        if listener is not None or folder is not None:
            _say_what_to_try(opened)
        if listener is None:
            return
        password = _sign_in_for_this_run(opened.engine)
        typer.echo(f"Open {address} (Ctrl+C stops); sign in as {DEMO_NAME} with {password}")
        run(listener, opened, Settings(data_dir=opened.folder, port=chosen_port), demo=True)


def _refuse_all_but_a_demo(folder: Path) -> None:
    if folder.is_dir() and any(folder.iterdir()) and not (folder / DEMO_MARK).exists():
        raise Refusal(f"{folder} holds something that is not a demonstration. Name a new folder.")


def _replay(opened: Any, address: str) -> None:
    from ledger import audit, checkpoints
    from ledger import demo as demonstration
    from ledger.database import reading

    checkpoints.keep_newest_in(opened.engine, opened.folder)
    typer.echo("Writing an invented maker’s years into a new ledger")
    demonstration.replay(opened.engine, opened.folder, address, typer.echo)
    with reading(opened.engine) as session:
        faults = audit.audit(session)
    if faults:
        raise Refusal(f"The demonstration is not sound ({faults[0].check}: {faults[0].sentence}).")
    (opened.folder / DEMO_MARK).touch()


def _sum_up(opened: Any) -> None:
    from ledger import demo as demonstration

    for line in demonstration.summary(opened.engine):
        typer.echo(line)


def _say_what_to_try(opened: Any) -> None:
    """Commands that work on this demonstration, as they are to be typed, also while it is being served."""
    from ledger.demo import to_verify

    here = ["--data-dir", str(opened.folder)]
    tries = [["check", *here], ["publish", "demonstration-public", *here]]
    if certificate := to_verify(opened.engine, opened.folder):
        tries.insert(1, ["verify", *certificate, *here])
    typer.echo("Other commands take its folder. Try, in another terminal:")
    for words in tries:
        typer.echo(f"  {shlex.join([*_this_program(), *words])}")


def _this_program() -> list[str]:
    """How this program was called."""
    called = Path(sys.argv[0])
    return [sys.executable, "-m", "ledger"] if called.name == "__main__.py" else [str(called)]


def _sign_in_for_this_run(engine: Any) -> str:
    """A fresh password for the demonstration's one account; it is printed, and good for nothing else."""
    from ledger import accounts, chance, clock
    from ledger.database import housekeeping

    password = chance.token()[:16]
    password_hash = accounts.hash_password(password)
    with housekeeping(engine) as session:
        known = accounts.credentials_of(session, DEMO_NAME)
        if known is None:
            accounts.make_account(session, DEMO_NAME, password_hash, clock.now())
        else:
            accounts.set_password(session, known.who.account_id, password_hash)
    return password
