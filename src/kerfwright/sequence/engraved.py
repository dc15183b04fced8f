"""What was engraved on a sheet, in decisions and findings: each item once, whatever its copies."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import shapely
from shapely import MultiPolygon

from kerfwright.decisions import Alternative, Decision
from kerfwright.engraving.choose import RAMPS_FROM, WORTH_RAMPS, EngravedArea, cells_in_words
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.regions import as_area
from kerfwright.shop.order import EngraveWay, Order
from kerfwright.shop.overruling import engrave_overrules

WORTH_RAMPS_S = 60.0
"""Rows that burn while they speed up are spoken of where they save an item this much."""


@dataclass(frozen=True, eq=False, slots=True)
class EngravedPart:
    """One layer of one placed part, engraved; ``item_number`` counts the order's items from 0."""

    item: str
    layer: str
    area: MultiPolygon
    shared_mm2: float
    work: EngravedArea
    way: EngraveWay
    relief: MultiPolygon = field(default_factory=MultiPolygon)
    item_number: int = 0


def engraving_decisions(
    engraved: Sequence[EngravedPart], order: Order | None = None
) -> tuple[Decision, ...]:
    """One decision for each item and layer, the seconds of all its copies together.

    With the ``order`` they say where in its file they are made by hand.
    """
    groups: dict[tuple[str, str, EngraveWay], list[EngravedPart]] = {}
    for one in engraved:
        if len(one.work.toolpath) and len(one.work.times_s) > 1:
            groups.setdefault((one.item, one.layer, one.way), []).append(one)
    return tuple(
        _engraving_decision(item, layer, group, order) for (item, layer, _), group in groups.items()
    )


def _overlap_findings(engraved: Sequence[EngravedPart]) -> tuple[Finding, ...]:
    """Say where layers ask for the same area twice: it is burned once."""
    shared: dict[tuple[str, str], float] = {}
    for one in engraved:
        if one.shared_mm2 > 0.01:
            shared[one.item, one.layer] = max(
                one.shared_mm2, shared.get((one.item, one.layer), 0.0)
            )
    return tuple(
        Finding(
            Severity.NOTE,
            "engraving/layers-overlap",
            f'{area:.2f} mm² of layer "{layer}" are engraved by a layer before it already and '
            "are burned once.",
            "Subtract one from the other in the drawing if they are meant to differ.",
            drawing=item,
        )
        for (item, layer), area in shared.items()
    )


def _ramps_findings(engraved: Sequence[EngravedPart]) -> tuple[Finding, ...]:
    """Say what rows that burn while they speed up would save, for items that gain much."""
    steady: dict[str, float] = {}
    ramped: dict[str, float] = {}
    for one in engraved:
        seconds = one.work.times_s.get(one.work.way, 0.0)
        steady[one.item] = steady.get(one.item, 0.0) + seconds
        less = min(one.work.ramped_s or seconds, seconds)
        ramped[one.item] = ramped.get(one.item, 0.0) + less
    return tuple(
        Finding(
            Severity.NOTE,
            "engraving/slower-rows",
            "Rows that burn while the machine speeds up and slows down, from "
            f"{RAMPS_FROM:.0%} of the speed on, would take {ramped[item]:.0f} s instead of "
            f"{seconds:.0f} s.",
            f"Burn fields at full speed and at {RAMPS_FROM:.0%} of speed and power side by side; "
            f"where they look alike write slowest_row = {RAMPS_FROM:g} in the recipe.",
            drawing=item,
        )
        for item, seconds in steady.items()
        if ramped[item] <= min(WORTH_RAMPS * seconds, seconds - WORTH_RAMPS_S)
    )


def engraving_findings(engraved: Sequence[EngravedPart]) -> tuple[Finding, ...]:
    """What engraving found, once for each item, and layers that ask for one area twice."""
    groups: dict[tuple[str, str], list[Finding]] = {}
    for one in engraved:
        for finding in one.work.findings:
            groups.setdefault((one.item, finding.code), []).append(finding)
    told = tuple(
        replace(
            found[0],
            drawing=item,
            what=found[0].what
            if len(found) == 1
            else f"{found[0].what} ({len(found)} areas alike)",
            count=sum(finding.count for finding in found),
        )
        for (item, _), found in groups.items()
    )
    return told + _overlap_findings(engraved) + _ramps_findings(engraved)


def engraved_area(engraved: Sequence[EngravedPart]) -> MultiPolygon:
    """The whole area that a sheet's engraving is meant to cover."""
    return as_area(shapely.union_all([one.area for one in engraved]))


def _engraving_decision(
    item: str, layer: str, group: Sequence[EngravedPart], order: Order | None
) -> Decision:
    ways = list(dict.fromkeys(way for one in group for way in one.work.times_s))
    sums = {way: sum(one.work.times_s[way] for one in group) for way in ways}
    taken = sum(one.work.times_s[one.work.way] for one in group)
    chosen_ways = list(dict.fromkeys(one.work.way for one in group))
    chosen = chosen_ways[0] if len(chosen_ways) == 1 else "the fastest for each part"
    words = cells_in_words([one.work for one in group])
    # where nothing is gained by dividing, mixed is the best single way over again
    singly = [seconds for way, seconds in sums.items() if way != "mixed"]
    undivided = chosen != "mixed" and sums.get("mixed") in singly
    alternatives = [
        Alternative(way, note="no division is faster")
        if way == "mixed" and undivided
        else Alternative(way, time_s=seconds, note=words if way == "mixed" == chosen else "")
        for way, seconds in sums.items()
    ]
    if len(chosen_ways) > 1:
        alternatives.append(Alternative(chosen, time_s=taken))
    overruled = group[0].way != "fastest"
    what = f"engraving of {item}" + (f', layer "{layer}"' if layer else "")
    numbers = [one.item_number for one in group]
    return Decision(
        what=what if len(group) == 1 else f"{what} ({len(group)} parts)",
        chosen=chosen,
        alternatives=tuple(alternatives),
        why=_why_this_way(overruled=overruled, fastest=taken <= min(sums.values()) + 1e-9),
        override=_way_key(layer, _other_way(chosen, ways)) + f" in the [[items]] of {item}",
        code="engraving/ways",
        overrules=engrave_overrules(order, numbers, layer, ways, chosen) if order else (),
    )


def _why_this_way(*, overruled: bool, fastest: bool) -> str:
    if overruled:
        return "the order asks for it"
    if fastest:
        return "least time on this machine"
    return "least time of the ways that cover the area and have the recipe's finish"


def _way_key(layer: str, way: str) -> str:
    """What to write into the order file to have one layer engraved one way, as valid TOML."""
    if not layer:
        return f'engrave = "{way}"'
    return f'engrave_layers = {{ {json.dumps(layer, ensure_ascii=False)} = "{way}" }}'


def _other_way(chosen: str, ways: Sequence[str]) -> str:
    return next((way for way in ways if way != chosen), chosen)
