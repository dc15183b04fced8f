"""A timed run: a program with the beam off whose seconds tell how a machine moves."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kerfwright.shop.machine import NotNegative, Positive, StrictModel, Text

Count = Annotated[int, Field(ge=1, le=1_000_000, strict=True)]
LimitsName = Literal["travel", "cutting", "scanning"]
AxisName = Literal["x", "y"]
Shape = Literal["strokes", "zigzag", "stairs", "pieces", "settle", "loops"]


class TimedRun(StrictModel):
    """One program: a pattern from the start and back to it, over and over."""

    name: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9.-]*$", max_length=60)]
    """Name of the program's file, its ending left out."""
    shape: Shape
    """strokes: forth and back; zigzag: a line of equal teeth, and back; stairs: equal
    steps along x and y in turn, and back; pieces: a straight line
    in equal moves, and back; settle: a travel forth, a slow move back; loops: circles."""
    limits: LimitsName
    """Table of the machine file that holds for its moves; settle uses travel on the way forth."""
    along: AxisName
    """Axis along which it lies."""
    length_mm: Positive
    """Length of a stroke, a tooth, a step or a piece; radius of a loop."""
    count: Count = 1
    """Teeth, steps or pieces in a line, straight moves in a loop."""
    turn_deg: NotNegative = 0.0
    """Turn between two teeth."""
    asked_mm_s: Positive
    """Speed that the program asks for; a travel is as fast as the controller lets it."""
    decimals: Annotated[int, Field(ge=2, le=6, strict=True)] = 3
    """Decimals that its coordinates in mm are rounded to, the controller's own at most."""
    repeats: Count
    """How often the pattern is run."""


class TimedRuns(StrictModel):
    """What ``programs.toml`` holds: the runs that were written, and for which machine."""

    machine: Text
    """Name of the machine that they were made for."""
    start_mm: tuple[Positive, Positive]
    """Where every run starts and ends, as [x, y]."""
    measures: Annotated[tuple[Text, ...], Field(min_length=1)]
    """Keys of the machine file that these runs can tell."""
    runs: Annotated[tuple[TimedRun, ...], Field(min_length=1)]
    """The runs, in the order in which they are best timed."""
