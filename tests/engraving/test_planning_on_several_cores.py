"""Ways are worked out side by side, and a plan is the same on one core as on many."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import TypeVar

import numpy as np
import pytest
from shapely import MultiPolygon

from engraved_shapes import bordered_sign, letters, ring
from kerfwright import cores
from kerfwright.cores import at_once, both
from kerfwright.engraving.choose import EngravedArea, engrave
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe

TIMEOUT_S = 60.0

Test = TypeVar("Test", bound=Callable[[], None])


@pytest.fixture
def threads(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    """As many threads beside the calling one as the test is asked for, whatever the machine."""
    pool = ThreadPoolExecutor(request.param) if request.param else None
    monkeypatch.setattr(cores, "_threads", lambda: pool)
    if pool is not None:
        request.addfinalizer(pool.shutdown)


def planned(area: MultiPolygon, machine: Machine) -> EngravedArea:
    recipe = Recipe(
        machine=machine.name,
        process="engrave",
        speed_mm_s=800.0,
        power=0.4,
        interval_mm=0.2,
        slowest_row=0.5,
    )
    return engrave(area, recipe, machine, source=3)


def beside(*counts: int) -> Callable[[Test], Test]:
    """Run a test with so many threads beside the calling one."""

    def marked(test: Test) -> Test:
        counted = pytest.mark.parametrize("threads", counts, indirect=True)
        return counted(pytest.mark.usefixtures("threads")(test))

    return marked


@beside(0, 1, 3)
def test_results_come_in_the_order_of_their_tasks() -> None:
    assert at_once([]) == []
    assert at_once([partial(pow, number, 2) for number in range(40)]) == [
        number**2 for number in range(40)
    ]


@beside(0, 1, 3)
def test_tasks_may_have_tasks_of_their_own() -> None:
    def tree(depth: int) -> int:
        return 1 if depth == 0 else sum(at_once([partial(tree, depth - 1)] * 3))

    assert tree(5) == 3**5
    assert both(lambda: tree(3), lambda: "other") == (27, "other")


@beside(1)
def test_two_tasks_run_at_the_same_time() -> None:
    """Each waits for the other, so that one after the other they would never end."""
    met = threading.Barrier(2, timeout=TIMEOUT_S)
    assert sorted(at_once([met.wait, met.wait])) == [0, 1]


@beside(0, 1, 3)
def test_what_a_task_raises_is_raised() -> None:
    def fails() -> int:
        raise ValueError("no such angle")

    for tasks in ([fails, int], [int, fails], [int, int, fails, int]):
        with pytest.raises(ValueError, match="no such angle"):
            at_once(tasks)
    assert at_once([int, int]) == [0, 0]


@pytest.mark.parametrize("area", [bordered_sign(120.0, 60.0), letters(), ring()])
def test_a_plan_is_the_same_to_the_last_bit_on_one_core_and_on_many(
    area: MultiPolygon, machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cores, "_threads", lambda: None)
    alone = planned(area, machine)
    with ThreadPoolExecutor(3) as pool:
        monkeypatch.setattr(cores, "_threads", lambda: pool)
        together = [planned(area, machine) for _ in range(2)]
    for work in together:
        assert work.times_s == alone.times_s
        assert work.scan_times_s == alone.scan_times_s
        assert np.array_equal(work.toolpath.moves, alone.toolpath.moves)
        assert [cell.seconds for cell in work.cells] == [cell.seconds for cell in alone.cells]
