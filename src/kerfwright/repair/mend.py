"""Mends a drawing: repeats dropped, ends joined, small gaps closed, everything told."""

from __future__ import annotations

import math
import operator
from collections import Counter, defaultdict
from dataclasses import replace

import numpy as np

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.findings import Finding
from kerfwright.geometry.arc_fit import LEAST_STEPS, with_arcs_fitted
from kerfwright.geometry.arc_kernel import has_arcs
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import CHORD_MM, SAME_MM
from kerfwright.repair.chain import Partners, linked, meeting_ends
from kerfwright.repair.ends import Ends, ends_of
from kerfwright.repair.gaps import gaps_left, gaps_to_close
from kerfwright.repair.junctions import outlines_first
from kerfwright.repair.lines import Lines, lines_of
from kerfwright.repair.lines_kernel import IntArray
from kerfwright.repair.outlines import doubtful_outlines
from kerfwright.repair.overlaps import merged_overlaps
from kerfwright.repair.repeats import (
    redrawn_outlines,
    repeats,
    units_by_owner,
    without_doubled_points,
)
from kerfwright.repair.retrace import without_retraces
from kerfwright.repair.stacks import note_copies
from kerfwright.repair.stretches import OVERLAP_MM
from kerfwright.repair.tally import Dropped, Ledger, RepairTally, total
from kerfwright.repair.telling import findings_of, stacked

MOST_ROUNDS = 64
"""Rounds after which lines are taken as they are; ordinary drawings take two or three."""


def mend(drawing: Drawing, *, join_mm: float, gap_mm: float) -> Drawing:
    """Join what belongs together and drop what is there twice, within every layer and paint.

    Ends at most ``join_mm`` apart are joined, gaps of at most ``gap_mm`` closed by a straight
    piece. Filled shapes are areas already: of them only exact repeats and lines without length
    are dropped. What was done, and what could not be, is added to the drawing's findings.
    """
    return mend_and_tally(drawing, join_mm=join_mm, gap_mm=gap_mm)[0]


def mend_and_tally(
    drawing: Drawing, *, join_mm: float, gap_mm: float
) -> tuple[Drawing, RepairTally]:
    """Mend as :func:`mend` does, and return the figures of what was done.

    Raises:
        ValueError: a tolerance is negative or not a number.
    """
    if not (0.0 <= join_mm < math.inf and 0.0 <= gap_mm < math.inf):
        raise ValueError(f"tolerances must be 0 or more, not {join_mm} and {gap_mm}")
    books: dict[str, Ledger] = defaultdict(Ledger)
    groups: list[tuple[Lines, Ledger, bool]] = []
    paths: dict[int, list[Path]] = defaultdict(list)
    for layer, paint, numbers in _by_layer_and_paint(drawing):
        book = books[layer]
        lines, drawn = _lines(drawing, numbers, book)
        if paint.fill is None:
            lines = _mended_lines(lines, join_mm, gap_mm, book, dashed=paint.dashed)
            lines = _with_arcs(lines, book)
            thin, crossing = doubtful_outlines(lines, drawing.shapes, 2.0 * join_mm)
            book.slivers += thin
            book.crossings += crossing
        else:
            lines = _mended_areas(lines, paint, book)
        groups.append((lines, book, paint.fill is None))
        for line, (owner, source) in enumerate(
            zip(lines.owner.tolist(), lines.source.tolist(), strict=True)
        ):
            paths[owner].append(drawn[source] if source >= 0 else lines.path(line))
    shapes = tuple(
        _with_paths(shape, paths[i]) for i, shape in enumerate(drawing.shapes) if i in paths
    )
    stacks = note_copies(groups)
    found: list[Finding] = stacked(drawing.name, stacks.dropped, stacks.copies)
    for layer, book in books.items():
        found += findings_of(drawing.name, layer, book)
    new = [finding for finding in found if finding not in drawing.findings]
    mended = replace(drawing, shapes=shapes, findings=(*drawing.findings, *new))
    return mended, total(books.values(), stacks.dropped, stacks.copies)


def _by_layer_and_paint(drawing: Drawing) -> list[tuple[str, Paint, list[int]]]:
    """Numbers of the shapes that are mended together.

    Paints come in an order of their own: which shape is first may change when one vanishes.
    """
    groups: dict[tuple[str, Paint], list[int]] = defaultdict(list)
    for i, shape in enumerate(drawing.shapes):
        groups[shape.layer, shape.paint].append(i)
    ordered = sorted(groups.items(), key=lambda group: str(group[0][1]))
    return [(layer, paint, numbers) for (layer, paint), numbers in ordered]


