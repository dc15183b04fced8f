"""Interval: squares engraved from fine to coarse, and single lines to measure."""

from __future__ import annotations

import numpy as np

from kerfwright.geometry.paths import Path
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material
from kerfwright.shop.trial_pieces import IntervalPiece, IntervalSquare
from kerfwright.toolpath import Process
from kerfwright.trials.drawn import EDGE_MM, GAP_MM, edge_mm, engraved, recipe_of, rectangle, scored
from kerfwright.trials.model import Design, Label, Step
from kerfwright.trials.ranges import Range

SQUARE_MM = 10.0
PITCH_MM = SQUARE_MM + GAP_MM
LABELS_MM = 9.0

SINGLE_LINES = 3
LINES_APART_MM = 2.0


def interval_design(
    machine: Machine,
    material: Material,
    intervals: Range,
    *,
    speed_mm_s: float,
    power: float,
    passes: int,
) -> Design:
    """Draw a row of squares, the finest first, with rows along x, and three lines behind them.

    Raises:
        KerfwrightError: the range is wrong.
    """
    squares = tuple(
        IntervalSquare(number=number, interval_mm=value)
        for number, value in enumerate(intervals.values(3, by_factor=True), 1)
    )
    edge = edge_mm(speed_mm_s, machine)
    bottom = EDGE_MM + LABELS_MM
    # every square has its neighbours' room for run-ups; only the row's ends need their own
    lines_x = edge + PITCH_MM * len(squares)
    size = (lines_x + SQUARE_MM + edge, bottom + SQUARE_MM + EDGE_MM)
    steps = [
        Step(
            (
                engraved(
                    f"square {square.number}",
                    rectangle(edge + PITCH_MM * i, bottom, SQUARE_MM, SQUARE_MM),
                    size,
                ),
            ),
            (
                recipe_of(
                    machine,
                    Process.ENGRAVE,
                    speed_mm_s,
                    power,
                    passes=passes,
                    interval_mm=square.interval_mm,
                    finish="rows",
                ),
            ),
        )
        for i, square in enumerate(squares)
    ]
    steps.append(_single_lines(machine, lines_x, bottom, size, speed_mm_s, power, passes))
    labels = [
        label
        for i, square in enumerate(squares)
        for label in (
            Label(str(square.number), edge + PITCH_MM * i + SQUARE_MM / 2.0, bottom - 3.0),
            Label(
                f"{square.interval_mm:g}",
                edge + PITCH_MM * i + SQUARE_MM / 2.0,
                bottom - 7.0,
                2.2,
            ),
        )
    ]
    return Design(
        piece=IntervalPiece(
            machine=machine.name,
            material=material.name,
            thickness_mm=material.thickness_mm,
            passes=passes,
            speed_mm_s=speed_mm_s,
            power=power,
            squares=squares,
        ),
        title="interval trial piece",
        size_mm=size,
        steps=tuple(steps),
        labels=tuple(labels),
    )


def _single_lines(
    machine: Machine,
    x_mm: float,
    y_mm: float,
    size_mm: tuple[float, float],
    speed_mm_s: float,
    power: float,
    passes: int,
) -> Step:
    """Lines that nothing lies beside, at the squares' speed where lines can be as fast.

    Where a machine follows lines slower than rows, power falls with the speed, so that a mm of
    line receives as much.
    """
    speed = min(speed_mm_s, *machine.cutting.speed_mm_s)
    lines = [
        Path(np.array([[x_mm, y], [x_mm + SQUARE_MM, y]]))
        for y in (y_mm + 2.0 + LINES_APART_MM * n for n in range(SINGLE_LINES))
    ]
    recipe = recipe_of(machine, Process.SCORE, speed, power * speed / speed_mm_s, passes=passes)
    return Step((scored("single lines", lines, size_mm),), (recipe,))
