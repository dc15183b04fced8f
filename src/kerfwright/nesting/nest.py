"""Bodies and sheets in, checked layouts out."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from shapely import MultiPolygon

from kerfwright.errors import KerfwrightError
from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.board import kind_of
from kerfwright.nesting.by_strip import is_dense
from kerfwright.nesting.cost import NO_PRICES, Prices
from kerfwright.nesting.drawn_together import drawn_together
from kerfwright.nesting.fill import (
    Preference,
    Turning,
    fill_by_corners,
    fill_sheets,
    fill_these,
    prefer,
    prefer_offcuts,
    prefer_value,
)
from kerfwright.nesting.fill_specially import fill_by_edges
from kerfwright.nesting.fixed import pinned_sheets
from kerfwright.nesting.footprint import box_footprint, material, outlines
from kerfwright.nesting.job import Filling, Job
from kerfwright.nesting.mending import first_legal, with_extras
from kerfwright.nesting.mixes import density_of, mixes
from kerfwright.nesting.model import Body, Layouts, SheetSize
from kerfwright.nesting.searching import searched
from kerfwright.nesting.showing import Showing
from kerfwright.nesting.swaps import with_cheaper_sheets
from kerfwright.nesting.until import UNCONTROLLED, Control, Watch

MUCH_WORK = 8000
"""Copies × bodies of all constructive fillings together; one is always made."""

LITTLE_WORK = 1000
"""Copies × bodies up to which sheets of a filling are swapped for cheaper ones at once."""

MOST_MIXES = 2
"""Choices of sheets that are filled because they should do at the density reached."""


def nest(
    bodies: Sequence[Body],
    sheets: Sequence[SheetSize],
    *,
    spacing_mm: float,
    margin_mm: float,
    seconds: float,
    seed: int,
    prices: Prices = NO_PRICES,
    control: Control = UNCONTROLLED,
) -> Layouts:
    """Place every copy of every body on the cheapest sheets found, at least ``spacing_mm`` apart.

    Parts keep ``margin_mm`` from the sheets' edges and gather at the lower left. A constructive
    filling comes first, on several choices of sheets; then searches go on from it for
    ``seconds`` on each sheet, or as ``control`` says, which can also stop them with the best
    layout so far, and is told of better ones. Kept is what leaves less over, of what is urgent
    first, then costs less (:meth:`kerfwright.nesting.job.Filling.of`). Copies that no sheet takes,
    or for which the sheets ran out, are in ``unplaced``
    (:func:`kerfwright.nesting.fits.why_unplaced` tells which). Whatever is returned has passed
    :func:`kerfwright.nesting.check.check_layouts`.

    The search works against the clock: the same seed searches the same way, but a busy machine
    gets less far, so that layouts may differ from run to run. With a ``control`` that counts work
    instead, the same input gives the same layouts bit for bit.

    Raises ``ValueError`` for a negative spacing or margin, :class:`KerfwrightError` for a body
    that is only a line (``nesting/no-area``), for a fixed place that is not free
    (``nesting/place-taken``), and if no way of placing passed the check
    (``nesting/no-legal-layout``).
    """
    if not (spacing_mm >= 0.0 and margin_mm >= 0.0 and math.isfinite(spacing_mm + margin_mm)):
        raise ValueError(f"spacing {spacing_mm} mm and margin {margin_mm} mm must not be negative")
    _require_areas(bodies)
    say = control.progress
    areas = outlines(bodies, spacing_mm=spacing_mm)
    job = _job(bodies, sheets, areas, spacing_mm, margin_mm, prices)
    built = _constructed(job)
    say(_summary("first layout", built[0]))
    showing = Showing(job, control.better)
    showing.offer(built[0])
    fillings = list(built)
    if _worth_searching(built[0]) and not control.stop():
        watch = Watch(control.until, control.stop)
        fillings = searched(job, built, watch, seconds, seed, say, showing)
        say(_summary("searched layout", fillings[0]))
        counted = control.until.work is not None
        drawn = drawn_together(
            job, fillings[0], seconds=math.inf if counted else seconds, stop=control.stop
        )
        fillings.insert(0, drawn)
        say(_summary("drawn together", drawn))
    legal = first_legal(job, [with_extras(job, filling) for filling in fillings])
    if legal is None:
        boxes = [box_footprint(material(body)) for body in bodies]
        job = _job(bodies, sheets, boxes, spacing_mm, margin_mm, prices)
        legal = first_legal(job, _constructed(job))
    if legal is None:
        raise _no_legal_layout(bodies)
    legal = replace(legal, stopped=control.stop())
    if control.better is not None:
        control.better(legal)
    return legal


def nest_edge_to_edge(
    bodies: Sequence[Body],
    sheets: Sequence[SheetSize],
    *,
    kerf_mm: float,
    spacing_mm: float,
    margin_mm: float,
    cut_mm_s: float | None = None,
    prices: Prices = NO_PRICES,
    control: Control = UNCONTROLLED,
) -> Layouts:
    """Place bodies one kerf apart where straight edges of two can share a cut.

    All others keep ``spacing_mm``. ``cut_mm_s`` is how fast a cut gets on, all its passes
    counted; with prices it tells what a shared cut is worth. The layouts have passed the check
    for a spacing of ``kerf_mm``. Raises as :func:`nest` does.
    """
    _require_areas(bodies)
    areas = [material(body) for body in bodies]
    job = _job(bodies, sheets, areas, kerf_mm, margin_mm, prices)
    fill = partial(
        fill_by_edges,
        apart_mm=max(spacing_mm, kerf_mm),
        cut_mm_s=cut_mm_s,
        stop=control.stop,
    )
    fillings = [fill_sheets(job, prefer(sheet), fill, control.progress) for sheet in job.sheets]
    legal = first_legal(job, fillings or [Filling.of(job, (), job.wanted)])
    if legal is None:
        raise _no_legal_layout(bodies)
    return replace(legal, stopped=control.stop())


def _require_areas(bodies: Sequence[Body]) -> None:
    for body in bodies:
        if material(body).is_empty:
            raise KerfwrightError(
                "nesting/no-area",
                file=body.name,
                thing="the outline encloses no area.",
                remedy="Look in the drawing for a part that is only a line.",
            )


def _no_legal_layout(bodies: Sequence[Body]) -> KerfwrightError:
    return KerfwrightError(
        "nesting/no-legal-layout",
        file="the order",
        thing=f"no layout of {', '.join(sorted({b.name for b in bodies}))} passed the check.",
        remedy="Place the item as drawn, or look at the drawing for outlines that cross.",
    )


def _summary(what: str, filling: Filling) -> str:
    width_mm = math.fsum(f.used_width_mm for f in filling.sheets)
    left = f", {filling.left.total()} left over" if filling.left.total() else ""
    count = len(filling.sheets)
    sheets = "1 sheet" if count == 1 else f"{count} sheets"
    return f"{what}: {sheets}, {width_mm:.0f} mm of width used{left}"


def _job(
    bodies: Sequence[Body],
    sheets: Sequence[SheetSize],
    areas: Sequence[FloatArray | MultiPolygon],
    spacing_mm: float,
    margin_mm: float,
    prices: Prices,
) -> Job:
    merged = _merged([sheet for sheet in sheets if sheet.count > 0])
    pinned = pinned_sheets(bodies, merged, spacing_mm=spacing_mm, margin_mm=margin_mm)
    kinds = [
        kind_of(i, area, body.turns_deg, spacing_mm, may_mirror=body.may_mirror)
        for i, (body, area) in enumerate(zip(bodies, areas, strict=True))
        if body.fixed is None
    ]
    return Job(
        bodies=tuple(bodies),
        kinds=tuple(kinds),
        wanted=Counter({i: body.quantity for i, body in enumerate(bodies) if body.fixed is None}),
        sheets=tuple(s for s in merged if not s.usable(margin_mm, spacing_mm).is_empty),
        spacing_mm=spacing_mm,
        margin_mm=margin_mm,
        prices=prices,
        pinned=pinned,
    )


def _merged(sheets: Sequence[SheetSize]) -> tuple[SheetSize, ...]:
    """Count sheets that are listed twice together."""
    counts: Counter[SheetSize] = Counter()
    for sheet in sheets:
        counts[replace(sheet, count=0)] += sheet.count
    return tuple(replace(sheet, count=count) for sheet, count in counts.items())


def _constructed(job: Job) -> list[Filling]:
    """Constructive fillings, the best first; the more there is to place, the fewer are made."""
    size = max(job.wanted.total() * len(job.kinds), 1)
    fillings = [
        fill_sheets(job, preference, partial(fill_by_corners, turning=turning))
        for preference, turning in _attempts(job)[: max(MUCH_WORK // size, 1)]
    ]
    if not fillings:
        return [Filling.of(job, (), job.wanted)]
    fillings.sort(key=lambda filling: filling.rank)
    if len(job.sheets) > 1 and size <= MUCH_WORK:
        best = fillings[0]
        if not best.left.total():
            choices = mixes(job, density_of(best), below=best.cost, most=MOST_MIXES)
            fillings += [fill_these(job, choice, fill_by_corners) for choice in choices]
            fillings.sort(key=lambda filling: filling.rank)
        if size <= LITTLE_WORK:
            fillings.insert(0, with_cheaper_sheets(job, fillings[0]))
    return fillings


def _attempts(job: Job) -> list[tuple[Preference, Turning]]:
    """Ways to choose sheets and turns, the likeliest first."""
    preferences = [prefer(sheet) for sheet in sorted(job.sheets, key=lambda s: -s.area_mm2)]
    if len(job.sheets) > 1:
        preferences.insert(1, prefer_value)
    if any(sheet.offcut for sheet in job.sheets):
        preferences.insert(0, prefer_offcuts)
    return [(preference, turning) for turning in Turning for preference in preferences]


def _worth_searching(filling: Filling) -> bool:
    """Whether shorter could be possible: not for one part, nor where hardly a gap is left."""
    if sum(len(filled.board.lying) for filled in filling.sheets) < 2:
        return False
    return (
        len(filling.sheets) > 1 or filling.left.total() > 0 or not is_dense(filling.sheets[0].board)
    )
