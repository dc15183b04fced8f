"""The page of an SVG: its size, the way from its units to millimetres, and what lies on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from lxml import etree

from kerfwright.drawing.model import Picture, Shape
from kerfwright.drawing.svg.findings import SvgTally
from kerfwright.drawing.svg.layers import Layer
from kerfwright.drawing.svg.paint import Style
from kerfwright.drawing.svg.place import Place, finite
from kerfwright.drawing.svg.values import (
    MM_PER_PX,
    BadValueError,
    Measures,
    fitted,
    has_unit,
    length,
    view_box,
)
from kerfwright.geometry.affine import Affine, scaling, translation
from kerfwright.geometry.tolerances import COORDINATE_LIMIT_MM, SAME_MM


@dataclass(frozen=True, slots=True)
class Page:
    """The root's place, the page's size in mm where it has one, and whether px give the scale."""

    place: Place
    size_mm: tuple[float, float] | None
    scale_assumed: bool


def page_of(root: etree._Element, declared: Mapping[str, str]) -> Page:
    """Find the page of a drawing (SVG 1.1 section 7.2; a missing side follows the view box)."""
    box = view_box(root.get("viewBox"))
    measures = Measures(box.width, box.height) if box else Measures(0.0, 0.0)
    style = Style().inherited(declared, measures)
    measures = replace(measures, font=style.font, root_font=style.font)
    stated = [
        _stated(declared.get(name) or root.get(name, ""), has_box=box is not None)
        for name in ("width", "height")
    ]
    assumed = not any(stated) or not all(has_unit(text) for text in stated if text)
    width, height = (
        length(text, measures, whole) if text else None
        for text, whole in zip(stated, (measures.width, measures.height), strict=True)
    )
    if box is not None:
        if width is None:
            width = box.width if height is None else height * box.width / box.height
        if height is None:
            height = width * box.height / box.width
    if width is None or height is None:
        place = Place(scaling(MM_PER_PX, -MM_PER_PX), style, measures, Layer())
        return Page(place, None, assumed)
    # to the picometre: the way through px leaves dust in the last digits
    width_mm, height_mm = round(width * MM_PER_PX, 9), round(height * MM_PER_PX, 9)
    if not 0.0 < min(width_mm, height_mm) <= max(width_mm, height_mm) <= COORDINATE_LIMIT_MM:
        raise BadValueError(
            "drawing/coordinates",
            f"the page of {width_mm:g} × {height_mm:g} mm is no page.",
            "Set the page's width and height in mm in the drawing program.",
        )
    to_mm = Affine(MM_PER_PX, 0.0, 0.0, -MM_PER_PX, 0.0, height_mm)
    if box is not None:
        to_mm = finite(to_mm @ fitted(box, width, height, root.get("preserveAspectRatio")))
    else:
        measures = measures.with_viewport(width, height)
    return Page(Place(to_mm, style, measures, Layer()), (width_mm, height_mm), assumed)


def _stated(text: str, *, has_box: bool) -> str:
    """Return a page side as written, "" where it says nothing about size."""
    text = text.strip()
    says_nothing = text in {"auto", "100%"} or (text.endswith("%") and not has_box)
    return "" if says_nothing else text


@dataclass(frozen=True, eq=False, slots=True)
class Laid:
    """Shapes and pictures as they lie on a page of ``width_mm`` by ``height_mm``."""

    shapes: tuple[Shape, ...]
    pictures: tuple[Picture, ...]
    width_mm: float
    height_mm: float


def laid_on_page(
    shapes: Sequence[Shape],
    pictures: Sequence[Picture],
    size_mm: tuple[float, float] | None,
    tally: SvgTally,
) -> Laid:
    """Lay everything on its page, and count what reaches beyond.

    Where the file states no page, it becomes one of the extent of what is drawn.
    """
    extents = [(shape.name, path.bounds_mm) for shape in shapes for path in shape.paths]
    extents += [(picture.name, picture.bounds_mm) for picture in pictures]
    bounds = np.array([extent for _, extent in extents])
    low, high = bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)
    if size_mm is not None:
        edge = np.array(size_mm) + SAME_MM
        beyond = (bounds[:, :2] < -SAME_MM).any(axis=1) | (bounds[:, 2:] > edge).any(axis=1)
        names = dict.fromkeys(extents[row][0] for row in np.flatnonzero(beyond).tolist())
        for name in names:
            tally.add("outside-page", shape=name)
        return Laid(tuple(shapes), tuple(pictures), *size_mm)
    to_corner = translation(-float(low[0]), -float(low[1]))
    tally.moved(to_corner)
    return Laid(
        tuple(
            replace(shape, paths=tuple(path.transformed(to_corner) for path in shape.paths))
            for shape in shapes
        ),
        tuple(picture.transformed(to_corner) for picture in pictures),
        float(high[0] - low[0]),
        float(high[1] - low[1]),
    )