def _with_paths(shape: Shape, paths: list[Path]) -> Shape:
    same = len(paths) == len(shape.paths) and all(
        new is old for new, old in zip(paths, shape.paths, strict=True)
    )
    if same:
        return shape
    return Shape(shape.name, tuple(paths), shape.layer, shape.paint, shape.line)


def _lines(drawing: Drawing, numbers: list[int], book: Ledger) -> tuple[Lines, list[Path]]:
    paths: list[Path] = []
    owners: list[int] = []
    for i in numbers:
        shape = drawing.shapes[i]
        before = len(paths)
        paths += [path for path in shape.paths if len(path.points)]
        owners += [i] * (len(paths) - before)
        if len(paths) == before:
            book.empty.append(shape.name)
    lines = lines_of(paths, owners)
    tidy = without_doubled_points(lines, paths)
    same = all(map(operator.is_, tidy, paths))
    return (lines if same else lines_of(tidy, owners)), tidy


def _mended_areas(lines: Lines, paint: Paint, book: Ledger) -> Lines:
    lines = _without_specks(lines, book)
    if not len(lines):
        return lines
    units = units_by_owner(lines)
    of = repeats(lines, units, same_way=paint.fill_rule == "nonzero")
    sizes = np.diff(units)
    dropped = np.repeat(of >= 0, sizes)
    kept = np.repeat(np.where(of >= 0, units[of], 0), sizes)
    return _without(lines, np.where(dropped, kept, -1))


def _mended_lines(
    lines: Lines, join_mm: float, gap_mm: float, book: Ledger, *, dashed: bool
) -> Lines:
    """Repair lines until nothing changes any more: what was joined may be a repeat or have a gap.

    Open lines that lie on one another are merged first: ends that are moved to meet would turn them
    a little, so that they would no more. Overlaps with outlines are merged only when no more ends
    meet, so that what repeats an outline in pieces is a repeat, and gaps are closed when there are
    none. A round takes away lines, open ends, or length that is there twice, so a few rounds do.
    The gaps between dashes are meant, and stay.
    """
    lines = _without_repeats(_without_retraces(_without_specks(lines, book), gap_mm, book))
    lines = _with_overlaps_merged(lines, join_mm, book, of_open_only=True)
    for number in range(MOST_ROUNDS):
        before = lines
        lines = _without_repeats(_without_retraces(_without_specks(lines, book), gap_mm, book))
        lines = _with_ends_joined(lines, join_mm, book, first_round=number == 0)
        if lines is before:
            lines = _with_overlaps_merged(lines, join_mm, book)
        if lines is before and not dashed:
            lines = _with_gaps_closed(lines, join_mm, gap_mm, book)
        if lines is before:
            break
    if not (dashed or lines.closed.all()):
        book.gaps_left += gaps_left(lines, ends_of(lines, join_mm))
    return lines


def _without_specks(lines: Lines, book: Ledger) -> Lines:
    speck = lines.lengths_mm <= SAME_MM
    book.specks += [
        Dropped(length_mm, x_mm, y_mm)
        for length_mm, (x_mm, y_mm) in zip(
            lines.lengths_mm[speck].tolist(), lines.first_points[speck].tolist(), strict=True
        )
    ]
    return lines.where(~speck)


def _without_retraces(lines: Lines, spike_mm: float, book: Ledger) -> Lines:
    done = without_retraces(lines, spike_mm)
    book.spikes += done.spikes
    book.folds += done.folds
    return done.lines


def _without_repeats(lines: Lines) -> Lines:
    lines = _without(lines, repeats(lines, np.arange(len(lines) + 1)))
    return _without(lines, redrawn_outlines(lines))


def _without(lines: Lines, of: IntArray) -> Lines:
    """Leave out the lines that repeat the line ``of`` them, where it is not -1."""
    dropped = np.flatnonzero(of >= 0)
    if not len(dropped):
        return lines
    return lines.with_copies(of[dropped], dropped).where(of < 0)


def _with_arcs(lines: Lines, book: Ledger) -> Lines:
    """Put back arcs that were drawn as runs of tiny straight pieces."""
    new: dict[int, list[Path]] = {}
    some = has_arcs(lines.points, lines.starts, lines.closed, CHORD_MM, LEAST_STEPS)
    for line in np.flatnonzero(some).tolist():
        path = lines.path(line)
        fitted = with_arcs_fitted(path, CHORD_MM)
        if fitted is not path:
            new[line] = [fitted]
            x_mm, y_mm = fitted.line[fitted.spans[0].first].tolist()
            book.arcs.append(Dropped(path.length_mm - fitted.length_mm, x_mm, y_mm))
    return lines.exchanged(new)


