"""What is said of a program's time, speed and energy, against sums done by hand.

Source: E = P·t; a trapezoid from rest to rest takes L/v + v/a; in laser mode, where power follows
speed, a length L receives P·L/v.
"""

from __future__ import annotations

import io

import pytest
from hypothesis import given
from rich.console import Console

import planned_square as tile
from kerfwright.motion.causes import Cause, causes_s
from kerfwright.motion.timing import time_toolpath
from kerfwright.output.simulation import Simulation, simulation
from kerfwright.output.simulation_summary import print_simulation
from kerfwright.program.classify import classify
from kerfwright.program.interpreter import interpret
from kerfwright.program.model import Program
from kerfwright.shop.machine import AxisLimits, Controller, Dialect, Machine
from kerfwright.toolpath import Toolpath
from moving_machines import machines, toolpaths

V, A = 50.0, 3000.0


def machine(dialect: Dialect = Dialect.GRBL_TYPE, **changes: object) -> Machine:
    return tile.machine(dialect).model_copy(update={"junction_deviation_mm": 0.0, **changes})


def followed(text: str, limits: Machine) -> Program:
    return classify(interpret(text.split("|"), limits, "quay.nc"))


def simulated(text: str, limits: Machine | None = None) -> Simulation:
    limits = limits or machine()
    return simulation(followed(text, limits), limits)


ONE_LINE = "G21 G90|{mode} S0|G0 X10 Y0|G1 X70 S500 F3000|M5|M2"


def test_one_cut_in_laser_mode() -> None:
    told = simulated(ONE_LINE.format(mode="M4"))
    cut_s = 60.0 / V + V / A
    assert told.burn_s == pytest.approx(cut_s, abs=1e-3)
    assert told.energy_j == pytest.approx(30.0 * 60.0 / V, abs=1e-3)
    assert told.power_follows_speed
    assert told.peak_line_energy is not None
    assert told.peak_line_energy.j_mm == pytest.approx(30.0 / V, rel=1e-5)
    assert told.peak_line_energy.line == 4
    assert told.beam_on_share == pytest.approx(told.burn_s / told.time_s, abs=1e-3)
    assert told.mean_power_share == pytest.approx(told.energy_j / (60.0 * told.time_s), abs=1e-3)
    assert told.length_mm == 70.0
    assert told.longest_travel is not None
    assert (told.longest_travel.line, told.longest_travel.length_mm) == (3, 10.0)


@pytest.mark.parametrize(
    ("mode", "dialect"), [("M3", Dialect.GRBL_TYPE), ("M4", Dialect.RS274_NGC)]
)
def test_constant_power_burns_while_the_beam_slows_down(mode: str, dialect: Dialect) -> None:
    told = simulated(ONE_LINE.format(mode=mode), machine(dialect))
    assert not told.power_follows_speed
    assert told.energy_j == pytest.approx(30.0 * (60.0 / V + V / A), abs=2e-3)
    # the first and the last 0.1 mm take √(2·s/a)
    assert told.peak_line_energy is not None
    assert told.peak_line_energy.j_mm == pytest.approx(
        30.0 * (2.0 * 0.1 / A) ** 0.5 / 0.1, rel=1e-4
    )


def test_both_modes_in_one_program_are_told() -> None:
    told = simulated("G21 G90|M4 S0|G1 X10 S500 F3000|M3|X20|M5|M2")
    assert not told.power_follows_speed
    assert any("both M3 and M4" in note for note in told.notes)


def test_burns_are_told_apart_by_power_and_speed() -> None:
    told = simulated("G21 G90|M4 S0|G1 X60 S500 F3000|X90 S200|X120 F6000|X0 S500 F3000|M5|M2")
    found = {(one.power, one.speed_mm_s): one for one in told.settings}
    assert set(found) == {(0.5, 50.0), (0.2, 50.0), (0.2, 100.0)}
    assert [one.time_s for one in told.settings] == sorted(
        (one.time_s for one in told.settings), reverse=True
    )
    strong = found[0.5, 50.0]
    assert (strong.moves, strong.length_mm) == (2, 180.0)
    assert strong.line_energy_j_mm == pytest.approx(30.0 / 50.0)
    assert sum(one.energy_j for one in told.settings) == pytest.approx(told.energy_j, abs=1e-2)
    assert sum(one.time_s for one in told.kinds) == pytest.approx(told.time_s, abs=1e-2)


