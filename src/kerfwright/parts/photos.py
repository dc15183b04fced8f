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
    return photo_findings(pictures, outside, drawing)


def photo_findings(
    pictures: Sequence[Picture], outside: Sequence[Picture], drawing: str
) -> list[Finding]:
    """Stop for pictures, which cannot be burned as dots; those ``outside`` every part are told."""
    findings = []
    if pictures:
        only = len(pictures) == 1
        findings.append(
            _finding(
                "parts/photo-not-planned",
                f"{'a picture' if only else f'{len(pictures)} pictures'} made of dots cannot be "
                "engraved yet.",
                'Set pictures = "trace" at the item (--trace) to engrave its dark areas, or '
                f'pictures = "leave-out" to plan the drawing without {"it" if only else "them"}.',
                pictures,
                drawing,
            )
        )
    if outside:
        only = len(outside) == 1
        findings.append(
            _finding(
                "parts/photo-outside-part",
                f"{'a picture lies' if only else f'{len(outside)} pictures lie'} on no part, or "
                "mostly in a hole or outside.",
                'Move it onto its part, or leave it out with pictures = "leave-out".',
                outside,
                drawing,
            )
        )
    return findings


def _finding(
    code: str, what: str, remedy: str, pictures: Sequence[Picture], drawing: str
) -> Finding:
    x_mm, y_mm = pictures[0].corners_mm.mean(axis=0)
    return Finding(
        Severity.STOP,
        code,
        what,
        remedy,
        drawing=drawing,
        shape=names_of(picture.name for picture in pictures),
        x_mm=float(x_mm),
        y_mm=float(y_mm),
        count=len(pictures),
    )
