"""Mends a drawing: repeats dropped, ends joined, small gaps closed, everything told."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.findings import Finding
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.repair.chain import Chain, chains, joined, meeting_ends
from kerfwright.repair.ends import ends_of, lengths_mm
from kerfwright.repair.gaps import bridged, gaps_left, gaps_to_close
from kerfwright.repair.repeats import repeats, without_doubled_points
from kerfwright.repair.tally import Dropped, Ledger, RepairTally, findings_of, total


@dataclass(frozen=True, eq=False, slots=True)
class Piece:
    """A line of a drawing on its way through the repair; ``owner`` is its shape's number."""

    path: Path
    owner: int
    length_mm: float


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
    groups: dict[tuple[str, Paint], list[int]] = defaultdict(list)
    for i, shape in enumerate(drawing.shapes):
        groups[shape.layer, shape.paint].append(i)
    paths: dict[int, list[Path]] = defaultdict(list)
    for (layer, paint), numbers in groups.items():
        book = books[layer]
        book.empty += [
            drawing.shapes[i].name
            for i in numbers
            if not any(len(path.points) for path in drawing.shapes[i].paths)
        ]
        pieces = _pieces(drawing, numbers)
        if paint.fill is None:
            pieces = _mended_lines(pieces, join_mm, gap_mm, book)
        else:
            pieces = _mended_areas(pieces, paint, book)
        for piece in pieces:
            paths[piece.owner].append(piece.path)
    shapes = tuple(
        _with_paths(shape, paths[i]) for i, shape in enumerate(drawing.shapes) if i in paths
    )
    found: list[Finding] = []
    for layer, book in books.items():
        found += findings_of(drawing.name, layer, book)
    new = [finding for finding in found if finding not in drawing.findings]
    mended = replace(drawing, shapes=shapes, findings=(*drawing.findings, *new))
    return mended, total(books.values())


def _with_paths(shape: Shape, paths: list[Path]) -> Shape:
    same = len(paths) == len(shape.paths) and all(
        new is old for new, old in zip(paths, shape.paths, strict=True)
    )
    return shape if same else replace(shape, paths=tuple(paths))


def _pieces(drawing: Drawing, numbers: list[int]) -> list[Piece]:
    owned = [(i, path) for i in numbers for path in drawing.shapes[i].paths if len(path.points)]
    paths = without_doubled_points([path for _, path in owned])
    lengths = lengths_mm([path.line for path in paths]).tolist()
    return [
        Piece(path, owner, length_mm)
        for (owner, _), path, length_mm in zip(owned, paths, lengths, strict=True)
    ]


def _mended_areas(pieces: list[Piece], paint: Paint, book: Ledger) -> list[Piece]:
    pieces = _without_specks(pieces, book)
    by_owner: dict[int, list[Piece]] = defaultdict(list)
    for piece in pieces:
        by_owner[piece.owner].append(piece)
    owners = list(by_owner)
    twice = repeats(
        [tuple(piece.path for piece in by_owner[owner]) for owner in owners],
        same_way=paint.fill_rule == "nonzero",
    )
    for number in twice:
        book.repeats += [_dropped(piece) for piece in by_owner[owners[number]]]
    gone = {owners[number] for number in twice}
    return [piece for piece in pieces if piece.owner not in gone]


def _mended_lines(pieces: list[Piece], join_mm: float, gap_mm: float, book: Ledger) -> list[Piece]:
    """Repair lines until nothing changes any more: what was joined may be a repeat or have a gap.

    Gaps are closed only when no more ends meet. Every round but the last leaves fewer pieces or
    fewer open ones, so the rounds come to an end.
    """
    first_round = changed = True
    while changed:
        before = pieces
        pieces = _without_repeats(_without_specks(pieces, book), book)
        pieces = _with_ends_joined(pieces, join_mm, book, first_round=first_round)
        first_round = False
        changed = _differ(pieces, before)
        if not changed:
            pieces = _with_gaps_closed(pieces, gap_mm, book)
            changed = _differ(pieces, before)
    open_lines = [piece.path.points for piece in pieces if not piece.path.closed]
    if open_lines:
        book.gaps_left += gaps_left(ends_of(open_lines, join_mm))
    return pieces


