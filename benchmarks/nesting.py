"""Placing: what sheets cost, what holes save, how soon there is a layout, how it grows; strips.

The orders are made by code from a fixed seed. ``bound`` is what no layout can go below, by areas
alone (:func:`least_money`); ragged parts never come near it. ``first_s`` is the time to the
first legal layout, without any search.

Strips (with ``--instances DIR``) are open instances beside published medians of Gardeyn, Vanden
Berghe & Wauters 2025 (arXiv:2509.13329), whose search had far more time and threads: they are a
goal and not an equal race. ``bare`` is the engine that comes from that work, as it comes, with the
same time and seed; ``density`` is our own search, ``slid`` what sliding all pieces together makes
of that, as at the end of every nest; best and median of the seeds are of ``slid``. ``near_s`` is
when our own search was within half a point of the published median; with ``--enough`` it ends
there, so that its density is only as much as was asked for. Both searches watch the clock: equal
seeds do not give equal layouts. The instances (Oliveira; Hopper; Albano & Sapuppo; Fujita) are
those that ESICUP collects, one JSON file each: ``strip_height`` and ``items`` with ``demand``,
``allowed_orientations`` and ``shape.data``. They are not part of this repository.
"""

from __future__ import annotations

import argparse
import itertools
import json
import math
import time
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import shapely
import spyrrow
from shapely import Point, Polygon, box

from kerfwright.cores import cores
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.compaction import compacted
from kerfwright.nesting.cost import Prices, cost_of, worth
from kerfwright.nesting.model import Body, Layouts, Placement, SheetSize
from kerfwright.nesting.nest import nest
from kerfwright.nesting.remainder import remainder
from kerfwright.nesting.strip import Strip, StripPiece, solve_strip
from kerfwright.nesting.until import UNCONTROLLED, Control

PUBLISHED_MEDIAN = {"swim": 78.3, "shirts": 89.7, "albano": 89.5, "trousers": 91.7, "fu": 92.4}
"""Density in percent, by instance."""

NEAR_POINTS = 0.5
"""Within so much of the published median a strip is near it."""

QUARTERS = (0.0, 90.0, 180.0, 270.0)
SPACING_MM = 1.0
MARGIN_MM = 5.0
PRICE_M2 = Decimal("24.00")
SHEETS = (
    SheetSize("full", 600.0, 400.0, 9, price_per_m2=PRICE_M2),
    SheetSize("half", 400.0, 300.0, 9, price_per_m2=PRICE_M2),
    SheetSize("small", 300.0, 200.0, 9, price_per_m2=PRICE_M2),
    SheetSize("offcut", 320.0, 180.0, 2, price_per_m2=PRICE_M2, offcut=True),
    SheetSize(
        "cut-off",
        300.0,
        300.0,
        1,
        outline=Polygon([(0, 0), (300, 0), (300, 90), (120, 300), (0, 300)]),
        price_per_m2=PRICE_M2,
        offcut=True,
    ),
)
PRICES = Prices()

SECTIONS = ("mixed", "holes", "growth")


