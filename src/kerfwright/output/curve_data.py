"""SVG path data of lines with exact curves: arcs and Béziers as the standard has them."""

from __future__ import annotations

import math

import numpy as np

from kerfwright.geometry.affine import Affine
from kerfwright.geometry.curves import Arc, Bezier, Curve, EllipseArc
from kerfwright.geometry.paths import FloatArray, Path


def subpath(path: Path, height_mm: float, *, decimals: int) -> str:
    """Path data (SVG 1.1 section 8.3) of one line given with y upwards, y downwards in the data.

    Points are absolute, so that rounding does not add up along the line.
    """
    down = Affine(d=-1.0, f=height_mm)
    line = down.apply(path.line)
    out = [f"M{_pairs(line[:1], decimals)}"]
    done = 0
    for span in path.spans:
        if span.first > done:
            out.append(f"L{_pairs(line[done + 1 : span.first + 1], decimals)}")
        out.append(_curve(span.curve.transformed(down), line[span.last], decimals))
        done = span.last
    if len(rest := line[done + 1 : len(path.points)]):
        out.append(f"L{_pairs(rest, decimals)}")
    return "".join(out) + ("z" if path.closed else "")


def _curve(curve: Curve, end: FloatArray, decimals: int) -> str:
    if isinstance(curve, Bezier):
        letter = "C" if len(curve.control) == 4 else "Q"
        return f"{letter}{_pairs(np.vstack([curve.control[1:-1], end]), decimals)}"
    # in halves: an arc is drawn from end to end, and a whole circle's ends are one point
    first, second = curve.split(0.5)
    return _arc(first, second.points(1.0)[0], decimals) + _arc(second, end, decimals)


def _arc(arc: Arc | EllipseArc, end: FloatArray, decimals: int) -> str:
    """One arc of at most half a turn; a positive sweep goes towards positive y (SVG 8.3.8)."""
    if isinstance(arc, Arc):
        rx = ry = arc.radius_mm
        lean_deg, mirrored = 0.0, False
    else:
        frame = np.array([[arc.frame.a, arc.frame.c], [arc.frame.b, arc.frame.d]])
        turn, (rx, ry), _ = np.linalg.svd(frame)
        lean_deg = math.degrees(math.atan2(turn[1, 0], turn[0, 0]))
        mirrored = arc.frame.determinant < 0.0
    sweep = int((arc.sweep_rad > 0.0) is not mirrored)
    radii = f"{_number(rx, decimals)} {_number(ry, decimals)} {_number(lean_deg, decimals)}"
    return f"A{radii} 0 {sweep} {_pairs(end[None], decimals)}"


def _pairs(points: FloatArray, decimals: int) -> str:
    return " ".join(_number(value, decimals) for value in points.ravel().tolist())


def _number(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text
