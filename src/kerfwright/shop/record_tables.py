"""Tables of the shop's records. Moments are in UTC, times in seconds."""

from __future__ import annotations

import datetime
from decimal import Decimal

from sqlalchemy import (
    CheckConstraint,
    Dialect,
    ForeignKey,
    MetaData,
    String,
    Text,
    TypeDecorator,
    UniqueConstraint,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

SCHEMA_VERSION = 3
"""Raised with every change of a table; ``record_schema`` holds the one that a database has."""


class RecordTable(DeclarativeBase):
    """What all tables share: constraints have names, so that a later version can change them."""

    metadata = MetaData(
        naming_convention={
            "pk": "pk_%(table_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "ix": "ix_%(table_name)s_%(column_0_name)s",
        }
    )


class Amount(TypeDecorator[Decimal]):
    """Money to the last digit: as text, because not every database has exact numbers."""

    impl = String(32)
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> str | None:
        """Write an amount."""
        del dialect
        return None if value is None else f"{value:f}"

    def process_result_value(self, value: str | None, dialect: Dialect) -> Decimal | None:
        """Read an amount."""
        del dialect
        return None if value is None else Decimal(value)


class SchemaRow(RecordTable):
    """The version of the tables; one row."""

    __tablename__ = "record_schema"

    version: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)


class RunRow(RecordTable):
    """A run of a program. Rows are never deleted: a forgotten run has the moment set."""

    __tablename__ = "run"
    __table_args__ = (
        UniqueConstraint("machine", "program_sha256", "repeat"),
        CheckConstraint("computed_s > 0", name="computed"),
        CheckConstraint("actual_s > 0", name="actual"),
        CheckConstraint("scrapped_parts >= 0", name="scrapped"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    recorded_at: Mapped[datetime.datetime]
    forgotten_at: Mapped[datetime.datetime | None]
    ran_on: Mapped[datetime.date]
    machine: Mapped[str] = mapped_column(String(255), index=True)
    clock: Mapped[str] = mapped_column(String(64))
    order_title: Mapped[str] = mapped_column(Text)
    order_reference: Mapped[str | None] = mapped_column(Text)
    """``None`` in records from before there were references: then the title tells the order."""
    sheet_number: Mapped[int]
    sheet_name: Mapped[str] = mapped_column(Text)
    material: Mapped[str] = mapped_column(Text)
    program: Mapped[str] = mapped_column(Text)
    program_sha256: Mapped[str] = mapped_column(String(64))
    repeat: Mapped[int]
    computed_s: Mapped[float]
    expected_s: Mapped[float | None]
    actual_s: Mapped[float]
    scrapped_parts: Mapped[int | None]
    note: Mapped[str] = mapped_column(Text)
    processes: Mapped[list[RunProcessRow]] = relationship(
        order_by="RunProcessRow.process", lazy="selectin"
    )


class RunProcessRow(RecordTable):
    """Computed seconds of one process in a run."""

    __tablename__ = "run_process"

    run_id: Mapped[int] = mapped_column(ForeignKey("run.id"), primary_key=True)
    process: Mapped[str] = mapped_column(String(32), primary_key=True)
    computed_s: Mapped[float]
