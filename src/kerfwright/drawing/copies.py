"""One copy of a drawing with gaps: the row whose words belong into them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from kerfwright.errors import KerfwrightError
from kerfwright.shop.batch import Batch
from kerfwright.shop.batch_rows import BatchRow


@dataclass(frozen=True, slots=True)
class Copy:
    """What one copy of a drawing says: a row of a table, and how the item wants it written."""

    row: BatchRow
    batch: Batch
    table: Path


@dataclass(frozen=True, slots=True)
class Room:
    """How wide a text may be, and the least size of its letters, in mm of the drawing."""

    width_mm: float
    least_mm: float


def no_gaps_in(path: Path) -> KerfwrightError:
    """The error of a drawing that is no SVG, whose text cannot be replaced."""
    return KerfwrightError(
        "batch/not-svg",
        file=str(path),
        thing="only the text of an SVG drawing can differ from copy to copy.",
        remedy="Save the drawing as SVG, its text as text.",
    )
