"""What timed runs can tell of a machine: the numbers of its file that decide how it moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.machine import Machine

LIMITS = ("travel", "cutting", "scanning")
LIMITS_FIELDS = {
    "speed_mm_s": ("speed", "mm/s"),
    "acceleration_mm_s2": ("acceleration", "mm/s²"),
    "jerk_mm_s3": ("jerk", "mm/s³"),
}

LEAST = {
    "junction_deviation_mm": 1e-4,
    "corner_speed_mm_s": 0.05,
    "settle_s": 1e-5,
}
"""What may be 0 in a machine file is as good as 0 below this."""

GUESSES = {"junction_deviation_mm": 0.01, "corner_speed_mm_s": 5.0, "settle_s": 0.01}
"""Where to look first if the file says 0."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One number of a machine file. ``axis`` is 0 or 1 in a pair, else nothing."""

    table: Literal["", "travel", "cutting", "scanning", "controller"]
    field: str
    axis: int | None
    name: str
    unit: str

    @property
    def key(self) -> str:
        """Key as the machine file has it, such as ``travel.speed_mm_s[1]`` for x."""
        inside = f"{self.table}.{self.field}" if self.table else self.field
        return inside if self.axis is None else f"{inside}[{self.axis + 1}]"

    @property
    def least(self) -> float:
        """Smallest value that is told from nothing."""
        return LEAST.get(self.field, 1e-9)


def parameters_of(machine: Machine) -> tuple[Parameter, ...]:
    """All numbers of a machine that timed runs may tell, as far as its file uses them."""
    found = [
        Parameter(table, field, axis, f"{table} {what} {'xy'[axis]}", unit)  # type: ignore[arg-type]
        for table in LIMITS
        for field, (what, unit) in LIMITS_FIELDS.items()
        for axis in (0, 1)
        if getattr(getattr(machine, table), field) is not None
    ]
    if machine.corner_speed_mm_s is None:
        found.append(Parameter("", "junction_deviation_mm", None, "junction deviation", "mm"))
    else:
        found.append(Parameter("", "corner_speed_mm_s", None, "corner speed", "mm/s"))
    found.append(Parameter("", "settle_s", None, "settle time", "s"))
    if machine.controller.moves_per_s is not None:
        found.append(Parameter("controller", "moves_per_s", None, "moves per second", "1/s"))
    if machine.controller.look_ahead_moves is not None:
        found.append(Parameter("controller", "look_ahead_moves", None, "look-ahead", "moves"))
    return tuple(found)


def values_of(machine: Machine, parameters: Sequence[Parameter]) -> FloatArray:
    """The machine's values of some parameters, shape (n,)."""
    values = []
    for parameter in parameters:
        holder = getattr(machine, parameter.table) if parameter.table else machine
        value = getattr(holder, parameter.field)
        values.append(value if parameter.axis is None else value[parameter.axis])
    return np.array(values, dtype=float)


def with_values(
    machine: Machine, parameters: Sequence[Parameter], values: Sequence[float] | FloatArray
) -> Machine:
    """The same machine with other values; a look-ahead is rounded to whole moves."""
    tables: dict[str, dict[str, Any]] = {}
    for parameter, given in zip(parameters, values, strict=True):
        value = float(given)
        held = machine if not parameter.table else getattr(machine, parameter.table)
        fields = tables.setdefault(parameter.table, {})
        if parameter.axis is None:
            whole = parameter.field == "look_ahead_moves"
            fields[parameter.field] = max(round(value), 1) if whole else value
        else:
            pair = list(fields.get(parameter.field, getattr(held, parameter.field)))
            pair[parameter.axis] = value
            fields[parameter.field] = tuple(pair)
    update = dict(tables.pop("", {}))
    for table, fields in tables.items():
        update[table] = getattr(machine, table).model_copy(update=fields)
    return machine.model_copy(update=update)


def first_guess(machine: Machine, parameters: Sequence[Parameter]) -> FloatArray:
    """The machine's values, and where its file says 0 a usual one, shape (n,)."""
    values = values_of(machine, parameters)
    for i, parameter in enumerate(parameters):
        if values[i] < parameter.least:
            values[i] = GUESSES[parameter.field]
    return values


def with_other_corner_rule(machine: Machine) -> Machine:
    """The same machine, its corners judged by the other rule, at a usual value."""
    other = GUESSES["corner_speed_mm_s"] if machine.corner_speed_mm_s is None else None
    return machine.model_copy(update={"corner_speed_mm_s": other})
