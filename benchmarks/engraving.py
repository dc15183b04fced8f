"""Engraving: the time of each way on artworks made by code, and how long planning takes.

The machine has the accelerations that fit the trade's times (rows 16 m/s², loops 3.1 m/s², both
1000 mm/s). The lower bound is area / interval / speed: a beam that never turns round.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon, box
from shapely.affinity import scale, translate

from benchmarks._machines import SPEED_MM_S, trial_machine
from kerfwright.engraving.choose import engrave
from kerfwright.geometry.regions import as_area
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe


def run(argv: list[str]) -> dict[str, Any]:
    """Engrave every artwork; seconds of the machine, and of planning."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks engraving", description=__doc__)
    parser.add_argument("--interval", type=float, default=0.1, metavar="MM")
    parser.add_argument("--spot", type=float, default=0.12, metavar="MM")
    parser.add_argument("--only", metavar="ARTWORK", choices=sorted(ARTWORKS))
    options = parser.parse_args(argv)
    machine = trial_machine(spot_mm=options.spot)
    engrave(square(), recipe(0.5), machine, source=0)  # compiles
    names = [options.only] if options.only else list(ARTWORKS)
    rows = [measure(name, options.interval, machine) for name in names]
    growth = [measure_growth(share, options.interval, machine) for share in (0.25, 0.5, 1.0, 2.0)]
    return {
        "interval_mm": options.interval,
        "spot_mm": options.spot,
        "artworks": rows,
        "planning_of_a_disc_by_size": growth,
    }


def measure(name: str, interval_mm: float, machine: Machine) -> dict[str, Any]:
    area = ARTWORKS[name]()
    started = time.perf_counter()
    work = engrave(area, recipe(interval_mm), machine, source=0)
    planning_s = time.perf_counter() - started
    across = work.scan_times_s["0° rows together"]
    chosen_s = work.times_s[work.way]
    return {
        "artwork": name,
        "area_mm2": float(area.area),
        "rows_right_across_s": across,
        "scan_s": work.times_s["scan"],
        "loops_s": work.times_s["contour-parallel"],
        "chosen": work.way,
        "chosen_over_rows_right_across": chosen_s / across,
        "chosen_over_slower_way": chosen_s / max(work.times_s.values()),
        "chosen_over_lower_bound": chosen_s / (area.area / interval_mm / SPEED_MM_S),
        "uncovered_share": work.uncovered_mm2 / area.area,
        "moves": len(work.toolpath),
        "planning_s": planning_s,
    }


def measure_growth(share: float, interval_mm: float, machine: Machine) -> dict[str, Any]:
    area = as_area(Point(0.0, 0.0).buffer(40.0 * share, quad_segs=200))
    started = time.perf_counter()
    work = engrave(area, recipe(interval_mm), machine, source=0)
    return {
        "rows": round(80.0 * share / interval_mm),
        "moves": len(work.toolpath),
        "planning_s": time.perf_counter() - started,
    }


def recipe(interval_mm: float) -> Recipe:
    return Recipe(
        machine="trial machine",
        process="engrave",
        speed_mm_s=SPEED_MM_S,
        power=0.5,
        interval_mm=interval_mm,
    )


def square() -> MultiPolygon:
    return as_area(box(100.0, 100.0, 150.0, 150.0))


def border() -> MultiPolygon:
    return as_area(box(110, 110, 690, 380).difference(box(123, 123, 677, 367)))


def ring() -> MultiPolygon:
    centre = Point(200.0, 200.0)
    return as_area(centre.buffer(60.0, quad_segs=200).difference(centre.buffer(52.0, 200)))


def comb() -> MultiPolygon:
    teeth = [box(100.0 + 6.0 * i, 110.0, 102.2 + 6.0 * i, 170.0) for i in range(20)]
    return as_area(shapely.union_all([box(100.0, 100.0, 216.2, 110.0), *teeth]))


def islands() -> MultiPolygon:
    holes = [Point(115.0 + 20 * i, 115.0 + 20 * j).buffer(8.0) for i in range(5) for j in range(3)]
    dots = [Point(115.0 + 20 * i, 115.0 + 20 * j).buffer(3.0) for i in range(5) for j in range(3)]
    plate = box(100.0, 100.0, 210.0, 170.0).difference(shapely.union_all(holes))
    return as_area(shapely.union_all([plate, *dots]))


def tokens() -> MultiPolygon:
    return as_area(
        shapely.union_all(
            [translate(_star(6.0), 100 + 40 * i, 100 + 40 * j) for i in range(6) for j in range(4)]
        )
    )


def _star(radius_mm: float) -> Polygon:
    angle = np.linspace(0.0, 2.0 * np.pi, 10, endpoint=False)
    reach = radius_mm * np.where(np.arange(10) % 2 == 0, 1.0, 0.45)
    return Polygon(np.column_stack([reach * np.sin(angle), reach * np.cos(angle)]))


def _bent(points: list[tuple[float, float]], width: float) -> Polygon:
    return LineString(points).buffer(0.5 * width, cap_style="flat", join_style="round")


def _glyphs() -> list[Polygon]:
    """A few letters one unit high, drawn as strokes: H, N, V, O, S."""
    t = np.linspace(0.0, 1.0, 60)
    bend = np.column_stack([0.3 - 0.24 * np.sin(2.0 * np.pi * t), 0.06 + 0.88 * t])
    o = scale(Point(0.35, 0.5).buffer(1.0, quad_segs=50), 0.35, 0.5)
    return [
        shapely.union_all([box(0, 0, 0.13, 1), box(0.5, 0, 0.63, 1), box(0.13, 0.44, 0.5, 0.56)]),
        _bent([(0.06, 0), (0.06, 0.93), (0.54, 0.07), (0.54, 1)], 0.13),
        _bent([(0.02, 1), (0.32, 0.07), (0.62, 1)], 0.13),
        o.difference(scale(o, 0.62, 0.74)),
        LineString(bend).buffer(0.06),
    ]


def lettering() -> MultiPolygon:
    """Three lines of 24, 12 and 5 mm letters."""
    placed = []
    for height, y, count in ((24.0, 200.0, 16), (12.0, 170.0, 30), (5.0, 155.0, 60)):
        glyphs = [scale(g, height, height, origin=(0, 0)) for g in _glyphs()]
        placed += [translate(glyphs[i % 5], 120 + 0.9 * height * i, y) for i in range(count)]
    return as_area(shapely.union_all(placed))


def bordered_sign() -> MultiPolygon:
    """A border with lettering and two emblems inside, 600 × 290 mm with its edge."""
    emblem = Point(0, 0).buffer(30.0, quad_segs=100).difference(_star(26.0))
    emblems = [translate(emblem, x, 300.0) for x in (200.0, 600.0)]
    return as_area(shapely.union_all([border(), lettering(), *emblems]))


ARTWORKS: dict[str, Callable[[], MultiPolygon]] = {
    "square": square,
    "border": border,
    "ring": ring,
    "comb": comb,
    "islands": islands,
    "tokens": tokens,
    "lettering": lettering,
    "bordered sign": bordered_sign,
}
