"""The clock against the true optimum: time-optimal path parameterisation under axis limits.

Source: TOPP-RA (Pham & Pham, *A New Approach to Time-Optimal Path Parameterization Based on
Reachability Analysis*, IEEE Transactions on Robotics 34(3), 2018), in its authors' library
``toppra``: the shortest time in which any controller could follow a path exactly with these
speeds and accelerations of x and y. A clock that is faster promises what no machine can do.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest

from kerfwright.motion.kernel import Motion, Rules, time_moves

toppra = pytest.importorskip("toppra")
algorithm = pytest.importorskip("toppra.algorithm")
constraint = pytest.importorskip("toppra.constraint")
toppra.setup_logging("ERROR")

GRID = 3000
PIECE_GRID = 250
CHORDS = 10_000
DISCRETE = 5e-4
"""What chords and toppra's grid may make a path seem shorter or softer."""

Curve = Callable[[np.ndarray], np.ndarray]


class ExactPath(toppra.interpolator.AbstractGeometricPath):  # type: ignore[name-defined,misc]
    """A path of which place and derivatives are given as functions of a number from 0 to 1."""

    def __init__(self, derivatives: list[Curve]) -> None:
        self.derivatives = derivatives

    def __call__(self, path_positions: object, order: int = 0) -> np.ndarray:
        at = np.asarray(path_positions, dtype=float)
        found = self.derivatives[order](np.atleast_1d(at))
        return found[0] if at.ndim == 0 else found

    @property
    def dof(self) -> int:
        return 2

    @property
    def path_interval(self) -> np.ndarray:
        return np.array([0.0, 1.0])

    @property
    def waypoints(self) -> None:
        return None


def optimum_s(
    path: ExactPath,
    v: float,
    a: tuple[float, float],
    grid: np.ndarray | None = None,
    ends_mm_s: tuple[float, float] = (0.0, 0.0),
) -> float:
    """Shortest time along a path; the speeds at its ends are 0 unless given."""
    limits = [
        constraint.JointVelocityConstraint(np.array([[-v, v]] * 2)),
        constraint.JointAccelerationConstraint(
            np.array([[-a[0], a[0]], [-a[1], a[1]]]),
            discretization_scheme=constraint.DiscretizationType.Collocation,
        ),
    ]
    grid = np.linspace(0.0, 1.0, GRID + 1) if grid is None else grid
    found = algorithm.TOPPRA(limits, path, gridpoints=grid, parametrizer="ParametrizeConstAccel")
    along = [float(np.hypot(*path(s, 1))) for s in (0.0, 1.0)]
    trajectory = found.compute_trajectory(ends_mm_s[0] / along[0], ends_mm_s[1] / along[1])
    assert trajectory is not None
    return float(trajectory.duration)


def clock(
    points: np.ndarray, v: float, a: tuple[float, float], deviation_mm: float = 1e9
) -> Motion:
    """The clock's motion; so large a deviation leaves only the acceleration across the path."""
    count = len(points) - 1
    return time_moves(
        points[:, 0].copy(),
        points[:, 1].copy(),
        np.full(count, 1e6),
        np.zeros(count, dtype=np.uint8),
        np.array([[v, v, *a, 0.0, 0.0]]),
        np.zeros(count, dtype=bool),
        Rules(deviation_mm),
    )


def wave(amplitude: float, turns: float, phase: float = 0.0) -> list[Callable[..., np.ndarray]]:
    """A sine and its two derivatives."""
    w = turns * 2.0 * np.pi
    return [
        lambda s: amplitude * np.sin(w * s + phase),
        lambda s: amplitude * w * np.cos(w * s + phase),
        lambda s: -amplitude * w * w * np.sin(w * s + phase),
    ]


def both(x: list[Callable[..., np.ndarray]], y: list[Callable[..., np.ndarray]]) -> ExactPath:
    return ExactPath(
        [lambda s, p=p, q=q: np.column_stack([p(s), q(s)]) for p, q in zip(x, y, strict=True)]
    )


def even(slope: float) -> list[Callable[..., np.ndarray]]:
    return [lambda s: slope * s, lambda s: np.full_like(s, slope), np.zeros_like]


def spiral() -> ExactPath:
    """Radius from 5 to 65 mm in four turns, by the product rule in the complex plane."""
    w = 8.0j * np.pi

    def r(s: np.ndarray) -> np.ndarray:
        return 5.0 + 60.0 * s

    forms = [
        lambda s: r(s) * np.exp(w * s),
        lambda s: (60.0 + w * r(s)) * np.exp(w * s),
        lambda s: (120.0 * w + w * w * r(s)) * np.exp(w * s),
    ]
    return ExactPath([lambda s, f=f: np.column_stack([f(s).real, f(s).imag]) for f in forms])


