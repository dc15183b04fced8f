"""A part of a proven program: the moves of one part, or everything from some move on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely
from shapely import MultiPolygon

from kerfwright.plan import Intended, PlannedSheet
from kerfwright.program.burned import (
    NOTHING,
    PROCESSES,
    Assigned,
    Burns,
    Widths,
    assign,
    burns_of,
    widths_of,
)
from kerfwright.program.classify import classify
from kerfwright.program.lead_ins import with_lead_ins
from kerfwright.program.lines import wanted
from kerfwright.program.model import Program
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import BurnSource, MoveArray, MoveKind, Process, Toolpath, join

KINDS = {Process.CUT: MoveKind.CUT, Process.SCORE: MoveKind.SCORE}

LEAST_PIECE_MM = 0.2
"""Shorter pieces of a longer cut along a part only cross or graze its line."""

OWN_SHARE = 0.5
"""Of an engraved area or a picture that lies on a part, for it to be that part's."""


def sheet_of_part(sheet: PlannedSheet, number: int) -> PlannedSheet:
    """Return the sheet with nothing wanted on it but the part of that number."""
    part = sheet.parts[number]
    material = part.polygon
    on_part = [
        polygon
        for polygon in sheet.intended.area.geoms
        if polygon.intersection(material).area >= OWN_SHARE * polygon.area
    ]
    cuts = () if part.blank else (part.outline, *part.holes, *part.slits)
    boundary = shapely.MultiLineString([path.line for path in cuts])
    intended = Intended(
        cuts=cuts,
        scores=tuple(path for mark in part.scores for path in mark.paths),
        area=MultiPolygon(on_part),
        photos=tuple(
            place
            for place in sheet.intended.photos
            if place.area.intersection(material).area >= OWN_SHARE * place.area.area
        ),
        relief=sheet.intended.relief,
        tabs=tuple(
            tab
            for tab in sheet.intended.tabs
            if boundary.distance(shapely.Point(tab.x_mm, tab.y_mm)) <= max(sheet.merge_mm, 0.01)
        ),
    )
    return replace(sheet, parts=(part,), intended=intended)


def moves_of_part(
    program: Program, of_part: PlannedSheet, machine: Machine
) -> tuple[Toolpath, tuple[BurnSource, ...]]:
    """Toolpath that burns one part and nothing else, in the program's order, and its sources.

    ``of_part`` is its sheet from :func:`sheet_of_part`. Of cuts that go on along another part only
    this part's stretch is taken. A move's source names the line of the program that it is from, so
    that what was one arc becomes one again.
    """
    widths = widths_of(of_part, machine)
    burns = burns_of(program)
    assigned = assign(burns, of_part, machine, widths)
    assigned = with_lead_ins(assigned, burns, of_part, machine, widths)
    moves, sources = _marked(program, burns, assigned)
    ends = np.hstack([program.toolpath.points[:-1], program.toolpath.points[1:]])
    shares = _shares(burns, assigned, of_part, widths)
    out: list[MoveArray] = []
    here = (0.0, 0.0)
    cut = of_part.recipes.get(Process.CUT)
    pierce_s = cut.pierce_s if cut is not None else 0.0
    for first, beyond in _strokes(moves):
        for start, move in _kept(moves[first:beyond], ends[first:beyond], shares, first):
            if start != here:
                out.append(_travel(start, machine))
                if move["kind"] == MoveKind.CUT and move["power"] > 0.0:
                    move["dwell_s"] = pierce_s
            out.append(move.reshape(1))
            here = (float(move["x_mm"]), float(move["y_mm"]))
    return Toolpath(join(out)), sources


def moves_of_sheet(
    program: Program, sheet: PlannedSheet, machine: Machine
) -> tuple[Toolpath, tuple[BurnSource, ...]]:
    """All moves of a proven program, told what each is for, and their sources.

    Sources name lines as in :func:`moves_of_part`. Moves with the beam off within a cut, a score
    or a loop are of its kind.
    """
    widths = widths_of(sheet, machine)
    burns = burns_of(program)
    assigned = assign(burns, sheet, machine, widths)
    assigned = with_lead_ins(assigned, burns, sheet, machine, widths)
    moves, sources = _marked(program, burns, assigned)
    burning = moves["power"] > 0.0
    for first, beyond in _strokes(moves):
        if (moves["kind"][first:beyond] == MoveKind.ROW).any():
            continue
        burned = first + np.flatnonzero(burning[first:beyond])
        if len(burned):
            off = first + np.flatnonzero(~burning[first:beyond])
            nearest = burned[np.clip(np.searchsorted(burned, off) - 1, 0, None)]
            moves["kind"][off], moves["source"][off] = (
                moves["kind"][nearest],
                moves["source"][nearest],
            )
    return Toolpath(moves, program.toolpath.start_mm), sources


def _marked(
    program: Program, burns: Burns, assigned: Assigned
) -> tuple[MoveArray, tuple[BurnSource, ...]]:
    """Moves with their kind and source as far as they are for the part."""
    moves = classify(program).toolpath.moves.copy()
    ours = assigned.process != NOTHING
    pairs = np.column_stack([burns.line[ours], assigned.process[ours]])
    known, which = np.unique(pairs, axis=0, return_inverse=True)
    moves["source"][burns.move[ours]] = which.ravel()
    sources = tuple(
        BurnSource("", 1, PROCESSES[process], (f"line {line}",)) for line, process in known.tolist()
    )
    for process, kind in KINDS.items():
        moves["kind"][burns.move[assigned.by(process)]] = kind
    loops = burns.move[assigned.by(Process.ENGRAVE)]
    moves["kind"][loops[moves["kind"][loops] != MoveKind.ROW]] = MoveKind.LOOP
    return moves, sources


