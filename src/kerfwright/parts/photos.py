"""Gives pictures made of dots to the pieces of material that they lie on."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from kerfwright.drawing.model import Picture
from kerfwright.findings import Finding, Severity
from kerfwright.parts.belongings import Belongings, kept_shares
from kerfwright.parts.gathered import names_of
from kerfwright.parts.laying import Ground
from kerfwright.parts.model import PhotoMark


def give_photos(
    pictures: Sequence[Picture], land: Ground, belongings: Sequence[Belongings], drawing: str
) -> list[Finding]:
    """Give each picture to the piece that most of it lies on; report those that lie on none."""
    areas = [shapely.convex_hull(shapely.multipoints(one.corners_mm)) for one in pictures]
    # one without width or height is a line or a point, and lies nowhere
    flat = [picture for picture, area in zip(pictures, areas, strict=True) if area.area == 0.0]
    whole = [(p, area) for p, area in zip(pictures, areas, strict=True) if area.area > 0.0]
    outside = list(flat)
    for (picture, _), laid in zip(whole, land.lay([area for _, area in whole]), strict=True):
        shares = kept_shares(laid)
        if shares:
            piece = max(shares, key=lambda share: float(share[1].area))[0]
            belongings[piece].photos.append(PhotoMark(picture))
        else:
            outside.append(picture)
    return outside_findings(outside, drawing)


def outside_findings(outside: Sequence[Picture], drawing: str) -> list[Finding]:
    """Stop for pictures that lie on no part."""
    if not outside:
        return []
    only = len(outside) == 1
    x_mm, y_mm = outside[0].corners_mm.mean(axis=0)
    return [
        Finding(
            Severity.STOP,
            "parts/photo-outside-part",
            f"{'a picture lies' if only else f'{len(outside)} pictures lie'} on no part, or "
            "mostly in a hole or outside.",
            'Move it onto its part, or leave it out with pictures = "leave-out".',
            drawing=drawing,
            shape=names_of(picture.name for picture in outside),
            x_mm=float(x_mm),
            y_mm=float(y_mm),
            count=len(outside),
        )
    ]
