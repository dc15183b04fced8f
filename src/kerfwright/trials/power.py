"""Power and speed: cells of a matrix, the gentlest burned first."""

from __future__ import annotations

from itertools import product

from kerfwright.errors import KerfwrightError
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material, Recipe
from kerfwright.shop.trial_pieces import CellProcess, PowerCell, PowerPiece
from kerfwright.toolpath import Process
from kerfwright.trials.drawn import (
    EDGE_MM,
    GAP_MM,
    cut_piece,
    edge_mm,
    engraved,
    recipe_of,
    rectangle,
    scored,
)
from kerfwright.trials.model import Design, Label, Step, power_words
from kerfwright.trials.ranges import Range, powers

CELL_MM = 10.0
PITCH_MM = CELL_MM + GAP_MM

ROW_LABELS_MM = 12.0
COLUMN_LABELS_MM = 8.0
NUMBER_MM = 2.5

PROCESSES: dict[str, CellProcess] = {"cut": "cut", "score": "score", "engrave": "engrave"}


def power_design(
    machine: Machine,
    material: Material,
    power_range: Range,
    speed_range: Range,
    *,
    process: str,
    passes: int,
    interval_mm: float | None,
) -> Design:
    """Draw a matrix of cells, speeds rising to the right and powers upwards.

    Raises:
        KerfwrightError: a range is wrong, the process is none, or engraving has no interval.
    """
    if process not in PROCESSES:
        raise KerfwrightError(
            "calibration/unclear-trial",
            file="calibrate power",
            thing=f'"{process}" is no process that cells can try.',
            remedy="Give --process cut, score or engrave.",
        )
    if (process == "engrave") == (interval_mm is None):
        raise KerfwrightError(
            "calibration/unclear-trial",
            file="calibrate power",
            thing="engraved cells need --interval, and only they.",
            remedy="Give the distance between lines, such as the width of one: --interval 0.1.",
        )
    speeds = speed_range.values(1, by_factor=True)
    matrix = list(product(powers(power_range), speeds))
    cells = tuple(
        PowerCell(number=number, speed_mm_s=speed, power=power)
        for number, (power, speed) in enumerate(matrix, 1)
    )
    columns, rows = len(speeds), power_range.steps
    edge = edge_mm(speeds[-1], machine) if process == "engrave" else EDGE_MM
    left, bottom = edge + ROW_LABELS_MM, EDGE_MM + COLUMN_LABELS_MM
    size = (left + columns * PITCH_MM - GAP_MM + edge, bottom + rows * PITCH_MM - GAP_MM + EDGE_MM)
    places = [
        (left + PITCH_MM * (i % columns), bottom + PITCH_MM * (i // columns))
        for i in range(len(cells))
    ]
    steps = {
        cell.number: _step(cell, place, size, machine, process, passes, interval_mm)
        for cell, place in zip(cells, places, strict=True)
    }
    gentlest = sorted(cells, key=lambda cell: (cell.power / cell.speed_mm_s, cell.power))
    return Design(
        piece=PowerPiece(
            machine=machine.name,
            material=material.name,
            thickness_mm=material.thickness_mm,
            passes=passes,
            process=PROCESSES[process],
            power_w=machine.power_w,
            interval_mm=interval_mm,
            cells=cells,
        ),
        title="power trial piece",
        size_mm=size,
        steps=tuple(steps[cell.number] for cell in gentlest),
        labels=(
            *_number_labels(cells, places, process),
            *(
                Label(power_words(power), left - 7.0, bottom + PITCH_MM * i + CELL_MM / 2.0)
                for i, power in enumerate(powers(power_range))
            ),
            *(
                Label(f"{speed:g}", left + PITCH_MM * i + CELL_MM / 2.0, bottom - 5.6)
                for i, speed in enumerate(speeds)
            ),
        ),
    )


def _step(
    cell: PowerCell,
    place: tuple[float, float],
    size_mm: tuple[float, float],
    machine: Machine,
    process: str,
    passes: int,
    interval_mm: float | None,
) -> Step:
    outline = rectangle(*place, CELL_MM, CELL_MM)
    name = f"cell {cell.number}"

    def recipe(**more: object) -> Recipe:
        return recipe_of(
            machine, Process(process), cell.speed_mm_s, cell.power, passes=passes, **more
        )

    if process == "cut":
        return Step((cut_piece(name, outline),), (recipe(kerf_mm=0.0),))
    if process == "score":
        return Step((scored(name, (outline,), size_mm),), (recipe(),))
    return Step((engraved(name, outline, size_mm),), (recipe(interval_mm=interval_mm),))


def _number_labels(
    cells: tuple[PowerCell, ...], places: list[tuple[float, float]], process: str
) -> list[Label]:
    """Numbers inside the cells; beside engraved ones, where a number would spoil the look."""
    up = -1.8 if process == "engrave" else CELL_MM / 2.0
    return [
        Label(str(cell.number), x + CELL_MM / 2.0, y + up, NUMBER_MM)
        for cell, (x, y) in zip(cells, places, strict=True)
    ]
