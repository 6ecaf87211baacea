"""sheet plans, runs counted, spares"""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "sheet_plan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("made_on", sa.Date(), nullable=False),
        sa.Column("plan", sa.LargeBinary(), nullable=False),
        sa.Column("accepted_on", sa.Date(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sheet_plan")),
    )
    op.create_table(
        "sheet_plan_size",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("plan_id", sa.Integer(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("size_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("place >= 0", name=op.f("ck_sheet_plan_size_place")),
        sa.ForeignKeyConstraint(["plan_id"], ["sheet_plan.id"], name=op.f("fk_sheet_plan_size_plan_id")),
        sa.ForeignKeyConstraint(["size_id"], ["size.id"], name=op.f("fk_sheet_plan_size_size_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sheet_plan_size")),
        sa.UniqueConstraint("plan_id", "place", name=op.f("uq_sheet_plan_size_plan_id_place")),
    )
    with op.batch_alter_table("sheet_plan_size", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sheet_plan_size_size_id"), ["size_id"], unique=False)

    op.create_table(
        "spare_fate",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("fate", sa.String(), nullable=False),
        sa.Column("how_many", sa.Integer(), nullable=False),
        sa.Column("settled_on", sa.Date(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.CheckConstraint("fate IN ('destroyed', 'archive', 'given')", name=op.f("ck_spare_fate_fate")),
        sa.CheckConstraint("how_many > 0", name=op.f("ck_spare_fate_how_many")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_spare_fate_run_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spare_fate")),
    )
    with op.batch_alter_table("spare_fate", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_spare_fate_run_id"), ["run_id"], unique=False)

    with op.batch_alter_table("run", schema=None) as batch_op:
        batch_op.add_column(sa.Column("size_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("plan_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("planned", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("counted_on", sa.Date(), nullable=True))
        batch_op.create_index(batch_op.f("ix_run_plan_id"), ["plan_id"], unique=False)
        batch_op.create_foreign_key(batch_op.f("fk_run_plan_id"), "sheet_plan", ["plan_id"], ["id"])
        batch_op.create_check_constraint(op.f("ck_run_planned"), "(plan_id IS NULL) = (planned IS NULL)")
        batch_op.create_foreign_key(batch_op.f("fk_run_size_id"), "size", ["size_id"], ["id"])
    # A printing of an edition in one size was of that size.
    op.execute(
        "UPDATE run SET size_id = (SELECT min(size.id) FROM size WHERE size.edition_id = run.edition_id) "
        "WHERE (SELECT count(*) FROM size WHERE size.edition_id = run.edition_id) = 1"
    )
