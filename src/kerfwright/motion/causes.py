"""What the time of a toolpath goes to: each limit of the machine costs some of it."""

from __future__ import annotations

from enum import StrEnum
from typing import TypeVar

from pydantic import BaseModel

from kerfwright.motion.timing import motion_of, waits_s
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import Toolpath

Model = TypeVar("Model", bound=BaseModel)


class Cause(StrEnum):
    """Why time passes."""

    SPEED = "going at the speed asked for, as far as the axes reach it"
    ACCELERATION = "speeding up, braking and corners"
    CURVES = "slowing down in curves"
    LOOK_AHEAD = "planning only a few moves ahead"
    SUPPLY = "moves that come too slowly"
    JERK = "the limit on jerk"
    WAITING = "settling and beam delay"


def causes_s(toolpath: Toolpath, machine: Machine) -> dict[Cause, float]:
    """Seconds that each cause adds to those above it; together they are the clock's time.

    Found by timing the toolpath again and again, one limit of the machine after the other.
    """
    waits = waits_s(toolpath, machine)
    free = _with(
        machine,
        slows_in_curves=False,
        controller=_with(machine.controller, look_ahead_moves=None, moves_per_s=None),
        travel=_with(machine.travel, jerk_mm_s3=None),
        cutting=_with(machine.cutting, jerk_mm_s3=None),
        scanning=_with(machine.scanning, jerk_mm_s3=None),
    )
    curves = _with(free, slows_in_curves=machine.slows_in_curves)
    ahead = machine.controller.look_ahead_moves
    steps = {
        Cause.ACCELERATION: free,
        Cause.CURVES: curves,
        Cause.LOOK_AHEAD: _with(
            curves, controller=_with(curves.controller, look_ahead_moves=ahead)
        ),
        Cause.SUPPLY: _with(curves, controller=machine.controller),
        Cause.JERK: machine,
    }
    top = motion_of(toolpath, free, waits).top_mm_s
    moves = top > 0.0
    causes = {Cause.SPEED: float((toolpath.lengths_mm[moves] / top[moves]).sum())}
    reached = causes[Cause.SPEED]
    before: Machine | None = None
    for cause, limited in steps.items():
        if limited == before:
            causes[cause] = 0.0
            continue
        seconds = float(motion_of(toolpath, limited, waits).seconds.sum())
        causes[cause], reached, before = seconds - reached, seconds, limited
    causes[Cause.WAITING] = float(waits.sum())
    return causes


def _with(model: Model, **changes: object) -> Model:
    return model.model_copy(update=changes)