def _differ(pieces: list[Piece], before: list[Piece]) -> bool:
    return len(pieces) != len(before) or any(
        new is not old for new, old in zip(pieces, before, strict=True)
    )


def _without_specks(pieces: list[Piece], book: Ledger) -> list[Piece]:
    book.specks += [_dropped(piece) for piece in pieces if piece.length_mm <= SAME_MM]
    return [piece for piece in pieces if piece.length_mm > SAME_MM]


def _without_repeats(pieces: list[Piece], book: Ledger) -> list[Piece]:
    twice = repeats([(piece.path,) for piece in pieces])
    book.repeats += [_dropped(pieces[number]) for number in sorted(twice)]
    return [piece for number, piece in enumerate(pieces) if number not in twice]


def _dropped(piece: Piece) -> Dropped:
    x_mm, y_mm = piece.path.points[0].tolist()
    return Dropped(piece.length_mm, x_mm, y_mm)


def _with_ends_joined(
    pieces: list[Piece], join_mm: float, book: Ledger, *, first_round: bool
) -> list[Piece]:
    numbers = [i for i, piece in enumerate(pieces) if not piece.path.closed]
    if not numbers:
        return pieces
    lines = [pieces[i].path.points for i in numbers]
    partners, places = meeting_ends(ends_of(lines, join_mm), join_mm)
    if first_round:
        book.junctions += [(x, y) for x, y in places.tolist()]

    def one_path(chain: Chain) -> Path:
        points, closed = joined(lines, chain)
        book.closed += closed
        if len(chain.lines) > 1:
            book.pieces_joined += len(chain.lines)
            book.lines_made += 1
        return Path(points, closed)

    parts = [pieces[i].length_mm for i in numbers]
    linked, made = _linked(pieces, numbers, chains(partners), one_path)
    book.snapped_mm += sum(
        piece.length_mm - sum(parts[line] for line, _ in chain.lines) for chain, piece in made
    )
    return linked


def _with_gaps_closed(pieces: list[Piece], gap_mm: float, book: Ledger) -> list[Piece]:
    numbers = [i for i, piece in enumerate(pieces) if not piece.path.closed]
    if not numbers:
        return pieces
    lines: Sequence[FloatArray] = [pieces[i].path.points for i in numbers]
    partners, gaps = gaps_to_close(ends_of(lines, min(gap_mm, SAME_MM)), gap_mm)
    book.gaps_closed += gaps

    def one_path(chain: Chain) -> Path:
        return Path(bridged(lines, chain), chain.closed)

    return _linked(pieces, numbers, chains(partners), one_path)[0]


def _linked(
    pieces: list[Piece],
    numbers: list[int],
    found: list[Chain],
    one_path: Callable[[Chain], Path],
) -> tuple[list[Piece], list[tuple[Chain, Piece]]]:
    """Put every chain of more than one line, and every closed one, in place of its first line.

    Chains count the lines among ``numbers``. A chain belongs to the shape of its first line.
    """
    changing = [chain for chain in found if chain.closed or len(chain.lines) > 1]
    paths = [one_path(chain) for chain in changing]
    lengths = lengths_mm([path.line for path in paths]).tolist()
    new: dict[int, Piece | None] = {}
    made: list[tuple[Chain, Piece]] = []
    for chain, path, length_mm in zip(changing, paths, lengths, strict=True):
        members = sorted(numbers[line] for line, _ in chain.lines)
        piece = Piece(path, pieces[members[0]].owner, length_mm)
        new |= dict.fromkeys(members, None)
        new[members[0]] = piece
        made.append((chain, piece))
    kept = [new.get(i, piece) for i, piece in enumerate(pieces)]
    return [piece for piece in kept if piece is not None], made
