"""Strip density on open instances, beside published medians.

Published: medians of Gardeyn, Vanden Berghe & Wauters 2025 (arXiv:2509.13329), whose search
runs inside; theirs had far more time and threads, so they are a goal and not an equal race.
The instances (Oliveira; Hopper; Albano & Sapuppo; Fujita) are those that ESICUP collects, one
JSON file each: ``strip_height`` and ``items`` with ``demand``, ``allowed_orientations`` and
``shape.data``. They are not part of this repository.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from kerfwright.geometry.affine import rotation
from kerfwright.nesting.strip import Strip, StripPiece, solve_strip

PUBLISHED_MEDIAN = {"swim": 78.3, "shirts": 89.7, "albano": 89.5, "trousers": 91.7, "fu": 92.4}
"""Density in percent, by instance."""


def run(argv: Sequence[str]) -> dict[str, Any]:
    """Solve every instance of a folder; densities in percent, lengths in the instance's unit."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks nesting", description=__doc__)
    parser.add_argument("--instances", type=Path, required=True, metavar="DIR")
    parser.add_argument("--seconds", type=float, default=20.0, help="for each instance")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(list(argv))
    files = sorted(options.instances.glob("*.json"))
    if not files:
        parser.error(f"{options.instances} has no instance files (*.json); ESICUP has them")
    rows = [measure(file, options.seconds, options.seed) for file in files]
    return {"seconds": options.seconds, "seed": options.seed, "instances": rows}


def measure(file: Path, seconds: float, seed: int) -> dict[str, Any]:
    instance = json.loads(file.read_text())
    pieces = [_piece(item) for item in instance["items"]]
    started = time.perf_counter()
    strip = solve_strip(
        pieces, float(instance["strip_height"]), spacing_mm=0.0, seconds=seconds, seed=seed
    )
    took_s = time.perf_counter() - started
    published = PUBLISHED_MEDIAN.get(instance["name"])
    density = 100.0 * strip.density
    return {
        "instance": instance["name"],
        "pieces": len(strip.spots),
        "length": round(strip.width_mm, 3),
        "density": round(density, 2),
        "published": published,
        "difference": None if published is None else round(density - published, 2),
        "overlap_share": overlap(pieces, strip),
        "seconds": round(took_s, 1),
    }


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
