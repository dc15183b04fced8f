"""What readings tell: known settings found again, and readings that tell nothing refused."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from trial_shop import planned

from kerfwright.engraving.tone import tone_of
from kerfwright.shop.material import Recipe
from kerfwright.shop.trial_pieces import (
    FocusPiece,
    GreyField,
    GreyPiece,
    IntervalPiece,
    IntervalSquare,
    KerfPiece,
    KerfRow,
    PowerCell,
    PowerPiece,
)
from kerfwright.shop.trial_readings import IntervalSheet, Lengths, ReadBy, Seen, Slope
from kerfwright.toolpath import Process
from kerfwright.trials.focus_fit import focus_result
from kerfwright.trials.grey_fit import grey_result
from kerfwright.trials.interval_fit import interval_result
from kerfwright.trials.kerf_fit import kerf_result
from kerfwright.trials.power_fit import power_result, severance_j_mm2
from kerfwright.trials.result import Result, UntoldError

BURNED = {"machine": "trial machine", "material": "board", "thickness_mm": 3.0}


def line(result: Result, name: str) -> tuple[str, str]:
    (found,) = (one for one in result.lines if one.name == name)
    return found.value, found.interval


def limits(words: str) -> tuple[float, float]:
    low, high = words.split(" to ")
    return float(low), float(high.split()[0])


KERF = KerfPiece(
    **BURNED,
    speed_mm_s=16.0,
    power=0.7,
    length_mm=80.0,
    rows=tuple(
        KerfRow(row=letter, along="x" if letter in "ABCD" else "y", pieces=count)
        for letter, count in zip("ABCDEFGH", 2 * (1, 4, 7, 10), strict=True)
    ),
)


def row_lengths(
    kerf_x: float, kerf_y: float, *, scale: float = 1.0, off: Mapping[str, float] | None = None
) -> Lengths:
    return Lengths(
        {
            row.row: (
                scale * 80.0
                - row.pieces * (kerf_x if row.along == "x" else kerf_y)
                + (off or {}).get(row.row, 0.0),
            )
            for row in KERF.rows
        }
    )


def test_kerf_is_found_whatever_the_machines_scale() -> None:
    result = kerf_result(KERF, row_lengths(0.18, 0.18, scale=1.004))
    assert result.keys["kerf_mm"] == 0.18
    assert result.process is Process.CUT
    assert any("too long besides the kerf, 0.40%" in remark for remark in result.remarks)


def test_kerfs_interval_holds_the_kerf_in_most_of_many_pieces() -> None:
    """95 % of the intervals, within what chance allows in 200 pieces."""
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(200):
        off = {row.row: rng.normal(0.0, 0.03) for row in KERF.rows}
        low, high = limits(line(kerf_result(KERF, row_lengths(0.2, 0.2, off=off)), "kerf")[1])
        held += low <= 0.2 <= high
    assert 178 <= held <= 199


def test_a_row_that_was_measured_wrong_is_named_and_set_aside() -> None:
    noise = dict(zip("ABCDEFGH", (0.01, -0.01, 0.01, -0.01, -0.01, 0.01, 0.0, 0.0), strict=True))
    result = kerf_result(KERF, row_lengths(0.2, 0.2, off=noise | {"C": 1.0}))
    assert result.keys["kerf_mm"] == pytest.approx(0.2, abs=0.006)
    assert any(remark.startswith("Row C was set aside") for remark in result.remarks)


def test_a_beam_that_is_not_round_is_told() -> None:
    result = kerf_result(KERF, row_lengths(0.15, 0.25))
    assert result.keys["kerf_mm"] == 0.2
    assert any("differs by 0.100 mm" in remark for remark in result.remarks)


def test_rows_of_one_axis_are_enough() -> None:
    read = {row: total for row, total in row_lengths(0.2, 0.2).values.items() if row in "ABCD"}
    result = kerf_result(KERF, Lengths(read))
    assert result.keys["kerf_mm"] == 0.2
    assert any("Only rows along x" in remark for remark in result.remarks)


@pytest.mark.parametrize("rows", ["", "A", "ABE", "ABC", "AE"])
def test_too_few_rows_tell_no_kerf(rows: str) -> None:
    read = {row: total for row, total in row_lengths(0.2, 0.2).values.items() if row in rows}
    with pytest.raises(UntoldError, match="Measure row"):
        kerf_result(KERF, Lengths(read))


def test_rows_that_lost_nothing_tell_no_kerf() -> None:
    with pytest.raises(UntoldError, match="none at all") as untold:
        kerf_result(KERF, row_lengths(0.0, 0.0))
    assert untold.value.disagree


CELLS = tuple(
    PowerCell(number=i + 1, speed_mm_s=speed, power=power)
    for i, (power, speed) in enumerate(
        (power, speed)
        for power in (0.3, 0.5, 0.7, 0.9)
        for speed in (5.0, 7.6, 11.5, 17.4, 26.4, 40.0)
    )
)
POWER = PowerPiece(**BURNED, process="cut", power_w=60.0, cells=CELLS)


def cut_through(needed_j_mm2: float, piece: PowerPiece = POWER) -> Seen:
    did = {cell.number: severance_j_mm2(piece, cell) >= needed_j_mm2 for cell in piece.cells}
    return Seen(
        through={number: 1 for number, fell in did.items() if fell},
        held={number: 1 for number, fell in did.items() if not fell},
    )


def but_held(odd: int) -> Seen:
    """Cells that part at 0.6 J/mm², and one of plenty of energy that held."""
    seen = cut_through(0.6)
    through = {number: 1 for number in seen.through if number != odd}
    return Seen(through=through, held={**seen.held, odd: 1})


@given(st.floats(0.25, 2.0), st.floats(0.0, 0.5))
def test_proposed_cell_fell_and_is_the_fastest_with_the_margin(
    needed: float, margin: float
) -> None:
    result = power_result(POWER, cut_through(needed), margin)
    chosen = next(c for c in CELLS if str(c.number) == line(result, "proposed: cell")[0])
    assert (result.keys["speed_mm_s"], result.keys["power"]) == (chosen.speed_mm_s, chosen.power)
    energies = sorted(severance_j_mm2(POWER, cell) for cell in CELLS)
    value = float(line(result, "boundary")[0].split()[0])
    low, high = limits(line(result, "boundary")[1])
    # the boundary lies between the strongest that held and the weakest that fell, or next to them
    held = max(e for e in energies if e < needed)
    fell = min(e for e in energies if e >= needed)
    assert held / 1.1 <= value <= fell * 1.1
    assert low <= value <= high
    assert severance_j_mm2(POWER, chosen) >= max(needed, value * (1.0 + margin) * 0.99)
    faster = [
        c
        for c in CELLS
        if c.speed_mm_s > chosen.speed_mm_s
        and severance_j_mm2(POWER, c) >= max(needed, value * max(1.0 + margin, 1.6) * 1.01)
    ]
    assert not faster


def test_a_cell_that_held_against_all_others_is_named_and_spoils_its_neighbours() -> None:
    result = power_result(POWER, but_held(13))
    assert any(remark.startswith("Cell 13 ") for remark in result.remarks)
    # nothing of as much power or less, as slow or faster, is trusted
    assert result.keys["power"] == 0.9
    with pytest.raises(UntoldError, match="Cell 19 ") as untold:
        power_result(POWER, but_held(19))
    assert untold.value.disagree


def test_several_pieces_count_together() -> None:
    seen = cut_through(0.6)
    twice = Seen(
        through=dict.fromkeys(seen.through, 2) | {22: 1}, held=dict.fromkeys(seen.held, 2) | {22: 1}
    )
    assert severance_j_mm2(POWER, CELLS[21]) > 0.6
    assert line(power_result(POWER, twice), "proposed: cell")[0] != "22"


def test_kerf_of_other_settings_is_to_be_measured_anew() -> None:
    recipe = Recipe(machine="trial machine", process="cut", speed_mm_s=1.0, power=0.1, kerf_mm=0.2)
    result = power_result(POWER, cut_through(0.6), recipe=recipe)
    assert any("kerf_mm = 0.2 was measured at other settings" in r for r in result.remarks)


def test_severance_energy_worked_by_hand() -> None:
    """60 W at 70 % are 42 W; 2 passes of 42 W / 12 mm/s over 3 mm: 2·42/36 = 2.333 J/mm²."""
    piece = POWER.model_copy(update={"passes": 2})
    cell = PowerCell(number=1, speed_mm_s=12.0, power=0.7)
    assert severance_j_mm2(piece, cell) == pytest.approx(2.3333, abs=1e-4)


@pytest.mark.parametrize(
    ("through", "held", "told"),
    [
        ({1: 1, 7: 1}, {6: 1}, "3 cells"),
        ({}, dict.fromkeys(range(1, 9), 1), "more power"),
        (dict.fromkeys(range(1, 9), 1), {}, "less power"),
        ({5: 1, 6: 1, 12: 1}, {1: 1, 7: 1, 13: 1, 19: 1}, "mixed up"),
    ],
)
def test_cells_that_show_no_boundary_are_refused(
    through: dict[int, int], held: dict[int, int], told: str
) -> None:
    with pytest.raises(UntoldError, match=told):
        power_result(POWER, Seen(through=through, held=held))


def test_no_setting_beyond_the_cells_is_proposed() -> None:
    weakest = sorted(severance_j_mm2(POWER, cell) for cell in CELLS)[-2]
    with pytest.raises(UntoldError, match="reaches further"):
        power_result(POWER, cut_through(weakest), margin=1.0)


def test_the_look_named_most_often_is_taken_the_faster_of_two() -> None:
    piece = POWER.model_copy(update={"process": "engrave", "interval_mm": 0.2})
    result = power_result(piece, Seen(best={8: 2, 9: 2, 3: 1}))
    assert result.process is Process.ENGRAVE
    assert result.keys["speed_mm_s"] == CELLS[8].speed_mm_s
    assert result.keys["interval_mm"] == 0.2
    with pytest.raises(UntoldError):
        power_result(piece, Seen())


INTERVAL = IntervalPiece(
    **BURNED,
    speed_mm_s=300.0,
    power=0.4,
    squares=tuple(
        IntervalSquare(number=i, interval_mm=value)
        for i, value in enumerate((0.05, 0.07, 0.1, 0.14, 0.2, 0.28), 1)
    ),
)


def looked(*numbers: int, widths: tuple[float, ...] = ()) -> Result:
    return interval_result(
        INTERVAL, IntervalSheet(coarsest_even=numbers, line_width_mm=widths), ReadBy()
    )


def test_middle_of_the_looks_is_taken_the_finer_of_two() -> None:
    assert looked(3, 4, 4).keys["interval_mm"] == 0.14
    assert looked(3, 4).keys["interval_mm"] == 0.1
    assert line(looked(3, 4, 4), "interval")[1] == "every look even at 0.1 mm, none at 0.2 mm"


def test_an_odd_look_is_named() -> None:
    result = looked(2, 2, 2, 2, 6)
    assert result.keys["interval_mm"] == 0.07
    assert any("square 6 was set aside" in remark for remark in result.remarks)


def test_line_width_has_students_interval_and_may_contradict() -> None:
    """Mean 0.12, deviation 0.02, three readings: 0.12 ± 4.303·0.02/√3 (t table, 2 degrees)."""
    result = looked(5, 5, 5, widths=(0.10, 0.12, 0.14))
    low, high = limits(line(result, "line width")[1])
    assert (low, high) == pytest.approx((0.12 - 4.303 * 0.02 / 3**0.5, 0.12 + 0.0497), abs=1e-3)
    assert any("do not cover" in remark for remark in result.remarks)


@pytest.mark.parametrize("looks", [(), (0, 0), (1, 6), (1, 1, 6, 6)])
def test_looks_that_tell_no_interval_are_refused(looks: tuple[int, ...]) -> None:
    with pytest.raises(UntoldError):
        looked(*looks)


def test_coarsest_square_may_not_be_the_end() -> None:
    assert any("coarser" in remark for remark in looked(6, 6, 6).remarks)


def focus_piece() -> FocusPiece:
    piece = planned("focus").design.piece
    assert isinstance(piece, FocusPiece)
    return piece


def sloping(w0: float, z0: float, zr: float, low: float, high: float) -> Slope:
    piece = focus_piece()
    length = piece.lines[-1].along_mm
    lean = math.sqrt(1.0 - ((high - low) / length) ** 2)
    widths = {}
    for one in piece.lines:
        z = low + (high - low) * one.along_mm / length
        widths[one.number] = (w0 * math.sqrt(1.0 + ((z - z0) / zr) ** 2) / lean,)
    return Slope(low, high, widths)


def test_focus_is_found_where_the_board_crosses_it() -> None:
    result = focus_result(focus_piece(), sloping(0.12, 5.5, 2.0, 0.0, 10.0))
    assert result.process is None
    assert result.keys == {"spot_mm": 0.12}
    assert line(result, "focus at height")[0] == "5.50 mm"
    low, high = limits(line(result, "focus at height")[1])
    assert low < 5.5 < high


def test_focus_beyond_the_lines_is_not_guessed() -> None:
    with pytest.raises(UntoldError, match="beyond all"):
        focus_result(focus_piece(), sloping(0.12, 14.0, 2.0, 0.0, 10.0))


def test_lines_of_one_width_have_no_focus() -> None:
    slope = Slope(0.0, 10.0, {line.number: (0.2,) for line in focus_piece().lines})
    with pytest.raises(UntoldError, match="no narrowest place"):
        focus_result(focus_piece(), slope)


def test_few_lines_tell_no_focus() -> None:
    slope = sloping(0.12, 5.0, 2.0, 0.0, 10.0)
    few = Slope(0.0, 10.0, {n: w for n, w in slope.widths_mm.items() if n < 5})
    with pytest.raises(UntoldError, match="Measure line"):
        focus_result(focus_piece(), few)


def test_a_line_measured_wrong_is_named() -> None:
    slope = sloping(0.2, 5.0, 2.0, 0.0, 10.0)
    result = focus_result(
        focus_piece(), Slope(0.0, 10.0, {**slope.widths_mm, 3: (1.5 * slope.widths_mm[3][0],)})
    )
    assert any(remark.startswith("Line 3 was set aside") for remark in result.remarks)
    assert result.keys["spot_mm"] == pytest.approx(0.2, abs=0.005)


SHARES = tuple(round(0.1 * i, 4) for i in range(11))
GREY = GreyPiece(
    **BURNED,
    speed_mm_s=200.0,
    power=0.5,
    interval_mm=0.2,
    method="stucki",
    fields=tuple(GreyField(number=i + 1, strength=share) for i, share in enumerate(SHARES)),
)


def read(darkness: list[float], *again: list[float]) -> Lengths:
    groups = zip(darkness, *again, strict=True)
    return Lengths({str(i): tuple(group) for i, group in enumerate(groups, 1)})


def photo_recipe(result: Result) -> Recipe:
    keys = {key: value for key, value in result.keys.items() if value is not None}
    return Recipe.model_validate({"machine": "m", "process": "photo", **keys})


def ramp(gamma: float = 2.0, bare: float = 0.2) -> list[float]:
    return [bare + (1.0 - bare) * 0.8 * share**gamma for share in SHARES]


def test_grey_curve_counts_from_the_bare_material() -> None:
    curve = np.array(grey_result(GREY, read(ramp())).keys["grey_curve"])
    assert curve[:, 0] == pytest.approx(SHARES)
    assert curve[:, 1] == pytest.approx([0.8 * share**2 for share in SHARES], abs=1e-3)


@given(st.lists(st.floats(-0.04, 0.04), min_size=22, max_size=22))
def test_grey_curve_makes_a_recipe_and_stays_near_the_readings(noise: list[float]) -> None:
    one, other = np.clip(np.array(ramp()) + np.array(noise).reshape(2, 11), 0.0, 1.0)
    result = grey_result(GREY, read(one.tolist(), other.tolist()))
    curve = np.array(result.keys["grey_curve"])
    assert (np.diff(curve[:, 0]) > 0.0).all()
    assert (np.diff(curve[:, 1]) >= 0.0).all()
    wanted = 0.8 * curve[:, 0] ** 2
    assert curve[:, 1] == pytest.approx(wanted, abs=2.1 * 0.04 / 0.76)
    assert photo_recipe(result).grey_curve is not None


@pytest.mark.parametrize("gamma", [0.8, 1.0, 2.2])
def test_photo_burned_by_the_curve_comes_out_as_wanted(gamma: float) -> None:
    """A material that answers by a power law burns every shade as dark as the picture asks."""
    result = grey_result(GREY, read(ramp(gamma)))
    recipe = photo_recipe(result)
    wanted = np.linspace(0.1, 1.0, 19)
    shares = tone_of(recipe).strength_for(wanted)
    assert shares**gamma == pytest.approx(wanted, abs=0.02)


def test_a_field_out_of_order_is_named_and_set_aside() -> None:
    darkness = ramp()
    darkness[4] = 0.9
    result = grey_result(GREY, read(darkness))
    assert any(remark.startswith("Field 5 was set aside") for remark in result.remarks)
    assert 0.4 not in [pair[0] for pair in result.keys["grey_curve"]]


def test_a_field_that_burned_away_ends_the_curve() -> None:
    darkness = ramp()
    darkness[-1] = 0.4
    result = grey_result(GREY, read(darkness))
    assert result.keys["grey_curve"][-1][0] == 0.9
    assert any("burns away" in remark for remark in result.remarks)


def test_a_material_that_burns_light_is_inverted() -> None:
    darkness = [0.9 - 0.6 * share for share in SHARES]
    result = grey_result(GREY, read(darkness))
    assert result.keys["invert"] is True
    assert result.keys["grey_curve"][-1][1] == pytest.approx(0.6 / 0.9, abs=1e-3)


@pytest.mark.parametrize(
    "values",
    [
        {"1": (0.2,), "5": (0.5,)},
        {str(i): (0.1 * i,) for i in range(2, 12)},
        {str(i): (0.3,) for i in range(1, 12)},
        {str(i): (0.2 + 0.5 * (i % 2) * (i > 1),) for i in range(1, 12)},
    ],
    ids=["few", "no-bare", "no-range", "no-order"],
)
def test_ramps_that_tell_no_curve_are_refused(values: dict[str, tuple[float, ...]]) -> None:
    with pytest.raises(UntoldError):
        grey_result(GREY, Lengths(values))
