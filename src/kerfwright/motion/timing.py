"""Time of a toolpath on a machine."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import Toolpath


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds of a toolpath on a machine; the three parts add up to ``total_s``."""

    burn_s: float
    travel_s: float
    """Beam off: travel, run-up and turning round."""
    wait_s: float
    """Settling and beam delays."""

    @property
    def total_s(self) -> float:
        """All seconds."""
        return self.burn_s + self.travel_s + self.wait_s


def move_times_s(toolpath: Toolpath, machine: Machine) -> FloatArray:
    """Seconds of every move, waiting included, shape (n,)."""
    raise NotImplementedError


def time_toolpath(toolpath: Toolpath, machine: Machine) -> Times:
    """Seconds of the whole toolpath, from rest to rest."""
    raise NotImplementedError
