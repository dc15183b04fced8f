"""What the beam burns, counted in pixels, for every way to engrave.

Judged by a raster of its own, 0.02 mm a pixel: Pillow fills the area, five times finer, and the
middle of every pixel counts (a rim of 0.004 mm inside the outline is left out). A pixel is burned
if its middle lies within half a spot of a burned move, by the distance from a point to a stretch
(any geometry handbook). How far a pixel lies outside the area is scipy's exact Euclidean distance
transform (Maurer, Qi & Raghavan 2003), and the sweep itself is checked against it. Neither
shapely's buffers nor anything of the planner takes part.

Promised: at least 99.9 % of the area burned, and nothing further than half a spot outside it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest
import shapely
from numba import njit
from PIL import Image, ImageDraw
from scipy import ndimage
from shapely import LineString, MultiPolygon, Point, Polygon, box
from shapely.affinity import rotate, scale, translate

from engraved_shapes import SHAPES
from kerfwright.engraving.burn import Burn
from kerfwright.engraving.choose import engrave
from kerfwright.engraving.contour_parallel import contour_parallel
from kerfwright.engraving.scan import scan
from kerfwright.geometry.regions import as_area
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind, Toolpath, moves_along

Bits = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

PIXEL_MM = 0.02
FINER = 5
RIM_MM = 0.3
INTERVAL_MM = 0.1
SPOT_MM = 0.12


class Raster:
    """The pixels of one artwork."""

    def __init__(self, area: MultiPolygon) -> None:
        x0, y0, x1, y1 = area.bounds
        self.corner = np.array([x0, y0]) - RIM_MM
        size = np.ceil((np.array([x1, y1]) + RIM_MM - self.corner) / PIXEL_MM).astype(int)
        self.width, self.height = int(size[0]), int(size[1])
        self.area = self._filled(area, rim=0)
        """Without the pixels that the outline runs through."""
        self.area_and_rim = self._filled(area, rim=1)

    def _filled(self, area: MultiPolygon, *, rim: int) -> Bits:
        fine = Image.new("1", (FINER * self.width, FINER * self.height))
        drawn = ImageDraw.Draw(fine)
        for polygon in sorted(area.geoms, key=lambda one: -Polygon(one.exterior).area):
            drawn.polygon(self._fine(polygon.exterior.coords), fill=1, outline=rim)
            for hole in polygon.interiors:
                drawn.polygon(self._fine(hole.coords), fill=0, outline=rim)
        middle = FINER // 2
        return np.array(fine)[middle::FINER, middle::FINER]

    def _fine(self, points: object) -> list[tuple[float, float]]:
        at = (np.asarray(points, dtype=float)[:, :2] - self.corner) * FINER / PIXEL_MM - 0.5
        return [(float(x), float(y)) for x, y in at]

    def burned(self, toolpath: Toolpath, spot_mm: float) -> Bits:
        points = (toolpath.points - self.corner) / PIXEL_MM - 0.5
        on = toolpath.burning
        out = np.zeros((self.height, self.width), dtype=np.bool_)
        sweep(points[:-1][on], points[1:][on], 0.5 * spot_mm / PIXEL_MM, out)
        return out

    def covered_share(self, burned: Bits) -> float:
        return float((burned & self.area).sum() / self.area.sum())

    def spilled_pixels(self, burned: Bits, spot_mm: float) -> int:
        outside_mm = ndimage.distance_transform_edt(~self.area_and_rim) * PIXEL_MM
        return int((burned & (outside_mm > 0.5 * spot_mm + PIXEL_MM)).sum())


@njit(cache=True)
def sweep(starts: Floats, ends: Floats, radius: float, out: Bits) -> None:
    """Mark pixels whose middle is within a radius of a stretch, all in pixels."""
    height, width = out.shape
    for k in range(len(starts)):
        ax, ay = starts[k]
        dx, dy = ends[k, 0] - ax, ends[k, 1] - ay
        long2 = dx * dx + dy * dy
        for row in range(
            max(int(min(ay, ay + dy) - radius), 0),
            min(int(max(ay, ay + dy) + radius) + 2, height),
        ):
            for column in range(
                max(int(min(ax, ax + dx) - radius), 0),
                min(int(max(ax, ax + dx) + radius) + 2, width),
            ):
                px, py = column - ax, row - ay
                share = min(max((px * dx + py * dy) / long2, 0.0), 1.0) if long2 > 0.0 else 0.0
                off_x, off_y = px - share * dx, py - share * dy
                if off_x * off_x + off_y * off_y <= radius * radius + 1e-9:
                    out[row, column] = True


def star() -> MultiPolygon:
    angle = np.linspace(0.0, 2.0 * np.pi, 10, endpoint=False)
    reach = np.where(np.arange(10) % 2 == 0, 4.0, 1.8)
    points = np.column_stack([104 + reach * np.sin(angle), 104 + reach * np.cos(angle)])
    return as_area(Polygon(points))


def frame() -> MultiPolygon:
    return as_area(box(100.0, 100.0, 116.0, 108.0).difference(box(101.3, 101.3, 114.7, 106.7)))


def coast() -> MultiPolygon:
    """Bays and capes, a lake and two skerries."""
    rng = np.random.default_rng(3)
    angle = np.linspace(0.0, 2.0 * np.pi, 300, endpoint=False)
    reach = np.full(len(angle), 4.0)
    for wave in range(2, 14):
        reach += 2.0 / wave**1.2 * rng.normal() * np.cos(wave * angle + rng.uniform(0.0, 6.0))
    reach = np.maximum(reach, 1.0)
    island = Polygon(
        np.column_stack([110 + 1.4 * reach * np.cos(angle), 108 + reach * np.sin(angle)])
    )
    lake = scale(Point(110.0, 108.0).buffer(0.6), 1.5, 1.0)
    skerries = [Point(101.0, 101.0).buffer(0.5), Point(103.5, 101.2).buffer(0.33)]
    return as_area(shapely.union_all([island.buffer(0.0).difference(lake), *skerries]))


def anchor() -> MultiPolygon:
    rim = Point(108.0, 108.0).buffer(7.0, 60).difference(Point(108.0, 108.0).buffer(6.2, 60))
    bow = LineString(
        [(104.5, 106.5), (106.0, 104.2), (108.0, 103.6), (110.0, 104.2), (111.5, 106.5)]
    )
    return as_area(
        shapely.union_all([rim, bow.buffer(0.4), box(107.6, 103.5, 108.4, 112.0),
                           box(105.5, 110.5, 110.5, 111.2)])
    )  # fmt: skip


def checkerboard() -> MultiPolygon:
    fields = [
        box(100.2 + 2.5 * i, 100.2 + 2.5 * j, 102.5 + 2.5 * i, 102.5 + 2.5 * j)
        for i in range(4)
        for j in range(4)
        if (i + j) % 2
    ]
    return as_area(MultiPolygon(fields))


def scattered() -> MultiPolygon:
    bar, dot = box(-1.6, -0.35, 1.6, 0.35), Point(0.0, 0.0).buffer(0.9)
    placed = [rotate(bar, 15.0 * k, origin=(0.0, 0.0)) for k in range(1, 6)]
    placed += [dot, scale(dot, 1.4, 0.5), box(-0.9, -0.9, 0.9, 0.9)]
    return as_area(
        MultiPolygon(
            [translate(p, 102 + 3.5 * (i % 4), 102 + 4 * (i // 4)) for i, p in enumerate(placed)]
        )
    )


def octagon() -> MultiPolygon:
    """Blunt corners, which loops may round further and further."""
    return as_area(Point(106.0, 106.0).buffer(5.0, quad_segs=2))


ARTWORKS: dict[str, Callable[[], MultiPolygon]] = {
    **SHAPES,
    "star": star,
    "frame": frame,
    "coast": coast,
    "anchor": anchor,
    "checkerboard": checkerboard,
    "scattered": scattered,
    "octagon": octagon,
}


def recipe() -> Recipe:
    return Recipe(
        machine="trial machine",
        process="engrave",
        speed_mm_s=800.0,
        power=0.5,
        interval_mm=INTERVAL_MM,
    )


def assert_burned_as_promised(raster: Raster, toolpath: Toolpath, spot_mm: float) -> None:
    burned = raster.burned(toolpath, spot_mm)
    assert raster.covered_share(burned) >= 0.999
    assert raster.spilled_pixels(burned, spot_mm) == 0


def test_the_sweep_is_what_scipys_distance_transform_finds() -> None:
    """Level, upright and 45° lines run exactly through the middles of Pillow's pixels."""
    lines = [((40, 40), (90, 40)), ((60, 55), (60, 95)), ((100, 50), (140, 90))]
    image = Image.new("1", (180, 140))
    for a, b in lines:
        ImageDraw.Draw(image).line([a, b], fill=1)
    wanted = ndimage.distance_transform_edt(~np.array(image)) <= 7.0
    out = np.zeros((140, 180), dtype=np.bool_)
    starts, ends = (np.array([line[k] for line in lines], dtype=float) for k in (0, 1))
    sweep(starts, ends, 7.0, out)
    # beside a slanted line the nearest drawn middle may be half a diagonal further along
    assert (out ^ wanted).sum() <= 0.02 * wanted.sum()
    assert (out[:, :97] == wanted[:, :97]).all(), "level and upright lines exactly"


