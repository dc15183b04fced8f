"""Parts too large for the sheets, and drawings that are plausible only after a usual factor.

Factors are those of the international inch (25.4 mm exactly, 1959) and of CSS's units, 72 pt and
96 px to an inch (CSS Values and Units Level 3, section 5.2).
"""

from __future__ import annotations

import pytest
from drawn_parts import box, part

from kerfwright.findings import Finding
from kerfwright.parts.model import Part
from kerfwright.parts.sizes import (
    SheetRoom,
    larger_than_sheets,
    pieces_to_place,
    scale_findings,
)

SHEETS = [SheetRoom("half sheet", 400.0, 300.0, (390.0, 290.0))]
BED = (600.0, 400.0)
ANY_TURN = (0.0, 90.0)


def plate(width: float, height: float) -> Part:
    return part(box(0, 0, width, height))


def scale(*parts: Part, sheets: list[SheetRoom] = SHEETS, thick: float = 0.0) -> list[Finding]:
    pieces = pieces_to_place(parts, ANY_TURN)
    return scale_findings(pieces, sheets, "drawn.svg", thickness_mm=thick)


def large(*parts: Part, turns: tuple[float, ...] = ANY_TURN, together: str = "") -> list[Finding]:
    pieces = pieces_to_place(parts, turns, together=together)
    return larger_than_sheets(pieces, SHEETS, BED, "drawn.svg")


@pytest.mark.parametrize(
    ("size", "factor", "after"),
    [
        ((100 * 25.4, 80 * 25.4), "0.03937", "100.0 × 80.0 mm"),
        ((8000, 6000), "0.03937", "315.0 × 236.2 mm"),
        ((400, 300), "0.9375", "375.0 × 281.2 mm"),
        ((500, 380), "0.75", "375.0 × 285.0 mm"),
    ],
)
def test_a_drawing_that_fits_after_a_factor(
    size: tuple[float, float], factor: str, after: str
) -> None:
    (finding,) = scale(plate(*size))
    assert (finding.code, finding.severity.value) == ("parts/scale-suspicion", "warn")
    assert f"× {factor} it would be {after}" in finding.what
    assert f"{size[0]:.1f} × {size[1]:.1f} mm" in finding.what


def test_no_factor_helps() -> None:
    assert scale(plate(30_000, 20_000)) == []


def test_a_drawing_that_fits_is_not_suspected() -> None:
    assert scale(plate(390, 290), plate(3, 3)) == []
    assert scale(plate(290, 390)) == []


def test_absurdly_small_parts() -> None:
    (finding,) = scale(plate(1.5, 1.0), plate(0.8, 0.8), sheets=[])
    assert "no part longer than 2 mm" in finding.what
    assert "× 10 it would be 15.0 × 10.0 mm" in finding.what
    assert "× 25.4 it would be 38.1 × 25.4 mm" in finding.what
    assert scale(plate(2.5, 1.0)) == []
    assert scale(plate(2.5, 1.0), thick=3.0)


def test_a_part_larger_than_every_sheet() -> None:
    (finding,) = large(plate(450, 100), plate(20, 20))
    assert (finding.code, finding.severity.value) == ("parts/larger-than-sheets", "stop")
    for words in ("450.0 × 100.0 mm", "half sheet (400 × 300 mm)"):
        assert words in finding.what
    assert "bed" not in finding.what
    assert "nor the bed (600 × 400 mm)" in large(plate(700, 100))[0].what


def test_turns_and_margin_decide() -> None:
    assert large(plate(290, 390)) == []
    assert large(plate(290, 390), turns=(0.0,))
    assert large(plate(391, 100))


def test_a_drawing_that_stays_as_drawn_fits_as_a_whole_or_not() -> None:
    apart = part(box(300, 0, 500, 100))
    assert large(plate(200, 100), apart) == []
    (finding,) = large(plate(200, 100), apart, together="set")
    assert '"set", is 500.0 × 100.0 mm' in finding.what
