"""Form 2: stock with its ledger, orders with their plans."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from kerfwright.shop.migrations.closing import close

revision = "form_2"
down_revision = "form_1"

LEDGERS = ("stock_movement", "shop_order_step")
"""Tables whose rows are neither changed nor taken out, whoever asks the database to."""


def upgrade() -> None:
    """Make the tables of stock and orders."""
    _make_stock()
    _make_orders()
    for table in LEDGERS:
        close(table)
    op.execute("UPDATE record_schema SET version = 2")


def _make_stock() -> None:
    op.create_table(
        "stock_lot",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("label", sa.String(32), nullable=False),
        sa.Column("material", sa.Text(), nullable=False),
        sa.Column("kind", sa.String(8), nullable=False),
        sa.Column("width_mm", sa.Double(), nullable=False),
        sa.Column("height_mm", sa.Double(), nullable=False),
        sa.Column("rings", sa.JSON()),
        sa.Column("location", sa.Text(), nullable=False),
        sa.Column("cost", sa.String(32)),
        sa.Column("price_per_m2", sa.String(32)),
        sa.Column("received_on", sa.Date(), nullable=False),
        sa.Column("cut_from_id", sa.Integer()),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_stock_lot"),
        sa.UniqueConstraint("label", name="uq_stock_lot_label"),
        sa.ForeignKeyConstraint(["cut_from_id"], ["stock_lot.id"], name="fk_stock_lot_cut_from_id"),
        sa.CheckConstraint("kind IN ('sheet', 'offcut')", name="ck_stock_lot_kind"),
        sa.CheckConstraint("width_mm > 0 AND height_mm > 0", name="ck_stock_lot_size"),
    )
    op.create_table(
        "stock_movement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("what", sa.String(16), nullable=False),
        sa.Column("on_hand", sa.Integer(), nullable=False),
        sa.Column("held", sa.Integer(), nullable=False),
        sa.Column("moved_at", sa.DateTime(), nullable=False),
        sa.Column("moved_by", sa.Text(), nullable=False),
        sa.Column("order_title", sa.Text(), nullable=False),
        sa.Column("plan_sha256", sa.String(64)),
        sa.Column("sheet_number", sa.Integer()),
        sa.Column("run_id", sa.Integer()),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_stock_movement"),
        sa.ForeignKeyConstraint(["lot_id"], ["stock_lot.id"], name="fk_stock_movement_lot_id"),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name="fk_stock_movement_run_id"),
        sa.CheckConstraint("on_hand <> 0 OR held <> 0", name="ck_stock_movement_moves"),
    )
    op.create_index("ix_stock_movement_lot_id", "stock_movement", ["lot_id"])


def _make_orders() -> None:
    op.create_table(
        "shop_order",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("customer", sa.Text(), nullable=False),
        sa.Column("due", sa.Date()),
        sa.PrimaryKeyConstraint("id", name="pk_shop_order"),
        sa.UniqueConstraint("title", name="uq_shop_order_title"),
    )
    op.create_table(
        "shop_order_step",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(16), nullable=False),
        sa.Column("stepped_at", sa.DateTime(), nullable=False),
        sa.Column("stepped_by", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_shop_order_step"),
        sa.ForeignKeyConstraint(
            ["order_id"], ["shop_order.id"], name="fk_shop_order_step_order_id"
        ),
    )
    op.create_index("ix_shop_order_step_order_id", "shop_order_step", ["order_id"])
    op.create_table(
        "shop_plan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("folder", sa.Text(), nullable=False),
        sa.Column("machine", sa.Text(), nullable=False),
        sa.Column("planned_at", sa.DateTime(), nullable=False),
        sa.Column("net", sa.String(32)),
        sa.Column("currency", sa.String(8), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_shop_plan"),
        sa.UniqueConstraint("sha256", name="uq_shop_plan_sha256"),
        sa.ForeignKeyConstraint(["order_id"], ["shop_order.id"], name="fk_shop_plan_order_id"),
    )
    op.create_index("ix_shop_plan_order_id", "shop_plan", ["order_id"])
    op.create_table(
        "shop_plan_sheet",
        sa.Column("plan_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("material", sa.Text(), nullable=False),
        sa.Column("sheet", sa.Text(), nullable=False),
        sa.Column("program_sha256", sa.String(64)),
        sa.Column("time_s", sa.Double(), nullable=False),
        sa.Column("sheet_mm2", sa.Double(), nullable=False),
        sa.Column("parts_mm2", sa.Double(), nullable=False),
        sa.Column("parts", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("plan_id", "number", name="pk_shop_plan_sheet"),
        sa.ForeignKeyConstraint(["plan_id"], ["shop_plan.id"], name="fk_shop_plan_sheet_plan_id"),
    )
