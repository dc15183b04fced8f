"""What holds for every drawing that is mended."""

from __future__ import annotations

import re
from collections import defaultdict

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.geometry.paths import Path
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.repair.mend import mend, mend_and_tally

JOIN_MM, GAP_MM = 0.05, 0.5
PAINTS = (Paint(stroke="#000000"), Paint(stroke="#ff0000"), Paint(fill="#000000"))

IN_ALL = re.compile(r"(\d+)\.(\d+) mm in all")
MOVED = re.compile(r"(\d+)\.(\d+) mm (?:longer|shorter)")
NOTHING = re.compile(r"(\d+)\.(\d+) nothing")
FIGURE = defaultdict(
    lambda: IN_ALL,
    {
        "repair/gap-closed": re.compile(r"(?:a gap of |, )(\d+)\.(\d+) mm"),
        "repair/joined": MOVED,
        "repair/arcs-fitted": MOVED,
        "repair/gap-left": NOTHING,
        "repair/sliver": NOTHING,
    },
)
DROPPED = {
    f"repair/{slug}" for slug in ("repeat-dropped", "stacked", "overlap-merged", "spike", "folded")
}

# a coarse grid makes ends meet, repeats and crossings; the small steps make joins and gaps
COORDINATES = [
    whole + part for whole in range(5) for part in (0.0, 0.0, 0.0004, 0.012, 0.03, 0.2, 0.4)
]
# chosen at once: a draw for each coordinate takes longer than the mending
points = st.sampled_from([(x, y) for x in COORDINATES for y in COORDINATES])
paths = st.builds(
    lambda line, closed: Path(np.array(line), closed),
    st.lists(points, min_size=1, max_size=5),
    st.booleans(),
)
kinds = st.tuples(st.sampled_from(["cut", "score"]), st.sampled_from(PAINTS))
shapes = st.tuples(st.lists(paths, min_size=1, max_size=3), kinds)


def drawing_of(content: list[tuple[list[Path], tuple[str, Paint]]]) -> Drawing:
    return Drawing(
        "trial.svg",
        tuple(
            Shape(f"path {k}", tuple(lines), layer, paint)
            for k, (lines, (layer, paint)) in enumerate(content)
        ),
        10.0,
        10.0,
    )


drawings = st.lists(shapes, max_size=14).map(drawing_of)


def length_mm(drawing: Drawing) -> float:
    return sum(shape.length_mm for shape in drawing.shapes)


def as_drawn(drawing: Drawing) -> list[tuple[object, ...]]:
    return [
        (s.name, s.layer, s.paint, tuple((p.closed, p.points.tobytes()) for p in s.paths))
        for s in drawing.shapes
    ]


def canonical(path: Path) -> tuple[object, ...]:
    """The same for a line followed either way and a ring begun anywhere."""
    rows = [tuple(row) for row in np.round(path.points, 9).tolist()]
    ways = [rows, rows[::-1]]
    if path.closed:
        ways = [way[k:] + way[:k] for way in ways for k in range(len(way))]
    return (path.closed, min(ways))


def lines_by_kind(drawing: Drawing) -> list[tuple[object, ...]]:
    return sorted(
        (
            (s.layer, s.paint.stroke or "", s.paint.fill or "", *canonical(path))
            for s in drawing.shapes
            for path in s.paths
        ),
    )


@given(drawings)
@settings(max_examples=150)
def test_mending_again_changes_nothing_and_tells_nothing_new(drawing: Drawing) -> None:
    once = mend(drawing, join_mm=JOIN_MM, gap_mm=GAP_MM)
    twice, tally = mend_and_tally(once, join_mm=JOIN_MM, gap_mm=GAP_MM)
    assert as_drawn(twice) == as_drawn(once)
    assert twice.findings == once.findings
    assert tally.pieces_joined == tally.gaps_closed == tally.repeats_dropped == 0


@given(drawings)
@settings(max_examples=150)
def test_the_length_balances(drawing: Drawing) -> None:
    out, tally = mend_and_tally(drawing, join_mm=JOIN_MM, gap_mm=GAP_MM)
    expected_mm = length_mm(drawing) + tally.mm_added - tally.mm_dropped
    # without this bound a lost piece could hide in the change from moved ends
    assert abs(tally.snapped_mm) <= JOIN_MM * (tally.pieces_joined + tally.closed) + 1e-9
    assert abs(length_mm(out) - expected_mm) <= 1e-6 * max(length_mm(drawing), 1.0)


