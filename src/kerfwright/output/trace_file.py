"""Position, speed and power over time, as a table for other programs: CSV or Parquet."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from kerfwright.errors import KerfwrightError
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.moments import Moments, moments_at, moments_of_change
from kerfwright.motion.trace import Trace
from kerfwright.output.simulation import KIND_NAMES
from kerfwright.output.whole_file import whole_file
from kerfwright.program.model import Program

COLUMNS = {
    "time_s": 9,
    "x_mm": 6,
    "y_mm": 6,
    "speed_mm_s": 6,
    "power_w": 6,
    "kind": None,
    "line": 0,
    "move": 0,
}
"""Columns in their order with the decimals of the CSV form."""

STANDING = "standing"
"""Kind of a row in which the machine waits."""

MOST_ROWS = 20_000_000
ROWS_AT_ONCE = 100_000


def require_trace_name(path: Path, step_s: float | None = None) -> None:
    """Refuse a name or step that no trace can be written with, before the work is done.

    Raises:
        KerfwrightError: ``program/trace-name``, ``program/trace-step`` or
            ``program/trace-needs-parquet``.
    """
    if path.suffix.lower() not in WRITERS:
        raise KerfwrightError(
            "program/trace-name",
            file=str(path),
            thing="a trace is written as CSV or as Parquet, told by the end of its name.",
            remedy="Let the name end in .csv or .parquet.",
        )
    if path.suffix.lower() == ".parquet":
        _parquet(path)
    if step_s is not None and not 0.0 < step_s < float("inf"):
        raise _bad_step(f"{step_s:g} s is no step of time.", "Give seconds above 0, such as 0.01.")


def write_trace(path: Path, program: Program, trace: Trace, step_s: float | None = None) -> Moments:
    """Write a program's trace: a row at every change of acceleration, or every ``step_s``.

    Raises:
        KerfwrightError: as :func:`require_trace_name`, and ``program/cannot-write``.
    """
    require_trace_name(path, step_s)
    if step_s is None:
        moments = moments_of_change(trace, program.toolpath)
    else:
        moments = moments_at(trace, program.toolpath, _even_times(trace.total_s, step_s))
    with whole_file(path) as beside:
        WRITERS[path.suffix.lower()](beside, _columns(program, moments))
    return moments


def _even_times(total_s: float, step_s: float) -> FloatArray:
    if total_s / step_s > MOST_ROWS:
        raise _bad_step(
            f"{total_s:.0f} s in steps of {step_s:g} s are more than {MOST_ROWS} rows.",
            f"Give at least {total_s / MOST_ROWS:.2g}, or leave it out: then there is a row "
            "wherever the acceleration changes.",
        )
    times: FloatArray = np.arange(int(total_s / step_s) + 1) * np.float64(step_s)
    return times if total_s - times[-1] < 1e-9 else np.append(times, total_s)


def _bad_step(thing: str, remedy: str) -> KerfwrightError:
    return KerfwrightError("program/trace-step", file="--trace-step", thing=thing, remedy=remedy)


def _columns(program: Program, moments: Moments) -> dict[str, npt.NDArray[Any]]:
    names = np.full(256, "", dtype=f"<U{max(map(len, (*KIND_NAMES.values(), STANDING)))}")
    for kind, name in KIND_NAMES.items():
        names[kind] = name
    kinds = program.toolpath.moves["kind"][moments.move]
    return {
        "time_s": moments.time_s,
        "x_mm": moments.x_mm,
        "y_mm": moments.y_mm,
        "speed_mm_s": moments.speed_mm_s,
        "power_w": moments.power_w,
        "kind": np.where(moments.standing, STANDING, names[kinds]),
        "line": program.line_of_move[moments.move],
        "move": moments.move + 1,
    }


def _write_csv(path: Path, columns: dict[str, npt.NDArray[Any]]) -> None:
    """After RFC 4180, with the line end of the simplest tools; no field needs quotes."""
    rounded = [
        values if decimals is None or decimals == 0 else np.round(values, decimals) + 0.0
        for values, decimals in zip(columns.values(), COLUMNS.values(), strict=True)
    ]
    form = ",".join(
        "{}" if decimals is None else f"{{:.{decimals}f}}" if decimals else "{:d}"
        for decimals in COLUMNS.values()
    )
    with path.open("w", encoding="ascii", newline="\n") as out:
        out.write(",".join(COLUMNS) + "\n")
        for first in range(0, len(rounded[0]), ROWS_AT_ONCE):
            rows = zip(*(v[first : first + ROWS_AT_ONCE].tolist() for v in rounded), strict=True)
            out.writelines(form.format(*row) + "\n" for row in rows)


def _write_parquet(path: Path, columns: dict[str, npt.NDArray[Any]]) -> None:
    arrow, parquet = _parquet(path)
    table = arrow.table(
        {
            name: arrow.array(values.tolist() if name == "kind" else values)
            for name, values in columns.items()
        }
    )
    table = table.set_column(
        table.schema.get_field_index("kind"), "kind", table["kind"].dictionary_encode()
    )
    parquet.write_table(table, str(path), compression="zstd")


def _parquet(path: Path) -> tuple[Any, Any]:
    try:
        return import_module("pyarrow"), import_module("pyarrow.parquet")
    except ImportError:
        raise KerfwrightError(
            "program/trace-needs-parquet",
            file=str(path),
            thing="Parquet needs the library pyarrow, which is not installed.",
            remedy='Install it with: pip install "kerfwright[trace]". Or let the name end in .csv.',
        ) from None


WRITERS: dict[str, Callable[[Path, dict[str, npt.NDArray[Any]]], None]] = {
    ".csv": _write_csv,
    ".parquet": _write_parquet,
}
