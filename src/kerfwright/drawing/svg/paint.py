"""What an element looks like once styles are inherited: paint, stroke, and whether it shows."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from lxml import etree
from tinycss2 import color4

from kerfwright.drawing.model import Paint
from kerfwright.drawing.svg.style import StyleSheet
from kerfwright.drawing.svg.text_style import TextStyle, named_size
from kerfwright.drawing.svg.values import BadValueError, Measures, length, number
from kerfwright.drawing.svg.xml import href_of, local_name
from kerfwright.geometry.regions import FillRule

PATTERN = "pattern"

PAINT_SERVERS = frozenset(("linearGradient", "radialGradient", "pattern"))

KEYWORDS = frozenset(("inherit", "unset", "initial", ""))
"""Values that any property may have, and what is as good as none."""

_URL = re.compile(r"url\(\s*[\"']?([^\"')]*)[\"']?\s*\)\s*(.*)", re.DOTALL | re.IGNORECASE)

_HREF_LIMIT = 20
"""Gradients that refer to gradients, before it must be a circle."""


_PLAIN_LETTERS = TextStyle()


@dataclass(frozen=True, slots=True)
class Style:
    """The inherited properties of an element; ``stroke_width`` is in user units."""

    fill: str = "black"
    stroke: str = "none"
    color: str = "black"
    fill_rule: FillRule = "nonzero"
    clip_rule: FillRule = "nonzero"
    stroke_width: float = 1.0
    fill_opacity: float = 1.0
    stroke_opacity: float = 1.0
    dashes: str = "none"
    dash_offset: str = "0"
    caps: str = "butt"
    markers: tuple[str, str, str] = ("none", "none", "none")
    font: float = 16.0
    letters: TextStyle = _PLAIN_LETTERS
    visible: bool = True
    opaque: bool = True
    """False inside anything of opacity 0."""
    faint: bool = False
    """True inside anything of an opacity below 1."""

    @property
    def is_faint(self) -> bool:
        """Whether something may shine through the paint."""
        return (
            self.faint
            or min(self.fill_opacity, self.stroke_opacity) < 1.0
            or self.fill.lower().startswith("url")
        )

    def inherited(self, declared: Mapping[str, str], measures: Measures) -> Style:
        """Return the style of an element inside one of this style.

        Colours that cannot be read are ignored, as CSS says; see :func:`unreadable_colours`.
        """
        return _inherited(self, tuple(declared.items()), measures) if declared else self

    def with_declared(self, declared: Mapping[str, str], measures: Measures) -> Style:
        """As :meth:`inherited`, worked out anew."""
        wanted = {
            name: value
            for name, value in declared.items()
            if value.lower() not in {"inherit", "unset"} and value
        }
        if not wanted:
            return self
        initial = Style()
        changes: dict[str, object] = {}
        for name, value in wanted.items():
            field = _FIELDS.get(name)
            if field is None:
                continue
            if value.lower() == "initial":
                changes[field] = getattr(initial, field)
            else:
                self._change(changes, name, value, measures)
        if "opacity" in wanted and wanted["opacity"].lower() != "initial":
            opacity = _share(wanted["opacity"])
            changes["opaque"] = self.opaque and opacity > 0.0
            changes["faint"] = self.faint or opacity < 1.0
        changes["markers"] = tuple(
            wanted.get(f"marker-{end}", old)
            for end, old in zip(("start", "mid", "end"), self.markers, strict=True)
        )
        own_font = changes.get("font", self.font)
        changes["letters"] = self.letters.inherited(wanted, replace(measures, font=own_font))  # type: ignore[arg-type]
        return replace(self, **changes)  # type: ignore[arg-type]

    def _change(
        self, changes: dict[str, object], name: str, value: str, measures: Measures
    ) -> None:
        field = _FIELDS[name]
        if name in {"fill", "stroke"}:
            if _is_paint(value):
                changes[field] = value
        elif name == "color":
            if colour_of(value) is not None:
                changes[field] = value
        elif name in {"fill-rule", "clip-rule"}:
            if value in {"nonzero", "evenodd"}:
                changes[field] = value
        elif name == "stroke-width":
            if is_width(value):
                changes[field] = length(value, measures, measures.diagonal)
        elif name == "font-size":
            changes[field] = self._font(value, measures)
        elif name == "visibility":
            changes[field] = value.lower() == "visible"
        elif name in {"fill-opacity", "stroke-opacity"}:
            changes[field] = _share(value)
        else:
            changes[field] = value

    def _font(self, value: str, measures: Measures) -> float:
        size = named_size(value, self.font)
        if size is not None:
            return size
        try:
            return length(value, replace(measures, font=self.font), self.font)
        except BadValueError:
            return self.font


@lru_cache(maxsize=4096)
def _inherited(style: Style, declared: tuple[tuple[str, str], ...], measures: Measures) -> Style:
    """Styles repeat a thousandfold in a drawing, and working one out takes long."""
    return style.with_declared(dict(declared), measures)


_FIELDS = {
    "fill": "fill",
    "stroke": "stroke",
    "color": "color",
    "fill-rule": "fill_rule",
    "clip-rule": "clip_rule",
    "stroke-width": "stroke_width",
    "fill-opacity": "fill_opacity",
    "stroke-opacity": "stroke_opacity",
    "stroke-dasharray": "dashes",
    "stroke-dashoffset": "dash_offset",
    "stroke-linecap": "caps",
    "font-size": "font",
    "visibility": "visible",
}


def url_of(text: str) -> str | None:
    """Return what ``url(...)`` refers to; ``None`` for any other text."""
    found = _URL.match(text)
    return None if found is None else found[1].strip()


def is_width(text: str) -> bool:
    """Whether a text is a length from 0 on, with a unit that is known."""
    try:
        return length(text, _ANY_MEASURES, 1.0) >= 0.0
    except BadValueError:
        return False


_ANY_MEASURES = Measures(1.0, 1.0)


def unreadable_colours(declared: Mapping[str, str]) -> list[str]:
    """Return the paints among declarations that mean nothing."""
    return [
        f"{name}: {declared[name]}"
        for name in ("fill", "stroke", "color")
        if name in declared
        and declared[name].lower() not in KEYWORDS
        and not _is_paint(declared[name])
    ]


@lru_cache(maxsize=4096)
def colour_of(text: str) -> str | None:
    """Return a colour as ``#rrggbb``, "" for one that is fully transparent, ``None`` for none."""
    try:
        colour = color4.parse_color(text.partition(" icc-color")[0].strip())
        if colour is None or colour == "currentcolor":
            return None
        if colour.alpha is not None and colour.alpha <= 0.0:
            return ""
        channels = [round(255.0 * (c or 0.0)) for c in colour.to("srgb").coordinates]
    except (ValueError, TypeError, NotImplementedError, ArithmeticError):
        return None
    return "#" + "".join(f"{min(max(channel, 0), 255):02x}" for channel in channels)


