"""A program changed anywhere at random is found, or still burns the same picture.

Whether the picture is the same is decided by a reader of its own, which knows only the words that
these programs hold and compares where, how strongly and how fast they burn.
"""

from __future__ import annotations

import math
import os
import re
from dataclasses import dataclass, field
from functools import cache

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

import worked_sheets as worked
from kerfwright.errors import KerfwrightError
from kerfwright.program.interpreter import interpret
from kerfwright.program.verify import verify

STEP_MM = 0.1
PLACE_MM = 0.65
"""Ends of engraving rows and of cuts may be off by so much without a fault: half a millimetre of
a line, and what lies between two samples."""

LENGTH_MM = 3.5
"""So much line may lack or be burned again in all: 2 mm of rows, an overcut, ends of lines."""

LEAD_INS_MM = 5 * worked.FULL_CUT.lead_in_mm
"""All lead-ins of a program together; they may lie in the waste as they like."""

SETTING = 0.0015
"""Share of full power, and of the fastest feed, that a setting may be off by."""

FASTEST_F = 24_000.0


@dataclass
class Burned:
    """Samples of what is burned: x, y, power and feed (weighed to mm), and standing seconds."""

    samples: list[tuple[float, float, float, float]] = field(default_factory=list)
    standing_s: float = 0.0
    rapid: bool = False

    @property
    def table(self) -> np.ndarray:
        table = np.array(self.samples).reshape(-1, 4)
        return table * [1.0, 1.0, PLACE_MM / SETTING / 1000.0, PLACE_MM / SETTING / FASTEST_F]


def burned(lines: list[str]) -> Burned:
    """Follow absolute millimetre programs of G0 to G4, M3 to M5."""
    out = Burned()
    now = dict.fromkeys("XYZSF", 0.0)
    motion, beam, laser_mode = 0, 0, "%" not in lines
    for text in lines:
        words = re.findall(r"([A-Z])(-?\d*\.?\d*)", re.sub(r"\(.*?\)", "", text))
        given = {letter: float(number) for letter, number in words if letter not in "GM"}
        codes = [(letter, float(number)) for letter, number in words if letter in "GM"]
        for letter, number in codes:
            if letter == "M" and number in (3, 4, 5):
                beam = int(number)
            if letter == "M" and number in (2, 30):
                return out
            if letter == "G" and number in (0, 1, 2, 3):
                motion = int(number)
        start = now["X"], now["Y"]
        now.update({letter: value for letter, value in given.items() if letter in now})
        on = beam in (3, 4) and now["S"] > 0.0
        if ("G", 4.0) in codes:
            out.standing_s += given.get("P", 0.0) * (on and (beam == 3 or not laser_mode))
        elif on and given.keys() & set("XYIJ") and not (motion == 0 and laser_mode):
            out.rapid |= motion == 0
            way = along(start, (now["X"], now["Y"]), motion, given)
            out.samples += [(x, y, now["S"], now["F"]) for x, y in way]
    return out


def along(
    start: tuple[float, float], end: tuple[float, float], motion: int, given: dict[str, float]
) -> list[tuple[float, float]]:
    if motion < 2:
        count = max(math.ceil(math.dist(start, end) / STEP_MM), 1) * (start != end)
        shares = [(k + 0.5) / count for k in range(count)]
        return [tuple(a + t * (b - a) for a, b in zip(start, end, strict=True)) for t in shares]
    x, y = start[0] + given.get("I", 0.0), start[1] + given.get("J", 0.0)
    radius = math.dist(start, (x, y))
    first = math.atan2(start[1] - y, start[0] - x)
    last = math.atan2(end[1] - y, end[0] - x)
    turn = (last - first if motion == 3 else first - last) % (2.0 * math.pi) or 2.0 * math.pi
    count = max(math.ceil(radius * turn / STEP_MM), 1)
    angles = [first + (turn if motion == 3 else -turn) * (k + 0.5) / count for k in range(count)]
    return [(x + radius * math.cos(a), y + radius * math.sin(a)) for a in angles]


@cache
def near_parts() -> BaseGeometry:
    near = shapely.union_all([part.polygon for part in worked.parts()])
    near = near.buffer(worked.tile.KERF)
    shapely.prepare(near)
    return near


def in_waste(x: float, y: float) -> bool:
    """Where lead-ins may lie as they like."""
    return not shapely.contains_xy(near_parts(), x, y)


def same_picture(one: list[str], other: list[str]) -> bool:
    a, b = burned(one), burned(other)
    for each in (a, b):
        kept = [sample for sample in each.samples if not in_waste(sample[0], sample[1])]
        if (len(each.samples) - len(kept)) * STEP_MM > LEAD_INS_MM:
            return False
        each.samples = kept
    if a.rapid != b.rapid or abs(a.standing_s - b.standing_s) > 0.005:
        return False
    if abs(len(a.samples) - len(b.samples)) * STEP_MM > LENGTH_MM:
        return False
    if not a.samples or not b.samples:
        return len(a.samples) == len(b.samples)
    return all(
        float(cKDTree(these).query(those)[0].max()) <= 1.5 * PLACE_MM
        for these, those in ((a.table, b.table), (b.table, a.table))
    )


def changed(lines: list[str], how: str, place: int, amount: int) -> list[str]:
    code = [k for k, line in enumerate(lines) if line[0] != "("]
    k = code[place % len(code)]
    out = list(lines)
    if how == "drop":
        del out[k]
    elif how == "double":
        out.insert(k, out[k])
    elif how == "swap" and k + 1 < len(out):
        out[k], out[k + 1] = out[k + 1], out[k]
    elif how == "move":
        out.insert(code[amount % len(code)], out.pop(k))
    elif how == "cut":
        del out[k:]
    else:
        words = out[k].split()
        w = amount % len(words)
        digits = [d for d, sign in enumerate(words[w]) if sign.isdigit()]
        if how == "word" or not digits:
            del words[w]
        else:
            d = digits[amount // 7 % len(digits)]
            digit = (int(words[w][d]) + 1 + amount // 50 % 9) % 10
            words[w] = f"{words[w][:d]}{digit}{words[w][d + 1 :]}"
        out[k] = " ".join(words)
    return [line for line in out if line]


@given(
    name=st.sampled_from(list(worked.PROGRAMS)),
    how=st.sampled_from(["drop", "double", "swap", "move", "cut", "word", "digit", "digit"]),
    place=st.integers(0, 10_000),
    amount=st.integers(0, 10_000),
)
@settings(max_examples=100 if "CI" in os.environ else 200, deadline=None)
def test_a_change_is_found_or_changes_nothing(name: str, how: str, place: int, amount: int) -> None:
    right = list(worked.lines(name))
    lines = changed(right, how, place, amount)
    machine = worked.machine(name)
    try:
        faults = verify(interpret(lines, machine), worked.sheet(name), machine)
    except KerfwrightError:
        return
    if not faults:
        assert same_picture(right, lines), (how, set(right) ^ set(lines))


def test_the_comparison_of_pictures_can_fail() -> None:
    right = list(worked.lines("plain"))
    for wrong in (
        [line.replace("S800", "S790") for line in right],
        [line.replace("F900", "F960") for line in right],
        [line for line in right if line != "X40.1"],
    ):
        assert wrong != right
        assert not same_picture(right, wrong)
