"""A fixture as an order or a file of its own describes it: a board whose pockets hold blanks."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from kerfwright.shop.machine import Finite, NotNegative, Positive, StrictModel, Switch, Text
from kerfwright.shop.points import Point, Ring

Few = Annotated[int, Field(ge=1, le=200, strict=True)]


class PocketShape(StrictModel):
    """What shape a pocket has: a rectangle, a circle, or any outline by its points."""

    width_mm: Positive | None = None
    """Width of a rectangular blank."""
    height_mm: Positive | None = None
    """Height of a rectangular blank."""
    corner_mm: NotNegative = 0.0
    """Radius of a rectangular blank's corners."""
    diameter_mm: Positive | None = None
    """Diameter of a round blank, instead of a width and a height."""
    points: Ring | None = None
    """Corners of the blank as [x, y] from the pocket's centre, instead of both."""


class PocketGrid(PocketShape):
    """Equal pockets in columns and rows."""

    columns: Few
    """Pockets side by side, along x."""
    rows: Few = 1
    """Pockets above one another, along y."""
    first_mm: Point
    """Centre of the lower left pocket as [x, y], from the fixture's lower left corner."""
    pitch_mm: tuple[NotNegative, NotNegative] = (0.0, 0.0)
    """From centre to centre along x and along y."""


class PlacedPocket(PocketShape):
    """One pocket with a place of its own."""

    centre_mm: Point
    """Its centre as [x, y], from the fixture's lower left corner."""


class Fixture(StrictModel):
    """A board on the bed whose pockets hold blanks. Its pockets have the size of the blank."""

    name: Text
    """What the shop calls it; items name it."""
    width_mm: Positive
    """Size in x as it lies on the bed."""
    height_mm: Positive
    """Size in y as it lies on the bed."""
    at_mm: Point = (0.0, 0.0)
    """Where its lower left corner lies on the bed as [x, y], from the machine's zero."""
    grid: PocketGrid | None = None
    """Equal pockets in columns and rows."""
    pockets: tuple[Ring, ...] = ()
    """Corners of each pocket as [x, y], from the fixture's lower left corner."""
    placed: tuple[PlacedPocket, ...] = ()
    """Pockets with places of their own, one [[fixtures.placed]] block for each."""
    drawing: Text | None = None
    """Path of a drawing whose closed lines are the pockets; the path starts from the folder of
    the file that names it."""
    layer: Text = "*"
    """Only lines of layers of this name are pockets, a pattern with * and ?."""
    out_of_use: tuple[Few, ...] = ()
    """Numbers of pockets that are to stay empty; they count in rows from the top left."""
    clearance_mm: NotNegative = 0.2
    """How much wider than the blank a pocket is cut, all round, when the fixture is made."""
    invented: Switch = False
    """True for example files."""

    @property
    def ways(self) -> int:
        """How many of the ways to give pockets are used; one is right."""
        return sum(
            (
                self.grid is not None,
                bool(self.pockets),
                bool(self.placed),
                self.drawing is not None,
            )
        )

    @property
    def far_corner_mm(self) -> tuple[Finite, Finite]:
        """Where the upper right corner lies on the bed."""
        return self.at_mm[0] + self.width_mm, self.at_mm[1] + self.height_mm
