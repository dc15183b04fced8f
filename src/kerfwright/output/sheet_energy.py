"""What a planned sheet's beam puts out, process by process."""

from __future__ import annotations

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from kerfwright.motion.line_energy import peak_line_energy
from kerfwright.motion.trace import trace_of
from kerfwright.plan import PlannedSheet
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import PROCESS_OF_KIND


class ProcessEnergy(BaseModel):
    """Energy of one process on one sheet."""

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True)

    energy_j: float = Field(ge=0.0, allow_inf_nan=False)
    """What the beam puts out."""
    peak_line_j_mm: float = Field(ge=0.0, allow_inf_nan=False)
    """Most energy on one spot's width of a line, over that width; passes and lines over one
    another are not added up."""


def energy_by_process(sheet: PlannedSheet, machine: Machine) -> dict[str, ProcessEnergy]:
    """Energy of every process that burns, as the program will have it.

    Programs for controllers of the GRBL type are in laser mode: power follows speed.
    """
    toolpath = sheet.toolpath
    trace = trace_of(toolpath, machine)
    of_moves = np.bincount(trace.move, trace.energy_j, len(toolpath))
    kinds = toolpath.moves["kind"]
    found = {}
    for process in dict.fromkeys(PROCESS_OF_KIND.values()):
        moves = np.isin(kinds, [k for k, p in PROCESS_OF_KIND.items() if p is process])
        peak = peak_line_energy(trace, toolpath, machine.spot_mm, moves)
        if peak is not None:
            energy_j = round(float(of_moves[moves].sum()), 3)
            found[process.value] = ProcessEnergy(
                energy_j=energy_j, peak_line_j_mm=round(peak.j_mm, 6)
            )
    return found
