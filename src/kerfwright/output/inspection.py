"""What is in a drawing, for people and as JSON."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence

from pydantic import BaseModel
from rich.console import Console
from rich.table import Table
from rich.text import Text

from kerfwright.drawing.model import Drawing
from kerfwright.findings import Finding, number_of
from kerfwright.output.finding_numbers import numbered
from kerfwright.output.plan_json import FindingRecord, finding_record
from kerfwright.output.summary import print_findings
from kerfwright.output.text import area, length, printable
from kerfwright.parts.checks import checked_alone
from kerfwright.parts.congruence import AlikeParts, alike_findings, alike_parts
from kerfwright.parts.model import Part, ProcessedShape
from kerfwright.parts.sizes import pieces_to_place, scale_findings
from kerfwright.shop.files import Shop
from kerfwright.shop.order import Item
from kerfwright.toolpath import Process


class ProcessRecord(BaseModel):
    """Shapes of one process on one layer."""

    process: str
    layer: str
    shapes: int
    length_mm: float
    decided_by: str


class DrawnPartRecord(BaseModel):
    """One part as drawn."""

    name: str
    width_mm: float
    height_mm: float
    area_mm2: float
    holes: int
    slits: int
    scores: int
    engraves: int
    photos: int
    alike: int | None
    """Number of the group of parts that are alike, from 1; ``None`` if there is no other."""
    mirrored: bool
    """Whether the part is the mirror image of the first of its group."""


class Inspection(BaseModel):
    """Everything found in a drawing; findings in the order of their numbers, from 1."""

    drawing: str
    width_mm: float
    height_mm: float
    shapes: int
    processes: tuple[ProcessRecord, ...]
    parts: tuple[DrawnPartRecord, ...]
    findings: tuple[FindingRecord, ...]


def inspection(
    drawing: Drawing,
    shapes: Sequence[ProcessedShape],
    parts: Sequence[Part],
    findings: Sequence[Finding],
    alike: Sequence[AlikeParts] = (),
) -> Inspection:
    """Gather what is in a drawing, with the groups of parts that are alike."""
    groups = {
        member: (number, mirrored)
        for number, group in enumerate(alike, 1)
        for member, mirrored in zip(group.members, group.mirrored, strict=True)
    }
    return Inspection(
        drawing=drawing.name,
        width_mm=round(drawing.width_mm, 3),
        height_mm=round(drawing.height_mm, 3),
        shapes=len(drawing.shapes),
        processes=_processes(shapes),
        parts=tuple(
            _part(part, *groups.get(place, (None, False))) for place, part in enumerate(parts)
        ),
        findings=tuple(finding_record(finding) for _, finding in numbered(findings)),
    )


def inspected(
    parts: Sequence[Part], shop: Shop | None = None, item: Item | None = None
) -> tuple[tuple[AlikeParts, ...], list[Finding]]:
    """Groups of parts that are alike, and what the checks before burning find.

    Without an order there is nothing to check kerf, spot, sheets and thickness against.
    """
    alike = alike_parts(parts)
    if not parts:
        return alike, []
    drawing = parts[0].drawing
    told = alike_findings(parts, alike, drawing)
    if shop is None or item is None:
        return alike, told + scale_findings(pieces_to_place(parts, (0.0,)), (), drawing)
    return alike, told + checked_alone(parts, alike, shop, item)


def print_inspection(
    found: Inspection, findings: Sequence[Finding], console: Console | None = None
) -> None:
    """Print what is in a drawing, and the findings that :func:`inspection` was made with."""
    console = console or Console()
    console.print(Text(printable(found.drawing), style="bold"))
    console.print(
        f"{found.width_mm:.2f} × {found.height_mm:.2f} mm, "
        f"{number_of(found.shapes, 'shape')}, {number_of(len(found.parts), 'part')}\n",
        markup=False,
        highlight=False,
    )
    if found.processes:
        console.print(_process_table(found.processes))
    if found.parts:
        console.print(_part_table(found.parts))
    console.print()
    print_findings(findings, console, numbers=True)


def _processes(shapes: Sequence[ProcessedShape]) -> tuple[ProcessRecord, ...]:
    counts: Counter[tuple[Process, str, str]] = Counter()
    lengths_mm: defaultdict[tuple[Process, str, str], float] = defaultdict(float)
    for one in shapes:
        key = (one.process, one.shape.layer, one.rule)
        counts[key] += 1
        lengths_mm[key] += one.shape.length_mm
    return tuple(
        ProcessRecord(
            process=process.value,
            layer=layer,
            shapes=count,
            length_mm=round(lengths_mm[process, layer, rule], 3),
            decided_by=rule,
        )
        for (process, layer, rule), count in sorted(counts.items())
    )


def _part(part: Part, alike: int | None, mirrored: bool) -> DrawnPartRecord:
    x0, y0, x1, y1 = part.outline.bounds_mm
    return DrawnPartRecord(
        name=part.name,
        width_mm=round(x1 - x0, 3),
        height_mm=round(y1 - y0, 3),
        area_mm2=round(part.polygon.area, 3),
        holes=len(part.holes),
        slits=len(part.slits),
        scores=len(part.scores),
        engraves=len(part.engraves),
        photos=len(part.photos),
        alike=alike,
        mirrored=mirrored,
    )


def _process_table(records: Sequence[ProcessRecord]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 2, 0, 0))
    for name in ("process", "layer"):
        table.add_column(name)
    for name in ("shapes", "line length"):
        table.add_column(name, justify="right")
    table.add_column("decided by")
    for one in records:
        table.add_row(
            one.process,
            Text(printable(one.layer) or "–"),
            str(one.shapes),
            length(one.length_mm),
            Text(printable(one.decided_by)),
        )
    return table


def _part_table(records: Sequence[DrawnPartRecord]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 2, 0, 0))
    table.add_column("\npart")
    for name in ("size in mm", "area", "holes", "slits", "scores", "engraved"):
        table.add_column(f"\n{name}", justify="right")
    alike = any(one.alike is not None for one in records)
    if alike:
        table.add_column("\nalike")
    for one in records:
        table.add_row(
            Text(printable(one.name)),
            f"{one.width_mm:.2f} × {one.height_mm:.2f}",
            area(one.area_mm2),
            *(str(number) for number in (one.holes, one.slits, one.scores, one.engraves)),
            *([_alike(one)] if alike else []),
        )
    return table


def _alike(record: DrawnPartRecord) -> str:
    """Group of a part as a letter, or as a number once the letters are used up."""
    if record.alike is None:
        return ""
    group = chr(ord("A") + record.alike - 1) if record.alike <= 26 else str(record.alike)
    return f"{group}, mirrored" if record.mirrored else group
