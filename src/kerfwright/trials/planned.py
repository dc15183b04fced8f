"""From a drawn trial piece to the beam's path: every step planned as sheets are."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import time_toolpath
from kerfwright.nesting.model import SheetSize
from kerfwright.plan import Intended, PlannedSheet
from kerfwright.sequence.beam_path import (
    BeamPath,
    BeamPlanner,
    PlacedPart,
    times_by_process_s,
)
from kerfwright.sequence.engraved import engraved_area, engraving_findings
from kerfwright.sequence.photos import photo_findings
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material
from kerfwright.toolpath import BurnSource, MoveArray, Process, Toolpath, join
from kerfwright.trials.drawn import labels_step
from kerfwright.trials.model import Design, Marking, PlannedTrial, Step

MERGE_MM = 0.01
"""Edges that two pieces of a row share are drawn in the same place."""

EXPECTED = {"engraving/tones-not-measured", "engraving/spot-narrower-than-interval"}
"""Findings that say what the piece is burned to find out."""


def planned_trial(
    design: Design, machine: Machine, material: Material, marking: Marking | None
) -> PlannedTrial:
    """Plan the beam's path over a piece that lies with its corner at the bed's.

    Raises:
        KerfwrightError: the piece is larger than the bed.
    """
    width, height = design.size_mm
    if width > machine.bed_width_mm or height > machine.bed_height_mm:
        raise KerfwrightError(
            "calibration/bed-too-small",
            file=design.title,
            thing=f'it is {width:.0f} × {height:.0f} mm, but the bed of "{machine.name}" is '
            f"{machine.bed_width_mm:g} × {machine.bed_height_mm:g} mm.",
            remedy="Ask for fewer steps, or for slower ones where run-ups take the room.",
        )
    steps = list(design.steps)
    if marking is not None:
        steps.insert(0, labels_step(design.labels, marking, machine, design.size_mm))
    sheets, findings = [], []
    for number, step in enumerate(steps, 1):
        sheet, found = _planned(number, step, design, machine, material)
        sheets.append(sheet)
        findings += [one for one in found if one.code not in EXPECTED]
    return PlannedTrial(
        design=design,
        machine=machine,
        material=material,
        steps=tuple(sheets),
        sheet=_joined(sheets, design, machine),
        findings=tuple(dict.fromkeys(findings)),
        marked=marking is not None,
    )


def _planned(
    number: int, step: Step, design: Design, machine: Machine, material: Material
) -> tuple[PlannedSheet, Sequence[Finding]]:
    recipes = {Process(recipe.process): recipe for recipe in step.recipes}
    placed = [
        PlacedPart(part, 1, part.name, (i,), lambda _: step.engrave, "level")
        for i, part in enumerate(step.parts)
    ]
    planner = BeamPlanner(machine, recipes, MERGE_MM, step.shared_edges)
    path = planner.plan(placed, f"step {number}")
    sheet = PlannedSheet(
        number=number,
        material=material,
        sheet=SheetSize(design.title, *design.size_mm, 1),
        parts=step.parts,
        used_fraction=0.0,
        recipes=recipes,
        toolpath=path.toolpath,
        sources=path.sources,
        intended=_intended(step, path),
        times=path.times,
        times_by_process_s=path.times_by_process_s,
        shared_edges=step.shared_edges,
        merge_mm=MERGE_MM,
        items=tuple(part.name for part in step.parts),
    )
    found = (*path.findings, *engraving_findings(path.engraved), *photo_findings(path.photos))
    return sheet, found


def _intended(step: Step, path: BeamPath) -> Intended:
    cut = [part for part in step.parts if not part.blank]
    return Intended(
        cuts=tuple(part.outline for part in cut),
        scores=tuple(p for part in step.parts for mark in part.scores for p in mark.paths),
        area=engraved_area(path.engraved),
        photos=tuple(one.place for one in path.photos),
    )


def _joined(sheets: Sequence[PlannedSheet], design: Design, machine: Machine) -> PlannedSheet:
    """All steps behind one another: each begins with a travel to where it starts."""
    moves: list[MoveArray] = []
    sources: list[BurnSource] = []
    for sheet in sheets:
        shifted = sheet.toolpath.moves.copy()
        shifted["source"][shifted["source"] >= 0] += len(sources)
        moves.append(shifted)
        sources += sheet.sources
    toolpath = Toolpath(join(moves), sheets[0].toolpath.start_mm)
    areas = [sheet.intended.area for sheet in sheets]
    return PlannedSheet(
        number=1,
        material=sheets[0].material,
        sheet=sheets[0].sheet,
        parts=tuple(part for sheet in sheets for part in sheet.parts),
        used_fraction=0.0,
        recipes={},
        toolpath=toolpath,
        sources=tuple(sources),
        intended=Intended(
            cuts=tuple(path for sheet in sheets for path in sheet.intended.cuts),
            scores=tuple(path for sheet in sheets for path in sheet.intended.scores),
            area=as_area(shapely.union_all(areas)),
            photos=tuple(place for sheet in sheets for place in sheet.intended.photos),
        ),
        times=time_toolpath(toolpath, machine),
        times_by_process_s=times_by_process_s(toolpath, machine, sources),
        items=(design.title,),
    )