def test_a_missing_line_or_a_wide_spill_is_seen(machine: Machine) -> None:
    area = SHAPES["square"]()
    raster = Raster(area)
    toolpath = scan(area, Burn(800.0, 0.5, INTERVAL_MM, SPOT_MM, 0), machine).toolpath
    moves = toolpath.moves.copy()
    burning = np.flatnonzero(toolpath.burning)
    moves["power"][burning[len(burning) // 2]] = 0.0
    gap = raster.burned(Toolpath(moves, toolpath.start_mm), SPOT_MM)
    assert raster.covered_share(gap) < 0.995
    beside = np.array([[112.0, 99.91]])
    stray = moves_along(beside, kind=MoveKind.ROW, speed_mm_s=800.0, power=0.5, source=0)
    spill = raster.burned(Toolpath(stray, (100.0, 99.91)), SPOT_MM)
    assert raster.spilled_pixels(spill, SPOT_MM) > 0


@pytest.mark.parametrize("name", ARTWORKS)
def test_every_way_covers_the_area_and_keeps_inside_it(name: str, machine: Machine) -> None:
    area = ARTWORKS[name]()
    raster = Raster(area)
    for way in ("scan", "contour-parallel", "mixed"):
        work = engrave(
            area, recipe(), machine.model_copy(update={"spot_mm": SPOT_MM}), way=way, source=0
        )
        assert work.way == way
        assert_burned_as_promised(raster, work.toolpath, SPOT_MM)


@pytest.mark.parametrize("spot_mm", [0.1, 0.12, 0.16, 0.2])
@pytest.mark.parametrize("name", ["disc", "ring", "octagon", "frame", "square", "coast"])
def test_loops_in_spirals_with_rounded_corners_cover_as_much(
    name: str, spot_mm: float, machine: Machine
) -> None:
    area = ARTWORKS[name]()
    burn = Burn(800.0, 0.5, INTERVAL_MM, spot_mm, 0)
    loops = contour_parallel(area, burn, machine, joining="spirals")
    # a spot as wide as the interval leaves hairs where neighbours stray apart by a µm
    assert_burned_as_promised(Raster(area), loops.toolpath, max(spot_mm, INTERVAL_MM + 0.001))
