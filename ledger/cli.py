"""The command `print-ledger`. What takes long to import is imported by the command that needs it."""

import re
import shlex
import socket
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer

from ledger.errors import Refusal
from ledger.settings import Settings, read_settings, settings_in_force

app = typer.Typer(
    help="The book behind a small-edition print practice.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
account = typer.Typer(
    help="Who may sign in. While the ledger is being served, use its pages instead.", no_args_is_help=True
)
app.add_typer(account, name="account")
keys = typer.Typer(help="The keys that certificates are signed with.", no_args_is_help=True)
app.add_typer(keys, name="keys")

DataDir = Annotated[Path | None, typer.Option("--data-dir", help="Folder of the ledger.", show_default=False)]
Name = Annotated[str, typer.Argument(help="The name, or e-mail address, to sign in with.")]
Port = Annotated[str | None, typer.Option(help="Port to listen on.", show_default="8000")]
DEMO_MARK = "this-is-a-demonstration"
DEMO_NAME = "demo@example.org"


def main() -> None:
    """Run a command; a refusal is one sentence and exit status 1."""
    try:
        app()
    except Refusal as refusal:
        typer.echo(refusal.message, err=True)
        sys.exit(1)
    except KeyboardInterrupt:
        sys.exit(130)


def _settings(**chosen: Any) -> Settings:
    return read_settings(**{name: value for name, value in chosen.items() if value is not None})


def _port(typed: str | None) -> int | None:
    """Raises Refusal."""
    if typed is None:
        return None
    if not re.fullmatch(r"[0-9]{1,5}", typed) or int(typed) > 65535:
        raise Refusal(f"“{typed}” is not a port. Write a number from 1024 to 65535 after --port.")
    return int(typed)


# --- open the doors ---


@app.command()
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

    settings = _settings(data_dir=data_dir, host=host, port=_port(port))
    with (
        _listening(settings.host, settings.port) as listener,
        home.opened(settings.data_dir, settings.database_url, bring_up_to_date=bring_up_to_date) as opened,
    ):
        typer.echo(f"{'A new ledger' if opened.fresh else 'The ledger'} in {opened.folder}")
        take_over(opened.engine)
        if closed := take_up(opened.engine, opened.folder, settings.key_passphrase.get_secret_value()):
            typer.echo(f"No certificate can be issued for now. {closed}")
        address = _address(settings.host, listener)
        typer.echo(f"Open {address} (Ctrl+C stops)")
        if first := _first_sign_in(opened.engine):
            typer.echo(f"Make your account, within a day, at {address}/first/{first}")
        _serve(listener, opened, settings, demo=False)


@app.command()
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
    import tempfile
    from contextlib import nullcontext

    from ledger import home
    from ledger.demo import PASSPHRASE
    from ledger.keys import take_up
    from ledger.sealed_rows import take_over

    chosen_port = _port(port) or 8000
    if folder is not None:
        _refuse_all_but_a_demo(folder)
    place = nullcontext(folder) if folder else tempfile.TemporaryDirectory(prefix="print-ledger-demo-")
    listening = nullcontext(None) if once else _listening("127.0.0.1", chosen_port)
    with listening as listener, place as chosen, home.opened(Path(chosen)) as opened:
        address = _address("127.0.0.1", listener) if listener else f"http://127.0.0.1:{chosen_port}"
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
        _serve(listener, opened, Settings(data_dir=opened.folder, port=chosen_port), demo=True)


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


@contextmanager
def _listening(host: str, port: int) -> Iterator[socket.socket]:
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
    import errno

    if cause.errno == errno.EADDRINUSE:
        return f"Port {port} is in use by another program. Stop that one, or choose another with --port."
    return f"This machine cannot listen on {host}: {cause.strerror}."


def _address(host: str, listener: socket.socket) -> str:
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


def _serve(listener: socket.socket, opened: Any, settings: Settings, *, demo: bool) -> None:
    import signal

    import uvicorn

    from ledger.web.app import make_app

    # The folder is let go, and a demonstration removed, on the way out of a plain `kill` too.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    pages = make_app(opened.engine, settings, opened.folder, demo=demo)
    config = uvicorn.Config(pages, log_level="warning", server_header=False)
    uvicorn.Server(config).run(sockets=[listener])


# --- keep the ledger safe ---


@app.command()
def backup(file: Annotated[Path, typer.Argument(help="The new file to write.")], data_dir: DataDir = None) -> None:
    """Write the whole ledger, its pictures and papers into one file. It may be in use meanwhile."""
    from ledger import backups

    settings = _settings(data_dir=data_dir)
    with _engine_of_a_ledger(settings) as engine:
        made = backups.back_up(engine, settings.data_dir, file)
    typer.echo(f"{file}: {made.entries} entries and {made.files} files, looked through and sound")


@app.command()
def restore(
    file: Annotated[Path, typer.Argument(help="A file that 'backup' wrote.")],
    folder: Annotated[Path, typer.Argument(help="A new folder for the ledger.")],
) -> None:
    """Lay a backup out in a new folder. Nothing is ever written over."""
    from ledger import backups, keyfile

    made = backups.restore(file, folder)
    typer.echo(f"{folder}: {made.entries} entries and {made.files} files, looked through and sound")
    typer.echo("Nobody is signed in to it. Sign in with your password, and make new tokens for programs.")
    typer.echo(
        "No backup holds the signing keys. If this ledger has some, put its key file back as\n"
        f"{keyfile.place_of(folder)} before you issue a certificate."
    )


@app.command()
def check(
    data_dir: DataDir = None,
    as_json: Annotated[bool, typer.Option("--json", help="Say it as one JSON object.")] = False,
) -> None:
    """Recount everything: the record, its rows, money, pictures and papers. 'serve' may go on meanwhile.

    Exit status 1 where anything is wrong. How far it is is said on a terminal.
    """
    import json

    from ledger import audit, journal, kept_files
    from ledger.database import reading
    from ledger.schema import check_schema

    settings = _settings(data_dir=data_dir)
    watched = sys.stderr.isatty() and not as_json

    def progress(said: str) -> None:
        if watched:
            typer.echo(f"  {said}", err=True)

    with _engine_of_a_ledger(settings) as engine:
        check_schema(engine)
        with reading(engine) as session:
            faults = audit.audit(session, progress)
            faults += audit.of_the_folder(session, settings.data_dir)
            progress("pictures and papers")
            files = list(kept_files.wrong(session, settings.data_dir))
            entries = journal.length(session)
    if as_json:
        said = [{"check": fault.check, "sentence": fault.sentence} for fault in faults]
        typer.echo(json.dumps({"entries": entries, "faults": said, "files": files}, ensure_ascii=False))
    else:
        for line in [f"{fault.check}: {fault.sentence}." for fault in faults] + [f"{line}." for line in files]:
            typer.echo(line[:1].upper() + line[1:])
        if faults:
            typer.echo("Issue and publish nothing until this is put right: restore the last backup that is sound.")
        elif files:
            typer.echo(f"The record is sound, {entries} entries. Restore the missing files from a backup.")
        else:
            typer.echo(f"Everything is as the record says: {entries} entries.")
    if faults or files:
        raise typer.Exit(1)


@contextmanager
def _engine_of_a_ledger(settings: Settings) -> Iterator[Any]:
    """The engine of a ledger that is there, which may be open elsewhere too. Raises Refusal."""
    from ledger import home
    from ledger.database import make_engine

    _refuse_where_there_is_none(settings)
    engine = make_engine(settings.database_url or f"sqlite:///{settings.data_dir / home.LEDGER}")
    try:
        yield engine
    finally:
        engine.dispose()


def _refuse_where_there_is_none(settings: Settings) -> None:
    from ledger import home

    if not settings.database_url and not home.holds_ledger(settings.data_dir):
        raise Refusal(f"There is no ledger in {settings.data_dir}. Name its folder with --data-dir.")


# --- check a certificate ---


@app.command()
def verify(
    file: Annotated[Path, typer.Argument(help="The PDF of a certificate.")],
    fingerprint: Annotated[str, typer.Option(help="The keys’ fingerprint as printed on the certificate.")] = "",
    head: Annotated[str, typer.Option(help="The head of the record as printed on the certificate.")] = "",
    data_dir: DataDir = None,
    as_json: Annotated[bool, typer.Option("--json", help="Tell it for a program.")] = False,
) -> None:
    """Check a certificate’s PDF against what its paper says, and the ledger where there is one.

    Exit status: 0 it matches the record, 1 it does not match, 2 it could not be checked.
    """
    import json

    from ledger import verifying

    verdict = _verdict(file, verifying.Typed(fingerprint, head), data_dir)
    if as_json:
        typer.echo(json.dumps(verifying.as_json(verdict), indent=2, ensure_ascii=False))
    else:
        for line in verifying.as_lines(verdict):
            typer.echo(line)
    raise typer.Exit(verifying.EXIT[verdict.result])


def _verdict(file: Path, typed: Any, data_dir: Path | None) -> Any:
    """What is found. A ledger that cannot be read says nothing of a certificate, so that must not end as 'not'."""
    from ledger import home, verifying
    from ledger.database import reading
    from ledger.schema import check_schema

    try:
        settings = _settings(data_dir=data_dir)
        if data_dir is None and not settings.database_url and not home.holds_ledger(settings.data_dir):
            return verifying.verify(file, typed)
        with _engine_of_a_ledger(settings) as engine:
            check_schema(engine)
            with reading(engine) as session:
                return verifying.verify(file, typed, session)
    except Exception as problem:
        why = problem.message if isinstance(problem, Refusal) else f"It cannot be read ({type(problem).__name__})."
        return verifying.Verdict((verifying.Finding("The ledger", verifying.OPEN, why),), {}, ())


# --- let strangers check ---


@app.command()
def publish(
    folder: Annotated[Path, typer.Argument(help="The folder to write, or one written by this command before.")],
    data_dir: DataDir = None,
) -> None:
    """Write what strangers may read as files for any web host. The ledger may be in use meanwhile."""
    from ledger import clock
    from ledger.publish import publish as lay_out
    from ledger.schema import check_schema
    from ledger.web.static_pages import StaticPages

    settings = _settings(data_dir=data_dir)
    with _engine_of_a_ledger(settings) as engine:
        check_schema(engine)
        done = lay_out(engine, settings.data_dir, folder, StaticPages, clock.today(), typer.echo)
    for warning in done.warnings:
        typer.echo(warning, err=True)
    count = "1 certificate" if done.certificates == 1 else f"{done.certificates:,} certificates"
    typer.echo(f"{folder}: {count} and {done.entries:,} entries of the record")
    typer.echo(f"{done.changed:,} files new or changed, {done.same:,} as before, {done.gone:,} taken away")


# --- signing keys ---


@keys.command("make")
def make_keys(data_dir: DataDir = None) -> None:
    """Make the ledger's signing keys, once, under the passphrase of the settings. Stop 'serve' before."""
    from ledger import home, keyfile
    from ledger.keys import make

    settings = _settings(data_dir=data_dir)
    _refuse_where_there_is_none(settings)
    with home.opened(settings.data_dir, settings.database_url) as opened:
        made = make(opened.engine, opened.folder, settings.key_passphrase.get_secret_value(), "print-ledger keys")
        place = keyfile.place_of(opened.folder)
    _show_keys(made.public)
    typer.echo(
        f"The keys are in {place}, which no backup holds. Copy that file to a place of its own, and keep the\n"
        "passphrase in another. Lose either, and no certificate can be signed in this ledger again; those already\n"
        "signed stay good. Whoever has both can sign in your name.\n"
        "Show the fingerprint wherever buyers find you: it tells your papers from a stranger’s."
    )


@keys.command("show")
def show_keys(data_dir: DataDir = None) -> None:
    """What anybody may know of the ledger's signing keys. No passphrase is needed, and 'serve' may go on."""
    from ledger import keyfile
    from ledger.database import reading
    from ledger.keys import NONE_YET, in_force, public_of
    from ledger.schema import check_schema

    settings = _settings(data_dir=data_dir)
    with _engine_of_a_ledger(settings) as engine:
        check_schema(engine)
        with reading(engine) as session:
            found = in_force(session)
    if found is None:
        raise Refusal(NONE_YET)
    _show_keys(public_of(found))
    typer.echo(f"In force since entry {found.entry_seq} of the record.")
    place = keyfile.place_of(settings.data_dir)
    typer.echo(f"The key file is {place}." if place.exists() else f"The key file is not there: {place}.")


def _show_keys(public: Any) -> None:
    typer.echo(f"Fingerprint  {public.fingerprint}")
    typer.echo(f"Certificates {public.issuer}")
    typer.echo(f"Record       {public.journal}")


# --- accounts ---


@account.command("list")
def list_accounts(data_dir: DataDir = None) -> None:
    """Who may sign in."""
    from ledger import accounts
    from ledger.database import reading

    with _engine_of_a_ledger(_settings(data_dir=data_dir)) as engine, reading(engine) as session:
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

    settings = _settings(data_dir=data_dir)
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


# --- settings ---


@app.command()
def settings() -> None:
    """What is set, and where from. Secrets are not shown."""
    for row in settings_in_force():
        typer.echo(f"{row.name} = {row.value}   ({row.origin})")
        typer.echo(f"    {row.meaning}")
