"""The photos of placed parts: burned, their directions decided, their findings gathered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from kerfwright.decisions import Alternative, Decision
from kerfwright.engraving.photo import BurnedPhoto, PhotoBurner
from kerfwright.engraving.photo_cells import PhotoPlace, photo_places
from kerfwright.findings import Finding
from kerfwright.parts.model import Part
from kerfwright.shop.order import Order, PhotoRows
from kerfwright.shop.overruling import photo_overrules


@dataclass(frozen=True, eq=False, slots=True)
class PhotoOfPart:
    """One photo of one placed part, burned; ``item`` names what was ordered.

    ``item_number`` counts the order's items from 0.
    """

    item: str
    name: str
    place: PhotoPlace
    work: BurnedPhoto
    rows: PhotoRows
    item_number: int = 0


def burned_photos(
    part: Part,
    item: str,
    burner: PhotoBurner,
    *,
    rows: PhotoRows,
    sources: Sequence[int],
    same: tuple[object, ...],
    item_number: int = 0,
) -> list[PhotoOfPart]:
    """Burn every photo of a part in sheet coordinates; ``sources`` has a number for each."""
    burned = []
    for number, (place, source) in enumerate(zip(photo_places(part), sources, strict=True)):
        work = burner.burn(place, rows=rows, source=source, same=(*same, number))
        burned.append(PhotoOfPart(item, place.picture.name, place, work, rows, item_number))
    return burned


def photo_decisions(
    photos: Sequence[PhotoOfPart], order: Order | None = None
) -> tuple[Decision, ...]:
    """One decision for each item's photo, the seconds of all its copies together.

    With the ``order`` they say where in its file they are made by hand.
    """
    groups: dict[tuple[str, str], list[PhotoOfPart]] = {}
    for one in photos:
        if one.work.times_s:
            groups.setdefault((one.item, one.name), []).append(one)
    return tuple(_decision(item, name, group, order) for (item, name), group in groups.items())


def _decision(item: str, name: str, group: Sequence[PhotoOfPart], order: Order | None) -> Decision:
    sums = {
        f"{way} rows": sum(one.work.times_s[way] for one in group) for way in group[0].work.times_s
    }
    taken = sum(one.work.times_s[one.work.rows] for one in group)
    chosen_ways = list(dict.fromkeys(f"{one.work.rows} rows" for one in group))
    chosen = chosen_ways[0] if len(chosen_ways) == 1 else "the faster for each part"
    alternatives = [Alternative(way, time_s=seconds) for way, seconds in sums.items()]
    if len(chosen_ways) > 1:
        alternatives.append(Alternative(chosen, time_s=taken))
    other = next((way for way in sums if way != chosen), "level rows").removesuffix(" rows")
    overruled = group[0].rows != "fastest"
    what = f"rows of {name} on {item}"
    return Decision(
        what=what if len(group) == 1 else f"{what} ({len(group)} parts)",
        chosen=chosen,
        alternatives=tuple(alternatives),
        why="the order asks for it" if overruled else "least time on this machine",
        override=f'photo_rows = "{other}" in the [[items]] of {item}',
        code="engraving/photo-rows",
        overrules=photo_overrules(order, [one.item_number for one in group], chosen)
        if order
        else (),
    )


def photo_findings(photos: Sequence[PhotoOfPart]) -> tuple[Finding, ...]:
    """What burning photos found, once for each item's photo."""
    told: dict[tuple[str, str, str], Finding] = {}
    for one in photos:
        for finding in one.work.findings:
            key = (one.item, one.name, finding.code)
            count = told[key].count + finding.count if key in told else finding.count
            told[key] = replace(finding, drawing=one.item, shape=one.name, count=count)
    return tuple(told.values())
