"""Tables of the orders: their states, their plans, and the sheets of those."""

from __future__ import annotations

import datetime
from decimal import Decimal

from sqlalchemy import ForeignKey, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from kerfwright.shop.record_tables import Amount, RecordTable


class OrderRow(RecordTable):
    """An order by its reference. Its state is that of its last step."""

    __tablename__ = "shop_order"
    # named for the column's name in form 2
    __table_args__ = (UniqueConstraint("reference", name="uq_shop_order_title"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    reference: Mapped[str] = mapped_column(Text)
    """What tells it from others of its title; the title itself where nothing else was given."""
    title: Mapped[str] = mapped_column(Text)
    customer: Mapped[str] = mapped_column(Text)
    due: Mapped[datetime.date | None]
    steps: Mapped[list[OrderStepRow]] = relationship(order_by="OrderStepRow.id", lazy="selectin")
    plans: Mapped[list[PlanRow]] = relationship(order_by="PlanRow.id", lazy="selectin")


class OrderStepRow(RecordTable):
    """An order came into a state. Rows are only added, as those of the stock's ledger are."""

    __tablename__ = "shop_order_step"

    id: Mapped[int] = mapped_column(primary_key=True)
    order_id: Mapped[int] = mapped_column(ForeignKey("shop_order.id"), index=True)
    state: Mapped[str] = mapped_column(String(16))
    stepped_at: Mapped[datetime.datetime]
    stepped_by: Mapped[str] = mapped_column(Text)
    note: Mapped[str] = mapped_column(Text)


class PlanRow(RecordTable):
    """A plan made for an order; the last one counts. ``net`` is the quote's, where there is one."""

    __tablename__ = "shop_plan"

    id: Mapped[int] = mapped_column(primary_key=True)
    order_id: Mapped[int] = mapped_column(ForeignKey("shop_order.id"), index=True)
    sha256: Mapped[str] = mapped_column(String(64), unique=True)
    """Of the bytes of ``plan.json``."""
    folder: Mapped[str] = mapped_column(Text)
    machine: Mapped[str] = mapped_column(Text)
    planned_at: Mapped[datetime.datetime]
    net: Mapped[Decimal | None] = mapped_column(Amount)
    currency: Mapped[str] = mapped_column(String(8))
    sheets: Mapped[list[PlanSheetRow]] = relationship(
        order_by="PlanSheetRow.number", lazy="selectin"
    )


class PlanSheetRow(RecordTable):
    """A sheet of a plan. Which of its runs are on record is told by its program."""

    __tablename__ = "shop_plan_sheet"

    plan_id: Mapped[int] = mapped_column(ForeignKey("shop_plan.id"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    material: Mapped[str] = mapped_column(Text)
    sheet: Mapped[str] = mapped_column(Text)
    program_sha256: Mapped[str | None] = mapped_column(String(64))
    time_s: Mapped[float]
    sheet_mm2: Mapped[float]
    parts_mm2: Mapped[float]
    parts: Mapped[int]
