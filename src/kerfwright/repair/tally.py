"""What was repaired, layer by layer, and the sums of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Gap:
    """Two ends of lines and the middle between them."""

    width_mm: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class Dropped:
    """What was left out: its length, a point of it, and how many lines it was."""

    length_mm: float
    x_mm: float
    y_mm: float
    count: int = 1


@dataclass(frozen=True, slots=True)
class Doubtful:
    """An outline that was left as it is and should be looked at: its shape and a point of it."""

    shape: str
    x_mm: float
    y_mm: float
    width_mm: float = 0.0


@dataclass(slots=True)
class Ledger:
    """Everything that was done on one layer, in the order it was done."""

    pieces_joined: int = 0
    lines_made: int = 0
    closed: int = 0
    """Lines closed because their ends met."""
    joined_at: tuple[float, float] | None = None
    """A point of the first line that was made or closed."""
    snapped_mm: float = 0.0
    """Change of length from ends that were moved to meet halfway; negative for a loss."""
    gaps_closed: list[Gap] = field(default_factory=list)
    gaps_left: list[Gap] = field(default_factory=list)
    repeats: list[Dropped] = field(default_factory=list)
    overlaps: list[Dropped] = field(default_factory=list)
    """Stretches that were on two lines and are kept once."""
    specks: list[Dropped] = field(default_factory=list)
    """Lines without length."""
    spikes: list[Dropped] = field(default_factory=list)
    folds: list[Dropped] = field(default_factory=list)
    """Stretches that a line ran along twice, out and back, and that are kept once."""
    arcs: list[Dropped] = field(default_factory=list)
    """Lines whose runs of tiny pieces became arcs, with the loss of length by it."""
    junctions: list[tuple[float, float]] = field(default_factory=list)
    slivers: list[Doubtful] = field(default_factory=list)
    crossings: list[Doubtful] = field(default_factory=list)
    empty: list[str] = field(default_factory=list)
    """Names of shapes without a single point."""


@dataclass(frozen=True, slots=True)
class RepairTally:
    """What a repair did to a drawing, all layers together.

    The drawing's length afterwards is its length before + ``mm_added`` - ``mm_dropped``.
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
    stacks: int
    """Copies of whole parts that lay on a part."""
    stacked_dropped: int
    """Lines of those copies."""
    stacked_mm_dropped: float
    overlaps_merged: int
    overlap_mm_dropped: float
    specks_dropped: int
    speck_mm_dropped: float
    spikes_dropped: int
    spike_mm_dropped: float
    folds_dropped: int
    fold_mm_dropped: float
    lines_rounded: int
    """Lines whose runs of tiny pieces became arcs."""
    rounding_mm_dropped: float
    junctions: int

    @property
    def mm_added(self) -> float:
        """Length that came to the drawing; ends moved to meet may also have taken some away."""
        return self.gap_mm_added + self.snapped_mm

    @property
    def mm_dropped(self) -> float:
        """Length that was left out of the drawing."""
        return (
            self.repeat_mm_dropped
            + self.stacked_mm_dropped
            + self.overlap_mm_dropped
            + self.speck_mm_dropped
            + self.spike_mm_dropped
            + self.fold_mm_dropped
            + self.rounding_mm_dropped
        )


def total(ledgers: Iterable[Ledger], stacks: Iterable[Dropped], copies: int) -> RepairTally:
    """Add up all layers, and the ``stacks`` of ``copies`` of whole parts, over all layers."""
    books = list(ledgers)
    stacked = list(stacks)
    repeats = [line for book in books for line in book.repeats]
    overlaps = [line for book in books for line in book.overlaps]
    specks = [line for book in books for line in book.specks]
    spikes = [line for book in books for line in book.spikes]
    folds = [line for book in books for line in book.folds]
    arcs = [line for book in books for line in book.arcs]
    return RepairTally(
        pieces_joined=sum(book.pieces_joined for book in books),
        lines_made=sum(book.lines_made for book in books),
        closed=sum(book.closed for book in books),
        snapped_mm=sum(book.snapped_mm for book in books),
        gaps_closed=sum(len(book.gaps_closed) for book in books),
        gap_mm_added=sum(gap.width_mm for book in books for gap in book.gaps_closed),
        gaps_left=sum(len(book.gaps_left) for book in books),
        repeats_dropped=count_of(repeats),
        repeat_mm_dropped=length_of(repeats),
        stacks=copies,
        stacked_dropped=count_of(stacked),
        stacked_mm_dropped=length_of(stacked),
        overlaps_merged=count_of(overlaps),
        overlap_mm_dropped=length_of(overlaps),
        specks_dropped=count_of(specks),
        speck_mm_dropped=length_of(specks),
        spikes_dropped=count_of(spikes),
        spike_mm_dropped=length_of(spikes),
        folds_dropped=count_of(folds),
        fold_mm_dropped=length_of(folds),
        lines_rounded=count_of(arcs),
        rounding_mm_dropped=length_of(arcs),
        junctions=sum(len(book.junctions) for book in books),
    )


def count_of(dropped: Iterable[Dropped]) -> int:
    """How many lines were left out."""
    return sum(line.count for line in dropped)


def length_of(dropped: Iterable[Dropped]) -> float:
    """How long they were together."""
    return sum(line.length_mm for line in dropped)
