"""A trial piece: what is burned in turn, each step by settings of its own."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.findings import Finding
from kerfwright.parts.model import Part
from kerfwright.plan import PlannedSheet
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material, Recipe
from kerfwright.shop.order import EngraveWay
from kerfwright.shop.trial_pieces import TrialPiece


@dataclass(frozen=True, slots=True)
class Marking:
    """Speed and power at which letters are scored on a piece."""

    speed_mm_s: float
    power: float


@dataclass(frozen=True, eq=False, slots=True)
class Step:
    """Parts that are burned by one set of recipes, in the sheet's coordinates."""

    parts: tuple[Part, ...]
    recipes: tuple[Recipe, ...]
    engrave: EngraveWay = "scan"
    shared_edges: bool = False


@dataclass(frozen=True, eq=False, slots=True)
class Design:
    """A piece as it is drawn: what it is, its size, and its steps in the order of burning."""

    piece: TrialPiece
    title: str
    size_mm: tuple[float, float]
    steps: tuple[Step, ...]
    labels: tuple[Label, ...]
    """Letters of the piece; on it where there is a marking for them, always on its sheet."""


@dataclass(frozen=True, slots=True)
class Label:
    """A text with the middle of its line and the height of its capitals."""

    text: str
    x_mm: float
    y_mm: float
    height_mm: float = 3.0


@dataclass(frozen=True, eq=False, slots=True)
class PlannedTrial:
    """A piece with the beam's path: every step as a sheet of its own, and all of them joined."""

    design: Design
    machine: Machine
    material: Material
    steps: tuple[PlannedSheet, ...]
    sheet: PlannedSheet
    """All steps behind one another, as the program has them."""
    findings: tuple[Finding, ...]
    marked: bool
    """Whether the labels are on the piece itself."""


def power_words(power: float) -> str:
    """A fraction of full power as a label: ``35%``."""
    return f"{100.0 * power:.4g}%"
