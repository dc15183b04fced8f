"""Machines, materials and recipes written out by hand. All numbers are invented."""

from __future__ import annotations

import datetime

from hypothesis import strategies as st

from axis_limits import limits
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material, Recipe
from kerfwright.shop.recipe_versions import Noting

DAY = datetime.date(2026, 5, 4)

FROM_FILE = Noting("keeper", "file", "board.toml")


def a_machine(**changes: object) -> Machine:
    fields: dict[str, object] = {
        "name": "trial machine",
        "bed_width_mm": 400.0,
        "bed_height_mm": 300.0,
        "power_w": 60.0,
        "travel": limits(800.0, 5000.0),
        "cutting": limits(400.0, 3100.0),
        "scanning": limits(800.0, 16000.0),
    }
    return Machine.model_validate(fields | changes)


def a_cut(**changes: object) -> Recipe:
    fields: dict[str, object] = {
        "machine": "trial machine",
        "process": "cut",
        "speed_mm_s": 16.0,
        "power": 0.72,
        "kerf_mm": 0.2,
        "status": "tested",
        "tested_on": DAY,
        "tested_by": "Ea",
    }
    return Recipe.model_validate(fields | changes)


def a_score(**changes: object) -> Recipe:
    fields = {"process": "score", "speed_mm_s": 120.0, "power": 0.14, "kerf_mm": None}
    return a_cut(**(fields | changes))


def a_board(*recipes: Recipe, thickness_mm: float = 3.0, **changes: object) -> Material:
    fields: dict[str, object] = {
        "name": f"board {thickness_mm:g} mm",
        "thickness_mm": thickness_mm,
        "kind": "board",
        "recipes": recipes,
    }
    return Material.model_validate(fields | changes)


WORDS = st.text(
    st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="\u2028\u2029\x85"),
    min_size=1,
).filter(lambda text: text == text.strip() != "")

NUMBERS = st.floats(1e-3, 1e4)


@st.composite
def any_recipe(draw: st.DrawFn) -> Recipe:
    """A recipe that a material file may hold, for any process."""
    process = draw(st.sampled_from(["cut", "score", "engrave", "photo"]))
    keys: dict[str, object] = {
        "machine": draw(WORDS),
        "process": process,
        "speed_mm_s": draw(NUMBERS),
        "power": draw(st.floats(0.5, 1.0)),
        "passes": draw(st.integers(1, 50)),
        "air": draw(st.booleans()),
        "status": draw(st.sampled_from(["untested", "tested", "trusted"])),
        "tested_on": draw(st.none() | st.dates()),
        "tested_by": draw(st.none() | WORDS),
    }
    if process == "cut":
        keys |= {
            "kerf_mm": draw(st.floats(0.0, 5.0)),
            "pierce_s": draw(st.floats(0.0, 60.0)),
            "overcut_mm": draw(st.floats(0.0, 9.0)),
            "tab_width_mm": draw(st.none() | NUMBERS),
        }
        if draw(st.booleans()):
            keys |= {"lead_in": "arc", "lead_in_mm": draw(NUMBERS)}
            keys |= {"tabs": draw(st.integers(0, 100)), "tab_width_mm": draw(NUMBERS)}
    if process == "engrave":
        keys |= {
            "interval_mm": draw(NUMBERS),
            "pass_angle_deg": draw(st.floats(0.0, 180.0)),
            "finish": draw(st.sampled_from(["any", "rows", "loops"])),
            "seamless": draw(st.booleans()),
        }
    if process == "photo":
        keys |= {
            "interval_mm": draw(NUMBERS),
            "method": draw(st.sampled_from(["power", "stucki", "ordered"])),
            "power_min": draw(st.floats(0.0, 0.4)),
            "invert": draw(st.booleans()),
        }
        keys |= draw(
            st.sampled_from(
                [{}, {"gamma": 1.7}, {"grey_curve": [[0.1, 0.0], [0.3, 0.45], [1.0, 1.0]]}]
            )
        )
    return Recipe.model_validate(keys)
