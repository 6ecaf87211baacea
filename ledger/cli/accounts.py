"""`account`: who may sign in."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from ledger.cli.shared import DataDir, engine_of_a_ledger, settings_of
from ledger.errors import Refusal

account = typer.Typer(
    help="Who may sign in. While the ledger is being served, use its pages instead.", no_args_is_help=True
)
Name = Annotated[str, typer.Argument(help="The name, or e-mail address, to sign in with.")]


@account.command("list")
def list_accounts(data_dir: DataDir = None) -> None:
    """Who may sign in."""
    from ledger import accounts
    from ledger.database import reading

    with engine_of_a_ledger(settings_of(data_dir=data_dir)) as engine, reading(engine) as session:
        found = accounts.everybody(session)
    for who in found:
        typer.echo(who.name)
    if not found:
        typer.echo("Nobody yet: 'print-ledger account add NAME' makes an account.")


@account.command("add")
def add_account(name: Name, data_dir: DataDir = None) -> None:
    """Make an account; the password is asked for, or read from standard input."""
    from ledger import accounts, clock

    password = _ask_password(name)
    _with_ledger(data_dir, lambda session: accounts.make_account(session, name, password, clock.now()))
    typer.echo(f"{name} may sign in now.")


@account.command("password")
def change_password(name: Name, data_dir: DataDir = None) -> None:
    """Give an account another password; it is signed out everywhere."""
    from ledger import accounts

    password = _ask_password(name)
    _with_ledger(data_dir, lambda session: accounts.set_password(session, _account_id(session, name), password))
    typer.echo(f"{name} signs in with the new password from now on.")


@account.command("close")
def close_account(name: Name, data_dir: DataDir = None) -> None:
    """Close an account: its sessions and tokens stop at once. What it recorded stays."""
    from ledger import accounts

    _with_ledger(data_dir, lambda session: accounts.remove_account(session, _account_id(session, name)))
    typer.echo(f"{name} can no longer sign in.")


def _with_ledger(data_dir: Path | None, job: Callable[[Any], object]) -> None:
    from ledger import home
    from ledger.database import housekeeping

    settings = settings_of(data_dir=data_dir)
    with home.opened(settings.data_dir, settings.database_url) as opened, housekeeping(opened.engine) as session:
        job(session)


def _account_id(session: Any, name: str) -> int:
    from ledger import accounts

    found = accounts.credentials_of(session, name)
    if found is None:
        raise Refusal(f"Nobody signs in as {name}. 'print-ledger account list' shows who does.")
    return found.who.account_id


def _ask_password(name: str) -> str:
    """The hash of a new password, typed twice, or one line of standard input. Raises Refusal."""
    from ledger import accounts

    if sys.stdin.isatty():
        password = typer.prompt("Password", hide_input=True, confirmation_prompt="Once more")
    else:
        password = sys.stdin.readline().rstrip("\r\n")
    accounts.check_password(password, name)
    return accounts.hash_password(password)
