"""What is too narrow for kerf, spot or material is told before anything is burned.

That webs and holes should be no smaller than the material is thick is common practice, no source.
"""

from __future__ import annotations

import pytest
from drawn_parts import box, circle, part

from kerfwright.findings import Finding
from kerfwright.geometry.affine import translation
from kerfwright.parts.congruence import alike_parts
from kerfwright.parts.model import Part
from kerfwright.parts.widths import BurnWidths, gap_findings, width_findings

BOARD = BurnWidths("board", thickness_mm=3.0, spot_mm=0.15, kerf_mm=0.2)
PLATE = box(0, 0, 100, 60)


def told(*parts: Part, widths: BurnWidths = BOARD) -> list[Finding]:
    return width_findings(parts, alike_parts(parts), widths, "drawn.svg")


def codes(findings: list[Finding]) -> list[tuple[str, str, int]]:
    return [(one.code, one.severity.value, one.count) for one in findings]


def test_a_web_narrower_than_the_kerf_stops() -> None:
    (finding,) = told(part(PLATE, box(10, 0.15, 30, 20)))
    assert codes([finding]) == [("parts/web-burns-away", "stop", 1)]
    assert "0.15 mm" in finding.what
    assert "kerf (0.2 mm)" in finding.what
    assert finding.y_mm == pytest.approx(0.075, abs=0.01)


def test_a_web_narrower_than_the_material_is_thick_warns() -> None:
    (finding,) = told(part(PLATE, circle(5, 50, 7), circle(5, 50, 40)))
    assert codes([finding]) == [("parts/web-weak", "warn", 1)]
    assert "2.00 mm" in finding.what
    assert (finding.x_mm, finding.y_mm) == pytest.approx((50.0, 1.0), abs=0.3)


def test_a_shop_may_say_what_its_material_bears() -> None:
    bears = BurnWidths("board", 3.0, 0.15, 0.2, bears_mm=1.5)
    assert told(part(PLATE, circle(5, 50, 7)), widths=bears) == []


def test_beside_a_slit_half_a_kerf_is_gone() -> None:
    """0.35 mm from the edge: 0.1 mm of kerf off leaves 0.25 mm; at 0.25 mm it leaves 0.15 mm."""
    assert told(part(PLATE, slits=[[(10, 0.35), (60, 0.35)]])) == []
    (finding,) = told(part(PLATE, slits=[[(10, 0.25), (60, 0.25)]]))
    assert finding.code == "parts/web-burns-away"
    assert "0.15 mm" in finding.what


def test_slits_of_a_living_hinge_are_no_weak_webs() -> None:
    slits = [[(20 + 2 * n, 5), (20 + 2 * n, 55)] for n in range(20)]
    assert told(part(PLATE, slits=slits)) == []


def test_neighbours_are_no_web() -> None:
    assert told(part(box(0, 0, 20, 20)), part(box(20.1, 0, 45, 20), name="b")) == []


def test_copies_are_counted_and_looked_at_once() -> None:
    one = part(PLATE, circle(5, 50, 7))
    copies = [one.transformed(translation(120.0 * n, 0.0)) for n in range(4)]
    (finding,) = told(*copies)
    assert finding.count == 4
    assert "in each of 4 parts alike" in finding.what


def test_parts_cut_alike_but_marked_otherwise_are_told_as_one() -> None:
    one = part(PLATE, circle(5, 50, 7), engraves=[box(10, 20, 30, 40)])
    other = part([(x + 120, y) for x, y in PLATE], circle(5, 170, 7), scores=[[(130, 9), (150, 9)]])
    (finding,) = told(one, other)
    assert finding.count == 2


def test_blanks_are_not_cut() -> None:
    plain = part(box(0, 0, 1.0, 60))
    blank = Part("b", "d", plain.outline, blank=True)
    assert told(blank) == []
    assert codes(told(plain)) == [("parts/web-weak", "warn", 1)]


@pytest.mark.parametrize(
    ("hole", "small"),
    [
        (circle(1.4, 50, 30), True),
        (circle(1.6, 50, 30), False),
        (box(50, 30, 52.9, 45), False),
        ([(50, 30), (51.3, 31.9), (50, 33.8), (48.7, 31.9)], False),
    ],
    ids=["round 2.8", "round 3.2", "slot for a tab", "square of 2.7 on its corner"],
)
def test_a_hole_smaller_than_the_material_is_thick(
    hole: list[tuple[float, float]], small: bool
) -> None:
    assert [one.code for one in told(part(PLATE, hole))] == ["parts/hole-small"] * small


def test_strokes_narrower_than_the_spot_are_named_with_their_place() -> None:
    letter = [box(10, 10, 10.1, 20), box(30, 10, 30.5, 20)]
    (finding,) = told(part(PLATE, engraves=letter))
    assert codes([finding]) == [("parts/stroke-thin", "warn", 1)]
    assert finding.shape == "area 0"
    assert "0.100 mm" in finding.what
    assert finding.x_mm == pytest.approx(10.05, abs=0.01)


def gaps(one: Part) -> list[Finding]:
    return gap_findings([one], (), BOARD)


def test_gaps_narrower_than_the_kerf() -> None:
    notched = [(0, 0), (40, 0), (40, 20), (40.1, 20), (40.1, 0), (80, 0), (80, 60), (0, 60)]
    (finding,) = gaps(part(notched))
    assert codes([finding]) == [("parts/gap-narrower-than-kerf", "warn", 1)]
    assert "0.10 mm" in finding.what
    assert finding.x_mm == pytest.approx(40.05, abs=0.01)
    (finding,) = gaps(part(PLATE, box(20, 20, 20.15, 40)))
    assert "0.15 mm" in finding.what
    assert gaps(part(PLATE, box(20, 20, 23, 40))) == []
    assert gap_findings([part(notched)], (), BurnWidths("board", 3.0, 0.15)) == []
