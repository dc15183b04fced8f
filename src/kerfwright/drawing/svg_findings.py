"""Gathers what reading an SVG has to tell, and says it once for each kind of thing."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from kerfwright.findings import Finding, Severity
from kerfwright.geometry.affine import Affine

SINGLY = 20
"""Findings that are told one by one up to this many of a kind."""

NAMED = 3
"""Names given in a finding that stands for several things."""


@dataclass(frozen=True, slots=True)
class _Kind:
    severity: Severity
    one: str
    several: str
    rest: str
    remedy: str
    singly: bool = False


_KINDS = {
    "text": _Kind(
        Severity.STOP,
        "text is",
        "texts are",
        "not outlines and cannot be read as lines",
        "In the drawing program turn text into outlines (paths) and save again.",
        singly=True,
    ),
    "image": _Kind(
        Severity.WARN,
        "picture is",
        "pictures are",
        "left out: pictures made of dots are not read from an SVG",
        "Trace the picture into outlines, or take it out if it was only a template.",
    ),
    "clip-path": _Kind(
        Severity.WARN,
        "clip is",
        "clips are",
        "not applied: everything inside the clipped element is read, also what the clip hides",
        "Cut the shapes themselves along the clip (intersect them) and remove the clip.",
    ),
    "mask": _Kind(
        Severity.WARN,
        "mask is",
        "masks are",
        "not applied: what the mask hides is read as well",
        "Cut the shapes themselves along the mask and remove the mask.",
    ),
    "filter": _Kind(
        Severity.WARN,
        "filter is",
        "filters are",
        "not applied: a beam cannot burn blurs and shadows, the plain shapes are read",
        "Remove the filter, or draw what is to be burned.",
    ),
    "marker": _Kind(
        Severity.WARN,
        "line has an end mark, its mark is",
        "lines have end marks, the marks are",
        "not read (arrow heads and the like)",
        "Turn the line's marks into outlines, or remove them.",
    ),
    "dashes": _Kind(
        Severity.WARN,
        "dashed line is",
        "dashed lines are",
        "read as unbroken",
        "If the dashes are to be burned one by one, turn the line into separate dashes.",
    ),
    "bad-outline": _Kind(
        Severity.WARN,
        "shape is",
        "shapes are",
        "damaged; what stands before the damage is read, the rest is not",
        "Look at the shape in the drawing program, draw it again and save.",
    ),
    "missing-reference": _Kind(
        Severity.WARN,
        "reference leads",
        "references lead",
        "to nothing in the file",
        "Put back what the file refers to, or delete the reference.",
    ),
    "external-reference": _Kind(
        Severity.WARN,
        "reference leads",
        "references lead",
        "to another file, which is not opened",
        "Put the referred drawing into this file.",
    ),
    "copy-of-itself": _Kind(
        Severity.WARN,
        "copy contains",
        "copies contain",
        "itself, and is left out",
        "Unlink the copy in the drawing program.",
    ),
    "style-not-understood": _Kind(
        Severity.WARN,
        "style rule is",
        "style rules are",
        "not understood and not applied",
        "Check fill and stroke of the shapes, or save as plain SVG with attributes.",
    ),
    "unknown-colour": _Kind(
        Severity.WARN,
        "colour is",
        "colours are",
        "not understood; the shape takes the colour of what it stands in",
        "Give the shape a plain fill and stroke colour.",
    ),
    "unknown-element": _Kind(
        Severity.WARN,
        "element is",
        "elements are",
        "not of a kind that is read",
        "Turn it into outlines, or delete it if it does not belong to the work.",
    ),
    "animation": _Kind(
        Severity.NOTE,
        "animation or script is",
        "animations or scripts are",
        "ignored: the drawing is read as it stands at the start",
        "Remove it if the drawing looks different in a browser.",
    ),
    "outside-viewport": _Kind(
        Severity.WARN,
        "shape reaches",
        "shapes reach",
        "beyond the frame of its nested drawing or symbol, where a browser hides it; it is read",
        "Cut the shape along the frame, or delete what is not wanted.",
    ),
    "outside-page": _Kind(
        Severity.NOTE,
        "shape reaches",
        "shapes reach",
        "beyond the page; it is read like any other",
        "Delete what was only laid aside.",
    ),
    "no-length": _Kind(
        Severity.NOTE,
        "line or shape has",
        "lines or shapes have",
        "no length or no area and is left out",
        "Nothing to do, unless something is missing.",
    ),
    "unpainted": _Kind(
        Severity.NOTE,
        "shape has",
        "shapes have",
        "neither fill nor stroke and is left out",
        "Give it a fill or a stroke if it belongs to the work.",
    ),
    "hidden": _Kind(
        Severity.NOTE,
        "hidden element is",
        "hidden elements are",
        "left out",
        "Show the layer or object in the drawing program if it belongs to the work.",
    ),
    "assumed-scale": _Kind(
        Severity.NOTE,
        "page size says",
        "page sizes say",
        "no unit of length, so 96 px are taken as an inch",
        "Measure one part in the summary. Set the page size in mm in the drawing program.",
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

    def __bool__(self) -> bool:
        return bool(self._cases)

    def moved(self, by: Affine) -> None:
        """Move the places of all cases."""
        for slug, cases in self._cases.items():
            self._cases[slug] = [
                case
                if case.at_mm is None
                else _Case(case.shape, case.detail, _moved(case.at_mm, by), case.count)
                for case in cases
            ]

    def findings(self, drawing: str) -> tuple[Finding, ...]:
        """Return the findings, stops first."""
        found = [
            finding
            for slug, cases in self._cases.items()
            for finding in _findings(slug, cases, drawing)
        ]
        return tuple(sorted(found, key=lambda finding: list(Severity).index(finding.severity)))

    def summary(self) -> str:
        """Say in a few words what there was, for a drawing that has nothing else."""
        return ", ".join(
            f"{_total(cases)} × {slug.replace('-', ' ')}" for slug, cases in self._cases.items()
        )


def _findings(slug: str, cases: list[_Case], drawing: str) -> list[Finding]:
    kind = _KINDS[slug]
    groups = [cases]
    if kind.singly:
        groups = [[case] for case in cases[:SINGLY]] + ([cases[SINGLY:]] if cases[SINGLY:] else [])
    return [_finding(slug, kind, group, drawing) for group in groups]


def _finding(slug: str, kind: _Kind, cases: list[_Case], drawing: str) -> Finding:
    count = _total(cases)
    places = list(dict.fromkeys(": ".join(filter(None, (c.shape, c.detail))) for c in cases))
    places = [place for place in places if place]
    named = "; ".join(places[:NAMED])
    more = f" and {len(places) - NAMED} more" if len(places) > NAMED else ""
    return Finding(
        kind.severity,
        f"drawing/{slug}",
        f"{count} {kind.one if count == 1 else kind.several} {kind.rest}"
        + (f" ({named}{more})." if named else "."),
        kind.remedy,
        drawing=drawing,
        shape=cases[0].shape,
        x_mm=cases[0].at_mm[0] if cases[0].at_mm else None,
        y_mm=cases[0].at_mm[1] if cases[0].at_mm else None,
        count=count,
    )


def _total(cases: list[_Case]) -> int:
    return sum(case.count for case in cases)


def _moved(at_mm: tuple[float, float], by: Affine) -> tuple[float, float]:
    x, y = at_mm
    return by.a * x + by.c * y + by.e, by.b * x + by.d * y + by.f
