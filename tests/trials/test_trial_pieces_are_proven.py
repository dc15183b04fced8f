"""A trial piece's program burns every field by its own setting, and nothing else."""

from __future__ import annotations

import re

import numpy as np
import pytest
from shapely import LineString, box, union_all
from trial_shop import DRAWN, MACHINE, MARKING, machine, planned

from kerfwright.errors import KerfwrightError
from kerfwright.output.gcode import program_text
from kerfwright.output.trial_program import burns, joined_faults, proven_program
from kerfwright.program.interpreter import interpret
from kerfwright.shop.machine import Dialect
from kerfwright.shop.trial_pieces import GreyPiece, IntervalPiece, KerfPiece, PowerPiece
from kerfwright.shop.trial_readings import Lengths
from kerfwright.trials.drawn import EDGE_MM
from kerfwright.trials.kerf_fit import kerf_result
from kerfwright.trials.ranges import Range, powers


def burned(kind: str, *, marked: bool = False) -> np.ndarray:
    """Start, end, speed and power of every burn, from the program's own text."""
    trial = planned(kind, marking=MARKING if marked else None)
    text = proven_program(trial, "piece.nc")
    return burns(interpret(text.splitlines(), MACHINE, "piece.nc"))


@pytest.mark.parametrize("kind", DRAWN)
@pytest.mark.parametrize("dialect", Dialect)
def test_every_piece_is_read_back_and_proven(kind: str, dialect: Dialect) -> None:
    trial = planned(kind, machine(dialect))
    text = proven_program(trial, "piece.nc")
    assert text.isascii()
    assert max(map(len, text.splitlines())) <= 80
    assert trial.sheet.times.total_s > 0.0