def run(argv: Sequence[str]) -> dict[str, Any]:
    """Measure the sections asked for, all by default; strips where their folder is given."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks nesting", description=__doc__)
    parser.add_argument("--only", choices=(*SECTIONS, "strips"))
    parser.add_argument("--instances", type=Path, metavar="DIR", help="folder of strip instances")
    parser.add_argument("--seconds", type=float, default=20.0, help="for each strip, or sheet")
    parser.add_argument("--parts", type=int, nargs="+", default=[10, 30, 100, 300, 1000])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seeds", type=int, default=1, help="so many runs of each strip")
    parser.add_argument("--bare", action="store_true", help="strips by the bare engine too")
    parser.add_argument("--enough", action="store_true", help="end a strip near what is published")
    options = parser.parse_args(list(argv))
    if options.only == "strips" and options.instances is None:
        parser.error("strips need --instances DIR; ESICUP has them")
    place([plate(20.0, 10.0, 2)], SHEETS[:1], seconds=0.1, seed=1)  # compiles
    sections = (options.only,) if options.only else SECTIONS
    figures: dict[str, Any] = {"seconds": options.seconds, "seed": options.seed}
    if "mixed" in sections:
        figures["mixed"] = mixed(options.seconds, options.seed)
    if "holes" in sections:
        figures["holes"] = holes(options.seconds, options.seed)
    if "growth" in sections:
        figures["growth"] = [growth(count, options.seed) for count in options.parts]
    if options.instances is not None:
        files = sorted(options.instances.glob("*.json"))
        if not files:
            parser.error(f"{options.instances} has no instance files (*.json); ESICUP has them")
        seeds = range(options.seed, options.seed + options.seeds)
        runs = [
            [measure(f, options.seconds, n, options.bare, options.enough) for n in seeds]
            for f in files
        ]
        figures["strips"] = list(itertools.chain.from_iterable(runs))
        figures["strips_in_short"] = [in_short(of_one) for of_one in runs]
    return figures


def place(
    bodies: Sequence[Body],
    sheets: Sequence[SheetSize],
    *,
    seconds: float,
    seed: int,
    control: Control = UNCONTROLLED,
) -> Layouts:
    return nest(
        bodies,
        sheets,
        spacing_mm=SPACING_MM,
        margin_mm=MARGIN_MM,
        seconds=seconds,
        seed=seed,
        prices=PRICES,
        control=control,
    )


AT_ONCE = Control(stop=lambda: True)
"""No search: the first layout is what counts."""


def plate(width_mm: float, height_mm: float, quantity: int) -> Body:
    name = f"{width_mm:.0f} x {height_mm:.0f}"
    return Body(name, (box(0.0, 0.0, width_mm, height_mm),), quantity, QUARTERS)


def order(count: int, seed: int) -> list[Body]:
    """So many parts of ten kinds: plates, discs, stars, brackets, lobed shapes."""
    rng = np.random.default_rng(seed)
    kinds: list[Polygon] = []
    for number in range(10):
        size = float(rng.uniform(14.0, 75.0))
        angles = np.linspace(0.0, math.tau, 48 if number % 5 == 4 else 10, endpoint=False)
        if number % 5 == 0:
            kinds.append(box(0.0, 0.0, size, size * float(rng.uniform(0.4, 1.0))))
        elif number % 5 == 1:
            kinds.append(Point(0.0, 0.0).buffer(size / 2, quad_segs=24))
        elif number % 5 == 2:
            spokes = np.where(np.arange(10) % 2, size / 4, size / 2)
            kinds.append(
                Polygon(np.column_stack([spokes * np.cos(angles), spokes * np.sin(angles)]))
            )
        elif number % 5 == 3:
            arm = size / 4
            kinds.append(
                Polygon([(0, 0), (size, 0), (size, arm), (arm, arm), (arm, size), (0, size)])
            )
        else:
            lobes = size / 2 * (1.0 + 0.3 * np.cos(3.0 * angles))
            kinds.append(_polar(lobes, angles))
    shares = [count // 10 + (number < count % 10) for number in range(10)]
    return [
        Body(f"kind {number}", (kind,), share, QUARTERS)
        for number, (kind, share) in enumerate(zip(kinds, shares, strict=True))
        if share
    ]


def _polar(radii: FloatArray, angles: FloatArray) -> Polygon:
    return Polygon(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]))


def least_money(bodies: Sequence[Body], sheets: Sequence[SheetSize]) -> float:
    """Money that no layout on these sheets, all of one material, can go below, by areas alone.

    Parts grown by half the spacing do not overlap, and lie in rooms: the sheets less the margin,
    grown likewise. One rectangle is worth keeping on a sheet at most. Made smaller on all sides by
    the margin less half the spacing it lies in the room, beside the grown parts: what is left of
    all rooms bounds how many there are, and beyond that each only gains its sheet's margin. Every
    choice of sheets with room enough is looked at; gaps between parts are not reckoned with.
    """
    half = SPACING_MM / 2
    parts_mm2 = sum(body.footprint[0].buffer(half).area * body.quantity for body in bodies)
    rooms = [s.material.buffer(half - MARGIN_MM, join_style="mitre").area for s in sheets]
    margins = [s.area_mm2 - room for s, room in zip(sheets, rooms, strict=True)]
    smallest_mm2 = (PRICES.offcut_least_mm - 2.0 * (MARGIN_MM - half)) ** 2
    worths = [float(worth(sheet, PRICES) or 0) for sheet in sheets]
    credit = PRICES.offcut_share * float(PRICE_M2) / 1e6
    least = math.inf
    for counts in itertools.product(*(range(sheet.count + 1) for sheet in sheets)):
        taken = np.array(counts)
        if taken @ rooms < parts_mm2:
            continue
        left_mm2 = float(taken @ rooms) - parts_mm2
        at_edges = sorted(np.repeat(margins, counts), reverse=True)
        left_mm2 += sum(at_edges[: int(left_mm2 / smallest_mm2)])
        least = min(least, float(taken @ worths) - credit * left_mm2)
    return least


def mixed(seconds: float, seed: int) -> list[dict[str, Any]]:
    """200 parts on three sizes of sheet and three offcuts: first layout, and searched."""
    bodies = order(200, seed)
    area_mm2 = sum(body.footprint[0].area * body.quantity for body in bodies)
    bound = least_money(bodies, SHEETS)
    rows = []
    for name, control in (("first layout", AT_ONCE), ("searched", UNCONTROLLED)):
        started = time.perf_counter()
        layouts = place(bodies, SHEETS, seconds=seconds, seed=seed, control=control)
        took_s = time.perf_counter() - started
        lefts = [(f.sheet, remainder(bodies, f, spacing_mm=SPACING_MM)) for f in layouts.sheets]
        cost = cost_of(lefts, None, PRICES)
        rows.append(
            {
                "layout": name,
                "sheets": layouts.in_words,
                "left_over": sum(layouts.unplaced.values()),
                "money": round(float(cost.material or 0), 3),
                "bound": round(bound, 3),
                "over_bound": f"{float(cost.material or 0) / bound - 1.0:.1%}",
                "density": round(area_mm2 / layouts.area_mm2, 4),
                "seconds": round(took_s, 2),
            }
        )
    return rows


def parts_with_holes() -> list[Body]:
    """Rings, frames and letters such as O and D, and small parts that fit into them."""
    ring = Point(0.0, 0.0).buffer(55.0, quad_segs=24).difference(Point(0.0, 0.0).buffer(42.0))
    frame = box(0.0, 0.0, 120.0, 80.0).difference(box(12.0, 12.0, 108.0, 68.0))
    bow = Point(0.0, 40.0).buffer(40.0, quad_segs=16).intersection(box(0.0, 0.0, 40.0, 80.0))
    letter = bow.union(box(-25.0, 0.0, 0.0, 80.0))
    letter = letter.difference(letter.buffer(-14.0, join_style="mitre"))
    shapes = ((ring, 4), (frame, 4), (letter, 4), (Point(0.0, 0.0).buffer(12.0), 30))
    small = [(box(0.0, 0.0, 30.0, 18.0), 24), (Point(0.0, 0.0).buffer(30.0, quad_segs=16), 4)]
    return [
        Body(f"shape {n}", (shape,), count, QUARTERS)
        for n, (shape, count) in enumerate([*shapes, *small])
    ]


def holes(seconds: float, seed: int) -> list[dict[str, Any]]:
    """The same parts with their holes usable and with them filled, on one long sheet."""
    bodies = parts_with_holes()
    filled = [replace(b, footprint=(Polygon(b.footprint[0].exterior),)) for b in bodies]
    sheet = SheetSize("long", 1600.0, 300.0, 1)
    rows = []
    for name, placed in (("holes used", bodies), ("holes filled", filled)):
        started = time.perf_counter()
        layouts = place(placed, [sheet], seconds=seconds, seed=seed)
        (layout,) = layouts.sheets
        reach = [_moved(placed, p).bounds[2] for p in layout.placements]
        rows.append(
            {
                "parts": name,
                "width_mm": round(max(reach), 1),
                "seconds": round(time.perf_counter() - started, 2),
            }
        )
    saved = 1.0 - rows[0]["width_mm"] / rows[1]["width_mm"]
    rows[0]["saved"] = f"{saved:.1%}"
    return rows


def _moved(bodies: Sequence[Body], placement: Any) -> Polygon:
    t = placement.transform
    return shapely.affinity.affine_transform(
        bodies[placement.body].footprint[0], [t.a, t.c, t.b, t.d, t.e, t.f]
    )


def growth(count: int, seed: int) -> dict[str, Any]:
    """Time to the first legal layout of so many parts on full sheets, and how dense it is."""
    bodies = order(count, seed)
    sheet = SheetSize("full", 600.0, 400.0, 99)
    started = time.perf_counter()
    layouts = place(bodies, [sheet], seconds=1.0, seed=seed, control=AT_ONCE)
    took_s = time.perf_counter() - started
    area_mm2 = sum(body.footprint[0].area * body.quantity for body in bodies)
    return {
        "parts": count,
        "first_s": round(took_s, 3),
        "ms_a_part": round(1000.0 * took_s / count, 2),
        "sheets": len(layouts.sheets),
        "density": round(area_mm2 / layouts.area_mm2, 4),
    }


def measure(
    file: Path, seconds: float, seed: int, with_bare: bool, enough: bool = False
) -> dict[str, Any]:
    instance = json.loads(file.read_text())
    pieces = [_piece(item) for item in instance["items"]]
    height_mm = float(instance["strip_height"])
    bare = bare_density(pieces, height_mm, seconds, seed) if with_bare else None
    near = PUBLISHED_MEDIAN.get(instance["name"], math.inf) - NEAR_POINTS
    near_s: list[float] = []
    started = time.perf_counter()

    def better(strip: Strip) -> None:
        if not near_s and 100.0 * strip.density >= near:
            near_s.append(time.perf_counter() - started)

    strip = solve_strip(
        pieces,
        height_mm,
        spacing_mm=0.0,
        seconds=seconds,
        seed=seed,
        stop=lambda: enough and bool(near_s),
        better=better,
    )
    took_s = time.perf_counter() - started
    slid = compacted_strip(pieces, strip)
    density = 100.0 * strip.density
    return {
        "instance": instance["name"],
        "seed": seed,
        "pieces": len(strip.spots),
        "length": round(strip.width_mm, 3),
        "bare": None if bare is None else round(100.0 * bare, 2),
        "density": round(density, 2),
        "slid": round(density * strip.width_mm / slid, 2),
        "overlap_share": overlap(pieces, strip),
        "near_s": round(near_s[0], 1) if near_s else None,
        "seconds": round(took_s, 1),
    }


def in_short(runs: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Best and median of one instance's runs beside what is published."""
    name, slid = runs[0]["instance"], [float(run["slid"]) for run in runs]
    published = PUBLISHED_MEDIAN.get(name)
    row: dict[str, Any] = {
        "instance": name,
        "runs": len(runs),
        "median": round(float(np.median(slid)), 2),
        "best": max(slid),
        "near": sum(run["near_s"] is not None for run in runs),
        "published": published,
        "median_less_published": published and round(float(np.median(slid)) - published, 2),
    }
    bare = [float(run["bare"]) for run in runs if run["bare"] is not None]
    if bare:
        row |= {"bare_median": round(float(np.median(bare)), 2), "bare_best": max(bare)}
    return row


