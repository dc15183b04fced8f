"""Sets text in a font: which glyphs, where, and their exact outlines.

Glyphs are chosen and placed by HarfBuzz (kerning, ligatures, scripts that join or run from right
to left). Lengths are in em: multiply by the font size. y points upwards.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from itertools import groupby, pairwise
from pathlib import Path

import numpy as np
import uharfbuzz as hb
from fontTools.ttLib import TTFont
from fontTools.unicodedata import script as script_of

from kerfwright.drawing.lettering.font_files import FontFace
from kerfwright.drawing.lettering.writing_direction import levels_of, visual_order
from kerfwright.drawing.svg.path_data import Beziers, Lines, Outline, Piece
from kerfwright.geometry.affine import Affine, translation
from kerfwright.geometry.paths import Path as Line

_PACKED = frozenset((b"wOFF", b"wOF2"))

_BLANK = frozenset("\u115f\u1160\u2800\u3164\uffa0")
"""Letters and signs that are drawn as nothing."""

_COMMON_SCRIPTS = frozenset(("Zyyy", "Zinh", "Zzzz"))

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Metrics:
    """Heights of a font above its baseline, in em; descent and descender are depths below it.

    ``cap_height`` and ``descender`` are measured on its letters, as drawing programs do.
    """

    ascent: float
    descent: float
    x_height: float
    cap_height: float
    subscript: float
    superscript: float
    descender: float
    underline: float
    strike: float
    line_thickness: float


class SetFont:
    """An opened font at one weight and width."""

    def __init__(self, face: FontFace, weight: float, stretch_percent: float) -> None:
        self.face = face
        opened = hb.Face(hb.Blob(_plain_bytes(face.file)), face.number)
        self._font = hb.Font(opened)
        self._em = float(opened.upem)
        self._outlines: dict[int, tuple[Outline, ...]] = {}
        axes = {axis.tag: axis for axis in opened.axis_infos} if opened.has_var_data else {}
        wanted = {"wght": weight, "wdth": stretch_percent}
        self._font.set_variations(
            {
                tag: min(max(value, axes[tag].min_value), axes[tag].max_value)
                for tag, value in wanted.items()
                if tag in axes
            }
        )
        self.features = frozenset(
            tag for table in ("GSUB", "GPOS") for tag in _feature_tags(opened, table)
        )
        self.metrics = self._measured()

    def has(self, character: str) -> bool:
        """Whether the font has a glyph for one character."""
        return bool(self._font.get_nominal_glyph(ord(character)))

    def outlines(self, glyph: int) -> tuple[Outline, ...]:
        """Return the contours of a glyph in em, y upwards."""
        found = self._outlines.get(glyph)
        if found is None:
            pen = _Pen(1.0 / self._em)
            self._font.draw_glyph_with_pen(glyph, pen)
            found = self._outlines[glyph] = tuple(
                outline for outline in pen.outlines if outline.pieces
            )
        return found

    @property
    def runs_ccw(self) -> bool:
        """Whether outer contours run counter-clockwise (CFF) or clockwise (TrueType)."""
        glyph = next((g for c in "IoH1" if (g := self._font.get_nominal_glyph(ord(c)))), 0) or 0
        area = 0.0
        for outline in self.outlines(glyph):
            points = [np.array([outline.start])]
            for piece in outline.pieces:
                if isinstance(piece, Lines):
                    points.append(piece.points)
                elif isinstance(piece, Beziers):
                    points.append(piece.control[:, 1:].reshape(-1, 2))
            area += Line(np.concatenate(points), closed=True).signed_area_mm2
        return area > 0.0

    def shaped(
        self, text: str, first: int, last: int, *, rtl: bool, features: Mapping[str, bool]
    ) -> list[Cluster]:
        """Set ``text[first:last]``, which is of one script, as seen from left to right."""
        buffer = hb.Buffer()
        buffer.add_codepoints([ord(c) for c in text], first, last - first)
        buffer.guess_segment_properties()
        buffer.direction = "rtl" if rtl else "ltr"
        hb.shape(self._font, buffer, dict(features))
        glyphs = list(zip(buffer.glyph_infos, buffer.glyph_positions or [], strict=True))
        groups = [list(group) for _, group in groupby(glyphs, key=lambda glyph: glyph[0].cluster)]
        starts = sorted({group[0][0].cluster for group in groups})
        ends = dict(zip(starts, [*starts[1:], last], strict=True))
        clusters = []
        for group in groups:
            placed, pen_x, pen_y = [], 0.0, 0.0
            for info, position in group:
                x, y = pen_x + position.x_offset, pen_y + position.y_offset
                placed.append((info.codepoint, x / self._em, y / self._em))
                pen_x, pen_y = pen_x + position.x_advance, pen_y + position.y_advance
            start = group[0][0].cluster
            letters = text[start : ends[start]]
            clusters.append(
                Cluster(
                    start,
                    letters,
                    self,
                    pen_x / self._em,
                    tuple(placed),
                    self._lacks(letters, placed),
                )
            )
        return clusters

    def _lacks(self, letters: str, placed: Sequence[tuple[int, float, float]]) -> bool:
        """Whether a cluster has no glyph, or one without an outline (some are made of dots)."""
        if any(glyph == 0 for glyph, _, _ in placed):
            return True
        seen = any(unicodedata.category(c)[0] not in "ZC" and c not in _BLANK for c in letters)
        return seen and not any(self.outlines(glyph) for glyph, _, _ in placed)

    def _measured(self) -> Metrics:
        em, tag = self._em, hb.OTMetricsTag
        extents = self._font.get_font_extents("ltr")

        def metric(name: hb.OTMetricsTag) -> float:
            return float(self._font.get_metric_position_with_fallback(name)) / em

        return Metrics(
            ascent=extents.ascender / em,
            descent=-extents.descender / em,
            x_height=metric(tag.X_HEIGHT) or self._top_of("x") or 0.5,
            cap_height=self._top_of("HEAX") or metric(tag.CAP_HEIGHT) or 0.7,
            subscript=metric(tag.SUBSCRIPT_EM_Y_OFFSET),
            superscript=metric(tag.SUPERSCRIPT_EM_Y_OFFSET),
            descender=self._depth_of("pgy") or -extents.descender / em,
            underline=metric(tag.UNDERLINE_OFFSET),
            strike=metric(tag.STRIKEOUT_OFFSET),
            line_thickness=metric(tag.UNDERLINE_SIZE),
        )

    def ink(self, glyph: int) -> tuple[float, float] | None:
        """Left and right edge of a glyph's outlines in em, ``None`` if it has none."""
        extents = self._font.get_glyph_extents(glyph)
        if extents is None or not extents.width:
            return None
        return extents.x_bearing / self._em, (extents.x_bearing + extents.width) / self._em

    def _top_of(self, letters: str) -> float:
        """Height of the first of ``letters`` that the font has, 0 if it has none."""
        return max(next(self._tops_and_bottoms(letters), (0.0, 0.0))[0], 0.0)

    def _depth_of(self, letters: str) -> float:
        """Depth of the first of ``letters`` that the font has, 0 if it has none."""
        return max(-next(self._tops_and_bottoms(letters), (0.0, 0.0))[1], 0.0)

    def _tops_and_bottoms(self, letters: str) -> Iterator[tuple[float, float]]:
        for letter in letters:
            glyph = self._font.get_nominal_glyph(ord(letter))
            extents = self._font.get_glyph_extents(glyph) if glyph else None
            if extents is not None and extents.height:
                top = extents.y_bearing / self._em
                yield top, top + extents.height / self._em


