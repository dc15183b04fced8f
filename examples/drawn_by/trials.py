"""Small drawings to try single things on."""

from __future__ import annotations

from pathlib import Path

from ezdxf import units
from ezdxf.filemanagement import new

from drawn_by.dxf import save

DUIJVESTIJN = ((50, 35, 27), (8, 19), (15, 17, 11), (6, 24), (29, 25, 9, 2), (7, 18), (16,),
               (42,), (4, 37), (33,))  # fmt: skip
"""Bouwkamp code of the one perfect squared square of 21 squares, side 112.

A. J. W. Duijvestijn, "Simple perfect squared square of lowest order", 1978.
"""
SIDE = 112


def squares() -> list[tuple[int, int, int]]:
    """Left, upper edge from above, and side of every square, placed as the code says."""
    skyline, placed = [0] * SIDE, []
    for row in DUIJVESTIJN:
        x = skyline.index(min(skyline))
        for side in row:
            placed.append((x, skyline[x], side))
            skyline[x : x + side] = [skyline[x] + side] * side
            x += side
    return placed


def write(folder: Path) -> None:
    """Write the drawings that are easier to compute than to type."""
    document = new("R2010", units=units.MM)
    document.layers.add("Outline")
    for x, y, side in squares():
        top = SIDE - y
        corners = [(x, top), (x, top - side), (x + side, top - side), (x + side, top)]
        document.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "Outline"})
    save(document, folder / "squared-square.dxf", "A perfect squared square (Duijvestijn 1978)")
    unitless = new("R2010", units=units.M)
    unitless.header["$INSUNITS"] = 0
    unitless.modelspace().add_circle((1.5, 1.5), 1.0)
    unitless.modelspace().add_lwpolyline([(0, 0), (3, 0), (3, 3), (0, 3)], close=True)
    save(unitless, folder / "no-units.dxf", "Invented: a drawing that states no unit")