@given(drawings)
@settings(max_examples=150)
def test_the_length_told_is_the_length_that_changed(drawing: Drawing) -> None:
    """Only what the findings say in words is used, each figure to half its last place."""
    out = mend(drawing, join_mm=JOIN_MM, gap_mm=GAP_MM)
    change_mm, doubt_mm = 0.0, 1e-9
    for finding in out.findings:
        if finding.code == "repair/no-length":
            doubt_mm += SAME_MM * finding.count
        elif finding.code == "repair/joined" and "moving the ends" not in finding.what:
            doubt_mm += 0.0005
        for figure, places in FIGURE[finding.code].findall(finding.what):
            sign = -1.0 if finding.code in DROPPED or "shorter" in finding.what else 1.0
            change_mm += sign * float(f"{figure}.{places}")
            doubt_mm += 0.5 * 10.0 ** -len(places)
    assert abs(length_mm(drawing) + change_mm - length_mm(out)) <= doubt_mm


@given(drawings)
def test_every_finding_names_a_place(drawing: Drawing) -> None:
    for finding in mend(drawing, join_mm=JOIN_MM, gap_mm=GAP_MM).findings:
        assert finding.x_mm is not None
        assert finding.y_mm is not None


@given(drawings)
def test_every_point_stays_or_moves_by_half_the_tolerance_within_its_kind(
    drawing: Drawing,
) -> None:
    out = mend(drawing, join_mm=JOIN_MM, gap_mm=GAP_MM)
    for shape in out.shapes:
        own = [
            path.points
            for given_shape in drawing.shapes
            if (given_shape.layer, given_shape.paint) == (shape.layer, shape.paint)
            for path in given_shape.paths
        ]
        before = np.concatenate(own)
        for point in np.concatenate([path.points for path in shape.paths]):
            assert np.hypot(*(before - point).T).min() <= JOIN_MM / 2 + 1e-9


@given(drawings)
def test_shapes_that_vanish_are_told_of(drawing: Drawing) -> None:
    out = mend(drawing, join_mm=JOIN_MM, gap_mm=GAP_MM)
    assert len(out.shapes) == len(drawing.shapes) or out.findings


@given(st.data())
@settings(max_examples=40)
def test_the_order_of_shapes_changes_only_names(data: st.DataObject) -> None:
    """Drawn without the step below SAME_MM: which of two such repeats is kept goes by order."""
    steps = st.builds(
        lambda whole, part: whole + part,
        st.integers(0, 4).map(float),
        st.sampled_from([0.0, 0.0, 0.012, 0.03, 0.2, 0.4]),
    )
    lines = st.lists(st.tuples(steps, steps), min_size=2, max_size=4)
    content = data.draw(st.lists(st.tuples(lines, kinds), max_size=14))
    stroked = [([Path(np.array(line))], kind) for line, kind in content]
    shuffled = data.draw(st.permutations(stroked))
    one, other = (
        mend(drawing_of(list(order)), join_mm=JOIN_MM, gap_mm=GAP_MM)
        for order in (stroked, shuffled)
    )
    assert lines_by_kind(one) == lines_by_kind(other)


@given(
    corners=st.integers(3, 24),
    seed=st.integers(0, 10_000),
    noise_mm=st.sampled_from([0.0, 0.01]),
    data=st.data(),
)
def test_a_polygon_cut_into_pieces_comes_back_as_one_ring(
    corners: int, seed: int, noise_mm: float, data: st.DataObject
) -> None:
    """A star-shaped polygon (radius by angle), whose corners are all well apart."""
    dice = np.random.default_rng(seed)
    angles = (np.arange(corners) + dice.uniform(0.2, 0.8, corners)) * 2 * np.pi / corners
    radii = dice.uniform(20.0, 40.0, corners)
    ring = np.column_stack([radii * np.cos(angles), radii * np.sin(angles)])
    cuts = sorted(data.draw(st.sets(st.integers(0, corners - 1), min_size=1)))
    pieces = []
    for k, cut in enumerate(cuts):
        stop = cuts[(k + 1) % len(cuts)]
        count = (stop - cut) % corners or corners
        piece = ring[np.arange(cut, cut + count + 1) % corners].copy()
        piece += dice.uniform(-noise_mm, noise_mm, piece.shape)
        pieces.append(piece[::-1] if data.draw(st.booleans()) else piece)
    order = data.draw(st.permutations(pieces))
    drawing = drawing_of([([Path(piece)], ("cut", PAINTS[0])) for piece in order])
    out = mend(drawing, join_mm=JOIN_MM, gap_mm=GAP_MM)
    (shape,) = out.shapes
    (path,) = shape.paths
    assert path.closed
    assert len(path.points) == corners
    whole = Path(ring, closed=True)
    assert abs(path.signed_area_mm2) == pytest.approx(whole.signed_area_mm2, rel=1e-2)
