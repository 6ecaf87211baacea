"""the tree"""

from itertools import islice

import sqlalchemy as sa
from alembic import op

from ledger.errors import Refusal
from ledger.reckoning import merkle

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

AT_ONCE = 1000


def upgrade() -> None:
    node = op.create_table(
        "journal_node",
        sa.Column("level", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("idx", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("hash", sa.LargeBinary(length=32), nullable=False),
        sa.PrimaryKeyConstraint("level", "idx", name=op.f("pk_journal_node")),
    )
    connection = op.get_bind()
    leaves = _leaves(connection)
    grown = ({"level": level, "idx": index, "hash": made} for level, index, made in merkle.subtrees(leaves))
    while rows := list(islice(grown, AT_ONCE)):
        connection.execute(sa.insert(node), rows)

    def kept(level: int, index: int) -> bytes:
        here = sa.select(node.c.hash).where(node.c.level == level, node.c.idx == index)
        return bytes(connection.execute(here).scalar_one())

    if merkle.root_of(len(leaves), kept) != _root_by_definition(leaves):
        raise Refusal("The ledger was left as it was: the tree laid over its entries has another root than they have.")


def _leaves(connection: sa.Connection) -> list[bytes]:
    """The hashes of the entries so far. Raises Refusal where one is gone or is not what was hashed."""
    entry = sa.table("journal", sa.column("seq"), sa.column("body", sa.LargeBinary), sa.column("leaf", sa.LargeBinary))
    leaves = []
    for place, (seq, body, leaf) in enumerate(connection.execute(sa.select(entry).order_by(entry.c.seq))):
        if seq != place or merkle.leaf_hash(body) != leaf:
            raise Refusal(f"The ledger was left as it was: entry {place} is gone or was changed. Restore a backup.")
        leaves.append(leaf)
    return leaves


def _root_by_definition(leaves: list[bytes]) -> bytes:
    """RFC 9162, 2.1.1 word for word, by another way than the nodes were made."""
    if not leaves:
        return merkle.empty_root()
    if len(leaves) == 1:
        return leaves[0]
    split = 1 << ((len(leaves) - 1).bit_length() - 1)
    return merkle.node_hash(_root_by_definition(leaves[:split]), _root_by_definition(leaves[split:]))
