"""`keys`: what certificates and heads are signed with."""

from typing import Any

import typer

from ledger.cli.shared import DataDir, engine_of_a_ledger, refuse_where_there_is_none, settings_of
from ledger.errors import Refusal

keys = typer.Typer(help="The keys that certificates are signed with.", no_args_is_help=True)


@keys.command("make")
def make_keys(data_dir: DataDir = None) -> None:
    """Make the ledger's signing keys, once, under the passphrase of the settings. Stop 'serve' before."""
    from ledger import home, keyfile
    from ledger.keys import make

    settings = settings_of(data_dir=data_dir)
    refuse_where_there_is_none(settings, " A new one is made by opening it once with 'serve'.")
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

    settings = settings_of(data_dir=data_dir)
    with engine_of_a_ledger(settings) as engine:
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
