"""What CSS says of letters: family, weight, spacing, anchor (CSS Fonts 4, CSS Text 3, SVG 2).

Values that cannot be read are ignored, as CSS says.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import tinycss2

from kerfwright.drawing.lettering.font_files import Slope
from kerfwright.drawing.svg.values import BadValueError, Measures, length, number

TEXT_PROPERTIES = frozenset(
    {
        *("font-family", "font-style", "font-weight", "font-stretch", "font-variant"),
        *("font-variant-caps", "font-variant-ligatures", "font-kerning", "letter-spacing"),
        *("word-spacing", "text-anchor", "direction", "writing-mode", "white-space"),
        *("text-transform", "dominant-baseline", "alignment-baseline", "baseline-shift"),
        *("text-decoration", "text-decoration-line", "inline-size", "shape-inside"),
    }
)
"""Properties that change how text is set; the size of its letters is read elsewhere."""

_WEIGHTS = {"normal": 400.0, "bold": 700.0}

_STRETCHES = {
    "ultra-condensed": 50.0,
    "extra-condensed": 62.5,
    "condensed": 75.0,
    "semi-condensed": 87.5,
    "normal": 100.0,
    "semi-expanded": 112.5,
    "expanded": 125.0,
    "extra-expanded": 150.0,
    "ultra-expanded": 200.0,
}

_SIZES = {
    "xx-small": 3 / 5,
    "x-small": 3 / 4,
    "small": 8 / 9,
    "medium": 1.0,
    "large": 6 / 5,
    "x-large": 3 / 2,
    "xx-large": 2.0,
    "xxx-large": 3.0,
}
"""Shares of the medium size (CSS Fonts 4, section 2.5)."""

_MEDIUM_PX = 16.0

_STEP = 1.2
"""How much ``larger`` is larger (CSS Fonts 4, section 2.5)."""

_SIZE_AND_REST = re.compile(
    r"(?P<before>.*?)(?:^|\s)"
    r"(?P<size>[+\d.][^\s/]*|(?:xx?-)?small|medium|(?:xx?x?-)?large|smaller|larger)"
    r"(?:\s*/\s*\S+)?\s+(?P<family>\S.*)",
    re.DOTALL | re.IGNORECASE,
)

_SLOPES: dict[str, Slope] = {"normal": "normal", "italic": "italic", "oblique": "oblique"}


@dataclass(frozen=True, slots=True)
class TextStyle:
    """Inherited properties of text; spacings in user units."""

    families: tuple[str, ...] = ()
    weight: float = 400.0
    stretch_percent: float = 100.0
    slope: Slope = "normal"
    small_caps: bool = False
    kerning: bool = True
    ligatures: bool = True
    letter_spacing: float = 0.0
    word_spacing: float = 0.0
    anchor: str = "start"
    rtl: bool = False
    vertical: bool = False
    keeps_spaces: bool | None = None
    case: str = "none"
    baseline: str = "auto"

    def inherited(self, wanted: Mapping[str, str], measures: Measures) -> TextStyle:
        """Return the style within an element of which ``wanted`` is declared.

        ``measures`` hold the element's own font size.
        """
        changes: dict[str, Any] = {}
        for name, value in wanted.items():
            if name in TEXT_PROPERTIES:
                changes.update(self._change(name, value, measures))
        return replace(self, **changes) if changes else self

    def _change(self, name: str, value: str, measures: Measures) -> dict[str, Any]:
        word = " ".join(value.lower().split())
        if word == "initial":
            word = value = _INITIAL.get(name, "normal")
        field, known = _WORDS.get(name, ("", {}))
        if field:
            return _given(field, known.get(word))
        match name:
            case "font-family":
                return {"families": tuple(_families(value))}
            case "font-weight":
                return _given("weight", self._weight(word))
            case "font-style":
                return _given("slope", _SLOPES.get(word.partition(" ")[0]))
            case "font-stretch":
                return _given("stretch_percent", _stretch(word))
            case "font-variant" | "font-variant-caps":
                return {"small_caps": "small-caps" in word.split()}
            case "letter-spacing" | "word-spacing":
                return _given(name.replace("-", "_"), _spacing(word, measures))
        return {}

    def _weight(self, word: str) -> float | None:
        if word == "bolder":
            return 400.0 if self.weight < 350.0 else 700.0 if self.weight < 550.0 else 900.0
        if word == "lighter":
            return 100.0 if self.weight < 550.0 else 400.0 if self.weight < 750.0 else 700.0
        return _WEIGHTS.get(word, _number_within(word, 1.0, 1000.0))


_INITIAL = {
    "text-anchor": "start",
    "direction": "ltr",
    "writing-mode": "horizontal-tb",
    "text-transform": "none",
    "dominant-baseline": "auto",
    "font-kerning": "auto",
    "font-family": "",
}

_VERTICAL = ("tb", "tb-rl", "vertical-rl", "vertical-lr", "sideways-rl", "sideways-lr")
_HORIZONTAL = ("horizontal-tb", "lr", "lr-tb", "rl", "rl-tb")
_KEEPS_SPACES = ("pre", "pre-wrap", "break-spaces", "preserve")
_FOLDS_SPACES = ("normal", "nowrap", "pre-line", "collapse", "wrap")
_BASELINES = (
    *("auto", "alphabetic", "middle", "central", "hanging", "mathematical", "ideographic"),
    *("text-before-edge", "text-after-edge", "text-top", "text-bottom"),
    *("use-script", "no-change", "reset-size"),
)

_WORDS: dict[str, tuple[str, dict[str, Any]]] = {
    "font-variant-ligatures": (
        "ligatures",
        {"normal": True, "none": False, "no-common-ligatures": False, "common-ligatures": True},
    ),
    "font-kerning": ("kerning", {"auto": True, "normal": True, "none": False}),
    "text-anchor": ("anchor", {word: word for word in ("start", "middle", "end")}),
    "direction": ("rtl", {"ltr": False, "rtl": True}),
    "writing-mode": (
        "vertical",
        dict.fromkeys(_VERTICAL, True) | dict.fromkeys(_HORIZONTAL, False),
    ),
    "white-space": (
        "keeps_spaces",
        dict.fromkeys(_KEEPS_SPACES, True) | dict.fromkeys(_FOLDS_SPACES, False),
    ),
    "text-transform": (
        "case",
        {word: word for word in ("none", "uppercase", "lowercase", "capitalize")},
    ),
    "dominant-baseline": ("baseline", {word: word for word in _BASELINES}),
}
"""Fields whose values are words, by property."""


def longhands(name: str, value: str) -> tuple[tuple[str, str], ...]:
    """Return the single properties that ``font`` stands for; any other one as it is.

    Nothing for a value that cannot be read (CSS Fonts 4, section 2.7).
    """
    if name != "font":
        return ((name, value),)
    found = _SIZE_AND_REST.fullmatch(value.strip())
    if found is None:
        return ()
    out = {"font-style": "normal", "font-variant": "normal", "font-weight": "normal"}
    out["font-stretch"] = "normal"
    for word in found["before"].lower().split():
        if word in {"italic", "oblique"}:
            out["font-style"] = word
        elif word == "small-caps":
            out["font-variant"] = word
        elif word in _STRETCHES and word != "normal":
            out["font-stretch"] = word
        elif word in {"bold", "bolder", "lighter"} or word.isdecimal():
            out["font-weight"] = word
        elif word != "normal":
            return ()
    return (*out.items(), ("font-size", found["size"]), ("font-family", found["family"].strip()))


def named_size(word: str, inherited: float) -> float | None:
    """Return the font size that a word stands for, ``None`` if it is no such word."""
    word = word.strip().lower()
    if word in {"larger", "smaller"}:
        return inherited * (_STEP if word == "larger" else 1.0 / _STEP)
    return None if word not in _SIZES else _SIZES[word] * _MEDIUM_PX


def _families(value: str) -> Iterator[str]:
    words: list[str] = []
    for token in [*tinycss2.parse_component_value_list(value), None]:
        if token is None or (token.type == "literal" and token.value == ","):
            if words:
                yield " ".join(words)
            words = []
        elif token.type in {"ident", "string"}:
            words.append(token.value)
        elif token.type in {"number", "dimension", "hash"}:
            # "Font 2000" without quotes is no CSS, but drawing programs write it
            words.append(token.serialize())


def _stretch(word: str) -> float | None:
    if word.endswith("%"):
        return _number_within(word[:-1], 1.0, 1000.0)
    return _STRETCHES.get(word)


def _spacing(word: str, measures: Measures) -> float | None:
    try:
        return 0.0 if word == "normal" else length(word, measures, measures.font)
    except BadValueError:
        return None


def _number_within(text: str, low: float, high: float) -> float | None:
    try:
        return min(max(number(text), low), high)
    except BadValueError:
        return None


def _given(name: str, value: object) -> dict[str, Any]:
    return {} if value is None else {name: value}