QUARTER = 0.5 * np.pi
PATHS = {
    "line": both(even(100.0), even(40.0)),
    "sine": both(even(200.0), wave(30.0, 3.0)),
    "circle": both(wave(50.0, 1.0, QUARTER), wave(50.0, 1.0)),
    "ellipse": both(wave(100.0, 1.0, QUARTER), wave(15.0, 1.0)),
    "Lissajous": both(wave(80.0, 1.0, QUARTER), wave(60.0, 2.0, 0.3)),
    "spiral": spiral(),
}


@pytest.mark.parametrize(
    ("v", "a"),
    [
        (100.0, (3000.0, 3000.0)),
        (400.0, (3000.0, 3000.0)),
        (2000.0, (3000.0, 3000.0)),
        (400.0, (5000.0, 2000.0)),
    ],
)
@pytest.mark.parametrize("name", list(PATHS))
def test_smooth_paths_take_the_optimal_time(name: str, v: float, a: tuple[float, float]) -> None:
    path = PATHS[name]
    best = optimum_s(path, v, a)
    ours = clock(path(np.linspace(0.0, 1.0, CHORDS + 1)), v, a).seconds.sum()
    assert ours >= best * (1.0 - DISCRETE)
    assert ours <= best * 1.01


@pytest.mark.parametrize("v", [300.0, 1000.0])
@pytest.mark.parametrize("name", list(PATHS))
def test_very_uneven_axes_are_never_faster_than_the_optimum(name: str, v: float) -> None:
    """The clock lets no curve be taken faster by braking in it at the same time, as the optimum
    does where one axis is five times as strong as the other; it may lose 15 % by that."""
    a = (16_000.0, 3100.0)
    path = PATHS[name]
    best = optimum_s(path, v, a)
    ours = clock(path(np.linspace(0.0, 1.0, CHORDS + 1)), v, a).seconds.sum()
    assert ours >= best * (1.0 - DISCRETE)
    assert ours <= best * 1.15


def rounded(points: np.ndarray, radii: np.ndarray) -> tuple[ExactPath, np.ndarray]:
    """A polyline with an arc in each corner, by length, and a grid that keeps its joints."""
    steps = np.diff(points, axis=0)
    long = np.hypot(*steps.T)
    ways = steps / long[:, None]
    cross = ways[:-1, 0] * ways[1:, 1] - ways[:-1, 1] * ways[1:, 0]
    turns = np.arctan2(cross, (ways[:-1] * ways[1:]).sum(axis=1))
    cut = radii * np.tan(0.5 * np.abs(turns))
    straight = long - np.append(cut, 0.0) - np.append(0.0, cut)
    assert straight.min() > 0.0
    # sides and arcs in turn: where each begins, its direction there, its curvature and length
    count = 2 * len(ways) - 1
    start, angle, bend, piece = (
        np.empty((count, 2)),
        np.empty(count),
        np.zeros(count),
        np.empty(count),
    )
    start[::2] = points[:-1] + np.append(0.0, cut)[:, None] * ways
    start[1::2] = points[1:-1] - cut[:, None] * ways[:-1]
    angle[::2] = np.arctan2(ways[:, 1], ways[:, 0])
    angle[1::2] = angle[:-1:2]
    bend[1::2] = np.sign(turns) / radii
    piece[::2], piece[1::2] = straight, radii * np.abs(turns)
    joints = np.append(0.0, np.cumsum(piece))
    whole = joints[-1]

    def evaluated(order: int) -> Curve:
        def at(s: np.ndarray) -> np.ndarray:
            along = np.clip(s, 0.0, 1.0) * whole
            i = np.clip(np.searchsorted(joints, along, side="right") - 1, 0, count - 1)
            t = along - joints[i]
            now = angle[i] + bend[i] * t
            if order == 1:
                return whole * np.column_stack([np.cos(now), np.sin(now)])
            if order == 2:
                return whole**2 * np.column_stack([-bend[i] * np.sin(now), bend[i] * np.cos(now)])
            # a chord turns half as much as its arc
            half = 0.5 * bend[i] * t
            chord = t * np.sinc(half / np.pi)
            return start[i] + chord[:, None] * np.column_stack(
                [np.cos(angle[i] + half), np.sin(angle[i] + half)]
            )

        return at

    inside = [np.linspace(a, b, PIECE_GRID, endpoint=False) for a, b in pairwise(joints)]
    grid = np.append(np.concatenate(inside), whole) / whole
    return ExactPath([evaluated(order) for order in range(3)]), grid


