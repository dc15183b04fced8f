"""The outside engine in a process of its own: the engine cannot be stopped, but a process can.

``python -m kerfwright.nesting.strip_engine_process`` reads a :class:`Task` and writes every shorter
:class:`Solution`, each a line of JSON. It ends when the engine does, or when its input is closed.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
from collections.abc import Iterator
from datetime import timedelta
from typing import NamedTuple

import spyrrow

LEGAL = (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas, spyrrow.ReportType.Final)
"""Reports of the engine that are layouts without overlaps."""

ASK_S = 0.05
"""How often the engine's reports are looked for."""


class Item(NamedTuple):
    """One kind of piece."""

    outline: list[tuple[float, float]]
    quantity: int
    turns_deg: list[float]


class Task(NamedTuple):
    """What the engine is to solve, and for how long."""

    across_mm: float
    items: list[Item]
    exploring_s: float
    squeezing_s: float
    seed: int
    workers: int


class Placed(NamedTuple):
    """Where one piece lies; ``item`` counts from 0."""

    item: int
    turn_deg: float
    x_mm: float
    y_mm: float


class Solution(NamedTuple):
    """A layout without overlaps."""

    width_mm: float
    placed: list[Placed]


def written(message: Task | Solution) -> str:
    """One line that :func:`read_task` or :func:`read_solution` reads."""
    return json.dumps(message) + "\n"


def read_task(line: str) -> Task:
    """Read what was written."""
    task = Task(*json.loads(line))
    return task._replace(items=[Item(*item) for item in task.items])


def read_solution(line: str) -> Solution:
    """Read what was written."""
    width_mm, placed = json.loads(line)
    return Solution(width_mm, [Placed(*one) for one in placed])


def solutions(task: Task) -> Iterator[Solution]:
    """Let the engine work; each solution is shorter than the last."""
    reports = spyrrow.ProgressQueue()
    results: list[spyrrow.StripPackingSolution] = []
    faults: list[BaseException] = []

    def work() -> None:
        try:
            results.append(_instance(task).solve(_settings(task), reports))
        except BaseException as fault:  # the engine's panics are no Exception
            faults.append(fault)

    thread = threading.Thread(target=work, daemon=True)
    thread.start()
    shortest: spyrrow.StripPackingSolution | None = None
    works = True
    while works:
        thread.join(ASK_S)
        works = thread.is_alive()  # what it leaves at its end is read after that
        found = [solution for kind, solution in reports.drain() if kind in LEGAL] + results
        best = min(found, key=lambda one: one.width, default=None)
        if best is not None and (shortest is None or best.width < shortest.width):
            shortest = best
            yield _solution(best)
    if faults:
        raise faults[0]


def _instance(task: Task) -> spyrrow.StripPackingInstance:
    items = [
        spyrrow.Item(str(number), [(x, y) for x, y in item.outline], item.quantity, item.turns_deg)
        for number, item in enumerate(task.items)
    ]
    return spyrrow.StripPackingInstance("sheet", task.across_mm, items)


def _settings(task: Task) -> spyrrow.StripPackingConfig:
    settings = spyrrow.StripPackingConfig(
        total_computation_time=1, num_workers=task.workers, seed=task.seed
    )
    # the constructor takes whole seconds only
    settings.exploration_time = timedelta(seconds=task.exploring_s)
    settings.compression_time = timedelta(seconds=task.squeezing_s)
    return settings


def _solution(found: spyrrow.StripPackingSolution) -> Solution:
    placed = [
        Placed(int(one.id), one.rotation, one.translation[0], one.translation[1])
        for one in found.placed_items
    ]
    return Solution(found.width, placed)


def _end_with_input() -> None:
    while os.read(sys.stdin.fileno(), 1):
        pass
    os._exit(1)  # nobody is left to search for


def main() -> None:
    """Solve the task in the first line of the input."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for whoever began this process
    task = read_task(sys.stdin.readline())
    threading.Thread(target=_end_with_input, daemon=True).start()
    for solution in solutions(task):
        sys.stdout.write(written(solution))
        sys.stdout.flush()


if __name__ == "__main__":
    main()