@dataclass(frozen=True, eq=False, slots=True)
class Cluster:
    """Characters that are set as one: a letter with its accents, or a ligature.

    ``glyphs`` are numbers in ``font`` with their places from the cluster's left end.
    """

    first: int
    letters: str
    font: SetFont
    advance: float
    glyphs: tuple[tuple[int, float, float], ...]
    missing: bool

    def drawn(self, place: Affine) -> list[Outline]:
        """Return the contours, moved from em by ``place``."""
        return [
            moved(outline, place @ translation(x, y))
            for glyph, x, y in self.glyphs
            for outline in self.font.outlines(glyph)
        ]


def moved(outline: Outline, by: Affine) -> Outline:
    """Return a contour of straight pieces and Bézier curves moved by ``by``."""
    pieces: list[Piece] = []
    for piece in outline.pieces:
        match piece:
            case Lines(points):
                pieces.append(Lines(by.apply(points)))
            case Beziers(control):
                flat = by.apply(control.reshape(-1, 2))
                pieces.append(Beziers(flat.reshape(control.shape)))
    x, y = by.apply(np.array([outline.start]))[0]
    return Outline((float(x), float(y)), pieces, outline.closed)


def bar(left: float, right: float, middle: float, thickness: float, *, ccw: bool) -> Outline:
    """Return a level bar, such as an underline, that runs round as the font's contours do."""
    low, high = middle - thickness / 2.0, middle + thickness / 2.0
    corners = [(left, low), (right, low), (right, high), (left, high)]
    corners = corners if ccw else [corners[0], *corners[:0:-1]]
    return Outline(corners[0], [Lines(np.array(corners[1:]))], closed=True)


