"""Engraving: the time of each way on artworks made by code, and how long planning takes.

The machine has the accelerations that fit the trade's times (rows 16 m/s², loops 3.1 m/s², both
1000 mm/s). The lower bound is that of :mod:`benchmarks._engraving_bound`: area / interval / speed
and the run-ups and bends that no division into cells avoids; with ``--cover`` the larger of it and
that of :mod:`benchmarks._engraving_cover`. There are two ratios: over the best single way as the
planner makes it, and over the best plain way (:mod:`benchmarks._engraving_plain`). Both and the
bound are for rows at the recipe's speed from end to end. For recipes that let rows burn while they
speed up and slow down all is told once more: ``ramped_over_single`` is over the best single way
with such rows, ``ramped_over_steady`` over the best single way at the recipe's speed.

``least_over_single`` and ``least_over_plain`` are the bound over those ways: no plan in straight
rows at the recipe's speed and in the area's loops can have a smaller ratio, so that the median of
an artwork's ratio and of its least tell how much of what can be saved is saved.

Planning is told as seconds of all processors and as seconds by the clock on the wall; the latter
counts only where nothing else runs.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon, box
from shapely.affinity import rotate, scale, translate
from shapely.geometry.base import BaseGeometry

from benchmarks._engraving_bound import lower_bound_s
from benchmarks._engraving_cover import cover_bound_s
from benchmarks._engraving_plain import plain_ways_s
from benchmarks._machines import SPEED_MM_S, trial_machine
from kerfwright.engraving.burn import burn_of
from kerfwright.engraving.choose import EngravedArea, engrave
from kerfwright.geometry.regions import as_area
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe


def run(argv: list[str]) -> dict[str, Any]:
    """Engrave every artwork; seconds of the machine, of processors and of the wall's clock."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks engraving", description=__doc__)
    parser.add_argument("--interval", type=float, default=0.1, metavar="MM")
    parser.add_argument("--spot", type=float, default=0.12, metavar="MM")
    parser.add_argument("--slowest-row", type=float, default=0.25, metavar="SHARE")
    parser.add_argument("--only", metavar="ARTWORK", choices=sorted(ARTWORKS))
    parser.add_argument("--cover", action="store_true", help="the tighter bound too; minutes")
    options = parser.parse_args(argv)
    machine = trial_machine(spot_mm=options.spot)
    engrave(logo(), recipe(1.0), machine, source=0)  # compiles
    names = [options.only] if options.only else list(ARTWORKS)
    rows = [measure(name, options.interval, options.slowest_row, machine) for name in names]
    if options.cover:
        burn = burn_of(recipe(options.interval), machine, 0)
        for row in rows:
            bound_s = cover_bound_s(ARTWORKS[row["artwork"]](), burn, machine)
            row["cover_s"] = bound_s
            row.update(_shares(row, max(bound_s, row["bound_s"])))
    growth = [measure_growth(share, options.interval, machine) for share in (0.25, 0.5, 1.0, 2.0)]

    def median(column: str) -> float:
        return float(np.median([row[column] for row in rows]))

    def most(column: str) -> float:
        return float(max(row[column] for row in rows))

    return {
        "interval_mm": options.interval,
        "spot_mm": options.spot,
        "median_over_single": median("over_single"),
        "median_least_over_single": median("least_over_single"),
        "most_over_single": most("over_single"),
        "median_over_plain": median("over_plain"),
        "median_least_over_plain": median("least_over_plain"),
        "most_over_plain": most("over_plain"),
        "most_over_bound": most("over_bound"),
        "median_ramped_over_single": median("ramped_over_single"),
        "most_ramped_over_single": most("ramped_over_single"),
        "median_ramped_over_steady": median("ramped_over_steady"),
        "most_ramped_over_steady": most("ramped_over_steady"),
        "most_ramped_over_bound": most("ramped_over_bound"),
        "most_planning_cpu_s": most("planning_cpu_s"),
        "most_planning_wall_s": most("planning_wall_s"),
        "seconds": _columns(rows, "artwork", "scan_s", "loops_s", "mixed_s", "chosen", "cells"),
        "ratios": _columns(
            rows,
            "artwork",
            "chosen_s",
            "over_single",
            "least_over_single",
            "over_plain",
            "least_over_plain",
            "over_bound",
            "over_no_turns",
            "bound_s",
            "cover_s",
        ),
        "plain": _columns(rows, "artwork", "plain_s", "plain_way", "over_plain"),
        f"rows_burned_from_{options.slowest_row:g}_of_the_speed_on": _columns(
            rows,
            "artwork",
            "ramped_s",
            "ramped_way",
            "ramped_over_steady",
            "ramped_over_single",
            "ramped_over_bound",
            "ramped_planning_cpu_s",
        ),
        "planning": _columns(
            rows,
            "artwork",
            "area_mm2",
            "moves",
            "uncovered",
            "planning_cpu_s",
            "planning_wall_s",
        ),
        "planning_of_a_page": [measure_page(options.interval, machine)],
        "planning_of_a_disc_by_size": growth,
    }


