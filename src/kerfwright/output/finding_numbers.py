"""Numbers for findings, the same in every list and picture, and free places for them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.spatial import KDTree

from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import FloatArray

ORDER = (Severity.STOP, Severity.WARN, Severity.NOTE)

DISTANCES = (1.7, 2.4, 3.2, 4.2, 5.5, 7.0, 9.0, 12.0, 16.0, 22.0)
"""Where a number may stand, in radii of its sign from its place."""

DIRECTIONS = 24

APART = 2.15
"""Radii that the middles of two signs keep from each other."""


def numbered(findings: Sequence[Finding]) -> list[tuple[int, Finding]]:
    """Findings with their numbers from 1: stops first, then warnings, then notes."""
    ordered = sorted(findings, key=lambda finding: ORDER.index(finding.severity))
    return list(enumerate(ordered, 1))


def free_places(
    anchors: FloatArray, lines: FloatArray, radius: float, size: tuple[float, float]
) -> FloatArray:
    """Middles of signs for ``anchors``, shape (n, 2), so that no two signs lie on each other.

    ``lines`` are points of what is drawn, shape (m, 2), which signs cover as little as they can;
    ``size`` is that of the picture, in which they stay. All lengths in one unit.
    """
    tree = KDTree(lines) if len(lines) else None
    angles = 2.0 * np.pi * (np.arange(DIRECTIONS) + 0.5) / DIRECTIONS
    round_about = np.concatenate(
        [
            step * radius * np.column_stack([np.cos(angles), np.sin(angles)])
            for step in (*DISTANCES, *range(28, 80, 6))
        ]
    )
    placed = np.empty((0, 2))
    for number, anchor in enumerate(anchors):
        spots = anchor + round_about
        inside = (spots >= radius).all(axis=1) & (spots <= np.subtract(size, radius)).all(axis=1)
        spots = spots[inside] if inside.any() else spots
        others = np.delete(anchors, number, axis=0)
        crowd = _overlaps(spots, placed, APART * radius)
        cost = np.hypot(*(spots - anchor).T) / radius
        cost += 1000.0 * crowd + 6.0 * _overlaps(spots, others, 1.2 * radius)
        cost += 2.0 * _leaders_met(spots, anchor, placed, radius)
        if tree is not None:
            covered = tree.query_ball_point(spots, 1.1 * radius, return_length=True)
            cost += 0.5 * np.minimum(np.asarray(covered, dtype=np.float64), 12.0)
        placed = np.vstack([placed, spots[np.argmin(cost)]])
    return placed


def _overlaps(spots: FloatArray, others: FloatArray, apart: float) -> FloatArray:
    """How deep each spot lies in the others, summed over all of them."""
    if not len(others):
        return np.zeros(len(spots))
    between = np.hypot(*np.moveaxis(spots[:, None] - others[None], 2, 0))
    return np.asarray((np.clip(apart - between, 0.0, None) / apart).sum(axis=1))


def _leaders_met(
    spots: FloatArray, anchor: FloatArray, placed: FloatArray, radius: float
) -> FloatArray:
    """How many signs the line from the anchor to each spot would run through."""
    if not len(placed):
        return np.zeros(len(spots))
    steps = spots - anchor
    share = np.einsum("sk,pk->sp", steps, placed - anchor) / (steps**2).sum(axis=1)[:, None]
    nearest = anchor + np.clip(share, 0.0, 1.0)[:, :, None] * steps[:, None]
    return np.asarray((np.hypot(*np.moveaxis(nearest - placed, 2, 0)) < radius).sum(axis=1))
