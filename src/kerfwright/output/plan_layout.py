"""What ``plan.json`` says of layouts: what is left of sheets, and what they did not take."""

from __future__ import annotations

from kerfwright.geometry.regions import rings_of
from kerfwright.nesting.model import WhyLeft
from kerfwright.nesting.remainder import Remainder
from kerfwright.output.leftovers import is_worth_keeping
from kerfwright.output.record import Count, NotNegative, Number, Record, rounded
from kerfwright.output.text import encodable
from kerfwright.plan import LeftToMake


class RectangleRecord(Record):
    """A rectangle with sides along x and y."""

    x_mm: Number
    """Left edge, from the sheet's lower left corner."""
    y_mm: Number
    """Lower edge, from the sheet's lower left corner."""
    width_mm: NotNegative
    """Extent in x."""
    height_mm: NotNegative
    """Extent in y."""


class LeftOfSheetRecord(Record):
    """What is left of a sheet when its parts are out; it keeps the spacing from them."""

    hull_fraction: NotNegative
    """Area of the finished parts over that of the hull round them all."""
    offcut_mm2: NotNegative
    """Area of the largest piece left."""
    offcut: tuple[tuple[tuple[Number, Number], ...], ...]
    """Its outline, then its holes, each as corners [x, y] in mm."""
    rectangle: RectangleRecord | None
    """The largest rectangle left; null where nothing is."""
    worth_keeping: bool
    """Whether that rectangle is as wide both ways as the order asks of an offcut."""


class LeftToMakeRecord(Record):
    """Copies of a part for which the sheets in stock had no place."""

    name: str
    """What the part is called."""
    material: str
    """Name of the material."""
    count: Count
    """How many."""
    reason: WhyLeft
    """Whether no sheet is large enough for it or for all of its kit, or the sheets ran out."""


def left_to_make_record(one: LeftToMake) -> LeftToMakeRecord:
    """Turn parts that were left over into their record."""
    return LeftToMakeRecord(
        name=encodable(one.name),
        material=encodable(one.material),
        count=one.count,
        reason=one.reason,
    )


def left_of_sheet(left: Remainder | None, least_mm: float) -> LeftOfSheetRecord | None:
    """Turn what is left of a sheet into its record; narrower than ``least_mm`` is not kept."""
    if left is None:
        return None
    rectangle = None
    if not left.rectangle.is_empty:
        x_mm, y_mm = left.rectangle.bounds[:2]
        width_mm, height_mm = left.rectangle_mm
        rectangle = RectangleRecord(
            x_mm=rounded(x_mm),
            y_mm=rounded(y_mm),
            width_mm=rounded(width_mm),
            height_mm=rounded(height_mm),
        )
    return LeftOfSheetRecord(
        hull_fraction=round(left.hull_fraction, 4),
        offcut_mm2=rounded(left.offcut.area),
        offcut=tuple(
            tuple((rounded(x), rounded(y)) for x, y in ring) for ring in rings_of(left.offcut)
        ),
        rectangle=rectangle,
        worth_keeping=is_worth_keeping(left, least_mm),
    )
