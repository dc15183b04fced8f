"""Recognises parts: outline, holes by even-odd depth, and the marks that lie in each."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kerfwright.drawing.model import Drawing, Shape
from kerfwright.findings import Finding, Severity, number_of
from kerfwright.geometry.paths import Path
from kerfwright.geometry.tolerances import JOIN_MM
from kerfwright.parts.belongings import (
    Belongings,
    give_guides,
    give_marks,
    guide_findings,
    guide_lines,
)
from kerfwright.parts.containment import Containment, contain
from kerfwright.parts.dividing import divided
from kerfwright.parts.gathered import counted, gathered, names_of
from kerfwright.parts.laying import ground
from kerfwright.parts.marks import Marks, marks_of
from kerfwright.parts.model import Part, PhotoMark, ProcessedShape
from kerfwright.parts.outlines import Outline, cut_lines
from kerfwright.parts.photos import give_photos
from kerfwright.parts.pieces import Piece, pieces_of
from kerfwright.parts.slits import give_open_cuts, open_outline_findings
from kerfwright.toolpath import Process

LEAST_BLANK_MM = 1.0
"""A blank whose only mark is a straight line still needs a place with an area."""

Recognised = tuple[tuple[Part, ...], tuple[Finding, ...]]


def recognise_parts(
    shapes: Sequence[ProcessedShape], drawing: Drawing, *, name: str, blank: bool = False
) -> Recognised:
    """Recognise the parts of a drawing.

    A closed cut line at even depth among the cut lines is the outline of a part, one at odd depth
    a hole in the part around it; so a part inside another's hole is a part. Marks belong to the
    part whose material they lie in. A ``blank`` is one part that is not cut: the page, or where
    marks reach beyond it their extent.

    Parts are called ``name``, or ``name 1`` and so on as one reads. Whatever cannot be burned as
    drawn is among the findings; with a stop among them the parts are only good for a picture.
    """
    by_process: dict[Process, list[Shape]] = {process: [] for process in Process}
    for processed in shapes:
        by_process[processed.process].append(processed.shape)
    if by_process[Process.PHOTO]:
        raise ValueError("shapes are lines and areas; a photo is an image")
    marks = marks_of(by_process[Process.SCORE], by_process[Process.ENGRAVE], drawing.name)
    if blank:
        return _blank(by_process, marks, drawing, name)
    return _cut_parts(by_process, marks, drawing, name)


def _cut_parts(
    by_process: dict[Process, list[Shape]], marks: Marks, drawing: Drawing, name: str
) -> Recognised:
    cuts = cut_lines(by_process[Process.CUT], drawing.name)
    lying = contain([outline.polygon for outline in cuts.outlines])
    pieces, piece_findings = pieces_of(cuts.outlines, lying, drawing.name)
    findings = [*cuts.findings, *_lying_findings(cuts.outlines, lying, drawing.name)]
    findings += piece_findings
    if not pieces:
        findings += gathered(open_outline_findings(cuts.open_cuts, drawing.name))
        if not cuts.open_cuts:
            findings.append(_no_outline(drawing))
        return (), (*findings, *marks.findings)
    pieces, open_cuts, division = divided(pieces, cuts.open_cuts, drawing.name)
    findings += division
    pieces = _as_read(pieces)
    land = ground([piece.polygon for piece in pieces])
    belongings = [Belongings() for _ in pieces]
    findings += give_open_cuts(open_cuts, land, belongings, drawing.name)
    findings += marks.findings
    findings += give_marks(marks, land, belongings, drawing.name)
    edges = [piece.outline for piece in pieces]
    findings += give_guides(by_process[Process.GUIDE], edges, belongings, drawing.name)
    findings += give_photos(drawing.pictures, land, belongings, drawing.name)
    parts = [
        Part(
            name=name if len(pieces) == 1 else f"{name} {number}",
            drawing=drawing.name,
            outline=piece.outline,
            holes=piece.holes,
            slits=tuple(has.slits),
            scores=tuple(has.scores),
            engraves=tuple(has.engraves),
            guides=tuple(has.guides),
            photos=tuple(has.photos),
        )
        for number, (piece, has) in enumerate(zip(pieces, belongings, strict=True), 1)
    ]
    return tuple(parts), tuple(findings)


def _as_read(pieces: Sequence[Piece]) -> list[Piece]:
    """Pieces in rows from the top, each row from the left.

    A piece belongs to the row whose first piece reaches down to its middle.
    """
    boxes = [piece.outline.bounds_mm for piece in pieces]
    middles = [(box[1] + box[3]) / 2 for box in boxes]
    from_top = sorted(range(len(pieces)), key=lambda n: (-middles[n], boxes[n][0]))
    rows: list[list[int]] = []
    row_bottom = np.inf
    for n in from_top:
        if middles[n] < row_bottom:
            rows.append([])
            row_bottom = boxes[n][1]
        rows[-1].append(n)
    return [pieces[n] for row in rows for n in sorted(row, key=lambda n: (boxes[n][0], n))]


def _lying_findings(outlines: Sequence[Outline], lying: Containment, drawing: str) -> list[Finding]:
    crossings = [
        Finding(
            Severity.STOP,
            "parts/outlines-cross",
            f'the cut outlines "{outlines[crossing.first].shape}" and '
            f'"{outlines[crossing.second].shape}" cross in '
            f"{number_of(len(crossing.points), 'place')}, so that part and "
            "waste cannot be told apart.",
            "Unite them, subtract one from the other, or move them apart in the drawing program.",
            drawing=drawing,
            shape=names_of((outlines[crossing.first].shape, outlines[crossing.second].shape)),
            x_mm=float(crossing.points[0, 0]) if len(crossing.points) else None,
            y_mm=float(crossing.points[0, 1]) if len(crossing.points) else None,
            count=max(len(crossing.points), 1),
        )
        for crossing in lying.crossings
    ]
    findings = gathered(crossings)
    if lying.twice:
        names = [outlines[repeat].shape for repeat, _ in lying.twice]
        x_mm, y_mm = outlines[lying.twice[0][0]].path.points[0]
        findings.append(
            Finding(
                Severity.WARN,
                "parts/outline-twice",
                f"{len(names)} closed cut {'line lies' if len(names) == 1 else 'lines lie'} on top "
                "of another and would cut the same edge again: left out.",
                "If two parts lie on top of each other, set the quantity in the order instead.",
                drawing=drawing,
                shape=names_of(names),
                x_mm=float(x_mm),
                y_mm=float(y_mm),
                count=len(names),
            )
        )
    return findings + counted(
        Severity.NOTE,
        "parts/frame-filled",
        [outlines[frame].shape for frame in lying.frames],
        ("cut outline is", "cut outlines are"),
        " filled by the ones inside without a rest: those are the parts.",
        "",
        drawing=drawing,
    )


def _no_outline(drawing: Drawing) -> Finding:
    return Finding(
        Severity.STOP,
        "parts/no-outline",
        "the drawing has no closed line to cut, so there is no part in it.",
        'Draw an outline without fill, or give one the process "cut" by a rule. If the item is '
        "made elsewhere and only gets marked, set blank = true.",
        drawing=drawing.name,
    )


def _blank(
    by_process: dict[Process, list[Shape]], marks: Marks, drawing: Drawing, name: str
) -> Recognised:
    findings = list(marks.findings)
    if cut := by_process[Process.CUT]:
        findings.append(
            Finding(
                Severity.STOP,
                "parts/blank-with-cuts",
                f"the item is a blank, which is only marked, but {len(cut)} "
                f"{'shape is' if len(cut) == 1 else 'shapes are'} to be cut.",
                'Make them "guide" or "score" by a rule, or take blank = true out of the order.',
                drawing=drawing.name,
                shape=names_of(shape.name for shape in cut),
                count=len(cut),
            )
        )
    guides = guide_lines(by_process[Process.GUIDE])
    findings += guide_findings([shape for shape, _ in guides], len(guides), drawing.name)
    outline = _blank_outline(marks, drawing)
    if outline is None:
        findings.append(
            Finding(
                Severity.STOP,
                "parts/no-marks",
                "the item is a blank, but there is nothing to engrave or score in the drawing.",
                'Give its shapes the process "engrave" or "score" by a rule.',
                drawing=drawing.name,
            )
        )
        return (), tuple(findings)
    part = Part(
        name=name,
        drawing=drawing.name,
        outline=outline,
        scores=marks.scores,
        engraves=marks.engraves,
        guides=tuple(path for _, path in guides),
        photos=tuple(PhotoMark(picture) for picture in drawing.pictures),
        blank=True,
    )
    return (part,), tuple(findings)


def _blank_outline(marks: Marks, drawing: Drawing) -> Path | None:
    """The page if all marks lie on it, else the box round the marks."""
    boxes = [path.bounds_mm for mark in marks.scores for path in mark.paths]
    boxes += [mark.area.bounds for mark in marks.engraves]
    boxes += [picture.bounds_mm for picture in drawing.pictures]
    if not boxes:
        return None
    x0, y0 = np.min(boxes, axis=0)[:2]
    x1, y1 = np.max(boxes, axis=0)[2:]
    on_page = min(x0, y0) >= -JOIN_MM
    if on_page and x1 <= drawing.width_mm + JOIN_MM and y1 <= drawing.height_mm + JOIN_MM:
        x0, y0, x1, y1 = 0.0, 0.0, drawing.width_mm, drawing.height_mm
    wider = max(LEAST_BLANK_MM - (x1 - x0), 0.0) / 2
    higher = max(LEAST_BLANK_MM - (y1 - y0), 0.0) / 2
    x0, y0, x1, y1 = x0 - wider, y0 - higher, x1 + wider, y1 + higher
    return Path(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float), closed=True)
