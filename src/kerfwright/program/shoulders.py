"""Does the power rise over the shoulder round what an engraving leaves standing?"""

from __future__ import annotations

import numpy as np
import shapely

from kerfwright.engraving.shoulder import SHOULDER_STEPS
from kerfwright.plan import PlannedSheet
from kerfwright.program.burned import POWER_TOLERANCE, Burns
from kerfwright.program.kernel import IntArray
from kerfwright.program.near import sampled
from kerfwright.shop.material import Recipe

SAMPLES = 40_000
"""Burns that are looked at, evenly picked."""

SLACK_INTERVALS = 1.5
"""How far from its place a power may be: cells are as large as the interval."""


def wrong_powers(burns: Burns, sheet: PlannedSheet, recipe: Recipe) -> IntArray:
    """Engraving burns whose power does not fit their distance from the relief."""
    relief = sheet.intended.relief
    picked = np.unique(np.linspace(0, len(burns) - 1, min(len(burns), SAMPLES)).astype(np.int64))
    if relief.is_empty or recipe.shoulder_mm <= 0.0 or len(burns) == 0:
        return np.empty(0, dtype=np.int64)
    interval = recipe.interval_mm or 0.0
    samples = sampled(burns.ends[picked], 4.0 * interval)
    shapely.prepare(relief)
    away = shapely.distance(relief, shapely.points(samples.points))
    slack = SLACK_INTERVALS * interval
    least = np.clip((away - slack) / recipe.shoulder_mm, 0.0, 1.0)
    most = np.clip((away + slack) / recipe.shoulder_mm + 1.0 / SHOULDER_STEPS, 0.0, 1.0)
    share = burns.power[picked][samples.piece] / recipe.power
    tolerance = POWER_TOLERANCE / recipe.power
    wrong = (share < least - tolerance) | (share > most + tolerance)
    return np.unique(picked[samples.piece[wrong]])