CORNERS = {
    "square": [[0, 0], [60, 0], [60, 60], [0, 60], [0, 0]],
    "stairs": [[0, 0], [8, 0], [8, 8], [16, 8], [16, 16], [24, 16], [24, 24]],
    "zigzag": [[0, 0], [20, 5], [40, -5], [60, 5], [80, -5], [100, 0]],
    "hexagon": [[30 * math.cos(k * math.pi / 3), 30 * math.sin(k * math.pi / 3)] for k in range(7)],
}


def arcs_of(points: np.ndarray, deviation_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Turn of each corner, and radius of the arc that strays a deviation from it."""
    ways = np.diff(points, axis=0)
    angle = np.arctan2(ways[:, 1], ways[:, 0])
    turns = np.abs((np.diff(angle) + np.pi) % (2 * np.pi) - np.pi)
    half = np.cos(0.5 * turns)
    return turns, deviation_mm * half / (1.0 - half)


@pytest.mark.parametrize("deviation_mm", [0.01, 0.05, 0.2])
@pytest.mark.parametrize("name", list(CORNERS))
def test_corners_are_never_faster_than_the_arcs_that_they_stand_for(
    name: str, deviation_mm: float
) -> None:
    """A controller takes a corner in no time at the speed that its arc allows, √(a·r). With the
    time for the arc itself, turn · √(r/a), that can be no faster than the optimum along the
    polyline with its corners rounded by these arcs."""
    v, a = 300.0, 3000.0
    points = np.array(CORNERS[name], dtype=float)
    turns, radii = arcs_of(points, deviation_mm)
    path, grid = rounded(points, radii)
    best = optimum_s(path, v, (a, a), grid)
    ours = clock(points, v, (a, a), deviation_mm).seconds.sum()
    assert ours + (turns * np.sqrt(radii / a)).sum() >= best * (1.0 - DISCRETE)


@pytest.mark.parametrize("radius_mm", [0.05, 0.3, 1.0])
@pytest.mark.parametrize("name", ["square", "stairs", "hexagon"])
def test_stopping_at_corners_is_never_faster_than_going_round_them(
    name: str, radius_mm: float
) -> None:
    v, a = 300.0, 3000.0
    points = np.array(CORNERS[name], dtype=float)
    path, grid = rounded(points, np.full(len(points) - 2, radius_mm))
    best = optimum_s(path, v, (a, a), grid)
    assert clock(points, v, (a, a), 0.0).seconds.sum() >= best * (1.0 - DISCRETE)


@pytest.mark.parametrize("name", list(CORNERS))
def test_each_side_between_corners_is_optimal(name: str) -> None:
    """With the clock's own speeds at the corners, each side takes toppra's time and no other."""
    v, a = 300.0, (3000.0, 2000.0)
    points = np.array(CORNERS[name], dtype=float)
    motion = clock(points, v, a, 0.05)
    for i, (start, end) in enumerate(pairwise(points)):
        side = both(even(end[0] - start[0]), even(end[1] - start[1]))
        side.derivatives[0] = lambda s, p=start, q=end: p + s[:, None] * (q - p)
        speeds = float(motion.entry_mm_s[i]), float(motion.exit_mm_s[i])
        best = optimum_s(side, v, a, ends_mm_s=speeds)
        assert motion.seconds[i] == pytest.approx(best, rel=2e-3)


@pytest.mark.parametrize("radius_mm", [1.0, 3.5])
@pytest.mark.parametrize("name", list(CORNERS))
def test_rounded_corners_in_chords_take_the_optimal_time(name: str, radius_mm: float) -> None:
    """Straight, arc, straight: the curvature jumps where they meet, and the clock still holds."""
    v, a = 300.0, (3000.0, 3000.0)
    points = np.array(CORNERS[name], dtype=float)
    path, grid = rounded(points, np.full(len(points) - 2, radius_mm))
    best = optimum_s(path, v, a, grid)
    ours = clock(path(np.linspace(0.0, 1.0, CHORDS + 1)), v, a).seconds.sum()
    # where the curvature jumps, a chord's length is neither straight nor bent
    assert best * (1.0 - 5e-3) <= ours <= best * 1.01
