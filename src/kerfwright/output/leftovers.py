"""What is left of a sheet, in words."""

from __future__ import annotations

from kerfwright.nesting.remainder import Remainder
from kerfwright.output.text import short_number


def left_in_words(left: Remainder | None) -> str:
    """The largest rectangle left of a sheet, such as ``310 × 290 mm``; a dash for none."""
    if left is None or left.rectangle.is_empty:
        return "–"
    # rounded down: nobody is to cut more from it than there is
    width_mm, height_mm = (int(side_mm) for side_mm in left.rectangle_mm)
    return f"{short_number(width_mm)} × {short_number(height_mm)} mm"


def is_worth_keeping(left: Remainder | None, least_mm: float) -> bool:
    """Whether a rectangle at least so wide both ways is left of a sheet."""
    return left is not None and not left.rectangle.is_empty and min(left.rectangle_mm) >= least_mm