def test_mean_speed_is_of_time_in_motion() -> None:
    told = simulated(ONE_LINE.format(mode="M4"), machine(settle_s=2.0, beam_delay_s=1.0))
    cut = next(one for one in told.kinds if one.kind == "lines and loops")
    assert cut.time_s == pytest.approx(3.0 + 60.0 / V + V / A, abs=2e-3)
    assert cut.mean_speed_mm_s == pytest.approx(60.0 / (60.0 / V + V / A), rel=1e-4)


def test_waits_of_the_program_count_and_a_standing_beam_is_told() -> None:
    told = simulated("G21 G90|M3 S0|G1 X10 S500 F3000|G4 P2.5|X20|M5|G4 P1|M2")
    assert told.wait_s == pytest.approx(3.5)
    assert any("(G4)" in note for note in told.notes)
    assert any("stands still in 1 place, first in line 4" in note for note in told.notes)
    assert sum(cause.time_s for cause in told.causes) == pytest.approx(told.time_s, abs=1e-2)


def test_what_the_machine_file_explains_is_not_told() -> None:
    text = "G21 G90|M4 S0|M8|G0 Z-1|G1 X10 S500 F3000|G0 Z0|M9|M2"
    known = machine(focus_speed_mm_s=4.0)
    words = known.controller.model_copy(update={"air_on": "M8", "air_off": "M9"})
    notes = " ".join(simulated(text, known.model_copy(update={"controller": words})).notes)
    assert "M8" not in notes and "Z axis" not in notes
    notes = " ".join(simulated(text).notes)
    assert "line 3: M8" in notes and "2 moves of the Z axis" in notes


def test_a_program_that_moves_nothing() -> None:
    told = simulated("G21 G90|M2")
    assert told.time_s == told.energy_j == told.mean_speed_mm_s == told.beam_on_share == 0.0
    assert told.peak_line_energy is None and told.longest_travel is None
    assert told.kinds == told.settings == ()
    assert "moves" in printed(told)


def test_causes_name_what_costs_time() -> None:
    """A circle of tiny moves: each limit of the machine shows where it binds."""
    arc = "G21 G90|M4 S0|G1 X0 Y0 F60000|G2 X0 Y0 I40 J0 S500|M5|M2"
    free = machine(
        junction_deviation_mm=0.2,
        cutting=AxisLimits(speed_mm_s=(1000.0, 1000.0), acceleration_mm_s2=(3000.0, 3000.0)),
    )
    costs = {one.cause: one.time_s for one in simulated(arc, free).causes}
    # once round at √(a·r), not at 1000 mm/s
    circle_s = 0.08 * 3.1416 * (1000.0 / (3000.0 * 40.0) ** 0.5 - 1.0)
    assert 0.3 * circle_s < costs[Cause.CURVES] < circle_s
    assert Cause.SUPPLY not in costs
    starved = free.model_copy(update={"controller": Controller(moves_per_s=50.0)})
    assert {one.cause: one.time_s for one in simulated(arc, starved).causes}[Cause.SUPPLY] > 1.0
    blind = free.model_copy(update={"controller": Controller(look_ahead_moves=2)})
    assert {one.cause: one.time_s for one in simulated(arc, blind).causes}[Cause.LOOK_AHEAD] > 0.05


@given(toolpath=toolpaths(), limits=machines())
def test_causes_add_up_to_the_clock(toolpath: Toolpath, limits: Machine) -> None:
    causes = causes_s(toolpath, limits)
    assert sum(causes.values()) == pytest.approx(
        time_toolpath(toolpath, limits).total_s, rel=1e-9, abs=1e-9
    )
    # whoever comes slower into a bend has a little more left to speed up with
    assert min(causes.values()) >= -1e-2 * sum(causes.values())


def printed(told: Simulation) -> str:
    out = io.StringIO()
    print_simulation(told, Console(file=out, width=160))
    return out.getvalue()


def test_people_read_the_same_figures() -> None:
    text = printed(simulated(ONE_LINE.format(mode="M4")))
    assert "36 J" in text
    assert "most on one spot's width of a line: 0.6 J/mm at x" in text
    assert "50 %, 50 mm/s" in text
    assert "going at the speed asked for" in text


def test_many_powers_are_summed_up_for_people_but_not_for_programs() -> None:
    shades = "|".join(f"X{2 * i + 2} S{i + 1}" for i in range(60))
    told = simulated(f"G21 G90|M4 S0|G1 X1 F6000|{shades}|X130 S0|M5|M2")
    assert len(told.settings) == 60
    assert "52 more" in printed(told)
