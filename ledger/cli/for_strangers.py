"""`verify` and `publish`: what strangers hold, and what they may read."""

import json
from pathlib import Path
from typing import Annotated, Any

import typer

from ledger.cli.shared import DataDir, engine_of_a_ledger, settings_of
from ledger.errors import Refusal


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
        settings = settings_of(data_dir=data_dir)
        if data_dir is None and not settings.database_url and not home.holds_ledger(settings.data_dir):
            return verifying.verify(file, typed)
        with engine_of_a_ledger(settings) as engine:
            check_schema(engine)
            with reading(engine) as session:
                return verifying.verify(file, typed, session)
    except Exception as problem:
        why = problem.message if isinstance(problem, Refusal) else f"It cannot be read ({type(problem).__name__})."
        return verifying.Verdict((verifying.Finding("The ledger", verifying.OPEN, why),), {}, ())


def publish(
    folder: Annotated[Path, typer.Argument(help="The folder to write, or one written by this command before.")],
    data_dir: DataDir = None,
) -> None:
    """Write what strangers may read as files for any web host. The ledger may be in use meanwhile."""
    from ledger import clock
    from ledger.publish import publish as lay_out
    from ledger.schema import check_schema
    from ledger.web.static_pages import StaticPages

    settings = settings_of(data_dir=data_dir)
    with engine_of_a_ledger(settings) as engine:
        check_schema(engine)
        done = lay_out(engine, settings.data_dir, folder, StaticPages, clock.today(), typer.echo)
    for warning in done.warnings:
        typer.echo(warning, err=True)
    count = "1 certificate" if done.certificates == 1 else f"{done.certificates:,} certificates"
    typer.echo(f"{folder}: {count} and {done.entries:,} entries of the record")
    typer.echo(f"{done.changed:,} files new or changed, {done.same:,} as before, {done.gone:,} taken away")
