"""Numbers, lengths, transforms and view boxes as SVG and CSS write them.

Lengths come out in user units; 96 px are an inch (CSS Values and Units 3, section 5.2).
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from kerfwright.geometry.affine import Affine, rotation, scaling, translation

PX_PER_IN = 96.0
MM_PER_PX = 25.4 / PX_PER_IN

NUMBER_LIMIT = 1e12
"""A larger number is damage in any unit, and would overflow on its way to millimetres."""

SPACE = r"[ \t\n\r\f]"
NUMBER = r"(?>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)"
"""Pattern of a number; atomic, so that no text can make matching slow."""

COMMA = rf"(?:{SPACE}+,?{SPACE}*|,{SPACE}*)"

_NUMBER = re.compile(NUMBER, re.ASCII)
_LENGTH = re.compile(rf"({NUMBER}){SPACE}*([a-zA-Z]*|%)", re.ASCII)
_NUMBER_LIST = re.compile(rf"{NUMBER}(?:{COMMA}?{NUMBER})*", re.ASCII)
_FUNCTION = re.compile(rf"{SPACE}*,?{SPACE}*([a-zA-Z0-9]+){SPACE}*\(([^()]*)\)", re.ASCII)
_ARGUMENT = re.compile(rf"{NUMBER}[a-zA-Z]*", re.ASCII)
_ARGUMENTS = re.compile(rf"{NUMBER}[a-zA-Z]*(?:{COMMA}?{NUMBER}[a-zA-Z]*)*", re.ASCII)

_PX_OF_UNIT = {
    "": 1.0,
    "px": 1.0,
    "in": PX_PER_IN,
    "cm": PX_PER_IN / 2.54,
    "mm": PX_PER_IN / 25.4,
    "q": PX_PER_IN / 101.6,
    "pt": PX_PER_IN / 72.0,
    "pc": PX_PER_IN / 6.0,
}

_DEG_OF_UNIT = {"": 1.0, "deg": 1.0, "grad": 0.9, "rad": math.degrees(1.0), "turn": 360.0}


class BadValueError(ValueError):
    """A value that cannot be read; ``code``, ``thing`` and ``remedy`` as in KerfwrightError."""

    def __init__(self, code: str, thing: str, remedy: str) -> None:
        super().__init__(thing)
        self.code = code
        self.thing = thing
        self.remedy = remedy


@dataclass(frozen=True, slots=True)
class Measures:
    """What relative lengths refer to: the viewport and font size, in user units."""

    width: float
    height: float
    font: float = 16.0
    root_font: float = 16.0

    @property
    def diagonal(self) -> float:
        """What a percentage that is neither along x nor y refers to (SVG 1.1 section 7.10)."""
        return math.sqrt((self.width**2 + self.height**2) / 2.0)

    def with_viewport(self, width: float, height: float) -> Measures:
        """Return the same fonts in another viewport."""
        return replace(self, width=width, height=height)


def checked(value: float, text: str) -> float:
    """Return a number that is small enough to work with."""
    if not abs(value) <= NUMBER_LIMIT:
        raise BadValueError(
            "drawing/coordinates",
            f'the number "{_short(text)}" is far beyond any drawing.',
            "Find the stray or damaged element and delete it.",
        )
    return value


def number(text: str) -> float:
    """Read a plain number."""
    found = _NUMBER.fullmatch(text.strip())
    if found is None:
        raise bad_number(text)
    return checked(float(found[0]), text)


def bad_number(text: str) -> BadValueError:
    """Return the fault of a text that should have been a number."""
    return BadValueError(
        "drawing/bad-number",
        f'"{_short(text)}" is not a number.',
        "Correct the number, or delete the element and draw it again.",
    )


def length(text: str, measures: Measures, percent_of: float) -> float:
    """Read a length with or without a unit, in user units."""
    found = _LENGTH.fullmatch(text.strip())
    if found is None:
        raise bad_number(text)
    value, unit = checked(float(found[1]), text), found[2].lower()
    factors = {
        "%": percent_of / 100.0,
        "em": measures.font,
        "ex": measures.font / 2.0,
        "ch": measures.font / 2.0,
        "rem": measures.root_font,
    }
    factor = _PX_OF_UNIT.get(unit, factors.get(unit))
    if factor is None:
        raise BadValueError(
            "drawing/unknown-unit",
            f'"{_short(text)}" has the unknown unit "{found[2]}".',
            "Use mm, cm, in, pt, pc, Q or px.",
        )
    return checked(value * factor, text)


def has_unit(text: str) -> bool:
    """Whether a length says a physical unit, so that its size is not a matter of resolution."""
    found = _LENGTH.fullmatch(text.strip())
    return found is not None and found[2].lower() in {"in", "cm", "mm", "q", "pt", "pc"}


def numbers(text: str) -> list[float]:
    """Read a list of numbers separated by spaces, commas, or nothing before a sign or point."""
    text = text.strip()
    if not text:
        return []
    whole = _NUMBER_LIST.match(text)
    if whole is None or whole.end() < len(text):
        raise bad_number(text[whole.end() :] if whole else text)
    return [checked(float(found), found) for found in _NUMBER.findall(text)]


def transform(text: str, measures: Measures) -> Affine:
    """Read a transform list (SVG 1.1 section 7.6, and the 2-D functions of CSS Transforms 1)."""
    if text.strip().lower() in {"", "none"}:
        return Affine()
    total, position = Affine(), 0
    text = text.strip()
    while position < len(text):
        found = _FUNCTION.match(text, position)
        if found is None:
            raise _bad_transform(text)
        total = total @ _one_transform(found[1].lower(), found[2], measures)
        position = found.end()
    return total


def inverted(to_mm: Affine) -> Affine | None:
    """Return the way back of a transform; ``None`` if it flattens everything to a line."""
    det = to_mm.determinant
    if det == 0.0:
        return None
    back = Affine(to_mm.d / det, -to_mm.b / det, -to_mm.c / det, to_mm.a / det)
    return back @ translation(-to_mm.e, -to_mm.f)


def _one_transform(name: str, arguments: str, measures: Measures) -> Affine:
    def x_of(text: str) -> float:
        return length(text, measures, measures.width)

    def y_of(text: str) -> float:
        return length(text, measures, measures.height)

    makers: dict[str, tuple[tuple[int, ...], Callable[[list[str]], Affine]]] = {
        "matrix": ((6,), lambda t: Affine(*map(number, t))),
        "translate": ((1, 2), lambda t: translation(x_of(t[0]), y_of(t[1]) if t[1:] else 0.0)),
        "translatex": ((1,), lambda t: translation(x_of(t[0]), 0.0)),
        "translatey": ((1,), lambda t: translation(0.0, y_of(t[0]))),
        "scale": ((1, 2), lambda t: scaling(number(t[0]), number(t[-1]))),
        "scalex": ((1,), lambda t: scaling(number(t[0]), 1.0)),
        "scaley": ((1,), lambda t: scaling(1.0, number(t[0]))),
        "rotate": ((1, 3), lambda t: _rotated(t, x_of, y_of)),
        "skewx": ((1,), lambda t: Affine(c=_tangent(t[0]))),
        "skewy": ((1,), lambda t: Affine(b=_tangent(t[0]))),
    }
    arguments = arguments.strip()
    whole = _ARGUMENTS.match(arguments)
    texts = _ARGUMENT.findall(arguments)
    counts, make = makers.get(name, ((), None))
    readable = whole is not None and whole.end() == len(arguments)
    if make is None or not readable or len(texts) not in counts:
        raise _bad_transform(f"{name}({arguments})")
    return make(texts)


def _rotated(
    texts: list[str], x_of: Callable[[str], float], y_of: Callable[[str], float]
) -> Affine:
    turn = rotation(angle_deg(texts[0]))
    if len(texts) == 1:
        return turn
    x, y = x_of(texts[1]), y_of(texts[2])
    return translation(x, y) @ turn @ translation(-x, -y)


def angle_deg(text: str) -> float:
    """Read an angle with or without a unit."""
    found = _LENGTH.fullmatch(text.strip())
    if found is None:
        raise bad_number(text)
    if found[2].lower() not in _DEG_OF_UNIT:
        raise BadValueError(
            "drawing/unknown-unit", f'"{_short(text)}" is not an angle.', "Use degrees."
        )
    return checked(float(found[1]), text) * _DEG_OF_UNIT[found[2].lower()]


def _tangent(text: str) -> float:
    return checked(math.tan(math.radians(angle_deg(text))), text)


def _bad_transform(text: str) -> BadValueError:
    return BadValueError(
        "drawing/bad-transform",
        f'the transform "{_short(text)}" cannot be read, so its place is unknown.',
        "Ungroup or delete the element in the drawing program and place it again.",
    )


@dataclass(frozen=True, slots=True)
class ViewBox:
    """The rectangle in user units that is fitted to a viewport."""

    x: float
    y: float
    width: float
    height: float


def view_box(text: str | None) -> ViewBox | None:
    """Read a ``viewBox``; ``None`` where there is none."""
    if text is None or text.strip().lower() in {"", "none"}:
        return None
    values = numbers(text)
    if len(values) != 4 or values[2] <= 0.0 or values[3] <= 0.0:
        raise BadValueError(
            "drawing/bad-viewbox",
            f'viewBox "{_short(text)}" needs four numbers, width and height above 0.',
            "Save the drawing again, or correct the viewBox.",
        )
    return ViewBox(*values)


def fitted(box: ViewBox, width: float, height: float, aspect: str | None) -> Affine:
    """Fit ``box`` to a viewport, by ``preserveAspectRatio`` (SVG 1.1 section 7.8)."""
    words = (aspect or "").split()
    words = words[1:] if words[:1] == ["defer"] else words
    align, how = (words + ["xMidYMid", "meet"][len(words) :])[:2]
    x, y = width / box.width, height / box.height
    if align != "none":
        found = re.fullmatch(r"x(Min|Mid|Max)Y(Min|Mid|Max)", align)
        if found is None or how not in {"meet", "slice"} or len(words) > 2:
            raise BadValueError(
                "drawing/bad-viewbox",
                f'preserveAspectRatio "{_short(aspect or "")}" is unknown.',
                "Save the drawing again, or take the attribute out.",
            )
        x = y = min(x, y) if how == "meet" else max(x, y)
        share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
        left = share[found[1]] * (width - x * box.width)
        top = share[found[2]] * (height - y * box.height)
    else:
        left = top = 0.0
    return Affine(x, 0.0, 0.0, y, left - x * box.x, top - y * box.y)


def _short(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 40 else f"{text[:37]}..."
