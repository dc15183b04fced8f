"""Open cut lines: slits inside a part, or the outline of a part that does not close."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.spatial import KDTree

from kerfwright.findings import Finding, Severity
from kerfwright.parts.belongings import Belongings, kept_shares
from kerfwright.parts.gathered import counted, gathered
from kerfwright.parts.laying import Ground, Laid, line_of, paths_in
from kerfwright.parts.outlines import OpenCut

NEARLY_CLOSED_FRACTION = 0.1
NEARLY_CLOSED_MM = 2.0
"""A slit whose ends are this close, by how far it reaches or in mm, may be meant as a hole."""

GAP_WORTH_NAMING_MM = 5.0
"""A wider gap than this is no slip that a larger tolerance should close."""


def give_open_cuts(
    open_cuts: Sequence[OpenCut], land: Ground, belongings: Sequence[Belongings], drawing: str
) -> list[Finding]:
    """Give open cut lines to the pieces they slit; one that lies in no piece stops the work."""
    stray: list[OpenCut] = []
    slits: list[str] = []
    nearly: list[Finding] = []
    over: list[Finding] = []
    doubled: list[str] = []
    lines = [line_of(cut.path) for cut in open_cuts]
    for cut, line, laid in zip(open_cuts, lines, land.lay(lines), strict=True):
        kept = kept_shares(laid)
        if not kept:
            stray.append(cut)
            continue
        if laid.whole and land.edge_covers(kept[0][0], line):
            doubled.append(cut.shape)
            continue
        if laid.whole:
            belongings[kept[0][0]].slits.append(cut.path)
            nearly += _nearly_closed(cut, drawing)
        else:
            for piece, share in kept:
                belongings[piece].slits.extend(paths_in(share))
            over.append(_slit_over_edge(cut, laid, drawing))
        slits.append(cut.shape)
    findings = gathered(open_outline_findings(stray, drawing)) + gathered(over) + gathered(nearly)
    return findings + _counted_slits(slits, doubled, drawing)


def open_outline_findings(stray: Sequence[OpenCut], drawing: str) -> list[Finding]:
    """Stop for each cut line that neither encloses a part nor lies in one."""
    others = _nearest_other_ends(stray)
    return [_open_outline(cut, drawing, other) for cut, other in zip(stray, others, strict=True)]


def _nearest_other_ends(stray: Sequence[OpenCut]) -> list[tuple[float, str] | None]:
    """For each line the distance from its ends to the nearest end of another, and that line."""
    if len(stray) < 2:
        return [None] * len(stray)
    ends = np.concatenate([cut.path.points[[0, -1]] for cut in stray])
    # of three nearest ends at most two are the line's own
    found = KDTree(ends).query(ends, k=3)
    distances, indices = np.asarray(found[0]), np.asarray(found[1])
    others = np.where(indices // 2 != np.arange(len(ends))[:, None] // 2, distances, np.inf)
    nearest: list[tuple[float, str] | None] = []
    for number in range(len(stray)):
        rows = others[2 * number : 2 * number + 2]
        row, column = np.unravel_index(np.argmin(rows), rows.shape)
        other = int(indices[2 * number + row, column]) // 2
        nearest.append((float(rows[row, column]), stray[other].shape))
    return nearest


def _open_outline(cut: OpenCut, drawing: str, other: tuple[float, str] | None) -> Finding:
    (x0, y0), (x1, y1) = cut.path.points[0], cut.path.points[-1]
    gap_mm = float(np.hypot(x1 - x0, y1 - y0))
    what = (
        f'the cut line "{cut.shape}" is open and lies in no part: it runs from x {x0:.2f}, '
        f"y {y0:.2f} to x {x1:.2f}, y {y1:.2f} mm, and its ends are {gap_mm:.2f} mm apart"
    )
    if other is not None and other[0] < gap_mm:
        gap_mm = other[0]
        what += f'; an end of "{other[1]}" is {gap_mm:.2f} mm away'
    wider = (
        f", or set gap_mm under [settings] a little above {gap_mm:.2f} if the gap is a slip"
        if gap_mm <= GAP_WORTH_NAMING_MM
        else ""
    )
    return Finding(
        Severity.STOP,
        "parts/open-outline",
        what + ".",
        f"Close the outline in the drawing{wider}. If nothing is to be cut here, give the line "
        'the process "score" or "guide" by a rule.',
        drawing=drawing,
        shape=cut.shape,
        x_mm=float(x0),
        y_mm=float(y0),
    )


def _across_mm(cut: OpenCut) -> float:
    x0, y0, x1, y1 = cut.path.bounds_mm
    return float(np.hypot(x1 - x0, y1 - y0))


def _nearly_closed(cut: OpenCut, drawing: str) -> list[Finding]:
    ends = cut.path.points[[0, -1]]
    gap_mm = float(np.hypot(*(ends[1] - ends[0])))
    length_mm = cut.path.length_mm
    # a short straight slit has its ends close together too, but not by turning back
    turns_back = gap_mm < length_mm / 3
    # a long winding line has its ends close together for its length only
    within_mm = max(NEARLY_CLOSED_MM, NEARLY_CLOSED_FRACTION * _across_mm(cut))
    if gap_mm >= within_mm or not turns_back:
        return []
    return [
        Finding(
            Severity.WARN,
            "parts/slit-nearly-closed",
            f'the open cut line "{cut.shape}" is a slit, but its ends are only {gap_mm:.2f} mm '
            "apart: it may be meant as a hole.",
            "Close it in the drawing if a piece should fall out.",
            drawing=drawing,
            shape=cut.shape,
            x_mm=float(ends[0, 0]),
            y_mm=float(ends[0, 1]),
        )
    ]


def _slit_over_edge(cut: OpenCut, laid: Laid, drawing: str) -> Finding:
    parts = len(laid.shares)
    lies = f"{laid.outside:.2f} mm of it lie in no part and are left off" if laid.outside else ""
    shared = f"it is shared out among {parts} parts" if parts > 1 else ""
    at = laid.at_mm or tuple(float(v) for v in cut.path.points[0])
    return Finding(
        Severity.WARN,
        "parts/slit-over-edge",
        f'the cut line "{cut.shape}" crosses the edge of a part: '
        f"{'; '.join(text for text in (shared, lies) if text)}.",
        "End the line at the edge, or join it with the outline in the drawing.",
        drawing=drawing,
        shape=cut.shape,
        x_mm=at[0],
        y_mm=at[1],
    )


def _counted_slits(slits: list[str], doubled: list[str], drawing: str) -> list[Finding]:
    return counted(
        Severity.NOTE,
        "parts/slit",
        slits,
        ("open cut line", "open cut lines"),
        " inside parts: cut as slits.",
        "Close a line in the drawing if a piece should fall out.",
        drawing=drawing,
    ) + counted(
        Severity.WARN,
        "parts/slit-on-edge",
        doubled,
        ("open cut line runs", "open cut lines run"),
        " along the edge of a part, which is cut anyway: left out.",
        "Delete the doubled line in the drawing.",
        drawing=drawing,
    )
