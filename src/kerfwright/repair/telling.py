"""How a repair is told: one finding for each kind of thing done on a layer, with its place."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kerfwright.findings import Finding, Severity, number_of
from kerfwright.repair.tally import Doubtful, Dropped, Gap, Ledger, count_of, length_of

SINGLY = 10
"""Gaps of a layer that are told one by one; the rest is told together."""


def findings_of(drawing: str, layer: str, book: Ledger) -> list[Finding]:
    """Tell what was done on a layer, and what could not be done."""
    on = f'On layer "{layer}"' if layer else "Outside any layer"
    return [
        *_left_out(drawing, on, book),
        *_kept_once(drawing, on, book),
        *_joined(drawing, on, book),
        *_gaps(
            drawing,
            book.gaps_closed,
            Severity.WARN,
            "repair/gap-closed",
            f"{on} a gap of {{width}} was closed by a straight piece.",
            f"{on} {{count}} more gaps of up to {{width}} were closed by straight pieces, "
            "{sum} in all.",
            "Check the place. If it should stay open, set a smaller gap_mm in the order's "
            "settings.",
        ),
        *_gaps(
            drawing,
            book.gaps_left,
            Severity.NOTE,
            "repair/gap-left",
            f"{on} two ends lie {{width}} apart and were left so.",
            f"{on} {{count}} more pairs of ends lie up to {{width}} apart and were left so.",
            "If they should meet, draw them to meet, or set a larger gap_mm in the order's "
            "settings.",
        ),
        *_doubtful(drawing, on, book),
    ]


def stacked(drawing: str, dropped: Sequence[Dropped], copies: int) -> list[Finding]:
    """Tell of whole parts that lay on one another, ``copies`` of them left out."""
    if not copies:
        return []
    what, were = ("copy of a part was", "it") if copies == 1 else ("copies of parts were", "they")
    return [
        Finding(
            Severity.WARN,
            "repair/stacked",
            f"{copies} {what} left out: with all that is in the outline, {were} lay exactly on "
            f"another ({_lines(dropped)}, {_sum(dropped)}).",
            "If you need more than one piece, order more of them. To burn lines twice, ask for "
            "two passes in the recipe.",
            drawing=drawing,
            x_mm=dropped[0].x_mm,
            y_mm=dropped[0].y_mm,
            count=copies,
        )
    ]


def _left_out(drawing: str, on: str, book: Ledger) -> list[Finding]:
    found: list[Finding] = []
    if book.empty:
        found.append(
            Finding(
                Severity.NOTE,
                "repair/empty-shape",
                f"{on} {number_of(len(book.empty), 'shape')} without any line left out.",
                "Nothing to do, unless something is missing.",
                drawing=drawing,
                shape=book.empty[0],
                count=len(book.empty),
            )
        )
    if book.specks:
        found.append(
            Finding(
                Severity.NOTE,
                "repair/no-length",
                f"{on} {_lines_were(book.specks)} without length left out.",
                "Nothing to do, unless something is missing.",
                **_first(drawing, book.specks),
            )
        )
    if book.spikes:
        spikes = number_of(count_of(book.spikes), "spike")
        found.append(
            Finding(
                Severity.NOTE,
                "repair/spike",
                f"{on} {spikes} left out, where a line ran out a little way and back, "
                f"{_sum(book.spikes)}.",
                "Nothing to do, unless a short slit was meant: draw that as a line of its own.",
                **_first(drawing, book.spikes),
            )
        )
    return found


def _kept_once(drawing: str, on: str, book: Ledger) -> list[Finding]:
    found: list[Finding] = []
    if book.folds:
        stretches = number_of(count_of(book.folds), "stretch").replace("stretchs", "stretches")
        found.append(
            Finding(
                Severity.NOTE,
                "repair/folded",
                f"{on} {stretches} that a line ran along out and back kept once, "
                f"{_sum(book.folds)} less.",
                "Nothing to do. An outline without any width is a single line now.",
                **_first(drawing, book.folds),
            )
        )
    if book.repeats:
        found.append(
            Finding(
                Severity.NOTE,
                "repair/repeat-dropped",
                f"{on} {_lines_were(book.repeats)} left out that lay exactly on another, "
                f"{_sum(book.repeats)}.",
                "Nothing to do. To burn a line twice, ask for two passes in the recipe.",
                **_first(drawing, book.repeats),
            )
        )
    if book.overlaps:
        stretches = number_of(count_of(book.overlaps), "stretch").replace("stretchs", "stretches")
        found.append(
            Finding(
                Severity.NOTE,
                "repair/overlap-merged",
                f"{on} {stretches} that lay on two lines kept once, {_sum(book.overlaps)} less.",
                "Nothing to do. To burn a line twice, ask for two passes in the recipe.",
                **_first(drawing, book.overlaps),
            )
        )
    return found


def _joined(drawing: str, on: str, book: Ledger) -> list[Finding]:
    found: list[Finding] = []
    if book.pieces_joined or book.closed:
        told = []
        if book.pieces_joined:
            made = number_of(book.lines_made, "line")
            told.append(f"{book.pieces_joined} pieces were joined into {made}")
        if book.closed:
            lines = "1 line was" if book.closed == 1 else f"{book.closed} lines were"
            told.append(f"{lines} closed because the ends met")
        if abs(book.snapped_mm) >= 0.0005:
            more = "longer" if book.snapped_mm > 0.0 else "shorter"
            told.append(f"moving the ends to meet made it {abs(book.snapped_mm):.3f} mm {more}")
        x_mm, y_mm = book.joined_at or (None, None)
        found.append(
            Finding(
                Severity.NOTE,
                "repair/joined",
                f"{on} {'; '.join(told)}.",
                drawing=drawing,
                x_mm=x_mm,
                y_mm=y_mm,
                count=max(book.pieces_joined, book.closed),
            )
        )
    if book.junctions:
        x_mm, y_mm = book.junctions[0]
        count = len(book.junctions)
        found.append(
            Finding(
                Severity.NOTE,
                "repair/junction",
                f"{on} more than two ends of lines meet at {number_of(count, 'place')}; they were "
                "joined so that outlines close, else the straightest way.",
                "Look at the outlines there. Put lines that belong to no outline on a layer of "
                "their own.",
                drawing=drawing,
                x_mm=x_mm,
                y_mm=y_mm,
                count=count,
            )
        )
    if book.arcs:
        lines = number_of(count_of(book.arcs), "line")
        longer = -length_of(book.arcs)
        change = f" ({abs(longer):.3f} mm {'longer' if longer > 0.0 else 'shorter'})"
        found.append(
            Finding(
                Severity.NOTE,
                "repair/arcs-fitted",
                f"{on} runs of tiny straight pieces in {lines} became arcs"
                f"{change if abs(longer) >= 0.0005 else ''}.",
                "Nothing to do.",
                **_first(drawing, book.arcs),
            )
        )
    return found


def _doubtful(drawing: str, on: str, book: Ledger) -> list[Finding]:
    found: list[Finding] = []
    if book.slivers:
        outlines = number_of(len(book.slivers), "outline")
        thinnest = min(outline.width_mm for outline in book.slivers)
        found.append(
            Finding(
                Severity.WARN,
                "repair/sliver",
                f"{on} {outlines} hardly wider than a cut, the thinnest about {thinnest:.3f} mm; "
                "left as drawn.",
                "Delete it, or draw a single line if a slit was meant.",
                **_place(drawing, book.slivers),
            )
        )
    if book.crossings:
        outlines = number_of(len(book.crossings), "outline")
        cross = "crosses itself" if len(book.crossings) == 1 else "cross themselves"
        found.append(
            Finding(
                Severity.WARN,
                "repair/self-crossing",
                f"{on} {outlines} {cross}; left as drawn.",
                "Look at the place: what is inside and what outside is not clear there. Draw the "
                "outline so that it only goes round.",
                **_place(drawing, book.crossings),
            )
        )
    return found


def _gaps(
    drawing: str,
    gaps: Sequence[Gap],
    severity: Severity,
    code: str,
    one: str,
    more: str,
    remedy: str,
) -> list[Finding]:
    single = gaps if len(gaps) <= SINGLY else gaps[: SINGLY - 1]
    told = [(one.replace("{width}", _width(gap.width_mm)), gap, 1) for gap in single]
    rest = gaps[len(single) :]
    if rest:
        widest_mm = max(gap.width_mm for gap in rest)
        what = more.replace("{width}", _width(widest_mm)).replace("{count}", str(len(rest)))
        what = what.replace("{sum}", _width(sum(gap.width_mm for gap in rest)))
        told.append((what, rest[0], len(rest)))
    return [
        Finding(
            severity,
            code,
            what,
            remedy,
            drawing=drawing,
            x_mm=gap.x_mm,
            y_mm=gap.y_mm,
            count=count,
        )
        for what, gap, count in told
    ]


def _width(width_mm: float) -> str:
    return f"{width_mm:.2f} mm" if width_mm >= 0.01 else f"{width_mm:.4f} mm"


def _sum(dropped: Sequence[Dropped]) -> str:
    length_mm = length_of(dropped)
    return f"{length_mm:.1f} mm in all" if length_mm >= 0.1 else f"{length_mm:.4f} mm in all"


def _lines(dropped: Sequence[Dropped]) -> str:
    return number_of(count_of(dropped), "line")


def _lines_were(dropped: Sequence[Dropped]) -> str:
    return f"{_lines(dropped)} {'was' if count_of(dropped) == 1 else 'were'}"


def _first(drawing: str, dropped: Sequence[Dropped]) -> dict[str, Any]:
    first = dropped[0]
    count = count_of(dropped)
    return {"drawing": drawing, "x_mm": first.x_mm, "y_mm": first.y_mm, "count": count}


def _place(drawing: str, outlines: Sequence[Doubtful]) -> dict[str, Any]:
    first = outlines[0]
    place = {"x_mm": first.x_mm, "y_mm": first.y_mm, "count": len(outlines)}
    return {"drawing": drawing, "shape": first.shape, **place}
