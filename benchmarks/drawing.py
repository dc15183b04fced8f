"""How long a drawing takes to be read, mended and taken apart, and how that grows.

The drawings are made here: wavy plates of 50 straight pieces in rows, every fourth with a hole,
once as closed outlines, once as loose lines shuffled and turned round, as an SVG and as a DXF,
and once as Bézier curves.
"""

from __future__ import annotations

import argparse
import math
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from ezdxf import units
from ezdxf.filemanagement import new

from kerfwright.drawing.read import read_drawing
from kerfwright.geometry.tolerances import GAP_MM, JOIN_MM
from kerfwright.parts.processes import give_processes
from kerfwright.parts.recognise import recognise_parts
from kerfwright.repair.mend import mend

FloatArray = npt.NDArray[np.float64]

PIECES = 50
"""Straight pieces of one outline."""

PITCH_MM = 12.0


def run(argv: list[str]) -> dict[str, Any]:
    """Time every kind of drawing at ``--segments``, and closed outlines as they grow."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks drawing")
    parser.add_argument("--segments", type=int, default=100_000)
    parser.add_argument("--most", type=int, default=1_000_000, help="largest drawing of the growth")
    parser.add_argument("--repeats", type=int, default=3)
    options = parser.parse_args(argv)
    with tempfile.TemporaryDirectory() as folder:
        for make in _KINDS.values():
            _timed(make(Path(folder), 2_000))
        kinds = [
            {"drawing": kind}
            | _best([_timed(make(Path(folder), options.segments)) for _ in range(options.repeats)])
            for kind, make in _KINDS.items()
        ]
        growth = []
        for kind in ("closed outlines, SVG", "loose lines, SVG"):
            count = 10_000
            while count <= options.most:
                row = {"drawing": kind} | _timed(_KINDS[kind](Path(folder), count))
                growth.append(row)
                count *= 10
    return {"kinds of drawing": kinds, "growth": growth} | {
        f"growth exponent, {kind}": _exponent([row for row in growth if row["drawing"] == kind])
        for kind in dict.fromkeys(row["drawing"] for row in growth)
    }


def _best(rows: list[dict[str, Any]]) -> dict[str, Any]:
    return min(rows, key=lambda row: float(row["seconds"]))


def _exponent(rows: list[dict[str, Any]]) -> float:
    counts = np.log([row["segments"] for row in rows])
    seconds = np.log([row["seconds"] for row in rows])
    return float(np.polyfit(counts, seconds, 1)[0])


def _timed(file: Path) -> dict[str, Any]:
    times = [time.perf_counter()]
    drawing = read_drawing(file)
    times.append(time.perf_counter())
    segments = sum(len(path.line) - 1 for shape in drawing.shapes for path in shape.paths)
    mended = mend(drawing, join_mm=JOIN_MM, gap_mm=GAP_MM)
    times.append(time.perf_counter())
    shapes, _ = give_processes(mended, [])
    parts, _ = recognise_parts(shapes, mended, name="plate")
    times.append(time.perf_counter())
    read, repaired, apart = np.diff(times).tolist()
    return {
        "segments": segments,
        "parts": len(parts),
        "read": read,
        "repair": repaired,
        "take apart": apart,
        "seconds": times[-1] - times[0],
    }


def _plates(segments: int) -> list[FloatArray]:
    """Closed outlines of :data:`PIECES` points each; the last point does not repeat the first."""
    random = np.random.default_rng(7)
    count = max(segments // PIECES, 1)
    across = math.ceil(math.sqrt(count))
    angles = np.arange(PIECES) * 2.0 * math.pi / PIECES
    plates: list[FloatArray] = []
    for n in range(count):
        hole = n % 5 == 4
        row, column = divmod(n - hole, across)
        waves, deep = random.integers(3, 8), random.uniform(0.05, 0.2)
        radius = (1.5 if hole else 5.0) * (1.0 + deep * np.sin(waves * angles))
        ring = np.column_stack([radius * np.cos(angles), radius * np.sin(angles)])
        plates.append((ring + PITCH_MM * np.array([column + 1, row + 1])).round(4))
    return plates


def _page(folder: Path, segments: int, body: str) -> Path:
    side = PITCH_MM * (math.ceil(math.sqrt(segments / PIECES)) + 2)
    file = folder / f"plates-{segments}.svg"
    file.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{side}mm" height="{side}mm" '
        f'viewBox="0 0 {side} {side}"><g id="cut" fill="none" stroke="#000">{body}</g></svg>'
    )
    return file


def _pairs(points: FloatArray) -> str:
    return " ".join(f"{value:.4f}" for value in points.ravel().tolist())


def _closed_svg(folder: Path, segments: int) -> Path:
    paths = [f'<path d="M{_pairs(ring)}z"/>' for ring in _plates(segments)]
    return _page(folder, segments, "\n".join(paths))


def _loose(segments: int) -> FloatArray:
    lines = np.concatenate(
        [np.hstack([ring, np.roll(ring, -1, axis=0)]) for ring in _plates(segments)]
    )
    random = np.random.default_rng(8)
    random.shuffle(lines)
    back = random.random(len(lines)) < 0.5
    lines[back] = lines[back][:, [2, 3, 0, 1]]
    return lines


def _loose_svg(folder: Path, segments: int) -> Path:
    """Loose lines as many subpaths of few elements, as exploded drawings are saved."""
    lines = _loose(segments)
    paths = []
    for some in np.array_split(lines, max(len(lines) // 500, 1)):
        data = "".join(f"M{_pairs(line[:2])}L{_pairs(line[2:])}" for line in some)
        paths.append(f'<path d="{data}"/>')
    return _page(folder, segments, "\n".join(paths))


def _loose_dxf(folder: Path, segments: int) -> Path:
    file = folder / f"plates-{segments}.dxf"
    document = new(units=units.MM)
    space = document.modelspace()
    for x0, y0, x1, y1 in _loose(segments).tolist():
        space.add_line((x0, y0), (x1, y1))
    document.saveas(file)
    return file


def _curved_svg(folder: Path, segments: int) -> Path:
    """As many Béziers as make about that many straight pieces once they are flattened."""
    paths = []
    for ring in _plates(segments):
        corners = ring[::5]
        sides = np.roll(corners, -1, axis=0) - np.roll(corners, 1, axis=0)
        ahead, behind = corners + sides / 6.0, np.roll(corners - sides / 6.0, -1, axis=0)
        ends = np.roll(corners, -1, axis=0)
        data = "".join(
            f"C{_pairs(np.array(control))}" for control in zip(ahead, behind, ends, strict=True)
        )
        paths.append(f'<path d="M{_pairs(corners[:1])}{data}z"/>')
    return _page(folder, segments, "\n".join(paths))


_KINDS: dict[str, Callable[[Path, int], Path]] = {
    "closed outlines, SVG": _closed_svg,
    "loose lines, SVG": _loose_svg,
    "Bézier curves, SVG": _curved_svg,
    "loose lines, DXF": _loose_dxf,
}
