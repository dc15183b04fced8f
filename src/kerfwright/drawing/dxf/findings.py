"""What reading a DXF has to tell."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from kerfwright.drawing import tally
from kerfwright.drawing.lettering.findings import TEXT_KINDS
from kerfwright.drawing.tally import Case, Kind, first_of
from kerfwright.findings import Severity

NAMED = 6
"""Details given in a finding that stands for several things."""

KINDS = TEXT_KINDS | {
    "text": Kind(
        Severity.STOP,
        "text is not outlines and cannot be read as lines",
        "texts are not outlines and cannot be read as lines",
        "In the drawing program turn text into outlines (explode it into lines) and save again. "
        "Notes that are not to be burned belong on a layer that is switched off.",
        singly=True,
    ),
    "dxf-left-out": Kind(
        Severity.WARN,
        "entity is of a kind that is not read, and is left out",
        "entities are of kinds that are not read, and are left out",
        "Explode them into lines and arcs in the drawing program if they belong to the work.",
    ),
    "dxf-dimensions": Kind(
        Severity.NOTE,
        "dimension, leader or tolerance frame is left out: it tells about the work",
        "dimensions, leaders or tolerance frames are left out: they tell about the work",
        "Nothing to do, unless one should be burned: explode it into lines.",
    ),
    "dxf-cover": Kind(
        Severity.WARN,
        "cover (wipeout) is left out; what it hides on screen is read",
        "covers (wipeouts) are left out; what they hide on screen is read",
        "Delete or trim the lines under it in the drawing program, then the cover.",
    ),
    "dxf-endless-line": Kind(
        Severity.NOTE,
        "construction line without end is left out",
        "construction lines without end are left out",
        "Nothing to do, unless one should be burned: draw the stretch as a line.",
    ),
    "dxf-points": Kind(
        Severity.NOTE,
        "point is left out: it has no length",
        "points are left out: they have no length",
        "Nothing to do, unless a point should be burned: draw a small circle instead.",
    ),
    "no-length": Kind(
        Severity.NOTE,
        "line or curve has no length and is left out",
        "lines or curves have no length and are left out",
        "Nothing to do, unless something is missing.",
    ),
    "hidden": Kind(
        Severity.NOTE,
        "entity is hidden or on a layer that is off or frozen, and is left out",
        "entities are hidden or on layers that are off or frozen, and are left out",
        "Switch the layer on in the drawing program if it belongs to the work.",
    ),
    "dxf-not-plotted": Kind(
        Severity.WARN,
        "entity is on a layer that is set not to plot, and is left out",
        "entities are on layers that are set not to plot, and are left out",
        "Set the layer to plot if it belongs to the work.",
    ),
    "dxf-paper-space": Kind(
        Severity.NOTE,
        "entity of a printing layout (paper space) is left out; only the model is read",
        "entities of printing layouts (paper space) are left out; only the model is read",
        "Move to the model what belongs to the work.",
    ),
    "dxf-out-of-plane": Kind(
        Severity.NOTE,
        "entity does not lie flat and is read as seen from above",
        "entities do not lie flat and are read as seen from above",
        "Check its size. Draw flat parts flat, at one height.",
    ),
    "dxf-damaged-entity": Kind(
        Severity.WARN,
        "entity is damaged and is left out",
        "entities are damaged and are left out",
        "Look at that place in the drawing program, draw it again and save.",
    ),
    "dxf-missing-block": Kind(
        Severity.WARN,
        "block is not in the file, or contains itself, and is left out",
        "blocks are not in the file, or contain themselves, and are left out",
        "Bind drawings that are referred to into this one, or explode the blocks, and save.",
    ),
    "dxf-clipped-block": Kind(
        Severity.WARN,
        "block is clipped; the whole of it is read, also what the clip hides",
        "blocks are clipped; the whole of them is read, also what the clips hide",
        "Explode the block and trim its lines in the drawing program.",
    ),
    "dxf-wide-line": Kind(
        Severity.NOTE,
        "polyline has a width and is read as its centre line",
        "polylines have a width and are read as their centre lines",
        "Draw the outline of a wide line if its area is to be engraved.",
    ),
    "dxf-pattern": Kind(
        Severity.NOTE,
        "hatch with a pattern or colour blend is read as a full area",
        "hatches with a pattern or colour blend are read as full areas",
        "Explode the hatch if the single lines of the pattern are to be burned.",
    ),
    "dxf-hatch-gap": Kind(
        Severity.WARN,
        "hatch has a boundary with gaps, which straight lines close",
        "hatches have boundaries with gaps, which straight lines close",
        "Look at the hatch's outline, close it in the drawing program and hatch again.",
    ),
    "dashes": Kind(
        Severity.WARN,
        "dashed line is read as unbroken",
        "dashed lines are read as unbroken",
        "If the dashes are to be burned one by one, draw them as separate lines.",
    ),
    "dxf-mended-file": Kind(
        Severity.WARN,
        "fault of the file was worked around while reading",
        "faults of the file were worked around while reading",
        "Check that nothing is missing. Open the file in the drawing program and save it again.",
    ),
    "dxf-units-overruled": Kind(
        Severity.NOTE,
        "drawing states another unit than the one given",
        "drawings state another unit than the one given",
        "Measure one part in the summary. Give no unit if the file is right.",
    ),
}


class DxfTally(tally.Tally):
    """Cases by slug, told with how often each detail was met."""

    def __init__(self) -> None:
        super().__init__(KINDS)

    def _named(self, cases: Sequence[Case]) -> str:
        details: Counter[str] = Counter()
        for case in cases:
            if case.detail:
                details[case.detail] += case.count
        told = [
            detail if times == 1 else f"{detail} {times} times"
            for detail, times in details.most_common()
        ]
        return first_of(told, NAMED, ", ")


def printable(words: str) -> str:
    """One short line of plain text out of whatever a damaged file put into a message."""
    if words.isascii() and words.isprintable() and len(words) <= 120:
        return words.rstrip(".")
    plain = "".join(c if c.isprintable() else " " for c in words)
    plain = " ".join(plain.encode("utf-8", "replace").decode("utf-8").split()).rstrip(".")
    return plain if len(plain) <= 120 else f"{plain[:119]}…"
