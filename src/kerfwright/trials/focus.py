"""Focus: lines on a board that leans, so that every one is burned at another height."""

from __future__ import annotations

import numpy as np

from kerfwright.geometry.paths import Path
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material
from kerfwright.shop.trial_pieces import FocusLine, FocusPiece
from kerfwright.toolpath import Process
from kerfwright.trials.drawn import EDGE_MM, recipe_of, scored
from kerfwright.trials.model import Design, Label, Step

APART_MM = 8.0
LINE_MM = 15.0
LABELS_MM = 6.0


def focus_design(
    machine: Machine, material: Material, *, speed_mm_s: float, power: float, lines: int
) -> Design:
    """Draw lines along y, side by side along x, the direction in which the board leans."""
    bottom = EDGE_MM + LABELS_MM
    places = [EDGE_MM + 2.0 + APART_MM * i for i in range(lines)]
    size = (places[-1] + 2.0 + EDGE_MM, bottom + LINE_MM + EDGE_MM)
    drawn = [Path(np.array([[x, bottom], [x, bottom + LINE_MM]])) for x in places]
    recipe = recipe_of(machine, Process.SCORE, speed_mm_s, power)
    return Design(
        piece=FocusPiece(
            machine=machine.name,
            material=material.name,
            thickness_mm=material.thickness_mm,
            speed_mm_s=speed_mm_s,
            power=power,
            lines=tuple(
                FocusLine(number=i + 1, along_mm=x - places[0]) for i, x in enumerate(places)
            ),
        ),
        title="focus trial piece",
        size_mm=size,
        steps=(Step((scored("lines", drawn, size),), (recipe,)),),
        labels=tuple(Label(str(i + 1), x, bottom - 3.5) for i, x in enumerate(places)),
    )