def _shares(
    burns: Burns, assigned: Assigned, of_part: PlannedSheet, widths: Widths
) -> dict[int, list[tuple[float, float]]]:
    """From where to where each burn is for the part, in shares of its length."""
    ours = assigned.process != NOTHING
    shares = {move: [(0.0, 1.0)] for move in burns.move[ours].tolist()}
    where = wanted(of_part.intended.cuts, widths.half_kerf_mm)
    beams = [region.boundary for region in where.regions if region is not None]
    if not beams:
        return shares
    corridor = shapely.union_all(beams).buffer(widths.tolerance_mm + widths.shared_mm)
    shapely.prepare(corridor)
    others = np.flatnonzero(~ours)
    lines = shapely.linestrings(burns.ends[others].reshape(-1, 2, 2))
    meets = shapely.intersects(corridor, lines)
    for burn, line in zip(others[meets].tolist(), lines[meets].tolist(), strict=True):
        pieces = shapely.get_parts(line.intersection(corridor))
        along = [
            sorted(line.project(shapely.Point(end)) / line.length for end in piece.coords)
            for piece in pieces
            if piece.length > LEAST_PIECE_MM + 4.0 * widths.shared_mm
        ]
        if along:
            shares[int(burns.move[burn])] = [(ends[0], ends[-1]) for ends in along]
    return shares


def _strokes(moves: MoveArray) -> list[tuple[int, int]]:
    """First move and the one beyond the last between travels."""
    fed = moves["kind"] != MoveKind.TRAVEL
    edges = np.flatnonzero(np.diff(np.concatenate([[False], fed, [False]]).astype(np.int8)))
    return [(first, beyond) for first, beyond in edges.reshape(-1, 2).tolist()]


def _kept(
    moves: MoveArray,
    ends: np.ndarray,
    shares: dict[int, list[tuple[float, float]]],
    first: int,
) -> Iterator[tuple[tuple[float, float], np.ndarray]]:
    """Start and move of what is kept of a stroke: run-ups where all its burns are."""
    ours = np.array([first + number in shares for number in range(len(moves))])
    if not ours.any():
        return
    burning = moves["power"] > 0.0
    rows = (moves["kind"] == MoveKind.ROW).any()
    burn_before = np.maximum.accumulate(np.where(burning, np.arange(len(moves)), -1))
    for number in range(len(moves)):
        if burning[number]:
            pieces = shares.get(first + number, [])
        elif rows:
            pieces = [(0.0, 1.0)]
        else:
            # the gap of a holding tab, between two burns that are both kept, is part of the cut
            after = np.flatnonzero(burning[number:])
            last = burn_before[number]
            between = last >= 0 and ours[last] and len(after) and ours[number + after[0]]
            pieces = [(0.0, 1.0)] if between else []
        for low, high in pieces:
            move = moves[number].copy()
            if not burning[number] and not rows:
                move["kind"] = moves["kind"][burn_before[number]]
            start, end = ends[number, :2], ends[number, 2:]
            from_x, from_y = (start + low * (end - start)).tolist()
            if high < 1.0:
                move["x_mm"], move["y_mm"] = start + high * (end - start)
            yield (from_x, from_y), move


def _travel(to: tuple[float, float], machine: Machine) -> MoveArray:
    move = np.zeros(1, dtype=join([]).dtype)
    move["x_mm"], move["y_mm"] = to
    move["kind"], move["source"] = MoveKind.TRAVEL, -1
    move["speed_mm_s"] = float(np.hypot(*machine.travel.speed_mm_s))
    return move


def rest_faults(rest: Program, program: Program, first_move: int) -> list[str]:
    """What tells a resumed program's burns from those of ``program`` from some move on."""
    burned, whole = burns_of(rest), burns_of(program)
    left = whole.those(whole.move >= first_move)
    if len(burned) != len(left):
        return [f"It burns {len(burned)} moves instead of {len(left)}."]
    pairs = (
        (burned.ends, left.ends),
        (burned.power, left.power),
        (burned.speed_mm_s, left.speed_mm_s),
        (burned.z_mm, left.z_mm),
        (rest.air_of_move[burned.move], program.air_of_move[left.move]),
        # where a cut goes on it is pierced again
        (rest.toolpath.moves["dwell_s"][burned.move][1:],
         program.toolpath.moves["dwell_s"][left.move][1:]),
    )  # fmt: skip
    off = np.zeros(len(burned), dtype=bool)
    for ours, theirs in pairs:
        same = np.isclose(ours.astype(float), theirs.astype(float), rtol=1e-6, atol=1e-6)
        off[len(off) - len(same) :] |= ~same.reshape(len(same), -1).all(axis=1)
    wrong = np.flatnonzero(off)
    if len(wrong) == 0:
        return []
    return [f"Line {burned.line[wrong[0]]}: burns otherwise than line {left.line[wrong[0]]} did."]