def _columns(rows: list[dict[str, Any]], *names: str) -> list[dict[str, Any]]:
    return [{name: row[name] for name in names if name in row} for row in rows]


def measure(name: str, interval_mm: float, slowest_row: float, machine: Machine) -> dict[str, Any]:
    area = ARTWORKS[name]()
    work, cpu_s, wall_s = planned(area, interval_mm, machine)
    chosen_s = work.times_s[work.way]
    burn = burn_of(recipe(interval_mm), machine, 0)
    bound_s = lower_bound_s(area, burn, machine)
    plain = plain_ways_s(area, burn, machine)
    plain_way = min(plain, key=lambda way: plain[way])
    ramped, ramped_cpu_s, _ = planned(area, interval_mm, machine, slowest_row)
    ramped_s = ramped.times_s[ramped.way]
    ramped_burn = burn_of(recipe(interval_mm, slowest_row), machine, 0)
    single_s = min(work.times_s["scan"], work.times_s["contour-parallel"])
    row: dict[str, Any] = {
        "artwork": name,
        "area_mm2": float(area.area),
        "scan_s": work.times_s["scan"],
        "loops_s": work.times_s["contour-parallel"],
        "mixed_s": work.times_s["mixed"],
        "chosen": work.way,
        "chosen_s": chosen_s,
        "cells": len(work.cells),
        "single_s": single_s,
        "plain_s": plain[plain_way],
        "plain_way": plain_way,
        "ramped_s": ramped_s,
        "ramped_way": ramped.way,
        "ramped_over_steady": ramped_s / single_s,
        "ramped_over_single": ramped_s
        / min(ramped.times_s["scan"], ramped.times_s["contour-parallel"]),
        "ramped_over_bound": ramped_s / lower_bound_s(area, ramped_burn, machine),
        "ramped_planning_cpu_s": ramped_cpu_s,
        "bound_s": bound_s,
        "over_no_turns": chosen_s / (area.area / interval_mm / SPEED_MM_S),
        "uncovered": work.uncovered_mm2 / area.area,
        "moves": len(work.toolpath),
        "planning_cpu_s": cpu_s,
        "planning_wall_s": wall_s,
    }
    return row | _shares(row, bound_s)


def _shares(row: dict[str, Any], bound_s: float) -> dict[str, float]:
    """The chosen way and the bound over the ways that they are held against."""
    return {
        "over_single": row["chosen_s"] / row["single_s"],
        "least_over_single": bound_s / row["single_s"],
        "over_plain": row["chosen_s"] / row["plain_s"],
        "least_over_plain": bound_s / row["plain_s"],
        "over_bound": row["chosen_s"] / bound_s,
    }


def planned(
    area: MultiPolygon, interval_mm: float, machine: Machine, slowest_row: float = 1.0
) -> tuple[EngravedArea, float, float]:
    """An engraving with its planning's seconds of all processors and by the clock on the wall."""
    cpu_s, wall_s = time.process_time(), time.perf_counter()
    work = engrave(area, recipe(interval_mm, slowest_row), machine, source=0)
    return work, time.process_time() - cpu_s, time.perf_counter() - wall_s


def measure_page(interval_mm: float, machine: Machine) -> dict[str, Any]:
    """Planning of an A4 sheet with a frame, a logo, lettering, a chart and small stars."""
    area = page()
    started, begun = time.process_time(), time.perf_counter()
    work = engrave(area, recipe(interval_mm), machine, source=0)
    return {
        "area_mm2": float(area.area),
        "moves": len(work.toolpath),
        "planning_cpu_s": time.process_time() - started,
        "planning_wall_s": time.perf_counter() - begun,
    }


def measure_growth(share: float, interval_mm: float, machine: Machine) -> dict[str, Any]:
    area = as_area(Point(0.0, 0.0).buffer(40.0 * share, quad_segs=200))
    work, cpu_s, wall_s = planned(area, interval_mm, machine)
    return {
        "rows": round(80.0 * share / interval_mm),
        "moves": len(work.toolpath),
        "planning_cpu_s": cpu_s,
        "planning_wall_s": wall_s,
    }


