"""Picture of a program over time as SVG: how fast, how strong, and what kind of move.

A few moves are drawn as they are, each kind in its own style of line; many as the lowest, the
highest and the mean of every column of a pixel's width.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from kerfwright.findings import number_of
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.trace import IntArray, Trace
from kerfwright.output.pictures import STYLE
from kerfwright.output.simulation import KIND_NAMES
from kerfwright.output.text import duration, printable, short_number, xml_text
from kerfwright.output.time_columns import Columns, columns_of
from kerfwright.program.model import Program
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind

WIDTH_PX = 960
LEFT, RIGHT = 212, 932
"""Edges of the plots; names stand to the left of them."""
SPEED_TOP, SPEED_BOTTOM = 62, 262
POWER_TOP, POWER_BOTTOM = 284, 354
SPEED_TICKS, POWER_TICKS = 5, 2
LANES_TOP, LANE_PX, BAR_PX = 408, 22, 14

EXACT_STRETCHES = 700
"""Stretches that can still be told apart when each is drawn."""

STANDING = "standing"
LANES = (*KIND_NAMES.values(), STANDING)
STYLES = ("travel", "runup", "row", "line", "still")
"""Style of line of each lane."""

_STYLE = (
    ".kw.time text{stroke:none;text-anchor:start;font-size:12px}"
    ".kw.time .head{font-size:15px;font-weight:600}"
    ".kw.time .soft{fill:var(--edge)}"
    ".kw.time .end{text-anchor:end}.kw.time .mid{text-anchor:middle}"
    ".kw.time .grid{stroke:var(--edge);stroke-opacity:.28;stroke-width:1}"
    ".kw.time .axis{stroke:var(--edge);stroke-width:1}"
    ".kw.time .band{fill:var(--tint);fill-opacity:.45;stroke:none}"
    ".kw.time .beam{fill:var(--tint);fill-opacity:.3;stroke:none}"
    ".kw.time .share{fill:var(--ink);fill-opacity:.72;stroke:none}"
    ".kw.time .mean{stroke:var(--ink);stroke-width:1.2}"
    ".kw.time .row,.kw.time .line{stroke:var(--ink);stroke-width:1.6}"
    ".kw.time .row{stroke-dasharray:12 2.5;stroke-linecap:butt}"
    ".kw.time .travel{stroke:var(--ink);stroke-width:1.1;stroke-dasharray:5 4}"
    ".kw.time .runup{stroke:var(--ink);stroke-width:1.6;stroke-dasharray:.1 3.6}"
    ".kw.time .still{stroke:var(--soft);stroke-width:3;stroke-linecap:butt}"
)


def speed_picture(program: Program, machine: Machine, trace: Trace) -> str:
    """Picture of a program's trace."""
    lanes = _lanes_of(program, trace)
    total_s = trace.total_s
    body = [_head(program, machine, trace)]
    used = [lane for lane in range(len(LANES)) if (lanes == lane).any()]
    high = LANES_TOP + LANE_PX * max(len(used), 1) + 14
    if len(trace) and total_s > 0.0:
        body += _plots(trace, lanes, used, total_s)
    else:
        body.append(_text(LEFT, SPEED_TOP + 40, "The program moves nothing.", "soft"))
    about = (
        f"Speed, power and kinds of moves over {duration(total_s)}, "
        f"{number_of(len(program.toolpath), 'move')}."
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="kw time" role="img" '
        f'aria-labelledby="speed-title speed-desc" width="{WIDTH_PX}" height="{high}" '
        f'viewBox="0 0 {WIDTH_PX} {high}">'
        f'<title id="speed-title">{xml_text(f"Speed over time: {program.name}")}</title>'
        f'<desc id="speed-desc">{xml_text(about)}</desc>'
        f"<style>{STYLE}{_STYLE}</style>"
        f'<rect class="card" x=".5" y=".5" width="{WIDTH_PX - 1}" height="{high - 1}" rx="6"/>'
        f"{''.join(body)}</svg>\n"
    )


def _lanes_of(program: Program, trace: Trace) -> IntArray:
    lane_of_kind = np.full(len(MoveKind), list(KIND_NAMES).index(MoveKind.CUT))
    for lane, kind in enumerate(KIND_NAMES):
        lane_of_kind[kind] = lane
    lanes = lane_of_kind[program.toolpath.moves["kind"][trace.move]]
    return np.where(trace.length_mm == 0.0, LANES.index(STANDING), lanes)


