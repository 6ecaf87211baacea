"""Alembic runs this, on the connection it is handed, inside that connection's transaction."""

from typing import Literal

from alembic import context
from alembic.autogenerate.api import AutogenContext
from sqlmodel import SQLModel

import ledger.tables  # noqa: F401  (registers the tables)

PLAIN = {"AutoString": "sa.String()", "UTCDateTime": "sa.DateTime(timezone=True)"}


def plain_types(kind: str, thing: object, _context: AutogenContext) -> str | Literal[False]:
    """Write SQLModel's own column types as SQLAlchemy's, so that no script depends on its inside."""
    if kind != "type":
        return False
    return PLAIN.get(type(thing).__name__, False)


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=SQLModel.metadata,
    render_item=plain_types,
    render_as_batch=context.config.attributes.get("batch", False),
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
