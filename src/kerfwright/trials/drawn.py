"""Parts that trial pieces are drawn of."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path as FilePath

import numpy as np
from shapely import MultiPolygon, box

from kerfwright.geometry.paths import Path
from kerfwright.parts.model import EngraveMark, Part, ScoreMark
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.shop.toml_files import validated
from kerfwright.shop.trial_pieces import PAGE
from kerfwright.toolpath import Process
from kerfwright.trials.lettering import lettered
from kerfwright.trials.model import Label, Marking, Step

EDGE_MM = 6.0
"""What stays bare along the edges of a piece."""

GAP_MM = 4.0
"""Between neighbouring fields: a web that holds and keeps heat from the next."""


def edge_mm(speed_mm_s: float, machine: Machine) -> float:
    """Bare edge that leaves room for the run-up of rows: v²/2a, uniform acceleration."""
    run_up = speed_mm_s**2 / (2.0 * machine.scanning.acceleration_mm_s2[0])
    return EDGE_MM + run_up


def rectangle(x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> Path:
    """A closed outline from its lower left corner, counter-clockwise."""
    corners = [
        (x_mm, y_mm),
        (x_mm + width_mm, y_mm),
        (x_mm + width_mm, y_mm + height_mm),
        (x_mm, y_mm + height_mm),
    ]
    return Path(np.array(corners), closed=True)


def cut_piece(name: str, outline: Path) -> Part:
    """A piece that is cut out and bears nothing."""
    return Part(name, "", outline)


def scored(name: str, paths: Sequence[Path], size_mm: tuple[float, float]) -> Part:
    """Lines on the standing board."""
    return _board(name, size_mm, scores=(ScoreMark(name, "", tuple(paths)),))


def engraved(name: str, outline: Path, size_mm: tuple[float, float]) -> Part:
    """An engraved field on the standing board."""
    area = MultiPolygon([box(*outline.bounds_mm)])
    return _board(name, size_mm, engraves=(EngraveMark(name, "", area),))


def labels_step(
    labels: Sequence[Label], marking: Marking, machine: Machine, size_mm: tuple[float, float]
) -> Step:
    """All labels, scored."""
    recipe = Recipe(
        machine=machine.name,
        process="score",
        speed_mm_s=marking.speed_mm_s,
        power=marking.power,
    )
    return Step((scored("labels", lettered(labels), size_mm),), (recipe,))


def recipe_of(
    machine: Machine, process: Process, speed_mm_s: float, power: float, **more: object
) -> Recipe:
    """Settings of one step.

    Raises:
        KerfwrightError: a setting cannot be.
    """
    keys = {
        "machine": machine.name,
        "process": process.value,
        "speed_mm_s": speed_mm_s,
        "power": power,
        **more,
    }
    return validated(PAGE, FilePath("trial piece"), Recipe, keys)


def _board(
    name: str,
    size_mm: tuple[float, float],
    *,
    scores: tuple[ScoreMark, ...] = (),
    engraves: tuple[EngraveMark, ...] = (),
) -> Part:
    outline = rectangle(0.0, 0.0, *size_mm)
    return Part(name, "", outline, scores=scores, engraves=engraves, blank=True)
