"""Tables of what machines, materials and recipes have been: rows are only added, never changed."""

from __future__ import annotations

import datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from kerfwright.shop.record_tables import RecordTable


class _Noted:
    """When a version was noted, by whom, and from where. The moment is in UTC."""

    noted_at: Mapped[datetime.datetime]
    noted_by: Mapped[str] = mapped_column(Text)
    source: Mapped[str] = mapped_column(String(16))
    origin: Mapped[str] = mapped_column(Text)
    """Name of the file, or whatever else tells where it came from."""


class MachineVersionRow(_Noted, RecordTable):
    """A machine as its file once described it."""

    __tablename__ = "machine_version"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(Text, index=True)
    settings: Mapped[dict[str, Any]] = mapped_column(JSON)


class MaterialVersionRow(_Noted, RecordTable):
    """A material as its file once described it, without its recipes."""

    __tablename__ = "material_version"
    __table_args__ = (CheckConstraint("thickness_mm > 0", name="thickness"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(Text, index=True)
    thickness_mm: Mapped[float]
    settings: Mapped[dict[str, Any]] = mapped_column(JSON)


class RecipeVersionRow(_Noted, RecordTable):
    """A recipe as it once was."""

    __tablename__ = "recipe_version"
    __table_args__ = (CheckConstraint("thickness_mm > 0", name="thickness"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    machine: Mapped[str] = mapped_column(Text)
    material: Mapped[str] = mapped_column(Text, index=True)
    thickness_mm: Mapped[float]
    process: Mapped[str] = mapped_column(String(32))
    settings: Mapped[dict[str, Any]] = mapped_column(JSON)
    """All that a recipe holds beside the other columns, whatever is as usual included."""
    status: Mapped[str] = mapped_column(String(16))
    tested_on: Mapped[datetime.date | None]
    tested_by: Mapped[str | None] = mapped_column(Text)
