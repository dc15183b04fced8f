"""Where in a drawing an element stands: its way to millimetres, what it inherits, its page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from lxml import etree

from kerfwright.drawing.model import Paint
from kerfwright.drawing.svg.clip import Region
from kerfwright.drawing.svg.layers import Layer
from kerfwright.drawing.svg.paint import Style
from kerfwright.drawing.svg.values import (
    BadValueError,
    Measures,
    fitted,
    length,
    transform,
    view_box,
)
from kerfwright.drawing.svg.xml import local_name
from kerfwright.geometry.affine import Affine, translation

TRANSFORM_LIMIT = 1e15
"""A larger factor is damage, and would overflow in the next transform."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where in the drawing an element stands, and what it inherits."""

    to_mm: Affine
    style: Style
    measures: Measures
    layer: Layer
    copy: str | None = None
    """Id of the outermost copy ("" if it has none); ``None`` outside copies."""
    depth: int = 0
    silhouette: Paint | None = None
    """How everything is painted where only its outline counts: in a clip, or for an extent."""
    context: Paint | None = None
    """Paint of the line on which a mark stands, or of the copy around it."""

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
class Viewport:
    """A nested viewport: the place of what is in it, and the edge where that is cut, if it is."""

    inner: Place
    edge: Region | None


def viewport_in(
    element: etree._Element, place: Place, declared: Mapping[str, str], wanted: tuple[str, str]
) -> Viewport | None:
    """Find the viewport of a nested svg or a symbol (SVG 1.1 sections 7.9 and 14.3.3).

    ``wanted`` is the width and height that a use asks for. Returns ``None`` for one without any
    size, in which nothing is drawn.
    """
    outer = place.measures
    width, height = (
        length(by_use or declared.get(name) or element.get(name) or "100%", outer, whole)
        for name, by_use, whole in (
            ("width", wanted[0], outer.width),
            ("height", wanted[1], outer.height),
        )
    )
    box = view_box(element.get("viewBox"))
    place = place.moved(*place.lengths(element, "x", "y"))
    to_mm, edge = place.to_mm, None
    if width > 0.0 and height > 0.0:
        if declared.get("overflow", "hidden") not in {"visible", "auto"}:
            edge = Region.frame(to_mm, width, height)
        if box is not None:
            fit = fitted(box, width, height, element.get("preserveAspectRatio"))
            to_mm, width, height = finite(to_mm @ fit), box.width, box.height
    elif outer.width > 0.0 and outer.height > 0.0:
        return None
    return Viewport(replace(place, to_mm=to_mm, measures=outer.with_viewport(width, height)), edge)


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