def bare_density(
    pieces: Sequence[StripPiece], height_mm: float, seconds: float, seed: int
) -> float:
    """Density that the engine reaches by itself, with its own settings, on as many cores."""
    items = [
        spyrrow.Item(str(n), [(x, y) for x, y in p.ring.tolist()], p.quantity, list(p.turns_deg))
        for n, p in enumerate(pieces)
    ]
    config = spyrrow.StripPackingConfig(
        total_computation_time=round(seconds), num_workers=cores(), seed=seed
    )
    found = spyrrow.StripPackingInstance("strip", height_mm, items).solve(config)
    area_mm2 = sum(Polygon(piece.ring).area * piece.quantity for piece in pieces)
    return float(area_mm2 / (found.width * height_mm))


def compacted_strip(pieces: Sequence[StripPiece], strip: Strip) -> float:
    """Length in mm once everything has slid to the left, all at once."""
    bodies = [
        Body(f"piece {n}", (Polygon(piece.ring),), piece.quantity, piece.turns_deg)
        for n, piece in enumerate(pieces)
    ]
    slid = compacted(
        bodies,
        [Placement(s.piece, s.turn_deg, s.x_mm, s.y_mm) for s in strip.spots],
        box(0.0, 0.0, strip.width_mm, strip.height_mm),
        spacing_mm=0.0,
        to="left",
    )
    return strip.width_mm - slid.shorter_mm[0]


def _piece(item: dict[str, Any]) -> StripPiece:
    ring = np.array(item["shape"]["data"], dtype=np.float64)
    if np.array_equal(ring[0], ring[-1]):
        ring = ring[:-1]
    turns = tuple(float(turn) for turn in item.get("allowed_orientations") or (0.0,))
    return StripPiece(ring, int(item["demand"]), turns)


def overlap(pieces: Sequence[StripPiece], strip: Strip) -> float:
    """Area covered twice or beyond the strip, as a share of the pieces' area, by shapely."""
    placed = [
        Polygon(rotation(s.turn_deg).apply(pieces[s.piece].ring) + np.array([s.x_mm, s.y_mm]))
        for s in strip.spots
    ]
    total = sum(polygon.area for polygon in placed)
    inside = shapely.union_all(placed).intersection(
        shapely.box(0.0, 0.0, strip.width_mm, strip.height_mm)
    )
    return max(0.0, float(1.0 - inside.area / total))
