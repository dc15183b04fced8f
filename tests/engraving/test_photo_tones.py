"""Tones of photos: measured grey ramps, gammas, and what is between and beyond."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from kerfwright.engraving.tone import tone_of
from kerfwright.shop.material import Recipe

DARKNESS = np.linspace(0.0, 1.0, 201)


def recipe(**keys: Any) -> Recipe:
    settings = {"machine": "m", "process": "photo", "speed_mm_s": 200.0, "power": 0.8}
    return Recipe.model_validate({**settings, "interval_mm": 0.1, **keys})


def test_measured_powers_give_their_measured_darkness() -> None:
    pairs = ((0.1, 0.0), (0.2, 0.3), (0.4, 0.7), (0.8, 1.0))
    tone = tone_of(recipe(method="power", power_min=0.1, grey_curve=pairs))
    for power, darkness in pairs[1:]:
        assert tone.strength_for(np.array(darkness)) == pytest.approx(power, abs=2e-3)
        assert tone.darkness_of(np.array(power)) == pytest.approx(darkness, abs=2e-3)


def test_full_darkness_is_the_darkest_that_the_recipe_burns() -> None:
    pairs = ((0.1, 0.0), (0.5, 0.5), (1.0, 1.0))
    tone = tone_of(recipe(method="power", power=0.5, grey_curve=pairs))
    assert tone.strength_for(np.array(1.0)) == pytest.approx(0.5)
    assert tone.strength_for(np.array(0.5)) == pytest.approx(0.3, abs=0.02)


@example(steps=[(1.0, 0.0), (1.0, 5e-324)], least=0.0, method="power")
@example(steps=[(0.5, 0.4), (5e-324, 0.0), (0.4, 0.6)], least=0.0, method="power")
@given(
    steps=st.lists(st.tuples(st.floats(0.01, 1.0), st.floats(0.0, 1.0)), min_size=2, max_size=8),
    least=st.floats(0.0, 0.3),
    method=st.sampled_from(["power", "floyd-steinberg"]),
)
def test_any_measured_curve_rises_and_keeps_within_the_recipe(
    steps: list[tuple[float, float]], least: float, method: str
) -> None:
    pairs = np.cumsum(np.array(steps), axis=0)
    pairs /= np.maximum(pairs[-1], 1e-9)
    least = round(least, 3)
    tone = tone_of(recipe(method=method, power_min=least, grey_curve=pairs.clip(0, 1).tolist()))
    strength = tone.strength_for(DARKNESS)
    assert strength[0] == 0.0
    assert (np.diff(strength[1:]) >= -1e-12).all()
    low, high = (0.0, 1.0) if tone.dots else (0.0, 0.8)
    assert (strength >= low).all()
    assert (strength <= high + 1e-12).all()


def test_gamma_bends_and_without_anything_tones_are_in_proportion() -> None:
    bent = tone_of(recipe(method="power", gamma=2.0, power_min=0.2))
    assert bent.strength_for(np.array(0.5)) == pytest.approx(0.2 + 0.6 * 0.25, abs=1e-6)
    assert tone_of(recipe()).strength_for(DARKNESS) == pytest.approx(DARKNESS)
    assert bent.strength_for(np.array(0.0)) == 0.0
