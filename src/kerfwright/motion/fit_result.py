"""What a fit of a machine to its timed runs comes to."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.fit_problem import BoolArray, IntArray
from kerfwright.motion.parameters import Parameter
from kerfwright.shop.machine import Machine


class TooFewReadingsError(Exception):
    """Readings that leave some numbers untold; ``runs`` tell each of them best."""

    def __init__(self, parameters: tuple[Parameter, ...], runs: tuple[str, ...]) -> None:
        self.parameters = parameters
        self.runs = runs
        names = ", ".join(parameter.name for parameter in parameters)
        super().__init__(f"cannot tell {names} without {', '.join(runs)}")


class UnfitReadingsError(Exception):
    """Readings that no machine of this kind could have given; ``off`` are the worst."""

    def __init__(self, off: tuple[Off, ...]) -> None:
        self.off = off
        super().__init__("; ".join(f"{one.run} × {one.factor:.2f}" for one in off))


@dataclass(frozen=True, slots=True)
class Estimate:
    """One number before and after, with its 95 % interval."""

    parameter: Parameter
    before: float
    after: float
    low: float
    high: float
    at_least: bool = False
    """Nothing would change in these runs if it were more."""
    told: bool = True
    """False: the readings say next to nothing of it, and it stays as it was."""


@dataclass(frozen=True, slots=True)
class Off:
    """Readings of a run that are far from what all others say, by a factor."""

    run: str
    factor: float
    readings: int


@dataclass(frozen=True, eq=False, slots=True)
class Fit:
    """A machine as its readings tell it."""

    machine: Machine
    estimates: tuple[Estimate, ...]
    run_of_reading: IntArray
    """Index into the runs, shape (readings,)."""
    seconds: FloatArray
    """Readings, shape (readings,)."""
    modelled_s: FloatArray
    """What the fitted machine takes, shape (runs,)."""
    before_s: FloatArray
    """What the machine file said, shape (runs,)."""
    kept: BoolArray
    """Readings that were used, shape (readings,)."""
    off: tuple[Off, ...]
    spread: float
    """Relative standard deviation of a reading around the fitted machine."""
