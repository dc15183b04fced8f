"""What was repaired, layer by layer, and how that is told."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from kerfwright.findings import Finding, Severity
from kerfwright.repair.gaps import Gap

SINGLY = 10
"""Gaps of a layer that are told one by one; the rest is told together."""


@dataclass(frozen=True, slots=True)
class Dropped:
    """A line that was left out: its length, and a point of it."""

    length_mm: float
    x_mm: float
    y_mm: float


@dataclass(slots=True)
class Ledger:
    """Everything that was done on one layer, in the order it was done."""

    pieces_joined: int = 0
    lines_made: int = 0
    closed: int = 0
    """Lines closed because their ends met."""
    snapped_mm: float = 0.0
    """Change of length from ends that were moved to meet halfway; negative for a loss."""
    gaps_closed: list[Gap] = field(default_factory=list)
    gaps_left: list[Gap] = field(default_factory=list)
    repeats: list[Dropped] = field(default_factory=list)
    specks: list[Dropped] = field(default_factory=list)
    """Lines without length."""
    junctions: list[tuple[float, float]] = field(default_factory=list)
    empty: list[str] = field(default_factory=list)
    """Names of shapes without a single point."""


@dataclass(frozen=True, slots=True)
class RepairTally:
    """What a repair did to a drawing, all layers together.

    The drawing's length afterwards is its length before + ``gap_mm_added`` + ``snapped_mm``
    - ``repeat_mm_dropped`` - ``speck_mm_dropped``.
    """

    pieces_joined: int
    lines_made: int
    closed: int
    snapped_mm: float
    gaps_closed: int
    gap_mm_added: float
    gaps_left: int
    repeats_dropped: int
    repeat_mm_dropped: float
    specks_dropped: int
    speck_mm_dropped: float
    junctions: int


def total(ledgers: Iterable[Ledger]) -> RepairTally:
    """Add up all layers."""
    books = list(ledgers)
    return RepairTally(
        pieces_joined=sum(book.pieces_joined for book in books),
        lines_made=sum(book.lines_made for book in books),
        closed=sum(book.closed for book in books),
        snapped_mm=sum(book.snapped_mm for book in books),
        gaps_closed=sum(len(book.gaps_closed) for book in books),
        gap_mm_added=sum(gap.width_mm for book in books for gap in book.gaps_closed),
        gaps_left=sum(len(book.gaps_left) for book in books),
        repeats_dropped=sum(len(book.repeats) for book in books),
        repeat_mm_dropped=sum(line.length_mm for book in books for line in book.repeats),
        specks_dropped=sum(len(book.specks) for book in books),
        speck_mm_dropped=sum(line.length_mm for book in books for line in book.specks),
        junctions=sum(len(book.junctions) for book in books),
    )


def findings_of(drawing: str, layer: str, book: Ledger) -> list[Finding]:
    """Tell what was done on a layer, and what could not be done."""
    on = f'On layer "{layer}"' if layer else "Outside any layer"
    found: list[Finding] = []
    if book.empty:
        shapes = "1 shape" if len(book.empty) == 1 else f"{len(book.empty)} shapes"
        found.append(
            Finding(
                Severity.NOTE,
                "repair/empty-shape",
                f"{on} {shapes} without any line left out.",
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
                f"{on} {_lines(book.specks)} without length left out.",
                "Nothing to do, unless something is missing.",
                **_first(drawing, book.specks),
            )
        )
    if book.repeats:
        length_mm = sum(line.length_mm for line in book.repeats)
        found.append(
            Finding(
                Severity.NOTE,
                "repair/repeat-dropped",
                f"{on} {_lines(book.repeats)} left out that lay exactly on another, "
                f"{length_mm:.1f} mm in all.",
                "Nothing to do. To burn a line twice, ask for two passes in the recipe.",
                **_first(drawing, book.repeats),
            )
        )
    if book.pieces_joined or book.closed:
        found.append(_joined(drawing, on, book))
    if book.junctions:
        x_mm, y_mm = book.junctions[0]
        count = len(book.junctions)
        places = "1 place" if count == 1 else f"{count} places"
        found.append(
            Finding(
                Severity.NOTE,
                "repair/junction",
                f"{on} more than two ends of lines meet at {places}; they were joined the "
                "straightest way.",
                "Look at the outlines there. Put lines that belong to no outline on a layer of "
                "their own.",
                drawing=drawing,
                x_mm=x_mm,
                y_mm=y_mm,
                count=count,
            )
        )
    found += _gaps(
        drawing,
        book.gaps_closed,
        Severity.WARN,
        "repair/gap-closed",
        f"{on} a gap of {{width}} was closed by a straight piece.",
        f"{on} {{count}} more gaps of up to {{width}} were closed by straight pieces.",
        "Check the place. If it should stay open, set a smaller gap_mm in the order's settings.",
    )
    found += _gaps(
        drawing,
        book.gaps_left,
        Severity.NOTE,
        "repair/gap-left",
        f"{on} two ends lie {{width}} apart and were left so.",
        f"{on} {{count}} more pairs of ends lie up to {{width}} apart and were left so.",
        "If they should meet, draw them to meet, or set a larger gap_mm in the order's settings.",
    )
    return found


def _joined(drawing: str, on: str, book: Ledger) -> Finding:
    told = []
    if book.pieces_joined:
        made = "1 line" if book.lines_made == 1 else f"{book.lines_made} lines"
        told.append(f"{book.pieces_joined} pieces were joined into {made}")
    if book.closed:
        lines = "1 line was" if book.closed == 1 else f"{book.closed} lines were"
        told.append(f"{lines} closed because the ends met")
    return Finding(
        Severity.NOTE,
        "repair/joined",
        f"{on} {'; '.join(told)}.",
        drawing=drawing,
        count=max(book.pieces_joined, book.closed),
    )


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
    found = [
        Finding(
            severity,
            code,
            one.replace("{width}", _width(gap)),
            remedy,
            drawing=drawing,
            x_mm=gap.x_mm,
            y_mm=gap.y_mm,
        )
        for gap in single
    ]
    rest = gaps[len(single) :]
    if rest:
        widest = max(rest, key=lambda gap: gap.width_mm)
        what = more.replace("{width}", _width(widest)).replace("{count}", str(len(rest)))
        found.append(
            Finding(
                severity,
                code,
                what,
                remedy,
                drawing=drawing,
                x_mm=rest[0].x_mm,
                y_mm=rest[0].y_mm,
                count=len(rest),
            )
        )
    return found


def _width(gap: Gap) -> str:
    return f"{gap.width_mm:.2f} mm" if gap.width_mm >= 0.01 else f"{gap.width_mm:.4f} mm"


def _lines(dropped: Sequence[Dropped]) -> str:
    return "1 line was" if len(dropped) == 1 else f"{len(dropped)} lines were"


def _first(drawing: str, dropped: Sequence[Dropped]) -> dict[str, Any]:
    first = dropped[0]
    return {"drawing": drawing, "x_mm": first.x_mm, "y_mm": first.y_mm, "count": len(dropped)}
