"""From cells that fell through or looked right to a recipe that was among them.

What a cut needs is counted as energy for each length and thickness, E = P / (v·t), the severance
energy: it decides through or not in first order (Steen & Mazumder, *Laser Material Processing*,
4th edition 2010, chapter 4; Powell, *CO2 Laser Cutting*, 2nd edition 1998; both from memory). Slow
cuts lose more heat to the sides, so that cells of one energy may differ: those are named, and only
cells that were burned are ever proposed.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.material import Recipe
from kerfwright.shop.trial_pieces import PowerCell, PowerPiece
from kerfwright.shop.trial_readings import Seen
from kerfwright.toolpath import Process
from kerfwright.trials.model import power_words
from kerfwright.trials.result import Line, Result, UntoldError, missing_words
from kerfwright.trials.straight_fit import Measured
from kerfwright.trials.threshold import Boundary, boundary

MARGIN = 0.15
"""More energy than the boundary's for a cut that falls out every time; common practice, no
source."""

LEAST_CELLS = 6
"""Cells with readings."""

LEAST_OF_EACH = 2
"""Cells that fell and cells that held, at least: one of a kind may be chance."""

LIKELY = 0.8
"""Fitted chance that a proposed cell falls again: where cells scatter it asks for more energy than
the margin does. The fit's penalty keeps chances modest also where cells part cleanly."""

UNLIKELY = 0.02
"""A cell that did what it had so small a chance of is named."""


def severance_j_mm2(piece: PowerPiece, cell: PowerCell) -> float:
    """Energy that a cell's line gets for each mm of length and of thickness."""
    return piece.power_w * cell.power * piece.passes / (cell.speed_mm_s * piece.thickness_mm)


def power_result(
    piece: PowerPiece, seen: Seen, margin: float = MARGIN, recipe: Recipe | None = None
) -> Result:
    """The setting that the readings tell; ``recipe`` is what the material had for the process.

    Raises:
        UntoldError: too few cells were read, they contradict each other, or none has the margin.
    """
    if piece.process == "cut":
        return _cut_result(piece, seen, margin, recipe)
    return _best_result(piece, seen)


def _cut_result(piece: PowerPiece, seen: Seen, margin: float, recipe: Recipe | None) -> Result:
    read = [c for c in piece.cells if seen.through.get(c.number) or seen.held.get(c.number)]
    fell = np.array([float(seen.through.get(cell.number, 0)) for cell in read])
    held = np.array([float(seen.held.get(cell.number, 0)) for cell in read])
    _require_both(piece, read, int((fell > 0.0).sum()), int((held > 0.0).sum()))
    energy = np.array([severance_j_mm2(piece, cell) for cell in read])
    try:
        found = boundary(np.log(energy), fell, fell + held)
        odd = _odd(read, np.log(energy), fell, held, found)
    except ValueError:
        raise UntoldError(
            "cells of more energy fell through no more often than those of less.",
            "Look whether through and held were mixed up, or cells misnumbered; if not, burn the "
            "piece again in focus.",
            disagree=True,
        ) from None
    at = Measured(*(math.exp(x) for x in (found.at.value, found.at.low, found.at.high)))
    sure = [
        cell
        for cell, e, f, h in zip(read, energy, fell, held, strict=True)
        if f > 0.0
        and h == 0.0
        and e >= at.value * (1.0 + margin)
        and found.chance_at(math.log(e)) >= LIKELY
        and _holds_up(piece, seen, cell)
    ]
    if not sure:
        raise _none_sure(odd, at, margin)
    best = max(sure, key=lambda cell: (cell.speed_mm_s, -cell.power))
    e = severance_j_mm2(piece, best)
    lines = (
        Line("boundary", f"{at.value:.3g} J/mm²", f"{at.low:.3g} to {at.high:.3g} J/mm²"),
        Line("proposed: cell", str(best.number)),
        Line("speed", f"{best.speed_mm_s:g} mm/s"),
        Line("power", power_words(best.power)),
        Line("energy", f"{e:.3g} J/mm²", f"{e / at.value - 1.0:.0%} above the boundary"),
    )
    remarks = (*odd, *_cut_remarks(piece, best, at, e, recipe))
    whole = recipe is None or _as_burned(recipe, best, piece)
    return Result(lines, _keys(piece, best), Process.CUT, remarks, seen.tested, complete=whole)


def _odd(
    read: list[PowerCell],
    log_energy: FloatArray,
    fell: FloatArray,
    held: FloatArray,
    all_: Boundary,
) -> list[str]:
    """Cells on the wrong side of the boundary that the others alone give next to no chance."""
    said = []
    above = log_energy > all_.at.value
    for i in np.flatnonzero(np.where(above, held > fell, fell > held)):
        others = np.delete(np.arange(len(read)), i)
        fit = boundary(log_energy[others], fell[others], (fell + held)[others])
        chance = float(fit.chance_at(log_energy[i]))
        if (1.0 - chance if above[i] else chance) < UNLIKELY:
            said.append(
                f"Cell {read[i].number} ({read[i].speed_mm_s:g} mm/s, "
                f"{power_words(read[i].power)}) {'held' if above[i] else 'fell through'} against "
                "what the others say; look at it again."
            )
    return said


