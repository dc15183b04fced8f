"""A grey curve from a ramp's darkness: isotonic regression.

Darkness never falls with power, so the curve is the rising one that is nearest to the readings
(pool-adjacent-violators; Barlow, Bartholomew, Bremner & Brunk, *Statistical Inference under Order
Restrictions*, 1972). It counts from the bare material, as recipes do.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from scipy.optimize import isotonic_regression

from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.trial_pieces import GreyField, GreyPiece
from kerfwright.shop.trial_readings import Lengths
from kerfwright.toolpath import Process
from kerfwright.trials.result import Line, Result, UntoldError, missing_words
from kerfwright.trials.straight_fit import SET_ASIDE_SHARE, student

LEAST_FIELDS = 5
"""Fields with readings, the bare one included."""

OUT_OF_ORDER = 0.1
"""Darkness by which a field may contradict its neighbours before it is set aside: more than an
eye on a grey card errs."""

LEAST_RISE = 0.1
"""Darkness that the whole ramp must span."""

CARD_STEP = 0.01


def grey_result(piece: GreyPiece, readings: Lengths) -> Result:
    """The rising curve through the fields' mean darkness.

    Raises:
        UntoldError: too few fields, no bare one, no range of shades, or too many out of order.
    """
    read = [one for one in piece.fields if readings.values.get(str(one.number))]
    if len(read) < LEAST_FIELDS or read[0] is not piece.fields[0]:
        unread = [one.number for one in piece.fields if one not in read]
        raise UntoldError(
            f"{len(read)} fields with readings do not tell a curve; it takes {LEAST_FIELDS}, "
            "field 1, the bare one, among them.",
            f"Read {missing_words(unread, 'field')}.",
        )
    groups = [np.array(readings.values[str(one.number)]) for one in read]
    means = np.array([group.mean() for group in groups])
    lighter = means.max() - means[0] < means[0] - means.min()
    change = _from_bare(means, lighter=bool(lighter))
    counts = np.array([float(len(group)) for group in groups])
    kept = _in_order(change, counts)
    curve = np.clip(_rising(change[kept], counts[kept]), 0.0, 1.0)
    if curve[-1] < LEAST_RISE:
        raise UntoldError(
            f"the darkest field differs from the bare one by {curve[-1]:.2f} only.",
            "Burn a ramp of more power or slower, or read it against a grey card in better light.",
            disagree=True,
        )
    scale = means[0] if lighter else 1.0 - means[0]
    halves = _half_widths(groups, float(scale))
    fields = [one for one, keep in zip(read, kept, strict=True) if keep]
    lines = tuple(
        Line(f"field {one.number}, {100.0 * one.strength:.1f} %", f"{value:.2f}", words)
        for one, value, words in zip(
            fields, curve, _interval_words(curve, halves, kept), strict=True
        )
    )
    keys: dict[str, Any] = {
        "speed_mm_s": piece.speed_mm_s,
        "power": piece.power,
        "passes": piece.passes,
        "interval_mm": piece.interval_mm,
        "method": piece.method,
        "grey_curve": _pairs(fields, curve),
    }
    keys["power_min"] = piece.power_min or None
    keys["dot_mm"] = piece.dot_mm
    keys["invert"] = True if lighter else None
    remarks = _remarks(read, change, kept, lighter=bool(lighter), once=halves is None)
    return Result(lines, keys, Process.PHOTO, tuple(remarks), readings.tested)


def _from_bare(means: FloatArray, *, lighter: bool) -> FloatArray:
    """Change from the bare field, as a share of what there is room for."""
    bare = float(means[0])
    room = bare if lighter else 1.0 - bare
    return np.asarray((means - bare) * (-1.0 if lighter else 1.0) / max(room, 1e-9))


def _rising(values: FloatArray, weights: FloatArray) -> FloatArray:
    return np.asarray(isotonic_regression(values, weights=weights).x, dtype=np.float64)


def _in_order(change: FloatArray, counts: FloatArray) -> np.ndarray:
    """Fields that do not contradict the others; those that do are set aside, the worst first."""
    kept = np.ones(len(change), dtype=bool)
    while True:
        used = np.flatnonzero(kept)
        off = [_off(change, counts, used, i) for i in range(len(used))]
        worst = int(np.argmax(off))
        if off[worst] <= OUT_OF_ORDER:
            return kept
        kept[used[worst]] = False
        if (~kept).sum() > SET_ASIDE_SHARE * len(change) or not kept[0]:
            raise UntoldError(
                "too many fields are lighter than ones of less power.",
                "Read the ramp again, field by field; if it stays so, brush off the soot, or burn "
                "it in focus.",
                disagree=True,
            )


def _off(change: FloatArray, counts: FloatArray, used: np.ndarray, i: int) -> float:
    """How far a field lies outside what its neighbours on the others' rising curve allow."""
    others = np.delete(used, i)
    curve = _rising(change[others], counts[others])
    low = curve[i - 1] if i > 0 else -math.inf
    high = curve[i] if i < len(others) else math.inf
    value = change[used[i]]
    return float(max(low - value, value - high, 0.0))


def _half_widths(groups: list[FloatArray], scale: float) -> FloatArray | None:
    """Half a 95 % interval of every field's mean, from how repeated readings differ."""
    spare = sum(len(group) - 1 for group in groups)
    if spare < 2:
        return None
    squares = sum(float(((group - group.mean()) ** 2).sum()) for group in groups)
    deviation = max(math.sqrt(squares / spare), CARD_STEP / math.sqrt(12.0)) / max(scale, 1e-9)
    return student(spare) * deviation / np.sqrt([float(len(group)) for group in groups])


def _interval_words(curve: FloatArray, halves: FloatArray | None, kept: np.ndarray) -> list[str]:
    if halves is None:
        return [""] * len(curve)
    return [
        f"{max(value - half, 0.0):.2f} to {min(value + half, 1.0):.2f}"
        for value, half in zip(curve, halves[kept], strict=True)
    ]


def _pairs(fields: list[GreyField], curve: FloatArray) -> list[list[float]]:
    rounded = np.maximum.accumulate(np.round(curve, 3))
    return [[one.strength, float(value)] for one, value in zip(fields, rounded, strict=True)]


def _remarks(
    read: list[GreyField], change: FloatArray, kept: np.ndarray, *, lighter: bool, once: bool
) -> list[str]:
    said = [
        f"Field {one.number} was set aside: it contradicts its neighbours. Read it again."
        for one, keep in zip(read, kept, strict=True)
        if not keep
    ]
    if not kept[-1] and change[-1] < change[kept].max():
        said.append(
            "The last field is lighter than ones of less power: the material burns away there, "
            "and the curve ends before it."
        )
    if lighter:
        said.append("Burning makes this material lighter, so the recipe has invert = true.")
    if once:
        said.append("Fields were read once only, so that no interval can be told. Read them again.")
    return said
