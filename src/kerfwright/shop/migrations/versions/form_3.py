"""Form 3: versions of machines, materials and recipes; orders told apart by a reference."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kerfwright.shop.migrations.closing import close

revision = "form_3"
down_revision = "form_2"

HISTORIES = ("machine_version", "material_version", "recipe_version")
"""Tables whose rows are neither changed nor taken out, whoever asks the database to."""


def upgrade() -> None:
    """Tell orders apart by their references, and make the tables of versions."""
    _tell_orders_apart()
    _make_versions()
    for table in HISTORIES:
        close(table)
    op.execute("UPDATE record_schema SET version = 3")


def _tell_orders_apart() -> None:
    """What was unique, the title, becomes the reference; a title may be there twice from now on.

    Runs and movements of before have no reference, and go by their title as they did: lines of a
    ledger are not changed.
    """
    op.execute("ALTER TABLE shop_order RENAME COLUMN title TO reference")
    op.add_column(
        "shop_order", sa.Column("title", sa.Text(), nullable=False, server_default=sa.text("''"))
    )
    op.execute("UPDATE shop_order SET title = reference")
    op.add_column("stock_movement", sa.Column("order_reference", sa.Text()))
    op.add_column("run", sa.Column("order_reference", sa.Text()))


def _make_versions() -> None:
    op.create_table(
        "machine_version",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("settings", sa.JSON(), nullable=False),
        *_noted(),
        sa.PrimaryKeyConstraint("id", name="pk_machine_version"),
    )
    op.create_index("ix_machine_version_name", "machine_version", ["name"])
    op.create_table(
        "material_version",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("thickness_mm", sa.Double(), nullable=False),
        sa.Column("settings", sa.JSON(), nullable=False),
        *_noted(),
        sa.PrimaryKeyConstraint("id", name="pk_material_version"),
        sa.CheckConstraint("thickness_mm > 0", name="ck_material_version_thickness"),
    )
    op.create_index("ix_material_version_name", "material_version", ["name"])
    op.create_table(
        "recipe_version",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("machine", sa.Text(), nullable=False),
        sa.Column("material", sa.Text(), nullable=False),
        sa.Column("thickness_mm", sa.Double(), nullable=False),
        sa.Column("process", sa.String(32), nullable=False),
        sa.Column("settings", sa.JSON(), nullable=False),
        sa.Column("status", sa.String(16), nullable=False),
        sa.Column("tested_on", sa.Date()),
        sa.Column("tested_by", sa.Text()),
        *_noted(),
        sa.PrimaryKeyConstraint("id", name="pk_recipe_version"),
        sa.CheckConstraint("thickness_mm > 0", name="ck_recipe_version_thickness"),
    )
    op.create_index("ix_recipe_version_material", "recipe_version", ["material"])


def _noted() -> tuple[sa.Column[object], ...]:
    return (
        sa.Column("noted_at", sa.DateTime(), nullable=False),
        sa.Column("noted_by", sa.Text(), nullable=False),
        sa.Column("source", sa.String(16), nullable=False),
        sa.Column("origin", sa.Text(), nullable=False),
    )