@lru_cache(maxsize=64)
def set_font(face: FontFace, weight: float = 400.0, stretch_percent: float = 100.0) -> SetFont:
    """Open a font; a variable one at the weight and width asked for, as far as it goes.

    Raises:
        OSError, ValueError: the file is gone or cannot be unpacked.
    """
    return SetFont(face, weight, stretch_percent)


@dataclass(frozen=True, slots=True)
class Setting:
    """How characters are set: in the first of ``fonts`` that has them, ``size`` high.

    ``features`` are OpenType features to switch on or off. Characters of different settings are
    not joined or kerned.
    """

    fonts: tuple[SetFont, ...]
    size: float = 1.0
    features: tuple[tuple[str, bool], ...] = ()


def set_line(text: str, settings: Sequence[Setting], *, rtl: bool = False) -> list[Cluster]:
    """Set one line of text, one setting for each character; clusters come from left to right.

    ``rtl`` is the direction of the line as a whole. Advances and places are in em still.
    """
    levels = levels_of(text, rtl=rtl)
    chosen = _fonts_of(text, settings)
    keys = list(zip(levels, chosen, _scripts_of(text), settings, strict=True))
    bounds = [i for i in range(len(text)) if i == 0 or keys[i] != keys[i - 1]] + [len(text)]
    runs = [(a, b) for a, b in pairwise(bounds) if b > a]
    out: list[Cluster] = []
    for i in visual_order([levels[a] for a, _ in runs]):
        first, last = runs[i]
        features = dict(settings[first].features)
        turned = levels[first] % 2 == 1
        out += chosen[first].shaped(text, first, last, rtl=turned, features=features)
    return out


def _fonts_of(text: str, settings: Sequence[Setting]) -> list[SetFont]:
    chosen: list[SetFont] = []
    for i, character in enumerate(text):
        fonts = settings[i].fonts
        joined = unicodedata.combining(character) or unicodedata.category(character) in {"Cf", "Mn"}
        if joined and chosen and chosen[-1] in fonts:
            chosen.append(chosen[-1])
        else:
            chosen.append(next((font for font in fonts if font.has(character)), fonts[0]))
    return chosen


def _scripts_of(text: str) -> list[str]:
    """Script of each character; signs that all scripts share belong to the letters before them."""
    scripts = [script_of(character) for character in text]
    first = next((script for script in scripts if script not in _COMMON_SCRIPTS), "Zyyy")
    out: list[str] = []
    for script in scripts:
        out.append((out[-1] if out else first) if script in _COMMON_SCRIPTS else script)
    return out


def _feature_tags(face: hb.Face, table: str) -> list[str]:
    if table not in face.table_tags:
        return []
    scripts = face.get_table_script_tags(table)
    return [tag for i in range(len(scripts)) for tag in face.get_language_feature_tags(table, i)]


def _plain_bytes(file: Path) -> bytes:
    data = file.read_bytes()
    if data[:4] not in _PACKED:
        return data
    unpacked = BytesIO()
    with TTFont(BytesIO(data)) as font:
        font.flavor = None
        font.save(unpacked)
    return unpacked.getvalue()


class _Pen:
    """Gathers contours as the font draws them (the pen protocol of fontTools).

    Straight pieces behind one another are kept together, and so are curves of one degree.
    """

    def __init__(self, scale: float) -> None:
        self.outlines: list[Outline] = []
        self._scale = scale
        self._at = (0.0, 0.0)
        self._pieces: list[list[tuple[Point, ...]]] = []

    def moveTo(self, point: Point) -> None:  # noqa: N802
        self._at = self._scaled(point)
        self.outlines.append(Outline(self._at, closed=True))

    def lineTo(self, point: Point) -> None:  # noqa: N802
        end = self._scaled(point)
        if end != self._at:
            self._add((end,))

    def qCurveTo(self, *points: Point) -> None:  # noqa: N802
        self._add((self._at, *map(self._scaled, points)))

    def curveTo(self, *points: Point) -> None:  # noqa: N802
        self._add((self._at, *map(self._scaled, points)))

    def closePath(self) -> None:  # noqa: N802
        """End a contour."""
        for alike in self._pieces:
            array = np.array(alike)
            piece = Lines(array[:, 0]) if array.shape[1] == 1 else Beziers(array)
            self.outlines[-1].pieces.append(piece)
        self._pieces = []

    def endPath(self) -> None:  # noqa: N802
        """End a contour; all those of a font are closed."""
        self.closePath()

    def _add(self, points: tuple[Point, ...]) -> None:
        if self._pieces and len(self._pieces[-1][0]) == len(points):
            self._pieces[-1].append(points)
        else:
            self._pieces.append([points])
        self._at = points[-1]

    def _scaled(self, point: Point) -> Point:
        return point[0] * self._scale, point[1] * self._scale