def _head(program: Program, machine: Machine, trace: Trace) -> str:
    name = printable(program.name)
    name = name if len(name) <= 60 else name[:59] + "…"
    told = f"{duration(trace.total_s)} on {printable(machine.name)[:60]}"
    return _text(20, 26, name, "head") + _text(RIGHT, 26, told, "soft end")


def _plots(trace: Trace, lanes: IntArray, used: list[int], total_s: float) -> Iterator[str]:
    columns = columns_of(trace, lanes, len(LANES), RIGHT - LEFT)
    exact = len(trace) <= EXACT_STRETCHES
    bottom = LANES_TOP + LANE_PX * len(used) - 4
    yield from _time_axis(total_s, bottom)
    top_mm_s = _round_up(float(columns.high_mm_s.max()), SPEED_TICKS)
    top_w = _round_up(float(columns.high_w.max()), POWER_TICKS)
    yield from _value_axis("speed, mm/s", top_mm_s, SPEED_TICKS, SPEED_TOP, SPEED_BOTTOM)
    yield from _value_axis("power, W", top_w, POWER_TICKS, POWER_TOP, POWER_BOTTOM)
    if exact:
        yield _text(20, SPEED_TOP + 24, "shaded: beam on", "soft")
        yield from _drawn_exactly(trace, lanes, total_s, top_mm_s, top_w)
    else:
        yield from _drawn_in_columns(columns, top_mm_s, top_w)
    yield _text(20, LANES_TOP - 13, "moves, share of time", "")
    for row, lane in enumerate(used):
        yield from _lane(columns.shares[:, lane], lane, LANES_TOP + LANE_PX * row, exact=exact)


def _drawn_exactly(
    trace: Trace, lanes: IntArray, total_s: float, top_mm_s: float, top_w: float
) -> Iterator[str]:
    ends_s = trace.begin_s + trace.seconds
    x = _across(np.column_stack([trace.begin_s, ends_s]), total_s)
    speed = np.column_stack([trace.start_mm_s, trace.end_mm_s])
    power = np.column_stack([trace.start_w, trace.end_w])
    speed_y = _up(speed, top_mm_s, SPEED_TOP, SPEED_BOTTOM)
    power_y = _up(power, top_w, POWER_TOP, POWER_BOTTOM)
    lit = power.max(axis=1) > 0.0
    for first, last in _runs(lit.astype(np.int64)):
        if lit[first]:
            across, up = x[first:last].ravel(), speed_y[first:last].ravel()
            yield _area(across, up, np.full_like(up, SPEED_BOTTOM), "beam")
    across, up = x.ravel(), power_y.ravel()
    yield _area(across, up, np.full_like(up, POWER_BOTTOM), "band")
    yield f'<path class="mean" d="{_line(across, up)}"/>'
    for lane, style in enumerate(STYLES):
        data = "".join(
            _line(x[first:last].ravel(), speed_y[first:last].ravel())
            for first, last in _runs(lanes)
            if lanes[first] == lane
        )
        if data:
            yield f'<path class="{style}" d="{data}"/>'


def _drawn_in_columns(columns: Columns, top_mm_s: float, top_w: float) -> Iterator[str]:
    yield _text(20, SPEED_TOP + 24, "shaded: lowest to highest", "soft")
    yield _text(20, SPEED_TOP + 40, f"within {_short_time(columns.seconds)}", "soft")
    yield _text(20, SPEED_TOP + 56, "line: mean", "soft")
    x: FloatArray = np.arange(len(columns.low_w), dtype=np.float64) + (LEFT + 0.5)
    for low, high, mean, top, upper, lower in (
        (columns.low_mm_s, columns.high_mm_s, columns.mean_mm_s, top_mm_s, SPEED_TOP, SPEED_BOTTOM),
        (columns.low_w, columns.high_w, columns.mean_w, top_w, POWER_TOP, POWER_BOTTOM),
    ):
        low_y, high_y, mean_y = (_up(values, top, upper, lower) for values in (low, high, mean))
        yield _area(x, high_y, low_y, "band")
        yield f'<path class="mean" d="{_line(x, mean_y)}"/>'


