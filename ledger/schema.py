"""The tables as this program writes them: what schema a database has, and bringing an older one up to date."""

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect

from ledger.database import Engine, altering, damage
from ledger.errors import Refusal
from ledger.migrations.triggers import drop_triggers, install_triggers
from ledger.paths import PACKAGE


def alembic_config() -> Config:
    """Alembic's settings, built here: the project has no alembic.ini to lose."""
    config = Config()
    config.set_main_option("script_location", str(PACKAGE / "migrations"))
    config.set_main_option("path_separator", "os")
    return config


def newest_schema() -> str:
    """The name of the schema this program writes."""
    head = ScriptDirectory.from_config(alembic_config()).get_current_head()
    assert head is not None
    return head


def schema_of(engine: Engine) -> str | None:
    """The name of the schema found; None in an empty database."""
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def is_empty(engine: Engine) -> bool:
    """Whether there is no table at all yet."""
    return not inspect(engine).get_table_names()


def _recognise(engine: Engine) -> None:
    found = schema_of(engine)
    known = {revision.revision for revision in ScriptDirectory.from_config(alembic_config()).walk_revisions()}
    if found is None and not is_empty(engine):
        raise Refusal("This database holds tables of another program and no ledger. Name another one.")
    if found is not None and found not in known:
        raise Refusal("This ledger was written by a newer print-ledger. Install that version or a later one.")


def migrate(engine: Engine) -> None:
    """Bring the tables to this program's schema, triggers and foreign keys checked before the commit.

    Raises Refusal, leaving everything as it was, for a database that is no ledger or a newer one, and when rows
    would point at nothing.
    """
    _recognise(engine)
    config = alembic_config()
    with altering(engine) as connection:
        config.attributes["connection"] = connection
        # Altering a SQLite table remakes it under another name and renames it, and SQLite renames nothing while a
        # trigger of any table names one that is not there. Its legacy_alter_table would let that pass and leave the
        # triggers that stood on the remade table lost all the same; and on both engines a script changes rows alike.
        drop_triggers(connection)
        command.upgrade(config, "head")
        install_triggers(connection)
        if faults := damage(connection):
            raise Refusal(f"The ledger was left as it was: {faults[0]}.")


def check_schema(engine: Engine) -> None:
    """Refuse a ledger this program cannot keep: an older or newer schema.

    Raises Refusal.
    """
    _recognise(engine)
    if schema_of(engine) != newest_schema():
        raise Refusal(
            "This ledger has an older schema. Make a backup, then run 'print-ledger serve --bring-up-to-date'."
        )
