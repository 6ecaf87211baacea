"""what sheets cost, and taking them back"""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("cost", schema=None) as batch_op:
        batch_op.add_column(sa.Column("sheet_plan_id", sa.Integer(), nullable=True))
        batch_op.create_index(batch_op.f("ix_cost_sheet_plan_id"), ["sheet_plan_id"], unique=False)
        batch_op.create_foreign_key(batch_op.f("fk_cost_sheet_plan_id"), "sheet_plan", ["sheet_plan_id"], ["id"])

    with op.batch_alter_table("run", schema=None) as batch_op:
        batch_op.add_column(sa.Column("struck_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.create_check_constraint(op.f("ck_run_struck"), "struck_at IS NULL OR (good = 0 AND spoilt = 0)")

    with op.batch_alter_table("sheet_plan", schema=None) as batch_op:
        batch_op.add_column(sa.Column("sheet_minor", sa.BigInteger(), nullable=True))
        batch_op.add_column(sa.Column("bought", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("delivery_minor", sa.BigInteger(), nullable=True))
        batch_op.add_column(sa.Column("printed_on", sa.Date(), nullable=True))
        batch_op.create_check_constraint(op.f("ck_sheet_plan_sheet_minor"), "sheet_minor >= 0")
        batch_op.create_check_constraint(
            op.f("ck_sheet_plan_bought"),
            "bought IS NULL OR (bought > 0 AND accepted_on IS NOT NULL AND sheet_minor IS NOT NULL)",
        )
        batch_op.create_check_constraint(
            op.f("ck_sheet_plan_delivery"),
            "(bought IS NULL) = (delivery_minor IS NULL) AND (bought IS NULL OR delivery_minor >= 0)",
        )
        batch_op.create_check_constraint(op.f("ck_sheet_plan_printed_on"), "(bought IS NULL) = (printed_on IS NULL)")
