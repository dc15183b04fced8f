"""Parts come out of the sheet on size: the sheet and the beam played through dot by dot.

The beam is a disc of the kerf's width, swept along every burning move and taken from the sheet.
This is dilation by a disc as Serra, *Image Analysis and Mathematical Morphology*, 1982, chapter II,
has it, done here by Pillow's drawing and SciPy's distance transform, neither of which Kerfwright
uses to cut.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image, ImageDraw
from scipy import ndimage

from kerfwright.cutting.cuts import cut_strokes
from kerfwright.geometry.paths import Path
from kerfwright.parts.model import Part
from kerfwright.sequence.order import sequence
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import Toolpath

Mask = npt.NDArray[np.bool_]

Points = Sequence[tuple[float, float]]

DOT_MM = 0.025
WITHIN_MM = 0.075
"""Three dots: a picture is true to a dot at its edge, and less so towards the tip of a corner."""

EDGE_MM = 4.0
KERF_MM = 0.3
LIMITS = AxisLimits(speed_mm_s=(300.0, 300.0), acceleration_mm_s2=(3000.0, 3000.0))
MACHINE = Machine(
    name="trial machine",
    bed_width_mm=200.0,
    bed_height_mm=200.0,
    power_w=60.0,
    travel=LIMITS,
    cutting=LIMITS,
    scanning=LIMITS,
    invented=True,
)


def part(outline: Points, *holes: Points) -> Part:
    rings = [Path(np.array(hole)[::-1], closed=True) for hole in holes]
    return Part("part", "parts.svg", Path(np.array(outline), closed=True), tuple(rings))


def rectangle(x: float, y: float, width: float, height: float | None = None) -> Points:
    up = y + (width if height is None else height)
    return [(x, y), (x + width, y), (x + width, up), (x, up)]


def circle(x: float, y: float, radius: float) -> Points:
    turn = np.linspace(0.0, 2.0 * np.pi, 400, endpoint=False)
    return [(x + radius * np.cos(a), y + radius * np.sin(a)) for a in turn]


def recipe(kerf_mm: float, **keys: object) -> Recipe:
    basic = {"machine": MACHINE.name, "process": "cut", "speed_mm_s": 15.0, "power": 0.7}
    return Recipe.model_validate({**basic, "kerf_mm": kerf_mm, **keys})


STAR = [
    (15 + r * np.cos(a), 15 + r * np.sin(a))
    for r, a in zip([14.0, 6.0] * 5, np.arange(10) * np.pi / 5, strict=True)
]
COMB = [(0, 0), (24, 0), (24, 16), (18, 16), (18, 6), (17.2, 6), (17.2, 16), (9, 16)]
COMB += [(9, 5), (5, 5), (5, 16), (0, 16)]
PIECES: dict[str, list[Part]] = {
    "square with holes": [part(rectangle(0, 0, 24), circle(8, 8, 4), rectangle(14, 14, 5, 0.8))],
    "star of sharp corners": [part(STAR)],
    "comb of notches": [part(COMB)],
    "wedge": [part([(0, 0), (20, 0), (20, 14)])],
    "ring with a part in it": [
        part(circle(15, 15, 14), circle(15, 15, 9)),
        part(circle(15, 15, 5)),
    ],
    "two one kerf apart": [
        part(rectangle(0, 0, 10, 16)),
        part(rectangle(10.0 + KERF_MM, 0, 10, 16)),
    ],
    "three scattered": [
        part(rectangle(0, 0, 8)),
        part(circle(16, 6, 5)),
        part(rectangle(3, 14, 18, 5)),
    ],
}


class Picture:
    """A sheet as dots, big enough for some parts and a rim of waste."""

    def __init__(self, parts: list[Part]) -> None:
        corners = np.array([one.outline.bounds_mm for one in parts])
        self.low = corners[:, :2].min(axis=0) - EDGE_MM
        size = corners[:, 2:].max(axis=0) + EDGE_MM - self.low
        self.dots = tuple(int(np.ceil(side / DOT_MM)) for side in size)

    def at(self, points: npt.ArrayLike) -> list[tuple[float, float]]:
        return [tuple(p) for p in ((np.asarray(points) - self.low) / DOT_MM).tolist()]

    def drawn(self, one: Part) -> Mask:
        image = Image.new("1", self.dots)
        pen = ImageDraw.Draw(image)
        pen.polygon(self.at(one.outline.points), fill=1)
        for hole in one.holes:
            pen.polygon(self.at(hole.points), fill=0)
        return np.array(image, dtype=bool)

    def burned(self, toolpath: Toolpath, kerf_mm: float) -> Mask:
        image = Image.new("1", self.dots, color=1)
        pen = ImageDraw.Draw(image)
        points = self.at(toolpath.points)
        for move in np.flatnonzero(toolpath.burning).tolist():
            pen.line(points[move : move + 2], fill=0)
        return near(~np.array(image, dtype=bool), kerf_mm / 2)


def near(mask: Mask, distance_mm: float) -> Mask:
    """Dots no further from the mask."""
    return np.asarray(ndimage.distance_transform_edt(~mask) * DOT_MM <= distance_mm)


def shrunk(mask: Mask, by_mm: float) -> Mask:
    return np.asarray(ndimage.distance_transform_edt(mask) * DOT_MM > by_mm)


def cut_out(parts: list[Part], **keys: object) -> tuple[Picture, list[Mask]]:
    """The piece of the sheet that each part comes out as."""
    made = cut_strokes(
        parts,
        range(len(parts)),
        recipe(KERF_MM, **keys),
        merge_mm=KERF_MM / 2,
        shared_edges=True,
    )
    picture = Picture(parts)
    toolpath = sequence(made.strokes, made.before, MACHINE)
    pieces, _ = ndimage.label(~picture.burned(toolpath, KERF_MM))
    found = []
    for one in parts:
        core = shrunk(picture.drawn(one), 0.5)
        (number,) = set(np.unique(pieces[core]).tolist())
        assert number > 0
        found.append(pieces == number)
    return picture, found


@pytest.mark.parametrize(
    "keys",
    [
        {},
        {"lead_in": "line", "lead_in_mm": 2.0, "overcut_mm": 1.0},
        {"lead_in": "arc", "lead_in_mm": 3.0},
    ],
    ids=["plain", "lead-ins and overcut", "arcs"],
)
@pytest.mark.parametrize("name", PIECES)
def test_what_falls_out_is_the_part(name: str, keys: dict[str, object]) -> None:
    parts = PIECES[name]
    picture, pieces = cut_out(parts, **keys)
    for one, piece in zip(parts, pieces, strict=True):
        drawn = picture.drawn(one)
        assert not (drawn & ~near(piece, WITHIN_MM)).any(), "burned away from the part"
        # a disc cannot reach into an inner corner: the part closed by the disc is what can be cut
        closed = shrunk(near(drawn, KERF_MM / 2), KERF_MM / 2)
        assert not (piece & ~near(closed, WITHIN_MM)).any(), "left standing at the part"


@pytest.mark.parametrize("name", ["square with holes", "star of sharp corners", "wedge"])
def test_sharp_corners_stay_sharp(name: str) -> None:
    (one,) = PIECES[name]
    picture, (piece,) = cut_out([one])
    away = ndimage.distance_transform_edt(~piece) * DOT_MM
    for x, y in picture.at(one.outline.points):
        assert away[round(y), round(x)] <= WITHIN_MM


def test_the_picture_shows_a_kerf_that_is_not_compensated() -> None:
    """The test can fail: the same parts cut for half the kerf come out too small."""
    (one,) = PIECES["square with holes"]
    made = cut_strokes([one], [0], recipe(KERF_MM / 2), merge_mm=0.0, shared_edges=False)
    picture = Picture([one])
    gone = picture.burned(sequence(made.strokes, made.before, MACHINE), KERF_MM)
    assert (picture.drawn(one) & ~near(~gone, WITHIN_MM)).any()