class PaintServers:
    """Gradients and patterns of a drawing, by id; ``missing`` are ids that lead nowhere."""

    def __init__(self, by_id: Mapping[str, etree._Element], styles: StyleSheet) -> None:
        self.missing: list[str] = []
        self._by_id = by_id
        self._styles = styles

    def paint(self, text: str, color: str, context: Paint | None = None) -> str | None:
        """Return ``#rrggbb``, ``"pattern"`` or ``None`` for a fill or stroke.

        ``context`` is the paint that ``context-fill`` and ``context-stroke`` mean (SVG 2 section
        13.2); without one they paint nothing.
        """
        if text.lower() in {"context-fill", "context-stroke"}:
            from_fill = text.lower() == "context-fill"
            return None if context is None else context.fill if from_fill else context.stroke
        found = _URL.match(text)
        if found is not None:
            server = self._by_id.get(found[1].strip().removeprefix("#"))
            if server is not None and local_name(server) in PAINT_SERVERS:
                return self._painted_by(server, color)
            self.missing.append(found[1].strip())
            text = found[2].strip() or "none"
        if text.lower() == "currentcolor":
            text = color
        return colour_of(text) or None

    def _painted_by(self, server: etree._Element, color: str) -> str | None:
        """Return the colour of a gradient whose stops are all alike: a swatch, not a gradient.

        A gradient without stops paints nothing (SVG 1.1 section 13.2.4).
        """
        for _ in range(_HREF_LIMIT):
            if local_name(server) == "pattern":
                return PATTERN
            stops = [child for child in server if local_name(child) == "stop"]
            if stops:
                colours = {self._stop_colour(stop, color) for stop in stops}
                return PATTERN if len(colours) > 1 else colours.pop() or None
            following = self._by_id.get(href_of(server).removeprefix("#"))
            if following is None or local_name(following) not in PAINT_SERVERS:
                return None
            server = following
        return None

    def _stop_colour(self, stop: etree._Element, color: str) -> str:
        declared = self._styles.declared(stop)
        if _share(declared.get("stop-opacity", "1")) <= 0.0:
            return ""
        text = declared.get("stop-color", "black")
        return colour_of(color if text.lower() == "currentcolor" else text) or ""


def _is_paint(text: str) -> bool:
    lower = text.lower()
    if lower in {"none", "currentcolor", "context-fill", "context-stroke"}:
        return True
    return _URL.match(text) is not None or colour_of(text) is not None


def _share(text: str) -> float:
    try:
        return number(text.rstrip("%")) / (100.0 if text.endswith("%") else 1.0)
    except BadValueError:
        return 1.0
