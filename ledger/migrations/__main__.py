"""Write the next migration: `python -m ledger.migrations 'what changes'`."""

import sys

from alembic import command
from alembic.script import ScriptDirectory

from ledger.database import make_engine
from ledger.schema import alembic_config


def write(message: str) -> None:
    """Write down, as a script, what the tables say now and an empty ledger brought up to date does not."""
    config = alembic_config()
    earlier = ScriptDirectory.from_config(config).get_current_head()
    number = int(earlier or 0) + 1
    engine = make_engine("sqlite://")
    with engine.connect().execution_options(writer=True) as connection, connection.begin():
        config.attributes["connection"] = connection
        if earlier:
            command.upgrade(config, "head")
        config.attributes["batch"] = earlier is not None  # SQLite alters no table in place
        command.revision(config, message, autogenerate=True, rev_id=f"{number:04}")


if __name__ == "__main__":
    write(" ".join(sys.argv[1:]) or sys.exit("Say in a few words what changes."))