def _lane(share: FloatArray, lane: int, top: float, *, exact: bool) -> Iterator[str]:
    """One kind's share of every column's time as the height of a bar."""
    middle = top + 0.5 * BAR_PX
    yield _text(LEFT - (46 if exact else 8), middle, LANES[lane], "soft end")
    if exact:
        yield f'<path class="{STYLES[lane]}" d="M{LEFT - 40} {_n(middle)}h32"/>'
    yield f'<path class="grid" d="M{LEFT} {_n(top + BAR_PX)}H{RIGHT}"/>'
    heights = np.round(BAR_PX * share, 1)
    data = "".join(
        f"M{LEFT + first} {_n(top + BAR_PX)}v-{_n(heights[first])}h{last - first}"
        f"v{_n(heights[first])}z"
        for first, last in _runs(np.round(heights * 10.0).astype(np.int64))
        if heights[first] > 0.0
    )
    yield f'<path class="share" d="{data}"/>'


def _time_axis(total_s: float, bottom: float) -> Iterator[str]:
    in_minutes = total_s >= 180.0
    unit_s, unit = (60.0, "min") if in_minutes else (1.0, "s")
    step = _step(total_s / unit_s, 8)
    ticks = np.arange(0.0, total_s / unit_s * (1.0 + 1e-9), step)
    x = _across(ticks * unit_s, total_s)
    data = "".join(f"M{_n(at)} {SPEED_TOP}V{_n(bottom)}" for at in x.tolist())
    yield f'<path class="grid" d="{data}"/>'
    for at, tick in zip(x.tolist(), ticks.tolist(), strict=True):
        yield _text(at, POWER_BOTTOM + 14, short_number(tick, _decimals(step)), "soft mid")
    yield _text(20, POWER_BOTTOM + 14, f"time, {unit}", "")


def _value_axis(name: str, top: float, at_most: int, upper: int, lower: int) -> Iterator[str]:
    step = _step(top, at_most)
    ticks = np.arange(0.0, top * (1.0 + 1e-9), step)
    y = _up(ticks, top, upper, lower)
    data = "".join(f"M{LEFT} {_n(at)}H{RIGHT}" for at in y.tolist())
    yield f'<path class="grid" d="{data}"/><path class="axis" d="M{LEFT} {upper}V{lower}H{RIGHT}"/>'
    for at, tick in zip(y.tolist(), ticks.tolist(), strict=True):
        yield _text(LEFT - 8, at, short_number(tick, _decimals(step)), "soft end")
    yield _text(20, upper + 6, name, "")


def _across(seconds: FloatArray, total_s: float) -> FloatArray:
    return LEFT + seconds * (RIGHT - LEFT) / total_s


def _up(values: FloatArray, top: float, upper: int, lower: int) -> FloatArray:
    return lower - values * (lower - upper) / top


def _step(top: float, at_most: int) -> float:
    """Step of 1, 2 or 5 times a power of ten with few ticks up to ``top``."""
    ten = 10.0 ** math.floor(math.log10(top / at_most))
    return next(step * ten for step in (1.0, 2.0, 5.0, 10.0) if step * ten * at_most >= top * 0.999)


def _decimals(step: float) -> int:
    return max(0, -math.floor(math.log10(step) + 1e-9))


def _round_up(value: float, at_most: int) -> float:
    """End of an axis: the tick at or above the highest value."""
    if value <= 0.0:
        return 1.0
    step = _step(value, at_most)
    return math.ceil(value / step - 1e-6) * step


def _runs(labels: IntArray) -> Iterator[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(labels)) + 1
    bounds = [0, *edges.tolist(), len(labels)]
    yield from pairwise(bounds)


def _area(x: FloatArray, upper: FloatArray, lower: FloatArray, style: str) -> str:
    there, back = _line(x, upper), _line(x[::-1], lower[::-1])
    return f'<path class="{style}" d="{there}L{back[1:]}z"/>'


def _line(x: FloatArray, y: FloatArray) -> str:
    """Path data without points that repeat the one before or go straight on level."""
    x, y = np.round(x, 2), np.round(y, 1)
    pieces: list[str] = []
    for i, (across, up) in enumerate(zip(x.tolist(), y.tolist(), strict=True)):
        level = 0 < i < len(y) - 1 and y[i - 1] == up == y[i + 1]
        if not level:
            pieces.append(f"{_n(across)} {_n(up)}")
    return "M" + "L".join(pieces)


def _n(value: float) -> str:
    return short_number(value, 2)


def _short_time(seconds: float) -> str:
    return f"{1000.0 * seconds:.3g} ms" if seconds < 0.9995 else duration(seconds)


def _text(x: float, y: float, words: str, style: str) -> str:
    kind = f' class="{style}"' if style else ""
    return f'<text x="{_n(x)}" y="{_n(y)}"{kind}>{xml_text(words)}</text>'
