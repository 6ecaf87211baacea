"""The command `print-ledger`.

What takes long to import, the database and the web among it, is imported in the function that needs it: so help, a
slip of typing and `settings` answer at once.
"""

import sys

import typer

from ledger.cli.accounts import account
from ledger.cli.demonstration import demo
from ledger.cli.for_strangers import publish, verify
from ledger.cli.safekeeping import backup, check, restore
from ledger.cli.serving import serve
from ledger.cli.signing_keys import keys
from ledger.errors import Refusal
from ledger.settings import settings_in_force

app = typer.Typer(
    help="The book behind a small-edition print practice.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.add_typer(account, name="account")
app.add_typer(keys, name="keys")
for command in (serve, demo, backup, restore, check, verify, publish):
    app.command()(command)


@app.command()
def settings() -> None:
    """What is set, and where from. Secrets are not shown."""
    for row in settings_in_force():
        typer.echo(f"{row.name} = {row.value}   ({row.origin})")
        typer.echo(f"    {row.meaning}")


def main() -> None:
    """Run a command; a refusal is one sentence and exit status 1."""
    try:
        app()
    except Refusal as refusal:
        typer.echo(refusal.message, err=True)
        sys.exit(1)
    except KeyboardInterrupt:
        sys.exit(130)
