"""Where the letters of an SVG text come to stand (SVG 2, section 11.5).

The order of the steps is the standard's: set in a line, shifts by dx and dy, textLength,
absolute positions, anchors, paths.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from kerfwright.drawing.lettering.setting import Cluster, Setting, set_line
from kerfwright.drawing.svg.text_path import TextPath
from kerfwright.drawing.svg.text_tree import Letter, Span, TextTree
from kerfwright.geometry.affine import Affine, rotation, scaling, translation

SettingOf = Callable[[Span], Setting]
RaisedOf = Callable[[Span], float]
PathOf = Callable[[Span], TextPath]

_WORD_SPACES = " \u00a0\u1361"


@dataclass(eq=False, slots=True)
class Placed:
    """A cluster on its way to its place, in user units with y downwards.

    ``stretch`` widens the glyphs; ``turn_deg`` turns them about their place. ``to_user`` is the
    way from there, with y upwards in em, once everything is known.
    """

    cluster: Cluster
    letter: Letter
    first: int
    size: float
    x: float
    y: float
    advance: float
    stretch: float = 1.0
    turn_deg: float = 0.0
    hidden: bool = False

    @property
    def to_user(self) -> Affine:
        """Transform from em, y upwards, to user units."""
        turned = translation(self.x, self.y) @ rotation(self.turn_deg)
        return turned @ scaling(self.size * self.stretch, -self.size)

    @property
    def right(self) -> float:
        """Where the pen stands after it."""
        return self.x + self.advance


def laid_out(
    tree: TextTree, setting_of: SettingOf, raised_of: RaisedOf, path_of: PathOf
) -> list[Placed]:
    """Return all clusters of a text in their places; those beyond a path's ends are hidden."""
    letters = tree.letters
    if not letters:
        return []
    bounds = _chunk_bounds(letters)
    chunks: list[list[Placed]] = []
    pen = 0.0
    for first, last in pairwise(bounds):
        chunks.append(_in_line(letters[first:last], first, pen, setting_of))
        pen = chunks[-1][-1].right
    placed = [cluster for chunk in chunks for cluster in chunk]
    _shift(letters, placed)
    for stretch in tree.stretches:
        _fit(placed, stretch.first, stretch.last, stretch.length, stretch.glyphs_too)
    _anchor(letters, bounds, chunks)
    for cluster in placed:
        cluster.turn_deg = cluster.letter.rotate_deg
        cluster.y -= raised_of(cluster.letter.span)
    _along_paths(letters, bounds, chunks, path_of)
    return placed


def _chunk_bounds(letters: Sequence[Letter]) -> list[int]:
    starts = [
        i
        for i, letter in enumerate(letters)
        if i == 0
        or letter.x is not None
        or letter.y is not None
        or letter.begins_path
        or letter.span.path is not letters[i - 1].span.path
    ]
    return [*starts, len(letters)]


def _in_line(
    letters: Sequence[Letter], first: int, pen: float, setting_of: SettingOf
) -> list[Placed]:
    """Set one chunk along a line from ``pen``; no letter spacing stands at its end."""
    text = "".join(letter.character for letter in letters)
    settings = [setting_of(letter.span) for letter in letters]
    rtl = letters[0].span.place.style.letters.rtl
    clusters = set_line(text, settings, rtl=rtl)
    placed = []
    for i, cluster in enumerate(clusters):
        letter, size = letters[cluster.first], settings[cluster.first].size
        style = letter.span.place.style.letters
        advance = cluster.advance * size
        if i + 1 < len(clusters):
            advance += style.letter_spacing
        if cluster.letters[0] in _WORD_SPACES:
            advance += style.word_spacing
        placed.append(Placed(cluster, letter, first + cluster.first, size, pen, 0.0, advance))
        pen += advance
    return placed


def _shift(letters: Sequence[Letter], placed: Sequence[Placed]) -> None:
    """Add up dx and dy in the order of the letters."""
    shifts, x, y = [], 0.0, 0.0
    for letter in letters:
        x, y = x + letter.dx, y + letter.dy
        shifts.append((x, y))
    for cluster in placed:
        cluster.x += shifts[cluster.first][0]
        cluster.y += shifts[cluster.first][1]


def _fit(placed: Sequence[Placed], first: int, last: int, wanted: float, glyphs_too: bool) -> None:
    """Make letters ``first`` to ``last`` as long as textLength says; what follows moves along."""
    inside = [cluster for cluster in placed if first <= cluster.first < last]
    if not inside or wanted < 0.0:
        return
    left = min(cluster.x for cluster in inside)
    right = max(cluster.right for cluster in inside)
    grow = wanted - (right - left)
    if glyphs_too:
        share = wanted / (right - left) if right > left else 1.0
        for cluster in inside:
            cluster.x = left + (cluster.x - left) * share
            cluster.advance *= share
            cluster.stretch *= share
    elif len(inside) > 1:
        for i, cluster in enumerate(inside):
            cluster.x += grow * i / (len(inside) - 1)
    for cluster in placed:
        if cluster.first >= last:
            cluster.x += grow


def _anchor(
    letters: Sequence[Letter], bounds: Sequence[int], chunks: Sequence[Sequence[Placed]]
) -> None:
    """Move every chunk to its absolute position by its anchor."""
    along = across = 0.0
    for first, chunk in zip(bounds, chunks, strict=False):
        letter, style = letters[first], letters[first].span.place.style.letters
        left = min(cluster.x for cluster in chunk)
        right = max(cluster.right for cluster in chunk)
        flows_back = style.rtl
        anchor_at = {
            "start": right if flows_back else left,
            "middle": (left + right) / 2.0,
            "end": left if flows_back else right,
        }[style.anchor]
        own_x = letter.x if letter.x is not None else (0.0 if letter.begins_path else None)
        if own_x is not None:
            along = own_x + letter.dx - (right if flows_back else left)
        begin = (right if flows_back else left) + along
        if letter.y is not None or letter.begins_path:
            start_y = min(chunk, key=lambda cluster: cluster.first).y
            wanted_y = 0.0 if letter.span.path is not None else letter.y or 0.0
            across = wanted_y + letter.dy - start_y
        for cluster in chunk:
            cluster.x += begin - anchor_at
            cluster.y += across


def _along_paths(
    letters: Sequence[Letter],
    bounds: Sequence[int],
    chunks: Sequence[Sequence[Placed]],
    path_of: PathOf,
) -> None:
    """Put chunks on their paths; what follows a path goes on from its end."""
    end: tuple[float, float] | None = None
    for first, chunk in zip(bounds, chunks, strict=False):
        letter = letters[first]
        if letter.span.path is None:
            if end is not None and letter.x is None and letter.y is None:
                shift_x, shift_y = end[0] - chunk[0].x, end[1] - chunk[0].y
                for cluster in chunk:
                    cluster.x, cluster.y = cluster.x + shift_x, cluster.y + shift_y
            end = None
            continue
        path = path_of(letter.span)
        end = path.end
        for cluster in chunk:
            middle = path.start + cluster.x + cluster.advance / 2.0
            found = path.at(middle)
            if found is None:
                cluster.hidden = True
                continue
            x, y, turn_rad = found
            back, off = -cluster.advance / 2.0, cluster.y
            cos, sin = math.cos(turn_rad), math.sin(turn_rad)
            cluster.x = x + back * cos - off * sin
            cluster.y = y + back * sin + off * cos
            cluster.turn_deg += math.degrees(turn_rad)
