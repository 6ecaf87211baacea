"""recipes of offers, finished prints that bear nothing, spares kept to replace"""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("finished", schema=None) as batch_op:
        batch_op.add_column(sa.Column("piece_id", sa.Integer(), nullable=True))
        batch_op.alter_column("cost_id", existing_type=sa.INTEGER(), nullable=True)
        batch_op.create_index(batch_op.f("ix_finished_piece_id"), ["piece_id"], unique=False)
        batch_op.create_unique_constraint(batch_op.f("uq_finished_entry_seq_piece_id"), ["entry_seq", "piece_id"])
        batch_op.create_foreign_key(batch_op.f("fk_finished_piece_id"), "piece", ["piece_id"], ["id"])
        batch_op.create_check_constraint(op.f("ck_finished_piece"), "(cost_id IS NULL) = (piece_id IS NOT NULL)")

    with op.batch_alter_table("offer", schema=None) as batch_op:
        batch_op.add_column(sa.Column("recipe_id", sa.Integer(), nullable=True))
        batch_op.create_index(batch_op.f("ix_offer_recipe_id"), ["recipe_id"], unique=False)
        batch_op.create_foreign_key(batch_op.f("fk_offer_recipe_id"), "recipe", ["recipe_id"], ["id"])

    with op.batch_alter_table("spare_fate", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_spare_fate_fate"), type_="check")
        batch_op.create_check_constraint(
            op.f("ck_spare_fate_fate"), "fate IN ('destroyed', 'replacement', 'archive', 'given')"
        )