def test_a_program_that_burns_otherwise_is_refused() -> None:
    trial = planned("power-cut")
    text = proven_program(trial, "piece.nc")
    wanted = [
        burns(interpret(program_text(step, MACHINE).splitlines(), MACHINE, "step"))
        for step in trial.steps
    ]

    def faults(changed: str) -> tuple[str, ...]:
        return joined_faults(interpret(changed.splitlines(), MACHINE, "piece"), wanted, MACHINE)

    assert faults(text) == ()
    hotter = re.sub(r"\bS300\b", "S310", text, count=1)
    assert hotter != text
    assert faults(hotter)
    assert faults(text.replace("F300", "F290"))
    out_of_order = [*wanted[:1], wanted[2], wanted[1], *wanted[3:]]
    program = interpret(text.splitlines(), MACHINE, "piece")
    assert joined_faults(program, out_of_order, MACHINE)
    assert faults(text.replace("M5 S0\nM2\n", "M2\n"))
    assert faults(text.replace("G0 X", "G0 X4", 1))
    assert faults(text[: len(text) // 2])


def test_each_power_cell_has_its_own_power_and_speed() -> None:
    lines = burned("power-cut")
    piece = planned("power-cut").design.piece
    assert isinstance(piece, PowerPiece)
    found = {}
    for x0, y0, x1, y1, speed, power in lines:
        place = (int((x0 + x1 - 36.0) // 28.0), int((y0 + y1 - 28.0) // 28.0))
        found.setdefault(place, []).append((np.hypot(x1 - x0, y1 - y0), speed, power))
    assert len(found) == len(piece.cells) == 12
    for cell in piece.cells:
        column, row = (cell.number - 1) % 4, (cell.number - 1) // 4
        cuts = found[column, row]
        assert {(round(s, 3), round(p, 3)) for _, s, p in cuts} == {(cell.speed_mm_s, cell.power)}
        # both passes round a square of 10 mm, along the drawn line
        assert sum(length for length, _, _ in cuts) == pytest.approx(2 * 40.0)


def test_gentlest_cells_are_burned_first() -> None:
    lines = burned("power-cut")
    energy = lines[:, 5] / lines[:, 4]
    assert (np.diff(energy) > -1e-9).all()


def test_kerf_rows_are_cut_once_along_the_drawn_lines() -> None:
    """Row lengths tell n kerfs only if no cut is moved aside and none is burned twice."""
    lines = burned("kerf")
    piece = planned("kerf").design.piece
    assert isinstance(piece, KerfPiece)
    total = sum(np.hypot(*(lines[:, 2:4] - lines[:, :2]).T))
    wanted = sum(2 * piece.length_mm + 10.0 * (row.pieces + 1) for row in piece.rows)
    assert total == pytest.approx(wanted, abs=1e-6)
    drawn = union_all([LineString(line.reshape(2, 2)) for line in lines[:, :4]])
    assert drawn.length == pytest.approx(wanted, abs=0.01)
    upright = {round(x, 3) for x, _, x1, *_ in lines if abs(x - x1) < 1e-6}
    row_b = {EDGE_MM + i * piece.length_mm / 4 for i in range(5)}
    assert row_b <= upright


@pytest.mark.parametrize("kerf_mm", [0.1, 0.35])
def test_rows_of_a_beam_that_wide_tell_its_kerf(kerf_mm: float) -> None:
    """What a beam leaves of the sheet is worked out by shapely from the program alone: every row's
    pieces are one kerf shorter each, and the fit finds the beam's width again."""
    lines = burned("kerf")
    piece = planned("kerf").design.piece
    assert isinstance(piece, KerfPiece)
    beam = union_all(
        [
            LineString(one.reshape(2, 2)).buffer(kerf_mm / 2, cap_style="square")
            for one in lines[:, :4]
        ]
    )
    lengths = {}
    for row in piece.rows:
        drawn = [p for p in planned("kerf").steps[1].parts if p.name.startswith(row.row)]
        left = [part.polygon.difference(beam).bounds for part in drawn]
        side = 0 if row.along == "x" else 1
        lengths[row.row] = (sum(box[side + 2] - box[side] for box in left),)
        assert lengths[row.row][0] == pytest.approx(piece.length_mm - row.pieces * kerf_mm)
    assert kerf_result(piece, Lengths(lengths)).keys["kerf_mm"] == pytest.approx(kerf_mm)


def test_labels_are_scored_before_anything_is_cut_and_lie_on_the_pieces() -> None:
    lines = burned("kerf", marked=True)
    letters = np.isclose(lines[:, 5], MARKING.power)
    last_letter, first_cut = np.flatnonzero(letters)[-1], np.flatnonzero(~letters)[0]
    assert last_letter < first_cut
    strips = [part.polygon.buffer(-0.5) for part in planned("kerf").steps[1].parts]
    standing = union_all(strips)
    assert all(standing.covers(LineString(one.reshape(2, 2))) for one in lines[letters, :4])


def test_interval_squares_have_their_intervals() -> None:
    lines = burned("interval")
    piece = planned("interval").design.piece
    assert isinstance(piece, IntervalPiece)
    rows = lines[lines[:, 1] == lines[:, 3]]
    left = rows[:, [0, 2]].min(axis=1)
    first = left.min()
    for i, square in enumerate(piece.squares):
        mine = rows[(left > first - 1.0 + 14.0 * i) & (left < first + 1.0 + 14.0 * i)]
        heights = np.unique(np.round(mine[:, 1], 3))
        assert len(heights) == pytest.approx(10.0 / square.interval_mm, abs=1)
        assert np.diff(heights) == pytest.approx(
            square.interval_mm, abs=0.03 * square.interval_mm + 1e-3
        )
        assert np.ptp(heights) / (len(heights) - 1) == pytest.approx(square.interval_mm, rel=0.03)


@pytest.mark.parametrize("kind", ["grey-power", "grey-dots"])
def test_grey_fields_have_their_power_or_share_of_dots(kind: str) -> None:
    lines = burned(kind)
    piece = planned(kind).design.piece
    assert isinstance(piece, GreyPiece)
    left = planned(kind).steps[-1].intended.photos[0].area.bounds[0]
    for i, one in enumerate(piece.fields):
        a, b = left + 10.0 * i + 1.0, left + 10.0 * i + 9.0
        inside = np.clip(lines[:, [0, 2]], a, b)
        length = np.abs(np.diff(inside, axis=1))[:, 0]
        mine = length > 0.0
        share = length.sum() / (8.0 * round(10.0 / piece.interval_mm) * piece.passes)
        if kind == "grey-dots":
            assert share == pytest.approx(one.strength, abs=0.03)
        elif one.strength == 0.0:
            assert not mine.any()
        else:
            assert share == pytest.approx(1.0)
            assert lines[mine, 5] == pytest.approx(one.strength, abs=6e-4)


def test_pieces_stay_on_the_sheet_they_name() -> None:
    for kind in DRAWN:
        trial = planned(kind)
        sheet = box(0.0, 0.0, *trial.design.size_mm)
        lines = trial.sheet.toolpath.points[1:][trial.sheet.toolpath.burning]
        assert sheet.covers(LineString(lines)), kind


def test_a_piece_larger_than_the_bed_is_refused() -> None:
    with pytest.raises(KerfwrightError, match="bed") as refused:
        planned("kerf", machine(bed_width_mm=100.0))
    assert refused.value.code == "calibration/bed-too-small"


@pytest.mark.parametrize(
    ("low", "high", "steps"),
    [(0.0, 1.0, 3), (2.0, 1.0, 3), (1.0, 2.0, 1), (1.0, 2.0, 99), (1.0, 1.001, 9)],
)
def test_a_range_that_is_none_is_refused(low: float, high: float, steps: int) -> None:
    with pytest.raises(KerfwrightError) as refused:
        Range("--speeds", low, high, steps).values(1, by_factor=True)
    assert refused.value.code == "calibration/bad-range"


def test_no_power_above_full_is_tried() -> None:
    with pytest.raises(KerfwrightError, match="full power"):
        powers(Range("--powers", 0.5, 1.2, 3))
