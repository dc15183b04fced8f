"""Tables of the stock: lots, and the ledger of what was done with them."""

from __future__ import annotations

import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, String, Text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from kerfwright.shop.record_tables import Amount, RecordTable


class LotRow(RecordTable):
    """Sheets that are alike, or one offcut. How many there are is the sum of its movements."""

    __tablename__ = "stock_lot"
    __table_args__ = (
        CheckConstraint("kind IN ('sheet', 'offcut')", name="kind"),
        CheckConstraint("width_mm > 0 AND height_mm > 0", name="size"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    label: Mapped[str] = mapped_column(String(32), unique=True)
    material: Mapped[str] = mapped_column(Text)
    kind: Mapped[str] = mapped_column(String(8))
    width_mm: Mapped[float]
    height_mm: Mapped[float]
    rings: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    """Outline, then holes, each as corners [x, y]; ``None`` for a full rectangle."""
    location: Mapped[str] = mapped_column(Text)
    cost: Mapped[Decimal | None] = mapped_column(Amount)
    price_per_m2: Mapped[Decimal | None] = mapped_column(Amount)
    received_on: Mapped[datetime.date]
    cut_from_id: Mapped[int | None] = mapped_column(ForeignKey("stock_lot.id"))
    note: Mapped[str] = mapped_column(Text)
    cut_from: Mapped[LotRow | None] = relationship(remote_side="LotRow.id")


class MovementRow(RecordTable):
    """One line of the ledger. Rows are only added: the database itself refuses anything else.

    ``on_hand`` and ``held`` are what the movement adds to the sheets on hand, and to those of
    them that are reserved for the order of ``order_reference``.
    """

    __tablename__ = "stock_movement"
    __table_args__ = (CheckConstraint("on_hand <> 0 OR held <> 0", name="moves"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    lot_id: Mapped[int] = mapped_column(ForeignKey("stock_lot.id"), index=True)
    what: Mapped[str] = mapped_column(String(16))
    on_hand: Mapped[int]
    held: Mapped[int]
    moved_at: Mapped[datetime.datetime]
    moved_by: Mapped[str] = mapped_column(Text)
    order_title: Mapped[str] = mapped_column(Text)
    """Empty where no order is concerned."""
    order_reference: Mapped[str | None] = mapped_column(Text)
    """``None`` in lines from before there were references: then the title tells the order."""
    plan_sha256: Mapped[str | None] = mapped_column(String(64))
    sheet_number: Mapped[int | None]
    run_id: Mapped[int | None] = mapped_column(ForeignKey("run.id"))
    note: Mapped[str] = mapped_column(Text)
    lot: Mapped[LotRow] = relationship()
