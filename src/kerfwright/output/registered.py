"""A sheet's program turned and moved to where two marks were read on the bed, and proven there."""

from __future__ import annotations

import re
from dataclasses import replace

from kerfwright.errors import KerfwrightError
from kerfwright.motion.timing import time_toolpath
from kerfwright.output.gcode import program_text
from kerfwright.output.reburn import Excerpt, WrittenSheet, proven
from kerfwright.program.excerpt import moves_of_sheet
from kerfwright.program.interpreter import interpret
from kerfwright.program.registration import (
    Pair,
    Registration,
    turned_sheet,
    turned_toolpath,
    turning_faults,
)
from kerfwright.program.verify import verify

_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)"
_TWO_POINTS = re.compile(rf"\s*({_NUMBER}),({_NUMBER})\s+({_NUMBER}),({_NUMBER})\s*")


def two_points(text: str, option: str) -> Pair:
    """Read two points as they are typed: ``"10,10 290,190"``.

    Raises:
        KerfwrightError: ``program/marks-unclear``.
    """
    found = _TWO_POINTS.fullmatch(text)
    if found is None:
        raise KerfwrightError(
            "program/marks-unclear",
            file=option,
            thing=f'"{text}" is not two points.',
            remedy='Give x,y of both marks in mm, decimals with a point: "10,10 290,190".',
        )
    x0, y0, x1, y1 = (float(number) for number in found.groups())
    return (x0, y0), (x1, y1)


def registered(written: WrittenSheet, found: Registration) -> Excerpt:
    """Return the sheet's program where its marks were read, and what it takes there.

    It is written anew, proven against what is wanted in that place, and timed again.

    Raises:
        UnprovenExcerptError: it leaves the bed, or an axis cannot follow.
    """
    sheet, machine = written.sheet, written.machine
    toolpath, sources = moves_of_sheet(written.program, sheet, machine)
    turned = turned_toolpath(toolpath, found.transform)
    there = replace(
        turned_sheet(sheet, found.transform, machine),
        toolpath=turned,
        sources=sources,
        times=time_toolpath(turned, machine),
    )
    x, y = found.moved_mm
    notes = (
        ("Turned", f"{found.turned_deg:.4f} degrees and moved by X{x:.3f} Y{y:.3f}"),
        ("From", written.program.name),
    )
    text = program_text(there, machine, notes)
    read_back = interpret(text.splitlines(), machine, written.program.name)
    faults = (
        *turning_faults(toolpath, turned, machine),
        *verify(read_back, there, machine),
    )
    return proven(text, read_back, faults, machine)
