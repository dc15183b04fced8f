"""Dashed lines as the dashes they show (SVG 1.1 section 11.4, SVG 2 section 13.5.6)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from lxml import etree

from kerfwright.drawing.dashes import DASHES_LIMIT, dashed, user_lengths
from kerfwright.drawing.model import Paint
from kerfwright.drawing.svg.clip import is_line
from kerfwright.drawing.svg.findings import SvgTally
from kerfwright.drawing.svg.place import Place
from kerfwright.drawing.svg.values import (
    MM_PER_PX,
    BadValueError,
    Measures,
    inverted,
    length,
    number,
)
from kerfwright.geometry.affine import Affine, scaling
from kerfwright.geometry.paths import Path

FINEST_PER_MM = 1e9
"""Units of length in a millimetre beyond which no dash can be told from the next."""

_SEPARATOR = re.compile(r"[\s,]+")


@dataclass(frozen=True, slots=True)
class Dashing:
    """Lengths of dash and gap in turn, an even number of them, and where the first dash begins."""

    lengths: tuple[float, ...]
    offset: float

    @property
    def period(self) -> float:
        """Length after which the dashes repeat."""
        return sum(self.lengths)

    @property
    def has_dots(self) -> bool:
        """Whether some dashes have no length, and show only by the caps at their ends."""
        return min(self.lengths[::2]) == 0.0

    def scaled(self, by: float) -> Dashing:
        """Return the same dashes in another unit."""
        return Dashing(tuple(one * by for one in self.lengths), self.offset * by)


def dashing(dashes: str, offset: str, measures: Measures) -> Dashing | None:
    """Read ``stroke-dasharray`` and ``stroke-dashoffset`` in user units.

    Returns ``None`` for an unbroken line: none, only zeros, or a list that is in error.
    """
    words = [word for word in _SEPARATOR.split(dashes.strip()) if word]
    if not words or words[0].lower() == "none":
        return None
    try:
        lengths = [length(word, measures, measures.diagonal) for word in words]
    except BadValueError:
        return None
    if min(lengths) < 0.0 or sum(lengths) <= 0.0:
        return None
    if len(lengths) % 2:
        lengths += lengths
    try:
        begin = length(offset or "0", measures, measures.diagonal)
    except BadValueError:
        begin = 0.0
    return Dashing(tuple(lengths), begin)


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line is dashed: ``to_user`` takes mm to the units that the dashes are given in."""

    pattern: Dashing | None
    to_user: Affine
    path_length: float | None = None
    has_caps: bool = False


def stroke_of(element: etree._Element, declared: Mapping[str, str], place: Place) -> Stroke:
    """How an element's line is dashed."""
    style = place.style
    to_user = inverted(place.to_mm)
    if to_user is None or declared.get("vector-effect") == "non-scaling-stroke":
        to_user = scaling(1.0 / MM_PER_PX, 1.0 / MM_PER_PX)
    stated = element.get("pathLength")
    path_length = number(stated) if stated else 0.0
    return Stroke(
        dashing(style.dashes, style.dash_offset, place.measures),
        to_user,
        path_length if path_length > 0.0 else None,
        style.caps.lower() in {"round", "square"},
    )


class Dashes:
    """Breaks the dashed lines of one drawing into their dashes, as many as can be worked with."""

    def __init__(self) -> None:
        self._count = 0.0

    def shown(
        self, name: str, paths: tuple[Path, ...], paint: Paint, stroke: Stroke, tally: SvgTally
    ) -> tuple[Path, ...]:
        """Return the dashes of a shape's line, or its paths if they are read unbroken."""
        pattern = stroke.pattern
        if pattern is None:
            return paths
        if not is_line(paint):
            tally.add("dashes-unbroken", shape=name, detail="the edge of an area")
            return paths
        u = stroke.to_user
        if not max(abs(u.a), abs(u.b), abs(u.c), abs(u.d)) <= FINEST_PER_MM:
            tally.add("dashes-unbroken", shape=name, detail=f"more than {DASHES_LIMIT} dashes")
            return paths
        along = [user_lengths(path, u) for path in paths]
        lengths = [float(one[-1]) for one in along]
        if stroke.path_length is not None:
            pattern = pattern.scaled(sum(lengths) / stroke.path_length)
        if pattern.has_dots and stroke.has_caps:
            tally.add("dashes-unbroken", shape=name, detail="dots")
            return paths
        per_period = len(pattern.lengths) / 2.0
        self._count += sum(each / pattern.period + 2.0 for each in lengths) * per_period
        if not self._count <= DASHES_LIMIT:
            tally.add("dashes-unbroken", shape=name, detail=f"more than {DASHES_LIMIT} dashes")
            return paths
        dashes = tuple(
            dash
            for path, lengths_along in zip(paths, along, strict=True)
            for dash in dashed(path, lengths_along, pattern.lengths, pattern.offset)
        )
        if dashes != paths:
            tally.add("dashes", shape=name, detail=f"{len(dashes)} dashes")
        return dashes