def _with_ends_joined(lines: Lines, join_mm: float, book: Ledger, *, first_round: bool) -> Lines:
    if lines.closed.all():
        return lines
    ends = ends_of(lines, join_mm)
    meeting = meeting_ends(ends, join_mm)
    partners = outlines_first(ends, meeting, join_mm)
    if first_round:
        book.junctions += [(x, y) for x, y in meeting.junctions(ends, partners).tolist()]
    done = linked(lines, ends.numbers, partners, meet=True)
    book.closed += done.closed
    book.pieces_joined += done.pieces
    book.lines_made += done.made
    book.joined_at = book.joined_at or done.first_at
    book.snapped_mm += done.added_mm
    return done.lines


def _with_overlaps_merged(
    lines: Lines, join_mm: float, book: Ledger, *, of_open_only: bool = False
) -> Lines:
    if lines.closed.all():
        return lines
    dropped, new = _overlaps(lines, join_mm, of_open_only=of_open_only)
    book.overlaps += dropped
    book.repeats += [
        lines.dropped_copies(line) for line in new if not new[line] and lines.copies[line]
    ]
    return lines.exchanged(new)


def _overlaps(
    lines: Lines, join_mm: float, *, of_open_only: bool = False
) -> tuple[list[Dropped], dict[int, tuple[Path, ...]]]:
    """Stretches that lie on others, and what remains of the lines that have any.

    A line with none but stretches that its cut ends would be joined across again is left alone.
    Of equal lines the first keeps a stretch: they are gone through by where they lie, so that
    the order in the file decides nothing. Of open lines only, no stub is left that is no longer
    than ends are moved to meet.
    """
    order = lines.by_place()
    if of_open_only:
        order = order[~lines.closed[order]]
    merged = merged_overlaps([lines.path(line) for line in order.tolist()])
    short_mm = join_mm + 2.0 * OVERLAP_MM
    cut = {
        overlap.path
        for overlap in merged.dropped
        if overlap.length_mm > short_mm or not merged.parts[overlap.path]
    }
    dropped = [
        Dropped(overlap.length_mm, overlap.x_mm, overlap.y_mm)
        for overlap in merged.dropped
        if overlap.path in cut
    ]
    remains = {int(order[number]): merged.parts[number] for number in cut}
    if not of_open_only:
        return dropped, remains
    stubs = [part for parts in remains.values() for part in parts if part.length_mm <= join_mm]
    for stub in stubs:
        x_mm, y_mm = stub.points[0].tolist()
        dropped.append(Dropped(stub.length_mm, x_mm, y_mm, count=0))
    long = {
        line: tuple(part for part in parts if part.length_mm > join_mm)
        for line, parts in remains.items()
    }
    return dropped, long


def _with_gaps_closed(lines: Lines, join_mm: float, gap_mm: float, book: Ledger) -> Lines:
    """Close gaps, but for those across which something is drawn already."""
    if lines.closed.all():
        return lines
    ends = ends_of(lines, min(gap_mm, SAME_MM))
    barred: set[tuple[int, int]] = set()
    while True:
        partners, gaps = gaps_to_close(ends, gap_mm, barred)
        if not gaps:
            return lines
        bridged = linked(lines, ends.numbers, partners, meet=False).lines
        drawn = _drawn_already(bridged, ends, partners, join_mm)
        if not drawn:
            book.gaps_closed += gaps
            return bridged
        barred |= drawn


def _drawn_already(
    bridged: Lines, ends: Ends, partners: Partners, join_mm: float
) -> set[tuple[int, int]]:
    """Pairs of ends whose bridge lies on a line and would be left out again as an overlap."""
    _, new = _overlaps(bridged, join_mm)
    if not new:
        return set()
    lost = Counter(step for line in new for step in _steps(bridged.path(line)))
    lost -= Counter(step for parts in new.values() for part in parts for step in _steps(part))
    first = np.flatnonzero(partners > np.arange(len(partners)))
    bridges = np.column_stack([ends.points[first], ends.points[partners[first]]])
    pairs = zip(first.tolist(), partners[first].tolist(), _either_way(bridges), strict=True)
    return {(i, j) for i, j, step in pairs if step in lost}


def _steps(path: Path) -> list[tuple[float, ...]]:
    """The straight pieces of a path, whichever way they are followed."""
    line = path.line
    return _either_way(np.column_stack([line[:-1], line[1:]]))


def _either_way(steps: FloatArray) -> list[tuple[float, ...]]:
    return [max((a, b, c, d), (c, d, a, b)) for a, b, c, d in steps.tolist()]