def _none_sure(odd: list[str], at: Measured, margin: float) -> UntoldError:
    if odd:
        return UntoldError(
            f"no cell is safe to propose. {' '.join(odd)}",
            "Where a cell held, none that was burned as fast or faster with as much power or less "
            "can be relied on.",
            disagree=True,
        )
    return UntoldError(
        f"no cell that fell through every time is safely above the boundary at "
        f"{at.value:.3g} J/mm², with {margin:.0%} more energy at least.",
        "Burn a piece that reaches further: more power, slower, or more passes.",
    )


def _require_both(piece: PowerPiece, read: list[PowerCell], fell: int, held: int) -> None:
    if len(read) < LEAST_CELLS:
        unread = [cell.number for cell in piece.cells if cell not in read]
        raise UntoldError(
            f"{len(read)} cells with readings do not tell the boundary; it takes {LEAST_CELLS}.",
            f"Read {missing_words(unread, 'cell')}: through or held.",
        )
    if fell < LEAST_OF_EACH:
        raise UntoldError(
            f"{fell} of {len(read)} cells fell through; it takes {LEAST_OF_EACH} at least.",
            "Burn a piece of more power or slower speeds.",
        )
    if held < LEAST_OF_EACH:
        raise UntoldError(
            f"{held} of {len(read)} cells held, so that nobody knows how near the boundary is; "
            f"it takes {LEAST_OF_EACH} at least.",
            "Burn a piece of less power or faster speeds.",
        )


def _holds_up(piece: PowerPiece, seen: Seen, cell: PowerCell) -> bool:
    """Whether no cell held that was burned as fast with more power, or slower with as much."""
    return not any(
        seen.held.get(other.number)
        for other in piece.cells
        if other.power >= cell.power and other.speed_mm_s <= cell.speed_mm_s
    )


def _cut_remarks(
    piece: PowerPiece, best: PowerCell, at: Measured, energy: float, recipe: Recipe | None
) -> list[str]:
    said = []
    if energy < at.high:
        said.append(
            f"The boundary may lie as high as {at.high:.3g} J/mm², above the proposed cell: burn "
            "another piece of more cells around it before an order depends on it."
        )
    if best.speed_mm_s == max(cell.speed_mm_s for cell in piece.cells):
        said.append("No faster speed was tried; a piece of faster ones may save time.")
    if recipe is None or recipe.kerf_mm is None:
        said.append("The kerf is still to be measured: kerfwright calibrate kerf.")
    elif not _as_burned(recipe, best, piece):
        said.append(
            f"kerf_mm = {recipe.kerf_mm:g} was measured at other settings, so the recipe counts as "
            "untested until it is measured anew: kerfwright calibrate kerf."
        )
    return said


def _as_burned(recipe: Recipe, cell: PowerCell, piece: PowerPiece) -> bool:
    """Whether a recipe has a cell's settings already."""
    return (recipe.speed_mm_s, recipe.power, recipe.passes) == (
        cell.speed_mm_s,
        cell.power,
        piece.passes,
    )


def _best_result(piece: PowerPiece, seen: Seen) -> Result:
    if not seen.best:
        raise UntoldError(
            "no cell is said to look right.",
            "Write the number of the cell that looks right into best; if none does, burn a piece "
            "of other powers and speeds.",
        )
    cells = {cell.number: cell for cell in piece.cells}
    most = max(seen.best.values())
    chosen = max(
        (cells[number] for number, count in seen.best.items() if count == most),
        key=lambda cell: (cell.speed_mm_s, -cell.power),
    )
    looks = sum(seen.best.values())
    energies = [severance_j_mm2(piece, cells[n]) * piece.thickness_mm for n in seen.best]
    lines = (
        Line("proposed: cell", str(chosen.number), f"named {most} of {looks} times"),
        Line("speed", f"{chosen.speed_mm_s:g} mm/s"),
        Line("power", power_words(chosen.power)),
        Line(
            "energy",
            f"{severance_j_mm2(piece, chosen) * piece.thickness_mm:.3g} J/mm",
            f"all that were named: {min(energies):.3g} to {max(energies):.3g} J/mm",
        ),
    )
    remarks = []
    if max(energies) > 2.0 * min(energies):
        remarks.append(
            "Cells that were said to look right differ by more than twice the energy: look again."
        )
    return Result(lines, _keys(piece, chosen), Process(piece.process), tuple(remarks), seen.tested)


def _keys(piece: PowerPiece, cell: PowerCell) -> dict[str, Any]:
    keys: dict[str, Any] = {
        "speed_mm_s": cell.speed_mm_s,
        "power": cell.power,
        "passes": piece.passes,
    }
    if piece.interval_mm is not None:
        keys["interval_mm"] = piece.interval_mm
    return keys
