"""Kinds of SVG elements by what is done with them, and when an element is meant at all."""

from __future__ import annotations

from lxml import etree

GROUPS = frozenset(("g", "a", "svg", "symbol", "switch"))

NEVER_DRAWN = frozenset(
    {
        *("defs", "symbol", "clipPath", "mask", "marker", "pattern", "filter", "style"),
        *("linearGradient", "radialGradient", "title", "desc", "metadata", "view", "cursor"),
        *("font", "font-face", "color-profile", "stop", ""),
    }
)

MOVING = frozenset(
    ("animate", "animateColor", "animateMotion", "animateTransform", "set", "script")
)


def conditions_hold(element: etree._Element) -> bool:
    """Whether an element is meant for a reader without extensions, in English.

    SVG 1.1 section 5.8.2: an empty list holds for nobody.
    """
    languages = element.get("systemLanguage")
    fits = languages is None or any(
        word.strip().lower().partition("-")[0] == "en" for word in languages.split(",")
    )
    return fits and element.get("requiredExtensions") is None


def size_of(use: etree._Element) -> tuple[str, str]:
    """Width and height that a use asks for, "" where it leaves them open."""
    width, height = (use.get(name, "").strip() for name in ("width", "height"))
    return ("" if width == "auto" else width, "" if height == "auto" else height)
