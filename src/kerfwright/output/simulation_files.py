"""The files that a simulation writes when asked to."""

from __future__ import annotations

from pathlib import Path

from kerfwright.errors import KerfwrightError
from kerfwright.motion.trace import Trace
from kerfwright.output.speed_picture import speed_picture
from kerfwright.output.trace_file import require_trace_name, write_trace
from kerfwright.output.whole_file import whole_file
from kerfwright.program.model import Program
from kerfwright.shop.machine import Machine


def require_names(trace: Path | None, step_s: float | None, picture: Path | None) -> None:
    """Refuse what cannot be written, before any work.

    Raises:
        KerfwrightError: ``program/picture-name``, ``program/trace-name``, ``program/trace-step``
            or ``program/trace-needs-parquet``.
    """
    if picture is not None and picture.suffix.lower() != ".svg":
        raise KerfwrightError(
            "program/picture-name",
            file=str(picture),
            thing="the picture is written as SVG.",
            remedy="Let the name end in .svg.",
        )
    if trace is not None:
        require_trace_name(trace, step_s)
    elif step_s is not None:
        raise KerfwrightError(
            "program/trace-step",
            file="--trace-step",
            thing="a step of time is given, but no trace is asked for.",
            remedy="Add --trace FILE.csv, or leave the step out.",
        )


def write_files(
    program: Program,
    machine: Machine,
    traced: Trace,
    *,
    trace: Path | None = None,
    step_s: float | None = None,
    picture: Path | None = None,
) -> None:
    """Write the trace and the picture that are asked for.

    Raises:
        KerfwrightError: ``program/cannot-write``, and those of :func:`require_names`.
    """
    if trace is not None:
        write_trace(trace, program, traced, step_s)
    if picture is not None:
        with whole_file(picture) as beside:
            beside.write_text(speed_picture(program, machine, traced), encoding="utf-8")