def recipe(interval_mm: float, slowest_row: float = 1.0) -> Recipe:
    return Recipe(
        machine="trial machine",
        process="engrave",
        speed_mm_s=SPEED_MM_S,
        power=0.5,
        interval_mm=interval_mm,
        slowest_row=slowest_row,
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


def scattered() -> MultiPolygon:
    """Bars, discs and stars of 3 to 25 mm, strewn over 280 × 190 mm and turned any way."""
    rng = np.random.default_rng(7)
    placed: list[Polygon] = []
    for x in range(7):
        for y in range(5):
            size = float(rng.uniform(3.0, 12.5))
            shape = (
                box(-size, -0.2 * size, size, 0.2 * size),
                Point(0, 0).buffer(0.6 * size),
                _star(size),
            )
            turned = rotate(shape[int(rng.integers(3))], float(rng.integers(12)) * 15.0)
            placed.append(translate(turned, 120.0 + 40.0 * x, 120.0 + 38.0 * y))
    return as_area(shapely.union_all(placed))


def page() -> MultiPolygon:
    """An A4 sheet of mixed artwork: frame, logo, two lines of letters, chart, row of stars."""
    frame = box(105, 105, 392, 305).difference(box(109, 109, 388, 301))

    def placed(artwork: MultiPolygon, width_mm: float, x: float, y: float) -> BaseGeometry:
        left, low, right, _ = artwork.bounds
        share = width_mm / (right - left)
        sized = scale(artwork, share, share, origin=(left, low))
        return translate(sized, x - left, y - low)

    letters = [
        translate(scale(_glyphs()[i % 5], size, size, origin=(0, 0)), 215 + 0.9 * size * i, y)
        for size, y, count in ((18.0, 270.0, 9), (10.0, 252.0, 17))
        for i in range(count)
    ]
    stars = [translate(_star(5.0), 220 + 18 * i, 122) for i in range(9)]
    pieces = [frame, placed(logo(), 85.0, 117.0, 180.0), placed(coast(), 150.0, 220.0, 140.0)]
    return as_area(shapely.union_all([*pieces, *letters, *stars]))


def logo() -> MultiPolygon:
    """An anchor of bars and bows in a ring, 200 mm high."""
    ring_outside = Point(300, 250).buffer(100.0, quad_segs=100)
    ring_inside = Point(300, 250).buffer(88.0, quad_segs=100)
    bow = Point(300, 235).buffer(55.0, quad_segs=60).difference(Point(300, 245).buffer(48.0, 60))
    bow = bow.intersection(box(200, 150, 400, 225))
    shank = box(294, 180, 306, 300)
    stock = box(262, 278, 338, 290)
    eye = Point(300, 312).buffer(14.0).difference(Point(300, 312).buffer(8.0))
    return as_area(
        shapely.union_all([ring_outside.difference(ring_inside), bow, shank, stock, eye])
    )


def checkerboard() -> MultiPolygon:
    """Thirty-two fields of 25 mm with a rim of 6 mm round them."""
    fields = [
        box(110 + 25 * i, 110 + 25 * j, 135 + 25 * i, 135 + 25 * j).buffer(-0.2, join_style="mitre")
        for i in range(8)
        for j in range(8)
        if (i + j) % 2
    ]
    rim = box(102, 102, 318, 318).difference(box(108, 108, 312, 312))
    return as_area(shapely.union_all([rim, *fields]))


def coast() -> MultiPolygon:
    """An island as on a chart: bays, capes, two lakes and skerries."""
    rng = np.random.default_rng(3)
    angle = np.linspace(0.0, 2.0 * np.pi, 1200, endpoint=False)
    reach = np.full(len(angle), 60.0)
    for wave in range(2, 40):
        size = 30.0 / wave**1.2
        reach += size * rng.normal() * np.cos(wave * angle + rng.uniform(0.0, 2.0 * np.pi))
    outline = Polygon(
        np.column_stack([260 + 1.8 * reach * np.cos(angle), 230 + reach * np.sin(angle)])
    ).buffer(0.0)
    lakes = [Point(250, 240).buffer(12.0), scale(Point(290, 215).buffer(9.0), 2.0, 1.0)]
    skerries = [Point(140 + 17 * i, 120 + 9 * (i % 3)).buffer(2.0 + i % 4) for i in range(12)]
    return as_area(shapely.union_all([outline.difference(shapely.union_all(lakes)), *skerries]))


def nameplate() -> MultiPolygon:
    """A frame of 4 mm with round corners, a line under three lines of letters, 200 × 120 mm."""
    outer, inner = box(100, 100, 300, 220).buffer(5.0), box(104, 104, 296, 216).buffer(5.0)
    rule = box(120, 150, 280, 152)
    placed = []
    for height, y, count in ((20.0, 180.0, 7), (10.0, 160.0, 14), (10.0, 125.0, 16)):
        glyphs = [scale(g, height, height, origin=(0, 0)) for g in _glyphs()]
        placed += [translate(glyphs[i % 5], 130 + 0.9 * height * i, y) for i in range(count)]
    return as_area(shapely.union_all([outer.difference(inner), rule, *placed]))


ARTWORKS: dict[str, Callable[[], MultiPolygon]] = {
    "square": square,
    "border": border,
    "ring": ring,
    "comb": comb,
    "islands": islands,
    "tokens": tokens,
    "lettering": lettering,
    "bordered sign": bordered_sign,
    "nameplate": nameplate,
    "logo": logo,
    "scattered": scattered,
    "checkerboard": checkerboard,
    "coast": coast,
}
