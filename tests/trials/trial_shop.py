"""A machine and materials for trial pieces, all invented, and pieces made of them."""

from __future__ import annotations

from collections.abc import Callable

from kerfwright.shop.machine import AxisLimits, Controller, Dialect, Machine
from kerfwright.shop.material import Material
from kerfwright.trials.focus import focus_design
from kerfwright.trials.grey import grey_design
from kerfwright.trials.interval import interval_design
from kerfwright.trials.kerf import kerf_design
from kerfwright.trials.model import Design, Marking, PlannedTrial
from kerfwright.trials.planned import planned_trial
from kerfwright.trials.power import power_design
from kerfwright.trials.ranges import Range

LIMITS = AxisLimits(speed_mm_s=(500.0, 500.0), acceleration_mm_s2=(4000.0, 4000.0))
MARKING = Marking(100.0, 0.13)
BOARD = Material(name="board", thickness_mm=3.0)


def machine(dialect: Dialect = Dialect.GRBL_TYPE, **keys: object) -> Machine:
    table = {
        "name": "trial machine",
        "bed_width_mm": 400.0,
        "bed_height_mm": 300.0,
        "power_w": 60.0,
        "travel": LIMITS,
        "cutting": LIMITS,
        "scanning": LIMITS,
        "controller": Controller(dialect=dialect),
        **keys,
    }
    return Machine.model_validate(table)


MACHINE = machine()

DRAWN: dict[str, Callable[[Machine], Design]] = {
    "kerf": lambda m: kerf_design(m, BOARD, speed_mm_s=16.0, power=0.7, passes=1, length_mm=80.0),
    "power-cut": lambda m: power_design(
        m,
        BOARD,
        Range("--powers", 0.3, 0.9, 3),
        Range("--speeds", 5.0, 40.0, 4),
        process="cut",
        passes=2,
        interval_mm=None,
    ),
    "power-score": lambda m: power_design(
        m,
        BOARD,
        Range("--powers", 0.1, 0.2, 2),
        Range("--speeds", 50.0, 100.0, 2),
        process="score",
        passes=1,
        interval_mm=None,
    ),
    "power-engrave": lambda m: power_design(
        m,
        BOARD,
        Range("--powers", 0.1, 0.3, 2),
        Range("--speeds", 100.0, 300.0, 2),
        process="engrave",
        passes=1,
        interval_mm=0.25,
    ),
    "interval": lambda m: interval_design(
        m, BOARD, Range("--intervals", 0.1, 0.5, 4), speed_mm_s=300.0, power=0.4, passes=1
    ),
    "focus": lambda m: focus_design(m, BOARD, speed_mm_s=100.0, power=0.2, lines=9),
    "grey-power": lambda m: grey_design(
        m, BOARD, speed_mm_s=200.0, power=0.5, passes=1, interval_mm=0.25, method="power", steps=6
    ),
    "grey-dots": lambda m: grey_design(
        m, BOARD, speed_mm_s=200.0, power=0.5, passes=2, interval_mm=0.25, method="stucki", steps=6
    ),
}


def planned(kind: str, on: Machine = MACHINE, marking: Marking | None = MARKING) -> PlannedTrial:
    return planned_trial(DRAWN[kind](on), on, BOARD, marking)
