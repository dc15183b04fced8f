"""Gathers what reading a DXF has to tell, and says it once for each kind of thing."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass

from kerfwright.findings import Finding, Severity

SINGLY = 20
"""Findings that are told one by one up to this many of a kind."""

NAMED = 6
"""Details given in a finding that stands for several things."""


@dataclass(frozen=True, slots=True)
class _Kind:
    severity: Severity
    one: str
    several: str
    remedy: str
    singly: bool = False


KINDS = {
    "text": _Kind(
        Severity.STOP,
        "text is not outlines and cannot be read as lines",
        "texts are not outlines and cannot be read as lines",
        "In the drawing program turn text into outlines (explode it into lines) and save again. "
        "Notes that are not to be burned belong on a layer that is switched off.",
        singly=True,
    ),
    "dxf-left-out": _Kind(
        Severity.WARN,
        "entity is of a kind that is not read, and is left out",
        "entities are of kinds that are not read, and are left out",
        "Explode them into lines and arcs in the drawing program if they belong to the work.",
    ),
    "dxf-points": _Kind(
        Severity.NOTE,
        "point is left out: it has no length",
        "points are left out: they have no length",
        "Nothing to do, unless a point should be burned: draw a small circle instead.",
    ),
    "no-length": _Kind(
        Severity.NOTE,
        "line or curve has no length and is left out",
        "lines or curves have no length and are left out",
        "Nothing to do, unless something is missing.",
    ),
    "hidden": _Kind(
        Severity.NOTE,
        "entity is hidden or on a layer that is off or frozen, and is left out",
        "entities are hidden or on layers that are off or frozen, and are left out",
        "Switch the layer on in the drawing program if it belongs to the work.",
    ),
    "dxf-not-plotted": _Kind(
        Severity.WARN,
        "entity is on a layer that is set not to plot, and is left out",
        "entities are on layers that are set not to plot, and are left out",
        "Set the layer to plot if it belongs to the work.",
    ),
    "dxf-paper-space": _Kind(
        Severity.NOTE,
        "entity of a printing layout (paper space) is left out; only the model is read",
        "entities of printing layouts (paper space) are left out; only the model is read",
        "Move to the model what belongs to the work.",
    ),
    "dxf-out-of-plane": _Kind(
        Severity.NOTE,
        "entity does not lie flat and is read as seen from above",
        "entities do not lie flat and are read as seen from above",
        "Check its size. Draw flat parts flat, at one height.",
    ),
    "dxf-damaged-entity": _Kind(
        Severity.WARN,
        "entity is damaged and is left out",
        "entities are damaged and are left out",
        "Look at that place in the drawing program, draw it again and save.",
    ),
    "dxf-missing-block": _Kind(
        Severity.WARN,
        "block is not in the file, or contains itself, and is left out",
        "blocks are not in the file, or contain themselves, and are left out",
        "Bind drawings that are referred to into this one, or explode the blocks, and save.",
    ),
    "dxf-clipped-block": _Kind(
        Severity.WARN,
        "block is clipped; the whole of it is read, also what the clip hides",
        "blocks are clipped; the whole of them is read, also what the clips hide",
        "Explode the block and trim its lines in the drawing program.",
    ),
    "dxf-wide-line": _Kind(
        Severity.NOTE,
        "polyline has a width and is read as its centre line",
        "polylines have a width and are read as their centre lines",
        "Draw the outline of a wide line if its area is to be engraved.",
    ),
    "dxf-pattern": _Kind(
        Severity.NOTE,
        "hatch with a pattern or colour blend is read as a full area",
        "hatches with a pattern or colour blend are read as full areas",
        "Explode the hatch if the single lines of the pattern are to be burned.",
    ),
    "dashes": _Kind(
        Severity.WARN,
        "dashed line is read as unbroken",
        "dashed lines are read as unbroken",
        "If the dashes are to be burned one by one, draw them as separate lines.",
    ),
    "dxf-mended-file": _Kind(
        Severity.WARN,
        "fault of the file was worked around while reading",
        "faults of the file were worked around while reading",
        "Check that nothing is missing. Open the file in the drawing program and save it again.",
    ),
    "dxf-units-overruled": _Kind(
        Severity.NOTE,
        "drawing states another unit than the one given",
        "drawings state another unit than the one given",
        "Measure one part in the summary. Give no unit if the file is right.",
    ),
}


@dataclass(frozen=True, slots=True)
class _Case:
    shape: str
    detail: str
    at_mm: tuple[float, float] | None
    count: int


class Tally:
    """Cases by slug, in the order they were met."""

    def __init__(self) -> None:
        self._cases: dict[str, list[_Case]] = defaultdict(list)

    def add(
        self,
        slug: str,
        *,
        shape: str = "",
        detail: str = "",
        at_mm: tuple[float, float] | None = None,
        count: int = 1,
    ) -> None:
        """Count one case (or ``count`` at once) of ``drawing/slug``."""
        self._cases[slug].append(_Case(shape, detail, at_mm, count))

    def count(self, slug: str) -> int:
        """How many cases of ``drawing/slug`` were met."""
        return sum(case.count for case in self._cases.get(slug, ()))

    def summary(self) -> str:
        """Everything met, in one phrase."""
        return "; ".join(_sentence(slug, cases) for slug, cases in self._cases.items())

    def findings(self, drawing: str) -> tuple[Finding, ...]:
        """Everything met as findings about ``drawing``, stops first."""
        found: list[Finding] = []
        for slug, cases in self._cases.items():
            singly = cases[:SINGLY] if KINDS[slug].singly else []
            found += [_finding(slug, [case], drawing) for case in singly]
            if len(cases) > len(singly):
                found.append(_finding(slug, cases[len(singly) :], drawing))
        return tuple(sorted(found, key=lambda finding: list(Severity).index(finding.severity)))


def _finding(slug: str, cases: list[_Case], drawing: str) -> Finding:
    first = cases[0]
    return Finding(
        KINDS[slug].severity,
        f"drawing/{slug}",
        _sentence(slug, cases) + ".",
        KINDS[slug].remedy,
        drawing=drawing,
        shape=first.shape,
        x_mm=None if first.at_mm is None else first.at_mm[0],
        y_mm=None if first.at_mm is None else first.at_mm[1],
        count=sum(case.count for case in cases),
    )


def _sentence(slug: str, cases: list[_Case]) -> str:
    kind = KINDS[slug]
    count = sum(case.count for case in cases)
    details: Counter[str] = Counter()
    for case in cases:
        if case.detail:
            details[case.detail] += case.count
    named = ", ".join(
        detail if times == 1 else f"{detail} {times} times"
        for detail, times in details.most_common(NAMED)
    )
    more = f" and {len(details) - NAMED} more" if len(details) > NAMED else ""
    brackets = f" ({named}{more})" if named else ""
    return f"{count} {kind.one if count == 1 else kind.several}{brackets}"


def printable(words: str) -> str:
    """One short line of plain text out of whatever a damaged file put into a message."""
    plain = "".join(c if c.isprintable() else " " for c in words)
    plain = " ".join(plain.encode("utf-8", "replace").decode("utf-8").split()).rstrip(".")
    return plain if len(plain) <= 120 else f"{plain[:119]}…"
