"""Picture of a trial piece for its sheet: cuts, scored lines, fields and every label."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from kerfwright.drawing.model import Picture
from kerfwright.output.text import short_number, xml_text
from kerfwright.plan import PlannedSheet
from kerfwright.trials.model import PlannedTrial

STYLE = (
    ".tp path,.tp rect{fill:none;stroke:#1f1f1c;stroke-width:.25}"
    ".tp .card{fill:#fffefb;stroke:#77756e}.tp .field{fill:#d9d5ca;stroke:none}"
    '.tp text{font-family:system-ui,"Source Sans Pro",sans-serif;fill:#1f1f1c;'
    "text-anchor:middle}"
)


def trial_picture(trial: PlannedTrial, width_px: int = 900) -> str:
    """SVG of a piece as it lies on the bed, the labels as text."""
    width, height = trial.design.size_mm
    body = [f'<rect class="card" x="0" y="0" width="{width:.2f}" height="{height:.2f}"/>']
    for step in trial.steps[1:] if trial.marked else trial.steps:
        body += _drawn(step, height)
    body += [
        f'<text x="{label.x_mm:.2f}" y="{height - label.y_mm + 0.36 * size:.2f}" '
        f'font-size="{size:.2f}">{xml_text(label.text)}</text>'
        for label in trial.design.labels
        for size in (1.4 * label.height_mm,)
    ]
    edge = 0.5
    box = f"{-edge} {-edge} {width + 2 * edge:.2f} {height + 2 * edge:.2f}"
    title = xml_text(f"Drawing of the {trial.design.title}")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="tp" role="img" viewBox="{box}" '
        f'width="{width_px}" height="{width_px * height / width:.0f}" aria-label="{title}">'
        f"<style>{STYLE}</style>{''.join(body)}</svg>"
    )


def _shades(picture: Picture, height: float) -> list[str]:
    """Fields of one shade in a picture's upper row."""
    row = picture.grey[0]
    ends = [0, *(np.flatnonzero(np.diff(row.astype(np.int64))) + 1).tolist(), len(row)]
    left, bottom, right, top = picture.bounds_mm
    dot = (right - left) / len(row)
    return [
        f'<rect x="{left + a * dot:.2f}" y="{height - top:.2f}" width="{(b - a) * dot:.2f}" '
        f'height="{top - bottom:.2f}" style="fill:#{3 * f"{row[a]:02x}"}"/>'
        for a, b in pairwise(ends)
    ]


def _drawn(step: PlannedSheet, height: float) -> list[str]:
    boxes = [polygon.bounds for polygon in step.intended.area.geoms]
    drawn = [one for place in step.intended.photos for one in _shades(place.picture, height)]
    drawn += [
        f'<rect class="field" x="{left:.2f}" y="{height - top:.2f}" '
        f'width="{right - left:.2f}" height="{top - bottom:.2f}"/>'
        for left, bottom, right, top in boxes
    ]
    for path in (*step.intended.cuts, *step.intended.scores):
        points = " L".join(
            f"{short_number(x)} {short_number(height - y)}" for x, y in path.points.tolist()
        )
        drawn.append(f'<path d="M{points}{"Z" if path.closed else ""}"/>')
    return drawn
