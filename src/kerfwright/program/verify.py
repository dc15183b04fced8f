"""Proves a written program against what was wanted, without a look at how it was planned.

The program is what its reader understood (:mod:`kerfwright.program.interpreter`); what was wanted
is the drawings' lines and areas as they lie on the sheet, the recipes, the machine and the sheet.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from kerfwright.engraving.reversal import as_burned
from kerfwright.plan import PlannedSheet
from kerfwright.program.areas import gaps, wrong_count_share
from kerfwright.program.burned import (
    NOTHING,
    PROCESSES,
    Assigned,
    Burns,
    Widths,
    assign,
    burns_of,
    powers_of,
    widths_of,
)
from kerfwright.program.classify import classify
from kerfwright.program.freed import burned_after_freed
from kerfwright.program.lead_ins import with_lead_ins
from kerfwright.program.lines import Wanted, missing, wanted, wrong_counts
from kerfwright.program.model import Program
from kerfwright.program.near import BoolArray, Lines
from kerfwright.program.photos import wrong_blocks
from kerfwright.program.shoulders import wrong_powers
from kerfwright.program.stands import stand_faults
from kerfwright.program.tabs import at_tabs, tab_faults
from kerfwright.program.telling import (
    DOING,
    PLACES_SHOWN,
    more,
    place,
    rest_told,
    times,
)
from kerfwright.shop.machine import Dialect, Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind, Process

MOST_UNEQUAL_MM = 0.002
"""Furthest that an arc's ends may lie unequally far from its centre, or controllers refuse it
(NISTIR 6556, section 3.5.3, from memory)."""


def verify(program: Program, sheet: PlannedSheet, machine: Machine) -> tuple[str, ...]:
    """Return everything that is wrong with a sheet's program; nothing means it is proven.

    Where the sheet says that edges are shared, cuts within its ``merge_mm`` of one another count
    as one; otherwise every part's edge may be burned on its own.
    """
    widths = widths_of(sheet, machine)
    burns = burns_of(_as_burned(program, machine))
    assigned = assign(burns, sheet, machine, widths)
    assigned = with_lead_ins(assigned, burns, sheet, machine, widths)
    return (
        *handling_faults(program, sheet, machine),
        *_stray_faults(burns, assigned),
        *_setting_faults(burns, assigned, sheet),
        *_score_faults(burns, assigned, sheet, widths),
        *_cut_faults(burns, assigned, sheet, widths),
        *_area_faults(burns, assigned, sheet, widths),
        *_photo_faults(burns, assigned, sheet),
        *stand_faults(program, burns, assigned, sheet, machine, widths),
    )


def handling_faults(program: Program, sheet: PlannedSheet, machine: Machine) -> tuple[str, ...]:
    """What is wrong with a program whatever it is to burn: beam, bed, sheet, limits."""
    return (
        *_frame_faults(program, machine),
        *_rapid_faults(program),
        *_bound_faults(program, burns_of(program), sheet, machine, widths_of(sheet, machine)),
        *_limit_faults(program, machine),
    )


def _as_burned(program: Program, machine: Machine) -> Program:
    """The program with its rows where their burns come to lie on the material."""
    if not machine.reversal_shift_mm:
        return program
    told = classify(program)
    return replace(told, toolpath=as_burned(told.toolpath, machine))


def _frame_faults(program: Program, machine: Machine) -> list[str]:
    """How the program starts and ends, and what it must not contain."""
    faults: list[str] = []
    if not program.ended:
        faults.append(
            f"Line {program.lines}: the program stops without M2 or M30; it may be cut short."
        )
    if program.beam_on_at_end:
        faults.append(f"Line {program.lines}: the beam is not switched off (M5) at the end.")
    if len(program.toolpath) and not program.off_before_motion:
        faults.append("The program does not switch the beam off (M5 or S0) before it moves.")
    if program.units != "mm":
        faults.append("The program does not set millimetres (G21) before it moves.")
    if program.distance != "absolute":
        faults.append("The program does not set absolute positions (G90) before it moves.")
    if program.unplaced_burn_line is not None:
        faults.append(
            f"Line {program.unplaced_burn_line}: burns before the program has said where the "
            "beam is."
        )
    standing = sorted({*program.standing_burn_lines} - {*program.pierce_lines})
    if standing:
        faults.append(f"Line {standing[0]}: waits with the beam on.")
    if program.uneven_arc is not None and program.uneven_arc[1] > MOST_UNEQUAL_MM:
        line, uneven_mm = program.uneven_arc
        faults.append(
            f"Line {line}: an arc ends {uneven_mm:.3f} mm off the circle that it begins on."
        )
    if program.skipped_lines:
        faults.append(
            f"Line {program.skipped_lines[0]}: can be left out at the machine (block delete “/”)."
        )
    wanted_mode = "M4" if machine.controller.dialect is Dialect.GRBL_TYPE else "M3"
    others = [mode for mode in program.modes if mode != wanted_mode]
    if others:
        faults.append(
            f"The program runs the beam in {others[0]}; this controller's programs use "
            f"{wanted_mode}."
        )
    return faults


def _rapid_faults(program: Program) -> list[str]:
    moves = program.toolpath.moves
    bad = np.flatnonzero((moves["kind"] == MoveKind.TRAVEL) & (moves["power"] > 0.0))
    if len(bad) == 0:
        return []
    line = program.line_of_move[bad[0]]
    return [f"Line {line}: the beam is on in a rapid move{more(len(bad))}."]


def _bound_faults(
    program: Program, burns: Burns, sheet: PlannedSheet, machine: Machine, widths: Widths
) -> list[str]:
    """Moves inside the bed, burns inside the sheet."""
    faults: list[str] = []
    ends = program.toolpath.points[1:]
    bed = np.array([machine.bed_width_mm, machine.bed_height_mm])
    out = np.flatnonzero(
        ((ends < -widths.rounding_mm) | (ends > bed + widths.rounding_mm)).any(axis=1)
    )
    if len(out):
        faults.append(
            f"Line {program.line_of_move[out[0]]}: moves to {place(*ends[out[0]])}, outside "
            f"the bed of {bed[0]:g} × {bed[1]:g} mm{more(len(out))}."
        )
    size = np.array([sheet.sheet.width_mm, sheet.sheet.height_mm])
    corners = burns.ends.reshape(-1, 2, 2)
    off = np.flatnonzero(
        ((corners < -widths.rounding_mm) | (corners > size + widths.rounding_mm)).any(axis=(1, 2))
    )
    if len(off):
        faults.append(
            f"Line {burns.line[off[0]]}: burns near {place(*burns.middles[off[0]])}, outside "
            f"the sheet of {size[0]:g} × {size[1]:g} mm{more(len(off))}."
        )
    return faults


def _limit_faults(program: Program, machine: Machine) -> list[str]:
    """Power at most full; no burn faster than the machine burns in any direction."""
    faults: list[str] = []
    moves = program.toolpath.moves
    over = np.flatnonzero(moves["power"] > 1.0 + 1e-9)
    if len(over):
        faults.append(
            f"Line {program.line_of_move[over[0]]}: power is {moves['power'][over[0]]:.1%} of "
            f"full power{more(len(over))}."
        )
    # a slower axis holds its own share of a move back: every controller limits its axes by itself
    limit = max(*machine.cutting.speed_mm_s, *machine.scanning.speed_mm_s)
    fast = np.flatnonzero(
        (moves["kind"] != MoveKind.TRAVEL) & (moves["speed_mm_s"] > limit * 1.001)
    )
    if len(fast):
        faults.append(
            f"Line {program.line_of_move[fast[0]]}: the speed of "
            f"{moves['speed_mm_s'][fast[0]]:.1f} mm/s is above what the machine can burn "
            f"at{more(len(fast))}."
        )
    return faults


def _stray_faults(burns: Burns, assigned: Assigned) -> list[str]:
    stray = np.flatnonzero(assigned.process == NOTHING)
    if len(stray) == 0:
        return []
    first = stray[0]
    return [
        f"Line {burns.line[first]}: burns near {place(*burns.middles[first])}, where nothing "
        f"is wanted{more(len(stray))}."
    ]


def _setting_faults(burns: Burns, assigned: Assigned, sheet: PlannedSheet) -> list[str]:
    """Power and speed are those of the recipe for what is burned."""
    faults: list[str] = []
    for process in PROCESSES:
        recipe = sheet.recipes.get(process)
        wrong = np.flatnonzero(assigned.by(process) & ~assigned.settings)
        if recipe is None or len(wrong) == 0:
            continue
        first = wrong[0]
        least, most = powers_of(recipe)
        powers = f"{most:.1%}" if least == most else f"{least:.1%} to {most:.1%}"
        faults.append(
            f"Line {burns.line[first]}: a {DOING[process]} is burned at "
            f"{burns.power[first]:.1%} and {burns.speed_mm_s[first]:.2f} mm/s; the recipe says "
            f"{powers} and {recipe.speed_mm_s:.2f} mm/s{more(len(wrong))}."
        )
    return faults


def _score_faults(
    burns: Burns, assigned: Assigned, sheet: PlannedSheet, widths: Widths
) -> list[str]:
    recipe, lines = sheet.recipes.get(Process.SCORE), sheet.intended.scores
    if recipe is None:
        return [_no_recipe(Process.SCORE)] if lines else []
    scores = burns.those(assigned.by(Process.SCORE))
    where = wanted(lines, None)
    bare = missing(where, Lines(lines), scores.pieces(), widths, 0.0)
    return [
        *_missing_faults(Process.SCORE, where, bare),
        *_count_faults(
            Process.SCORE, scores, recipe, widths, lines=Lines(lines), beside=widths.tolerance_mm
        ),
    ]


def _cut_faults(burns: Burns, assigned: Assigned, sheet: PlannedSheet, widths: Widths) -> list[str]:
    recipe, lines = sheet.recipes.get(Process.CUT), sheet.intended.cuts
    if recipe is None:
        return [_no_recipe(Process.CUT)] if lines else []
    cuts = burns.those(assigned.by(Process.CUT) & ~assigned.lead_in)
    where = wanted(lines, widths.half_kerf_mm)
    tabs = at_tabs(where, sheet.intended.tabs, widths)
    bare = missing(where, Lines(lines), cuts.pieces(), widths, widths.shared_mm)
    faults = _missing_faults(Process.CUT, where, bare & ~tabs)
    levels = _levels(cuts, recipe)
    for level in levels:
        if len(levels) > 1 and not faults:
            bare_here = missing(where, Lines(lines), level.pieces(), widths, widths.shared_mm)
            faults += _missing_faults(Process.CUT, where, bare_here & ~tabs)
        faults += _count_faults(
            Process.CUT,
            level,
            recipe if len(levels) == 1 else recipe.model_copy(update={"passes": 1}),
            widths,
            lines=None if sheet.shared_edges else Lines(lines),
            beside=widths.half_kerf_mm + widths.shared_mm + widths.tolerance_mm,
        )
    return [
        *faults,
        *tab_faults(sheet.intended.tabs, cuts, widths),
        *_freed_faults(where, bare, cuts, burns, widths, sheet),
    ]


def _levels(cuts: Burns, recipe: Recipe) -> list[Burns]:
    """Cuts by where they are focused: each level is one pass."""
    if recipe.focus_step_mm == 0.0 or recipe.passes == 1:
        return [cuts]
    level = np.rint(-cuts.z_mm / recipe.focus_step_mm)
    return [cuts.those(level == number) for number in range(recipe.passes)]


def _freed_faults(
    where: Wanted,
    bare: BoolArray,
    cuts: Burns,
    burns: Burns,
    widths: Widths,
    sheet: PlannedSheet,
) -> list[str]:
    # edges that touch and are cut one by one run a kerf apart, each in the other's piece
    beside_mm = widths.shared_mm if sheet.shared_edges else 2.0 * widths.half_kerf_mm
    pairs = burned_after_freed(
        where, bare, cuts, burns, widths, shared_mm=widths.shared_mm, beside_mm=beside_mm
    )
    faults = [
        f"Line {burns.line[burn]}: burns near {place(*burns.middles[burn])} in a piece that "
        f"line {cuts.line[closing]} has already cut free."
        for burn, closing in pairs[:PLACES_SHOWN]
    ]
    return rest_told(faults, len(pairs))


def _area_faults(
    burns: Burns, assigned: Assigned, sheet: PlannedSheet, widths: Widths
) -> list[str]:
    recipe, area = sheet.recipes.get(Process.ENGRAVE), sheet.intended.area
    if recipe is None:
        return [] if area.is_empty else [_no_recipe(Process.ENGRAVE)]
    engraved = burns.those(assigned.by(Process.ENGRAVE))
    found = gaps(area, engraved.pieces(), widths)
    faults = rest_told(
        [f"{gap.what}, near {place(gap.x_mm, gap.y_mm)}." for gap in found[:PLACES_SHOWN]],
        len(found),
    )
    wrong = wrong_powers(engraved, sheet, recipe)
    if len(wrong):
        faults.append(
            f"Line {engraved.line[wrong[0]]}: {engraved.power[wrong[0]]:.1%} does not fit the "
            f"shoulder of {recipe.shoulder_mm:g} mm, near "
            f"{place(*engraved.middles[wrong[0]])}{more(len(wrong))}."
        )
    share, first = wrong_count_share(
        area, engraved, recipe.passes, widths, crossed=recipe.pass_angle_deg % 180.0 > 0.0
    )
    if share > 0.0:
        faults.append(
            f"Line {engraved.line[first]}: {share:.1%} of all engraving lines are not burned "
            f"{times(recipe.passes)}."
        )
    return faults


def _photo_faults(burns: Burns, assigned: Assigned, sheet: PlannedSheet) -> list[str]:
    recipe, photos = sheet.recipes.get(Process.PHOTO), sheet.intended.photos
    if recipe is None:
        return [_no_recipe(Process.PHOTO)] if photos else []
    wrong = wrong_blocks(burns.those(assigned.by(Process.PHOTO)), sheet, recipe)
    faults = [
        f'The picture "{block.picture}" is burned {block.burned:.0%} dark instead of '
        f"{block.least:.0%}{'' if block.most - block.least < 0.005 else f' to {block.most:.0%}'}, "
        f"near {place(block.x_mm, block.y_mm)}."
        for block in wrong[:PLACES_SHOWN]
    ]
    return rest_told(faults, len(wrong))


def _missing_faults(process: Process, where: Wanted, bare: BoolArray) -> list[str]:
    """One fault for every wanted line that is not burned all along."""
    faults: list[str] = []
    lines = np.unique(where.line[bare])
    for line in lines[:PLACES_SHOWN].tolist():
        gone = np.flatnonzero(bare & (where.line == line))
        all_of_it = len(gone) == int((where.line == line).sum())
        how_much = "is" if all_of_it else f"is, for about {len(gone) * where.step_mm:.1f} mm,"
        faults.append(
            f"A wanted {DOING[process]} line {how_much} not burned, near "
            f"{place(*where.points[gone[0]])}."
        )
    return rest_told(faults, len(lines))


def _count_faults(
    process: Process,
    burns: Burns,
    recipe: Recipe,
    widths: Widths,
    *,
    lines: Lines | None,
    beside: float,
) -> list[str]:
    stretches = wrong_counts(
        burns,
        recipe.passes,
        widths,
        lines=lines,
        beside_mm=beside,
        overcut_mm=max(recipe.overcut_mm, _along_lead_in_mm(recipe)),
    )
    faults = [
        f"Line {burns.line[s.burn]}: {s.length_mm:.1f} mm of a {DOING[process]} line are burned "
        f"{times(s.count)} instead of {times(recipe.passes)}, near "
        f"{place(*burns.middles[s.burn])}."
        for s in stretches[:PLACES_SHOWN]
    ]
    return rest_told(faults, len(stretches))


def _along_lead_in_mm(recipe: Recipe) -> float:
    """How much of a lead-in may run on its cut: an arc comes in along it."""
    return recipe.lead_in_mm / 2.0 if recipe.lead_in == "arc" else 0.0


def _no_recipe(process: Process) -> str:
    return f"The sheet has {DOING[process]} work but no recipe for it."
