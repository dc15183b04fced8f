"""Picture of how far each reading is from the fitted machine, as SVG."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from kerfwright.findings import number_of
from kerfwright.motion.fit_result import Fit
from kerfwright.output.pictures import STYLE
from kerfwright.output.text import xml_text
from kerfwright.shop.timed_run import TimedRun

WIDTH_PX = 960
LEFT, RIGHT = 270, 912
TOP, LANE_PX = 74, 22
LEAST_SCALE = 0.02
"""The scale reaches at least so far to each side."""

_STYLE = (
    ".kw.fit text{stroke:none;text-anchor:start;font-size:12px}"
    ".kw.fit .head{font-size:15px;font-weight:600}.kw.fit .soft{fill:var(--edge)}"
    ".kw.fit .mid{text-anchor:middle}.kw.fit .end{text-anchor:end}"
    ".kw.fit .grid{stroke:var(--edge);stroke-opacity:.28;stroke-width:1}"
    ".kw.fit .axis{stroke:var(--edge);stroke-width:1.2}"
    ".kw.fit .kept{fill:var(--ink);fill-opacity:.75}"
    ".kw.fit .aside{fill:none;stroke:var(--ink);stroke-width:1.5}"
    ".kw.fit .before{stroke:var(--soft);stroke-width:2}"
)


def fit_picture(fit: Fit, runs: Sequence[TimedRun]) -> str:
    """A lane for each program, a dot for each reading, how far it is from the fitted machine.

    A bar shows where the old machine file would have put the program's mean; readings set aside
    are rings, at the edge where they are far off.
    """
    off = fit.seconds / fit.modelled_s[fit.run_of_reading] - 1.0
    reach = _rounded_up(max(LEAST_SCALE, float(np.abs(off[fit.kept]).max(initial=0.0))))
    high = TOP + LANE_PX * len(runs) + 40
    name = f"Readings of {fit.machine.name} against the fitted machine"
    about = (
        f"{number_of(len(off), 'reading')} of {number_of(len(runs), 'program')}; those used "
        f"spread by {fit.spread:.1%}. {int((~fit.kept).sum())} were set aside."
    )
    body = [
        _text(20, 28, name, "head"),
        _text(20, 48, "dot: a reading; ring: set aside; bar: the old machine file", "soft"),
        *_scale(reach, high),
    ]
    for i, run in enumerate(runs):
        body += _lane(fit, off, i, run.name, reach)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="kw fit" role="img" '
        f'aria-labelledby="fit-title fit-desc" width="{WIDTH_PX}" height="{high}" '
        f'viewBox="0 0 {WIDTH_PX} {high}">'
        f'<title id="fit-title">{xml_text(name)}</title>'
        f'<desc id="fit-desc">{xml_text(about)}</desc><style>{STYLE}{_STYLE}</style>'
        f'<rect class="card" x=".5" y=".5" width="{WIDTH_PX - 1}" height="{high - 1}" rx="6"/>'
        f"{''.join(body)}</svg>\n"
    )


def _scale(reach: float, high: int) -> Iterator[str]:
    bottom = high - 34
    for step in range(-2, 3):
        share = step * reach / 2.0
        x = _across(share, reach)
        style = "grid" if step else "axis"
        yield f'<path class="{style}" d="M{x:.1f} {TOP - 8}V{bottom}"/>'
        yield _text(x, high - 16, f"{share:+.1%}" if step else "0", "soft mid")


def _lane(fit: Fit, off: np.ndarray, i: int, name: str, reach: float) -> Iterator[str]:
    y = TOP + LANE_PX * i + LANE_PX / 2.0 - 4.0
    shown = name if len(name) <= 36 else f"{name[:35]}…"
    yield _text(20, y, shown, "")
    before = fit.before_s[i] / fit.modelled_s[i] - 1.0
    if abs(before) <= reach:
        yield f'<path class="before" d="M{_across(before, reach):.1f} {y - 6:.1f}v12"/>'
    of_run = np.flatnonzero(fit.run_of_reading == i)
    if len(of_run) == 0:
        yield _text(LEFT + 8, y, "not timed", "soft")
    for reading in of_run:
        x = _across(float(off[reading]), reach)
        style = "kept" if fit.kept[reading] else "aside"
        yield f'<circle class="{style}" cx="{x:.1f}" cy="{y:.1f}" r="4"/>'
    far = of_run[np.abs(off[of_run]) > reach]
    if len(far):
        factor = 1.0 + float(np.median(off[far]))
        right = factor > 1.0
        x = RIGHT - 12.0 if right else LEFT + 12.0
        yield _text(x, y, f"× {factor:.2g}", "end" if right else "")


def _across(share: float, reach: float) -> float:
    middle = 0.5 * (LEFT + RIGHT)
    return middle + 0.5 * (RIGHT - LEFT) * min(max(share / reach, -1.0), 1.0)


def _rounded_up(share: float) -> float:
    step = 10.0 ** math.floor(math.log10(share))
    return next(m * step for m in (1.0, 2.0, 5.0, 10.0) if m * step >= share)


def _text(x: float, y: float, words: str, style: str) -> str:
    return f'<text class="{style}" x="{x:.1f}" y="{y:.1f}">{xml_text(words)}</text>'
