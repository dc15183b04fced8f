"""The outside engine works in a process of its own, which ends when nobody waits for it."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from kerfwright.nesting import strip_engine as engine_module
from kerfwright.nesting import strip_engine_process as process_module
from kerfwright.nesting.search.model import Stop
from kerfwright.nesting.strip_engine import engine_spots
from kerfwright.nesting.strip_model import StripError, StripPiece

KITES = StripPiece(np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 4.0], [3.0, 8.0]]), 30, (0.0, 90.0))


def long_task() -> process_module.Task:
    kite = process_module.Item([(0.0, 0.0), (9.0, 0.0), (9.0, 4.0), (3.0, 8.0)], 30, [0.0, 90.0])
    return process_module.Task(50.0, [kite], 480.0, 120.0, 1, 1)


@pytest.fixture
def processes(monkeypatch: pytest.MonkeyPatch) -> list[subprocess.Popen[str]]:
    """Every process that is begun for the engine."""
    begun: list[subprocess.Popen[str]] = []
    begin = engine_module._process

    def remembered(complaints: object) -> subprocess.Popen[str]:
        begun.append(begin(complaints))  # type: ignore[arg-type]
        return begun[-1]

    monkeypatch.setattr(engine_module, "_process", remembered)
    return begun


def search_kites(stop: Stop, better: Callable[[object], None]) -> None:
    engine_spots([KITES], 50.0, spacing_mm=1.0, seconds=600.0, seed=1, stop=stop, better=better)


def searched(stop_at: int) -> int:
    heard: list[object] = []
    search_kites(lambda: len(heard) >= stop_at, heard.append)
    return len(heard)


def test_an_engine_that_is_stopped_is_gone(processes: list[subprocess.Popen[str]]) -> None:
    assert searched(stop_at=2) >= 2
    assert [process.poll() is not None for process in processes] == [True]


def test_an_engine_is_gone_when_its_news_are_not_wanted(
    processes: list[subprocess.Popen[str]],
) -> None:
    def unwanted(_: object) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        search_kites(lambda: False, unwanted)
    assert [process.poll() is not None for process in processes] == [True]


def test_a_program_that_stopped_the_engine_ends_well() -> None:
    program = (
        f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r})\n"
        f"from {Path(__file__).stem} import searched\n"
        "print(searched(stop_at=2) >= 2)"
    )
    ended = subprocess.run([sys.executable, "-c", program], capture_output=True, check=False)
    assert (ended.returncode, ended.stdout) == (0, b"True\n"), ended.stderr


def test_the_engine_ends_with_whoever_began_it() -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", process_module.__name__],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    with process:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(process_module.written(long_task()))
        process.stdin.flush()
        assert len(process_module.read_solution(process.stdout.readline()).placed) == 30
        closed = time.monotonic()
        process.stdin.close()
        process.wait(timeout=60.0)
    assert time.monotonic() - closed < 60.0


def test_an_engine_that_breaks_off_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    # a piece that is higher than the strip
    monkeypatch.setattr(engine_module, "SLACK", -0.9)
    with pytest.raises(StripError, match="the engine stopped") as refused:
        searched(stop_at=1)
    assert "it said nothing" not in str(refused.value)


def test_what_the_engine_leaves_at_its_end_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    class EndsWhenAsked(threading.Thread):
        """Comes to its end between being waited for and being asked whether it works."""

        def join(self, timeout: float | None = None) -> None:
            """Wait for nothing."""

        def is_alive(self) -> bool:
            super().join()
            return False

    monkeypatch.setattr(process_module.threading, "Thread", EndsWhenAsked)
    task = long_task()._replace(exploring_s=1e-6, squeezing_s=1e-6)
    assert len(list(process_module.solutions(task))[-1].placed) == 30
