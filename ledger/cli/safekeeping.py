"""`backup`, `restore`, `check`: the ledger kept safe."""

import json
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from ledger.cli.shared import DataDir, engine_of_a_ledger, settings_of


def backup(file: Annotated[Path, typer.Argument(help="The new file to write.")], data_dir: DataDir = None) -> None:
    """Write the whole ledger, its pictures and papers into one file. It may be in use meanwhile."""
    from ledger import backups

    settings = settings_of(data_dir=data_dir)
    with engine_of_a_ledger(settings) as engine:
        made = backups.back_up(engine, settings.data_dir, file)
    typer.echo(f"{file}: {made.entries} entries and {made.files} files, looked through and sound")


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


def check(
    data_dir: DataDir = None,
    as_json: Annotated[bool, typer.Option("--json", help="Say it as one JSON object.")] = False,
) -> None:
    """Recount everything: the record, its rows, money, pictures and papers. 'serve' may go on meanwhile.

    Exit status 1 where anything is wrong. How far it is is said on a terminal.
    """
    from ledger import audit, journal, kept_files
    from ledger.database import reading
    from ledger.schema import check_schema

    settings = settings_of(data_dir=data_dir)
    watched = sys.stderr.isatty() and not as_json

    def progress(said: str) -> None:
        if watched:
            typer.echo(f"  {said}", err=True)

    with engine_of_a_ledger(settings) as engine:
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
        for line in _as_lines(faults, files, entries):
            typer.echo(line)
    if faults or files:
        raise typer.Exit(1)


def _as_lines(faults: list[Any], files: list[str], entries: int) -> list[str]:
    """What a check found, a line each, and at last what to do about it."""
    wrong = [f"{fault.check}: {fault.sentence}." for fault in faults] + [f"{line}." for line in files]
    if faults:
        end = "Issue and publish nothing until this is put right: restore the last backup that is sound."
    elif files:
        end = f"The record is sound, {entries} entries. Restore the missing files from a backup."
    else:
        end = f"Everything is as the record says: {entries} entries."
    return [*(line[:1].upper() + line[1:] for line in wrong), end]
