"""Where in a drawing an element stands: its way to millimetres, what it inherits, its page."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from lxml import etree

from kerfwright.drawing.svg_layers import Layer
from kerfwright.drawing.svg_paint import Style
from kerfwright.drawing.svg_values import (
    MM_PER_PX,
    BadValueError,
    Measures,
    fitted,
    has_unit,
    length,
    transform,
    view_box,
)
from kerfwright.drawing.svg_xml import local_name
from kerfwright.geometry.affine import Affine, scaling, translation
from kerfwright.geometry.paths import Path
from kerfwright.geometry.tolerances import COORDINATE_LIMIT_MM, SAME_MM

TRANSFORM_LIMIT = 1e15
"""A larger factor is damage, and would overflow in the next transform."""


@dataclass(frozen=True, slots=True)
class Frame:
    """The edge of a nested viewport, outside which a browser hides what is drawn."""

    to_mm: Affine
    width: float
    height: float

    def holds(self, paths: Iterable[Path]) -> bool:
        """Whether all of ``paths``, in mm, lie inside."""
        t, det = self.to_mm, self.to_mm.determinant
        if det == 0.0:
            return True
        back = Affine(t.d / det, -t.b / det, -t.c / det, t.a / det) @ translation(-t.e, -t.f)
        slack = SAME_MM / math.sqrt(abs(det))
        for path in paths:
            left, low, right, high = path.transformed(back).bounds_mm
            if min(left, low) < -slack or right > self.width + slack or high > self.height + slack:
                return False
        return True


@dataclass(frozen=True, slots=True)
class Place:
    """Where in the drawing an element stands, and what it inherits."""

    to_mm: Affine
    style: Style
    measures: Measures
    layer: Layer
    copy: str | None = None
    """Id of the outermost copy ("" if it has none); ``None`` outside copies."""
    frames: tuple[Frame, ...] = ()
    depth: int = 0

    def inside(self, element: etree._Element, declared: Mapping[str, str]) -> Place:
        """Return the place within ``element``, with its transform and style."""
        style = self.style.inherited(declared, self.measures)
        measures = replace(self.measures, font=style.font)
        own = transform(declared.get("transform") or element.get("transform", ""), measures)
        origin = declared.get("transform-origin", "").replace(",", " ").split()
        if origin and own != Affine():
            x = length(_as_percent(origin[0]), measures, measures.width)
            y = length(_as_percent([*origin, "50%"][1]), measures, measures.height)
            own = translation(x, y) @ own @ translation(-x, -y)
        return replace(
            self,
            to_mm=finite(self.to_mm @ own),
            style=style,
            measures=measures,
            layer=self.layer.inside(element) if local_name(element) == "g" else self.layer,
            depth=self.depth + 1,
        )

    def moved(self, x: float, y: float) -> Place:
        """Return the place moved in user units."""
        return replace(self, to_mm=finite(self.to_mm @ translation(x, y)))

    def lengths(self, element: etree._Element, x_name: str, y_name: str) -> tuple[float, float]:
        """Read a length along x and one along y; 0 where there is none."""
        measures = self.measures
        return (
            length(element.get(x_name) or "0", measures, measures.width),
            length(element.get(y_name) or "0", measures, measures.height),
        )


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


def finite(to_mm: Affine) -> Affine:
    """Return a transform whose numbers can be worked with."""
    parts = (to_mm.a, to_mm.b, to_mm.c, to_mm.d, to_mm.e, to_mm.f)
    if not all(abs(part) <= TRANSFORM_LIMIT for part in parts):
        raise BadValueError(
            "drawing/coordinates",
            "its transforms place it far beyond any drawing.",
            "Find the stray or damaged element and delete it.",
        )
    return to_mm


def _as_percent(word: str) -> str:
    words = {"left": "0%", "top": "0%", "center": "50%", "right": "100%", "bottom": "100%"}
    return words.get(word.lower(), word)
