"""Times that the trade knows, and textbook closed forms for them.

Facts of the trade (common practice, no source): with lines 0.1 mm apart at 1000 mm/s, a solid
50 mm square takes about 1:25-1:29 in rows and about 2:49 in loops; a sign about 600 mm wide with
a 13 mm border set in 10 mm takes about 31 min in rows right across and about 8 min in loops. The
accelerations that go with them are 16 m/s² for rows and 3.1 m/s² for loops; one machine has to
give all four times. Allowed: ±5 % for the square, of which everything is said; ±25 % for the sign,
as its height is not said (290 mm is assumed) nor how its loops go round the border. The faster way
must be the same. The trade's loops have sharp corners and are joined by steps; rounded ones in
spirals, which the planner makes by itself, are faster.

Closed forms: a row of length L costs L/v + 2·v/a, a side of a loop from rest to rest 2·√(L/a)
(any mechanics handbook).
"""

from __future__ import annotations

import numpy as np
import pytest

from engraved_shapes import bordered_sign, square
from kerfwright.engraving.burn import Burn
from kerfwright.engraving.choose import engrave
from kerfwright.engraving.contour_parallel import contour_parallel
from kerfwright.engraving.scan import scan
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe

V, ROWS_A, LOOPS_A, INTERVAL = 1000.0, 16_000.0, 3_100.0, 0.1
SQUARE, SIGN = 0.05, 0.25
BURN = Burn(speed_mm_s=V, power=0.5, interval_mm=INTERVAL, spot_mm=0.1, source=0)


def rows_s(machine: Machine, *, sign: bool) -> float:
    area = bordered_sign() if sign else square(50.0)
    return scan(area, BURN, machine, arrangement="together").times_s["together"]


def loops_s(machine: Machine, *, sign: bool) -> float:
    area = bordered_sign() if sign else square(50.0)
    loops = contour_parallel(area, BURN, machine, sharp_corners=True, joining="steps")
    return time_toolpath(loops.toolpath, machine).total_s


def test_square_in_rows(machine: Machine) -> None:
    seconds = rows_s(machine, sign=False)
    assert seconds == pytest.approx(87.0, rel=SQUARE)
    # run-ups lean towards the next row, so that the step across takes no time of its own
    assert seconds == pytest.approx(500 * (50.0 / V + 2.0 * V / ROWS_A), rel=0.002)


def test_square_in_loops(machine: Machine) -> None:
    seconds = loops_s(machine, sign=False)
    assert seconds == pytest.approx(169.0, rel=SQUARE)
    sides = 50.0 - INTERVAL - 2.0 * INTERVAL * np.arange(250)
    # the closed form stops dead at every corner; the machine keeps a little speed there
    assert seconds == pytest.approx(8.0 * np.sqrt(sides / LOOPS_A).sum(), rel=0.05)


def test_bordered_sign_in_rows_right_across(machine: Machine) -> None:
    assert rows_s(machine, sign=True) == pytest.approx(31 * 60, rel=SIGN)


def test_bordered_sign_in_loops(machine: Machine) -> None:
    assert loops_s(machine, sign=True) == pytest.approx(8 * 60, rel=SIGN)


def test_the_faster_way_is_the_trades(machine: Machine) -> None:
    assert rows_s(machine, sign=False) < loops_s(machine, sign=False)
    assert loops_s(machine, sign=True) < rows_s(machine, sign=True)
    recipe = Recipe(
        machine="trial machine", process="engrave", speed_mm_s=V, power=0.5, interval_mm=INTERVAL
    )
    assert engrave(square(50.0), recipe, machine, source=0).way == "scan"
    sign = engrave(bordered_sign(), recipe, machine, source=0)
    assert sign.times_s["contour-parallel"] < sign.times_s["scan"]
    assert sign.way == "mixed"
