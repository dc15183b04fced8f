"""Stamps: everything of a part is engraved but its marks, which stay standing."""

from __future__ import annotations

import shapely
from shapely import MultiPolygon

from kerfwright.engraving.parts import WORTH_BURNING_MM2, LayerArea, layer_areas
from kerfwright.geometry.regions import as_area
from kerfwright.parts.model import Part
from kerfwright.shop.material import Recipe


def engraved_areas(part: Part, recipe: Recipe) -> tuple[LayerArea, ...]:
    """Areas of a part to engrave by a recipe: its marks, or all but its marks.

    An inverted recipe makes one area of all layers together, named after the first; it keeps
    ``border_mm`` from the part's edges.
    """
    if not recipe.invert or not part.engraves:
        return layer_areas(part)
    marks = shapely.union_all([mark.area for mark in part.engraves])
    ground = shapely.buffer(part.polygon, -recipe.border_mm) if recipe.border_mm else part.polygon
    left = as_area(shapely.difference(ground, marks))
    if left.area <= WORTH_BURNING_MM2:
        left = MultiPolygon()
    shapes = tuple(mark.shape for mark in part.engraves)
    relief = as_area(marks) if recipe.shoulder_mm else MultiPolygon()
    return (LayerArea(part.engraves[0].layer, left, 0.0, shapes, relief),)


def drawn_areas(part: Part, recipe: Recipe | None) -> tuple[MultiPolygon, ...]:
    """Areas to show as engraved: one for each mark, or the ground of an inverted engraving."""
    if recipe is not None and recipe.invert:
        return tuple(layer.area for layer in engraved_areas(part, recipe))
    return tuple(mark.area for mark in part.engraves)
