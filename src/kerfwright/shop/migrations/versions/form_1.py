"""Form 1: runs and what each process took of them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "form_1"
down_revision = None


def upgrade() -> None:
    """Make the tables of runs."""
    schema = op.create_table(
        "record_schema",
        sa.Column("version", sa.Integer(), autoincrement=False, nullable=False),
        sa.PrimaryKeyConstraint("version", name="pk_record_schema"),
    )
    op.bulk_insert(schema, [{"version": 1}])
    op.create_table(
        "run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(), nullable=False),
        sa.Column("forgotten_at", sa.DateTime()),
        sa.Column("ran_on", sa.Date(), nullable=False),
        sa.Column("machine", sa.String(255), nullable=False),
        sa.Column("clock", sa.String(64), nullable=False),
        sa.Column("order_title", sa.Text(), nullable=False),
        sa.Column("sheet_number", sa.Integer(), nullable=False),
        sa.Column("sheet_name", sa.Text(), nullable=False),
        sa.Column("material", sa.Text(), nullable=False),
        sa.Column("program", sa.Text(), nullable=False),
        sa.Column("program_sha256", sa.String(64), nullable=False),
        sa.Column("repeat", sa.Integer(), nullable=False),
        sa.Column("computed_s", sa.Double(), nullable=False),
        sa.Column("expected_s", sa.Double()),
        sa.Column("actual_s", sa.Double(), nullable=False),
        sa.Column("scrapped_parts", sa.Integer()),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_run"),
        sa.UniqueConstraint("machine", "program_sha256", "repeat", name="uq_run_machine"),
        sa.CheckConstraint("computed_s > 0", name="ck_run_computed"),
        sa.CheckConstraint("actual_s > 0", name="ck_run_actual"),
        sa.CheckConstraint("scrapped_parts >= 0", name="ck_run_scrapped"),
    )
    op.create_index("ix_run_machine", "run", ["machine"])
    op.create_table(
        "run_process",
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("process", sa.String(32), nullable=False),
        sa.Column("computed_s", sa.Double(), nullable=False),
        sa.PrimaryKeyConstraint("run_id", "process", name="pk_run_process"),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name="fk_run_process_run_id"),
    )
