"""Passes over an area in rows that cross: each pass turned against the one before."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely import MultiPolygon

from kerfwright.engraving.burn import burn_of
from kerfwright.engraving.choose import EngravedArea, engrave
from kerfwright.engraving.scan import scan
from kerfwright.motion.timing import time_toolpath, travel_speed_mm_s
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.shop.order import EngraveWay
from kerfwright.toolpath import MoveArray, MoveKind, Toolpath, join, moves_along


def engrave_passes(
    area: MultiPolygon,
    recipe: Recipe,
    machine: Machine,
    *,
    way: EngraveWay = "fastest",
    source: int,
) -> EngravedArea:
    """Engrave ``area`` with all passes of a recipe, each turned by its ``pass_angle_deg``.

    Rows that cross even out what one direction leaves: the grooves between rows, and what the
    machine does differently along x and y. Only rows can be turned, so crossed passes are rows,
    the first pass at its fastest angle, unless the order or the recipe's finish asks for another
    way. Without an angle this is :func:`kerfwright.engraving.choose.engrave`.

    Raises:
        KerfwrightError: as :func:`kerfwright.engraving.choose.engrave`.
    """
    turn_deg = recipe.pass_angle_deg % 180.0
    rows = way == "scan" or (way == "fastest" and recipe.finish != "loops")
    if recipe.passes == 1 or turn_deg == 0.0 or not rows or area.is_empty:
        return engrave(area, recipe, machine, way=way, source=source)
    once = recipe.model_copy(update={"passes": 1, "pass_angle_deg": 0.0})
    first = engrave(area, once, machine, way="scan", source=source)
    burn = burn_of(recipe, machine, source)
    by_angle = {first.angle_deg % 180.0: first.toolpath}
    uncovered = [first.uncovered_mm2]
    pieces: list[MoveArray] = [first.toolpath.moves]
    for number in range(1, recipe.passes):
        angle_deg = round((first.angle_deg + number * turn_deg) % 180.0, 6)
        if angle_deg not in by_angle:
            crossing = scan(area, burn, machine, angle_deg=angle_deg)
            by_angle[angle_deg] = crossing.toolpath
            uncovered.append(crossing.uncovered_mm2)
        following = by_angle[angle_deg]
        if len(following):
            pieces += [_travel_to(following.start_mm, machine), following.moves]
    toolpath = Toolpath(join(pieces), first.toolpath.start_mm)
    seconds = time_toolpath(toolpath, machine).total_s
    return replace(
        first,
        toolpath=toolpath,
        times_s={"scan": seconds},
        uncovered_mm2=max(uncovered),
        ramped_s=None if first.ramped_s is None else recipe.passes * first.ramped_s,
    )


def _travel_to(place_mm: tuple[float, float], machine: Machine) -> MoveArray:
    return moves_along(
        np.array([place_mm]),
        kind=MoveKind.TRAVEL,
        speed_mm_s=travel_speed_mm_s(machine),
        power=0.0,
        source=-1,
    )
